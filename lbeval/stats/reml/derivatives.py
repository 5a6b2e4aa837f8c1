"""Gradient and average information of the REML criterion.

Gilmour, Thompson & Cullis (1995, Biometrics 51, 1440) for the average information
½ y'P V_i P V_j P y; here for the criterion, which is -2 times the log-likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lbeval.stats.reml.variances import term_slices

if TYPE_CHECKING:
    from lbeval.stats.reml.rows import FloatArray
    from lbeval.stats.reml.solution import Solution


@dataclass(frozen=True, eq=False)
class Derivatives:
    """Of the criterion, by the flat parameter vector.

    Attributes
    ----------
    traces, quadratics
        (q,) first derivatives of the log-determinants and of y'Py; NaN in `traces` for a term whose
        covariance matrix is singular.
    hessian
        (q, q) average-information approximation, twice the information on the log-likelihood's scale.
    expected
        (q,) lower bound of the expected information's diagonal, tr(M)^2 / levels with M = Z'PZ.
    """

    traces: FloatArray
    quadratics: FloatArray
    hessian: FloatArray
    expected: FloatArray

    @property
    def gradient(self) -> FloatArray:
        """(q,) first derivatives of the criterion."""
        return self.traces + self.quadratics

    def rescaled(self, ratio: float) -> Derivatives:
        """At all parameters times `ratio`, where P is divided by it."""
        return Derivatives(
            self.traces / ratio, self.quadratics / ratio**2, self.hessian / ratio**3, self.expected / ratio**2
        )


def derivatives(solution: Solution) -> Derivatives:
    """Gradient and average information at a solution."""
    cells, equations = solution.cells, solution.equations
    rho, n_groups = equations.rho, cells.n_groups
    effects = equations.up(solution.scaled[:, None])
    left_over = np.stack([cells.wy[g] - equations.times(g, effects)[:, 0] for g in range(n_groups)])
    rss = cells.yy - (cells.wy + left_over) @ effects[:, 0]
    scores = rho @ left_over

    slices = term_slices(cells)
    n_term = slices[-1].stop if slices else 0
    trace, quadratic, expected = np.empty((3, n_term + n_groups))
    directions = np.zeros((cells.n_columns, n_term))
    by_term, by_group = equations.traces()
    for k, part in enumerate(slices):
        s = scores[cells.columns(k)].reshape(-1, cells.widths[k])
        trace[part] = _flat(by_term[k])
        expected[part] = _expected(by_term[k], s.shape[0])
        quadratic[part] = -_flat(s.T @ s)
        directions[cells.columns(k), part] = _directions(s)
    trace[n_term:] = cells.group_sizes * rho - rho**2 * by_group
    quadratic[n_term:] = -(rho**2) * rss
    expected[n_term:] = trace[n_term:] ** 2 / cells.group_sizes

    against = np.empty((cells.n_columns, n_term + n_groups))
    against[:, :n_term] = sum(r * equations.times(g, directions) for g, r in enumerate(rho))
    against[:, n_term:] = (left_over * rho[:, None] ** 2).T
    hessian = np.zeros((n_term + n_groups, n_term + n_groups))
    hessian[:n_term] = directions.T @ against
    hessian[n_term:, :n_term] = hessian[:n_term, n_term:].T
    hessian[n_term:, n_term:] = np.diag(rho**3 * rss)
    half = equations.half_solve(equations.down(against))
    hessian -= half.T @ half
    return Derivatives(trace, quadratic, hessian, expected)


def _directions(scores: FloatArray) -> FloatArray:
    """(columns, parameters) derivative of a term's covariance matrix times its (levels, width) scores."""
    if scores.shape[1] == 1:
        return scores
    out = np.zeros((scores.shape[0], 2, 3))
    out[:, 0, 0] = scores[:, 0]
    out[:, :, 1] = scores[:, ::-1]
    out[:, 1, 2] = scores[:, 1]
    return out.reshape(-1, 3)


def _expected(trace: FloatArray, levels: int) -> FloatArray:
    """tr(M E M E) by parameter, E the derivative of the covariance matrix, with M the mean over levels."""
    if trace.shape[0] == 1:
        return trace.ravel() ** 2 / levels
    a, b, c = trace[0, 0], trace[0, 1], trace[1, 1]
    return np.array([a * a, 2.0 * (a * c + b * b), c * c]) / levels


def _flat(matrix: FloatArray) -> FloatArray:
    """Gradient by (variance) or (intercept, covariance, slope) of a function with this matrix gradient."""
    if matrix.shape[0] == 1:
        return matrix.ravel()
    return np.array([matrix[0, 0], matrix[0, 1] + matrix[1, 0], matrix[1, 1]])
