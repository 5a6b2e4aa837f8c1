"""Where the search stands: covariance matrices with their ranks, and residual variances."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from lbeval.stats.reml.variances import parameter_names, term_slices, unpack

if TYPE_CHECKING:
    from collections.abc import Mapping

    from lbeval.stats.reml.cells import CellSums
    from lbeval.stats.reml.rows import FloatArray

# A direction without variance is held at this share of one level's error variance while the others move.
_FLOOR = 1e-7
# A residual variance is kept above this share of the variance of the scores.
_RESIDUAL_FLOOR = 1e-8


@dataclass(frozen=True, eq=False)
class State:
    """A point of the search.

    Attributes
    ----------
    matrices, ranks
        Covariance matrix of each term and its rank.
    residual, limited
        (G,) residual variances, and whether they stand at their lower limit.
    floors
        By term, (width,) variances that stand for zero.
    """

    cells: CellSums
    matrices: tuple[FloatArray, ...]
    ranks: tuple[int, ...]
    residual: FloatArray
    limited: npt.NDArray[np.bool_]
    floors: tuple[FloatArray, ...]

    def flat(self, *, lifted: bool) -> FloatArray:
        """Parameter vector; `lifted` puts singular matrices on their floors."""
        parts = []
        for matrix, rank, floor in zip(self.matrices, self.ranks, self.floors, strict=True):
            full = matrix + np.diag(floor) if lifted and rank < matrix.shape[0] else matrix
            parts.append(full[np.tril_indices(full.shape[0])])
        return np.concatenate([*parts, self.residual])

    def rescaled(self, ratio: float) -> State:
        """All variances times `ratio`."""
        return replace(
            self,
            matrices=tuple(m * ratio for m in self.matrices),
            floors=tuple(f * ratio for f in self.floors),
            residual=self.residual * ratio,
        )

    def at_boundary(self) -> tuple[str, ...]:
        """Names of singular terms and limited residual variances."""
        names = parameter_names(self.cells)[-self.cells.n_groups :]
        edge = [
            n for n, m, r in zip(self.cells.names, self.matrices, self.ranks, strict=True) if r < m.shape[0]
        ]
        return (*edge, *(n for n, at in zip(names, self.limited, strict=True) if at))


def first_state(cells: CellSums, start: FloatArray | None, fixed: Mapping[int, float]) -> State:
    """Start with half of the variance in the residual and the rest shared by the terms."""
    slices = term_slices(cells)
    n_term = slices[-1].stop if slices else 0
    if start is None:
        vector = np.full(n_term + cells.n_groups, 0.5 * cells.variance)
        for k, part in enumerate(slices):
            share = 0.5 * cells.variance / len(slices)
            vector[part] = share
            if cells.widths[k] == 2:
                size = level_weights(cells)[k].sum(axis=0)
                vector[part] = 0.5 * share, 0.0, 0.5 * share * size[0] / max(float(size[1]), 1e-300)
    else:
        vector = np.array(start, dtype=np.float64)
    for position, value in fixed.items():
        vector[position] = value
    variances = unpack(cells, vector)
    return settle(cells, variances.matrices, variances.residual)


def settle(cells: CellSums, matrices: tuple[FloatArray, ...], residual: FloatArray) -> State:
    """Nearest point of the cone, with the ranks found there."""
    limit = _RESIDUAL_FLOOR * cells.variance
    bounded = np.maximum(residual, limit)
    floors = tuple(_FLOOR / np.maximum((1.0 / bounded) @ w, 1e-300) for w in level_weights(cells))
    done, ranks = [], []
    for matrix, floor in zip(matrices, floors, strict=True):
        unit = np.sqrt(floor)
        roots, axes = np.linalg.eigh(matrix / np.outer(unit, unit))
        kept = np.where(roots > 1.0, roots, 0.0)
        ranks.append(int(np.count_nonzero(kept)))
        done.append(matrix if kept.all() else (axes * kept) @ axes.T * np.outer(unit, unit))
    return State(cells, tuple(done), tuple(ranks), bounded, residual <= limit, floors)


def level_weights(cells: CellSums) -> tuple[FloatArray, ...]:
    """By term, (G, width) largest sum of squares of a level's column in each residual group."""
    products = cells.products
    pattern = products.pattern
    values = products.bases[: cells.n_groups, pattern.diagonal].toarray()
    diagonal = np.zeros((cells.n_groups, cells.n_columns))
    diagonal[:, pattern.rows[pattern.diagonal]] = values
    if products.absorbed is not None:
        diagonal[:, cells.columns(products.absorbed[0])] = products.absorbed[1].counts
    return tuple(
        diagonal[:, cells.columns(k)].reshape(cells.n_groups, -1, width).max(axis=1)
        for k, width in enumerate(cells.widths)
    )
