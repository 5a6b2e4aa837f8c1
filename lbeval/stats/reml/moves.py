"""The Newton step from a state of the search.

Covariance matrices live on a cone. One at its edge keeps its rank until the gradient says that leaving
lowers the criterion; a step over the edge is projected back on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from lbeval.stats.reml.state import settle
from lbeval.stats.reml.variances import as_matrix, term_slices

if TYPE_CHECKING:
    from lbeval.stats.reml.derivatives import Derivatives
    from lbeval.stats.reml.rows import FloatArray
    from lbeval.stats.reml.state import State

# Curvature below this share of a parameter's own counts as none.
_FLAT = 1e-10
# A step makes no variance larger than this many times itself or than that of the scores.
_GROWTH = 10.0


@dataclass(frozen=True, eq=False)
class _Coordinates:
    """Free coordinates of one term, or of one residual variance.

    Attributes
    ----------
    position
        First of the parameters.
    columns
        (parameters, c) derivative of the parameters by coordinate.
    bend
        (c, c) curvature of the map, weighted with the gradient.
    edge
        (c,) coordinates that may only grow.
    ray, outward
        Vector l of a matrix ll', and the direction in which it may gain rank.
    """

    position: int
    columns: FloatArray
    bend: FloatArray
    edge: npt.NDArray[np.bool_]
    ray: FloatArray | None = None
    outward: FloatArray | None = None

    def moved(self, matrix: FloatArray, step: FloatArray) -> FloatArray:
        """Take a step from a matrix."""
        if self.ray is None and self.outward is None:
            return matrix + as_matrix(self.columns @ step)
        out = np.zeros_like(matrix)
        left = step
        if self.ray is not None:
            ray = self.ray + step[:2]
            out += np.outer(ray, ray)
            left = step[2:]
        if self.outward is not None:
            out += left[0] * np.outer(self.outward, self.outward)
        return out


class Moves:
    """Steps along the coordinates that are free at a state.

    Parameters
    ----------
    state, slope
        Where the search stands, and the derivatives there.
    fixed
        Parameters held at their value.
    balanced
        Give the average information the diagonal of the expected one, which is better scaled far from the
        minimum.
    """

    def __init__(
        self, state: State, slope: Derivatives, fixed: frozenset[int], *, balanced: bool = False
    ) -> None:
        self._state = state
        self._fixed = fixed
        self._hessian = slope.hessian
        self._slices = term_slices(state.cells)
        self._n_term = self._slices[-1].stop if self._slices else 0
        self._owners = [*self._term_coordinates(slope.gradient), *self._residual_coordinates(slope.gradient)]
        edges = np.cumsum([0, *(c.columns.shape[1] for _, c in self._owners)])
        self._places = [slice(int(a), int(b)) for a, b in pairwise(edges)]
        basis = np.zeros((slope.gradient.shape[0], int(edges[-1])))
        bend = np.zeros((int(edges[-1]), int(edges[-1])))
        for (_, c), place in zip(self._owners, self._places, strict=True):
            basis[c.position : c.position + c.columns.shape[0], place] = c.columns
            bend[place, place] = c.bend
        self._edge = np.concatenate([np.zeros(0, dtype=bool), *(c.edge for _, c in self._owners)])
        self._gradient = basis.T @ slope.gradient
        self._curvature = basis.T @ slope.hessian @ basis + bend
        own = np.diagonal(self._curvature)
        expected = (basis**2).T @ slope.expected
        if balanced:
            ratio = np.divide(expected, own, out=np.ones_like(own), where=own > 0.0)
            self._curvature = self._curvature * np.sqrt(np.outer(ratio, ratio))
        self._unit = np.maximum(own, expected)

    def _term_coordinates(self, gradient: FloatArray) -> list[tuple[int, _Coordinates]]:
        state = self._state
        return [
            (k, _free(part.start, state.matrices[k], state.ranks[k], gradient[part], state.floors[k]))
            for k, part in enumerate(self._slices)
            if part.start not in self._fixed
        ]

    def _residual_coordinates(self, gradient: FloatArray) -> list[tuple[int, _Coordinates]]:
        state, one, flat = self._state, np.ones((1, 1)), np.zeros((1, 1))
        return [
            (-1 - g, _Coordinates(self._n_term + g, one, flat, state.limited[g : g + 1]))
            for g in range(state.cells.n_groups)
            if self._n_term + g not in self._fixed
            and not (state.limited[g] and gradient[self._n_term + g] >= 0.0)
        ]

    def step(self, ridge: float) -> FloatArray:
        """Step in the free coordinates; `ridge` times each coordinate's own curvature is added to it."""
        active = np.arange(self._gradient.shape[0])
        step = np.zeros(self._gradient.shape[0])
        curvature = self._curvature + np.diag(ridge * self._unit)
        while active.shape[0]:
            step[:] = 0.0
            step[active] = -_solve(curvature[np.ix_(active, active)], self._gradient[active])
            outward = self._edge[active] & (step[active] < 0.0)
            if not outward.any():
                break
            active = active[~outward]
        else:
            step[:] = 0.0
        return step

    def promise(self, step: FloatArray) -> float:
        """Fall of the criterion that a step promises."""
        return -float(step @ self._gradient) - 0.5 * float(step @ self._curvature @ step)

    def state(self, step: FloatArray, keep: float) -> State:
        """Take a step; a regular matrix, and a residual variance, keeps at least this share of itself."""
        state = self._state
        matrices, residual = list(state.matrices), state.residual.copy()
        for (owner, c), place in zip(self._owners, self._places, strict=True):
            if owner < 0:
                g = -1 - owner
                residual[g] = np.clip(residual[g] + step[place][0], keep * residual[g], _GROWTH * residual[g])
                continue
            matrices[owner] = c.moved(state.matrices[owner], step[place])
            if keep and state.ranks[owner] == matrices[owner].shape[0]:
                matrices[owner] = _at_least(matrices[owner], state.matrices[owner], keep)
            ceiling = state.cells.variance * state.floors[owner] / state.floors[owner][0]
            matrices[owner] = _at_most(matrices[owner], state.matrices[owner], np.sqrt(ceiling))
        return settle(state.cells, tuple(matrices), residual)

    def covariance(self) -> FloatArray:
        """Inverse information of the free parameters, NaN elsewhere."""
        state = self._state
        free = [
            i
            for k, part in enumerate(self._slices)
            for i in range(part.start, part.stop)
            if state.ranks[k] == state.matrices[k].shape[0]
        ]
        free += [self._n_term + g for g in range(state.cells.n_groups) if not state.limited[g]]
        free = [i for i in free if i not in self._fixed]
        out = np.full(self._hessian.shape, np.nan)
        if free:
            out[np.ix_(free, free)] = 2.0 * np.linalg.pinv(self._hessian[np.ix_(free, free)], hermitian=True)
        return out


