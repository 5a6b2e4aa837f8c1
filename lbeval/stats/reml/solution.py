"""The mixed-model equations solved at given variances."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError
from lbeval.stats.reml.equations import Equations
from lbeval.stats.reml.threads import one_thread
from lbeval.stats.reml.variances import Variances, unpack

if TYPE_CHECKING:
    from collections.abc import Mapping

    from lbeval.stats.reml.cells import CellSums
    from lbeval.stats.reml.rows import FloatArray


class SparseMatrix(Protocol):
    """A scipy sparse array or matrix."""

    def toarray(self) -> npt.NDArray[Any]:
        """Make it dense."""
        ...


@dataclass(frozen=True, eq=False)
class Solution:
    """Estimates and predictions at one vector of variance parameters (Henderson 1975, Biometrics 31, 423).

    Attributes
    ----------
    cells
        The collapsed design.
    parameters
        Flat vector of variance parameters, in the order of `parameter_names(cells)`.
    criterion
        -2 times the REML log-likelihood, constants as in lme4 (Bates et al. 2015).
    """

    cells: CellSums
    parameters: FloatArray
    criterion: float
    variances: Variances
    equations: Equations
    scaled: FloatArray
    quadratic: float

    @property
    def loglik(self) -> float:
        """REML log-likelihood."""
        return -0.5 * self.criterion

    @property
    def n_obs(self) -> int:
        """Rows."""
        return self.cells.n_obs

    @property
    def rank_dropped(self) -> tuple[int, ...]:
        """Columns of X left out as combinations of earlier ones."""
        return self.cells.dropped

    @property
    def components(self) -> dict[str, Any]:
        """Variance of each term: a float, or the (2, 2) covariance matrix of intercept and slope."""
        return {
            name: float(m[0, 0]) if m.shape[0] == 1 else m.copy()
            for name, m in zip(self.cells.names, self.variances.matrices, strict=True)
        }

    @property
    def residual(self) -> FloatArray:
        """(G,) residual variance of each residual group."""
        return self.variances.residual

    @cached_property
    def beta(self) -> FloatArray:
        """(p,) fixed effects; NaN where a column was dropped."""
        cells = self.cells
        beta = np.full(cells.n_fixed, np.nan)
        inner = self.scaled[cells.products.layout.fixed] + cells.offset
        beta[list(cells.kept)] = inner / cells.x_scale
        return beta

    @cached_property
    def beta_cov(self) -> FloatArray:
        """(p, p) covariance of the fixed effects; NaN where a column was dropped."""
        cells = self.cells
        kept = list(cells.kept)
        rows = np.zeros((len(kept), cells.n_fixed))
        rows[np.arange(len(kept)), kept] = 1.0
        cov = np.full((cells.n_fixed, cells.n_fixed), np.nan)
        cov[np.ix_(kept, kept)] = self.combine(rows, {})[1]
        return cov

    @cached_property
    def effects(self) -> dict[str, FloatArray]:
        """Predicted effects (BLUPs) of each term: (n_levels,), or (n_levels, 2) with a slope.

        Levels without rows are predicted at 0.
        """
        cells, out = self.cells, {}
        for k, (name, width) in enumerate(zip(cells.names, cells.widths, strict=True)):
            blocks = self.scaled[cells.columns(k)].reshape(-1, width)
            full = np.zeros((cells.n_levels[k], width))
            full[cells.present[k]] = blocks @ self.variances.roots[k].T
            out[name] = full[:, 0] if width == 1 else full
        return out

    @one_thread
    def combine(
        self, fixed: FloatArray | None, random: Mapping[str, FloatArray | SparseMatrix]
    ) -> tuple[FloatArray, FloatArray]:
        """Linear combinations of fixed and random effects, with their joint prediction-error covariance.

        Parameters
        ----------
        fixed
            (m, p) weights of the fixed effects, None for none. Dropped columns count as 0.
        random
            By term, (m, n_levels) weights; with a slope (m, n_levels, 2), or (m, 2 * n_levels) with the
            intercept and slope of a level side by side. Dense or scipy sparse.

        Returns
        -------
        estimate : (m,)
        covariance : (m, m)
            Covariance of K'(b, u) - K'(b̂, û), the uncertainty of the fixed effects included. Levels
            without rows have their prior variance.

        Raises
        ------
        FitError
            When a term is unknown or shapes disagree.
        """
        cells = self.cells
        blocks = {self._index(name): _blocks(self, name, w) for name, w in random.items()}
        sizes = {b.shape[0] for b in blocks.values()} | (set() if fixed is None else {fixed.shape[0]})
        if len(sizes) != 1:
            message = f"weights for one number of combinations are needed, got {sorted(sizes)}"
            raise FitError(message)
        m = sizes.pop()
        layout, absorbed = cells.products.layout, cells.products.absorbed
        whole = absorbed is not None and absorbed[0] in blocks
        right = np.zeros((cells.n_columns if whole else layout.n_columns, m))
        estimate, prior = np.zeros(m), np.zeros((m, m))
        if fixed is not None:
            right[layout.fixed] = self._fixed_weights(fixed).T
            estimate += right[layout.fixed].T @ (self.scaled[layout.fixed] + cells.offset)
        for k, block in blocks.items():
            present, root = cells.present[k], self.variances.roots[k]
            right[cells.columns(k)] = (block[:, present] @ root).reshape(m, -1).T
            estimate += right[cells.columns(k)].T @ self.scaled[cells.columns(k)]
            if present.shape[0] < cells.n_levels[k]:
                absent = (np.delete(block, present, axis=1) @ root).reshape(m, -1)
                prior += absent @ absent.T
        half = self.equations.half_solve(right)
        half = half[half.any(axis=1)]
        return estimate, half.T @ half + prior

    def _fixed_weights(self, fixed: FloatArray) -> FloatArray:
        """(m, kept) weights of the scaled fixed effects."""
        if fixed.ndim != 2 or fixed.shape[1] != self.cells.n_fixed:
            message = f"fixed-effect weights have shape {fixed.shape}, not (m, {self.cells.n_fixed})"
            raise FitError(message)
        weights: FloatArray = (
            np.asarray(fixed, dtype=np.float64)[:, list(self.cells.kept)] / self.cells.x_scale
        )
        return weights

    def _index(self, name: str) -> int:
        if name not in self.cells.names:
            message = f"no term '{name}' in this model; it has {', '.join(self.cells.names)}"
            raise FitError(message)
        return self.cells.names.index(name)


def _blocks(solution: Solution, name: str, weights: FloatArray | SparseMatrix) -> FloatArray:
    """(m, n_levels, width) weights of a term."""
    k = solution.cells.names.index(name)
    n_levels, width = solution.cells.n_levels[k], solution.cells.widths[k]
    dense = np.asarray(weights if isinstance(weights, np.ndarray) else weights.toarray(), dtype=np.float64)
    if dense.ndim < 2 or dense.size != dense.shape[0] * n_levels * width:
        shape = f"(m, {n_levels})" if width == 1 else f"(m, {n_levels}, {width})"
        message = f"weights of term '{name}' have shape {dense.shape}, not {shape}"
        raise FitError(message)
    return dense.reshape(dense.shape[0], n_levels, width)


@one_thread
def evaluate(cells: CellSums, parameters: FloatArray) -> Solution:
    """Solve the mixed-model equations at given variance parameters: one factorisation.

    Parameters
    ----------
    cells
        Result of `collapse`.
    parameters
        Flat vector in the order of `parameter_names(cells)`. Variances of terms may be 0.

    Raises
    ------
    FitError
        When a residual variance is not positive or a covariance matrix is not positive semidefinite.
    """
    variances = unpack(cells, parameters)
    equations = Equations(cells.products, cells.tree, variances)
    right = equations.down((equations.rho @ cells.wy)[:, None])
    scaled = equations.solve(right)
    quadratic = float(equations.rho @ cells.yy - right[:, 0] @ scaled[:, 0])
    free = cells.n_obs - cells.rank
    criterion = (
        free * np.log(2.0 * np.pi)
        + float(cells.group_sizes @ np.log(variances.residual))
        + equations.log_determinant
        + 2.0 * float(np.log(cells.x_scale).sum())
        + quadratic
    )
    return Solution(
        cells=cells,
        parameters=np.array(parameters, dtype=np.float64),
        criterion=criterion,
        variances=variances,
        equations=equations,
        scaled=scaled[:, 0],
        quadratic=quadratic,
    )
