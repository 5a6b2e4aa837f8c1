"""Cell sums: all that a mixed model needs to know of the rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from scipy.linalg import solve_triangular

from lbeval.errors import FitError
from lbeval.stats.reml.elimination import Tree
from lbeval.stats.reml.pairs import PairSums
from lbeval.stats.reml.plan import choose
from lbeval.stats.reml.products import Products, cross_products
from lbeval.stats.reml.rows import Cells, FloatArray, IntArray, Term, gather
from lbeval.stats.reml.threads import one_thread
from lbeval.stats.reml.tree import build

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lbeval.stats.reml.pairs import Meeting

# A fixed-effect column is dropped when less than this share of its square length is its own.
_ALIAS = 1e-11
# Sum of squares about the fixed effects, as a share of the whole, that is only rounding.
_NO_SPREAD = 1e-20


@dataclass(frozen=True, eq=False)
class CellSums:
    """Cross-products of a design, collapsed once; every likelihood evaluation starts from here.

    Attributes
    ----------
    names, widths, n_levels
        Name, effects a level (1, or 2 with a slope) and declared levels of each term.
    present
        Levels of each term that have rows.
    n_obs, n_groups, group_sizes
        Rows, residual groups and rows in each of them.
    n_fixed
        Columns of X as given.
    kept, dropped
        Columns of X that are estimated, and those left out as combinations of earlier ones.
    n_cells
        Distinct combinations among the rows.
    """

    names: tuple[str, ...]
    widths: tuple[int, ...]
    n_levels: tuple[int, ...]
    present: tuple[IntArray, ...]
    n_obs: int
    group_sizes: FloatArray
    n_fixed: int
    kept: tuple[int, ...]
    dropped: tuple[int, ...]
    n_cells: int
    products: Products
    tree: Tree
    yy: FloatArray
    offset: FloatArray
    x_scale: FloatArray

    def columns(self, term: int) -> slice:
        """Place of a term in vectors over all columns, the absorbed levels last."""
        layout, absorbed = self.products.layout, self.products.absorbed
        if absorbed is not None and absorbed[0] == term:
            return slice(layout.n_columns, layout.n_columns + absorbed[1].n_levels)
        return layout.columns(self.products.terms.index(term))

    @cached_property
    def wy(self) -> FloatArray:
        """(G, columns) cross-products with y."""
        absorbed = self.products.absorbed
        parts = [self.products.wy] if absorbed is None else [self.products.wy, absorbed[1].wy]
        return np.concatenate(parts, axis=1)

    @property
    def n_columns(self) -> int:
        """All columns: random effects and fixed effects."""
        absorbed = self.products.absorbed
        return self.products.layout.n_columns + (0 if absorbed is None else absorbed[1].n_levels)

    @property
    def n_groups(self) -> int:
        """Residual groups."""
        return int(self.group_sizes.shape[0])

    @property
    def rank(self) -> int:
        """Fixed effects that are estimated."""
        return len(self.kept)

    @property
    def variance(self) -> float:
        """Mean square of y about the fixed effects."""
        return float(self.yy.sum()) / (self.n_obs - self.rank)


@one_thread
def collapse(
    y: npt.NDArray[Any], x: npt.NDArray[Any], terms: Sequence[Term], residual_group: IntArray | None = None
) -> CellSums:
    """Collapse rows into cross-products: the only step whose cost grows with the rows.

    Parameters
    ----------
    y
        (n,) response.
    x
        (n, p) fixed effects, of any numeric type. Columns that repeat others are dropped, see `dropped`.
    terms
        Random-effect terms.
    residual_group
        (n,) group of each row, 0..G-1, each with a residual variance of its own. None: one group.

    Raises
    ------
    FitError
        When lengths differ, values are missing, a term has a single level or as many levels as rows, two
        terms are the same, or nothing is left to estimate a variance from.
    """
    cells = gather(y, np.asarray(x), terms, residual_group)
    cells, present = _renumbered(cells, terms)
    n_obs = int(cells.count.sum())
    group_sizes = np.bincount(cells.group, cells.count, minlength=cells.n_groups).astype(np.float64)
    _check_terms(terms, present, n_obs, group_sizes)
    _check_covariates(terms, cells)
    kept, x_scale, fit = _full_rank(cells)
    if n_obs <= len(kept):
        message = f"{n_obs} scores cannot carry {len(kept)} fixed effects and a variance: more are needed"
        raise FitError(message)
    columns = cells.x[:, list(kept)] / x_scale
    total = cells.total - cells.count * (columns @ fit)
    yy = cells.within + np.bincount(cells.group, total * total / cells.count, minlength=cells.n_groups)
    if float(yy.sum()) <= _NO_SPREAD * float(cells.within.sum() + (cells.total**2 / cells.count).sum()):
        message = "the scores do not vary beyond the fixed effects; there is no variance to estimate"
        raise FitError(message)
    sums = PairSums(cells, columns)
    meetings = sums.all()
    _check_distinct(terms, sums.sizes, meetings)
    products = cross_products(sums, meetings, total)
    return CellSums(
        names=tuple(t.name for t in terms),
        widths=tuple(t.width for t in terms),
        n_levels=tuple(t.n_levels for t in terms),
        present=tuple(present),
        n_obs=n_obs,
        group_sizes=group_sizes,
        n_fixed=cells.x.shape[1],
        kept=kept,
        dropped=tuple(j for j in range(cells.x.shape[1]) if j not in kept),
        n_cells=cells.count.shape[0],
        products=products,
        tree=build(products, choose(products)),
        yy=yy,
        offset=fit,
        x_scale=x_scale,
    )


def _renumbered(cells: Cells, terms: Sequence[Term]) -> tuple[Cells, list[IntArray]]:
    """Cells whose codes number the levels that occur, and those levels."""
    present: list[IntArray] = []
    codes = []
    for term, cell_codes in zip(terms, cells.codes, strict=True):
        found = np.flatnonzero(np.bincount(cell_codes, minlength=term.n_levels))
        number = np.empty(term.n_levels, dtype=np.int64)
        number[found] = np.arange(found.shape[0])
        present.append(found)
        codes.append(number[cell_codes])
    return replace(cells, codes=tuple(codes)), present


def _check_terms(terms: Sequence[Term], present: list[IntArray], n_obs: int, group_sizes: FloatArray) -> None:
    names = [t.name for t in terms]
    if len(set(names)) < len(names):
        message = f"two terms share a name: {', '.join(sorted(names))}"
        raise FitError(message)
    if (group_sizes == 0).any():
        empty = int(np.argmin(group_sizes))
        message = f"residual group {empty} has no scores; number the groups without gaps"
        raise FitError(message)
    for term, found in zip(terms, present, strict=True):
        n_effects = found.shape[0] * term.width
        if found.shape[0] < 2:
            message = f"term '{term.name}' has a single level and no variance to estimate: leave it out"
            raise FitError(message)
        if n_effects >= n_obs and group_sizes.shape[0] == 1:
            message = (
                f"term '{term.name}' has {n_effects} effects for {n_obs} scores and cannot be told from the "
                "residual: leave it out"
            )
            raise FitError(message)


def _check_covariates(terms: Sequence[Term], cells: Cells) -> None:
    if not terms and not cells.x.shape[1]:
        message = "a model needs a fixed effect or a random term"
        raise FitError(message)
    for term, covariate in zip(terms, cells.covariates, strict=True):
        if covariate is not None and np.ptp(covariate) == 0.0:
            message = f"term '{term.name}': the covariate does not vary, so there is no slope: leave it out"
            raise FitError(message)


def _check_distinct(
    terms: Sequence[Term], sizes: list[int], meetings: dict[tuple[int, int], Meeting]
) -> None:
    for (k, h), meeting in meetings.items():
        if k == h or h == len(terms) or terms[k].width != terms[h].width:
            continue
        if meeting.i.shape[0] == sizes[k] == sizes[h]:
            message = f"terms '{terms[k].name}' and '{terms[h].name}' have the same levels: leave one out"
            raise FitError(message)


def _full_rank(cells: Cells) -> tuple[tuple[int, ...], FloatArray, FloatArray]:
    """Columns of X to keep, their lengths, and the least-squares fit on the scaled columns."""
    gram = (cells.x.T * cells.count) @ cells.x
    right = cells.x.T @ cells.total
    length = np.sqrt(np.diagonal(gram))
    scale = np.where(length > 0.0, length, 1.0)
    gram = gram / np.outer(scale, scale)
    p = gram.shape[0]
    lower = np.zeros((p, p))
    kept: list[int] = []
    for j in range(p):
        k = len(kept)
        row = solve_triangular(lower[:k, :k], gram[kept, j], lower=True) if k else np.zeros(0)
        own = gram[j, j] - float(row @ row)
        if own > _ALIAS:
            lower[k, :k] = row
            lower[k, k] = np.sqrt(own)
            kept.append(j)
    k = len(kept)
    if not k:
        return (), np.ones(0), np.zeros(0)
    half = solve_triangular(lower[:k, :k], right[kept] / scale[kept], lower=True)
    fit = solve_triangular(lower[:k, :k].T, half, lower=False)
    return tuple(kept), scale[kept], fit