def _free(
    position: int, matrix: FloatArray, rank: int, gradient: FloatArray, floor: FloatArray
) -> _Coordinates:
    """Free coordinates of a term."""
    if matrix.shape[0] == 1:
        n = 1 if rank or gradient[0] < 0.0 else 0
        return _Coordinates(position, np.ones((1, n)), np.zeros((n, n)), np.full(n, rank == 0))
    if rank == 2:
        return _Coordinates(position, np.eye(3), np.zeros((3, 3)), np.zeros(3, dtype=bool))
    slope = np.array([[gradient[0], 0.5 * gradient[1]], [0.5 * gradient[1], gradient[2]]])
    unit = np.sqrt(floor)
    roots, axes = np.linalg.eigh(slope * np.outer(unit, unit))
    ray, columns, bend = None, np.zeros((3, 0)), np.zeros((0, 0))
    outward = unit * axes[:, 0]
    if rank == 1:
        ray = _ray(matrix)
        columns = np.array([[2.0 * ray[0], 0.0], [ray[1], ray[0]], [0.0, 2.0 * ray[1]]])
        bend = 2.0 * (axes * np.maximum(roots, 0.0)) @ axes.T / np.outer(unit, unit)
        outward = unit * np.array([-ray[1] / unit[1], ray[0] / unit[0]])
        outward /= np.sqrt(np.square(outward / unit).sum())
    if outward @ slope @ outward >= 0.0:
        return _Coordinates(position, columns, bend, np.zeros(columns.shape[1], dtype=bool), ray)
    gain = np.array([outward[0] ** 2, outward[0] * outward[1], outward[1] ** 2])
    full = np.column_stack([columns, gain])
    edge = np.arange(full.shape[1]) == columns.shape[1]
    return _Coordinates(position, full, np.pad(bend, (0, 1)), edge, ray, outward)


def _ray(matrix: FloatArray) -> FloatArray:
    """Vector l of a matrix ll'."""
    ray: FloatArray = np.sqrt(np.diagonal(matrix))
    ray[1] *= -1.0 if matrix[0, 1] < 0.0 else 1.0
    return ray


def _at_least(matrix: FloatArray, old: FloatArray, share: float) -> FloatArray:
    """Nearest matrix, in the metric of the old one, that is not less than a share of it."""
    lower = np.linalg.cholesky(old)
    back = np.linalg.inv(lower)
    roots, axes = np.linalg.eigh(back @ matrix @ back.T)
    if roots[0] >= share:
        return matrix
    turned = lower @ axes
    out: FloatArray = (turned * np.maximum(roots, share)) @ turned.T
    return out


def _at_most(matrix: FloatArray, old: FloatArray, unit: FloatArray) -> FloatArray:
    """Nearest matrix within the larger of the scores' variance and `_GROWTH` times the old one."""
    metric = np.outer(unit, unit)
    most = max(1.0, _GROWTH * float(np.linalg.eigvalsh(old / metric)[-1]))
    roots, axes = np.linalg.eigh(matrix / metric)
    if roots[-1] <= most:
        return matrix
    out: FloatArray = (axes * np.minimum(roots, most)) @ axes.T * metric
    return out


def _solve(curvature: FloatArray, gradient: FloatArray) -> FloatArray:
    """Newton step on scaled coordinates; directions without curvature are left alone."""
    unit = np.sqrt(np.maximum(np.diagonal(curvature), 1e-300))
    roots, axes = np.linalg.eigh(curvature / np.outer(unit, unit))
    turned = axes.T @ (gradient / unit)
    kept = roots > _FLAT
    step: FloatArray = (axes[:, kept] @ (turned[kept] / roots[kept])) / unit
    return step
