"""Cross-products of the design on one sparse pattern, and the term that is absorbed in advance.

The term with the finest levels (play by player by criterion, say) is diagonal in the equations. Eliminating
level i adds -v/(1 + v d_i) m_i m_i' to the rest, with v its variance, d_i the information on it and m_i its
cross-products. Levels with the same counts in each residual group have the same d_i: their m_i m_i' are
summed once; the equations of the rest are a weighted sum of fixed matrices, however many levels there are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

from lbeval.stats.reml.layout import Layout, Pattern
from lbeval.stats.reml.pairs import PairSums

if TYPE_CHECKING:
    from lbeval.stats.reml.layout import IndexArray
    from lbeval.stats.reml.pairs import Meeting
    from lbeval.stats.reml.rows import FloatArray

# A term is worth absorbing when it has many levels and each meets few columns.
_MIN_LEVELS = 500
_MAX_MEETS = 64
_MAX_CLASSES = 1000


@dataclass(frozen=True, eq=False)
class Absorbed:
    """The finest term, eliminated in advance.

    Attributes
    ----------
    counts
        (G, L) rows of each level in each residual group.
    cross
        By group, (L, N) cross-products of its levels with the other columns.
    wy
        (G, L) cross-products with y.
    class_counts, class_sizes
        (C, G) distinct columns of `counts`, and (C,) how many levels have them.
    members, left, right
        By base matrix after the first G: its class and the residual groups g <= h of its products.
    """

    counts: FloatArray
    cross: tuple[sparse.csr_array, ...]
    wy: FloatArray
    class_counts: FloatArray
    class_sizes: FloatArray
    members: IndexArray
    left: IndexArray
    right: IndexArray

    @property
    def n_levels(self) -> int:
        """Levels present in the data."""
        return int(self.counts.shape[1])


@dataclass(frozen=True, eq=False)
class Products:
    """Cross-products of the columns that are not absorbed.

    Attributes
    ----------
    terms
        Terms in the order of the layout, by their number in the model.
    bases
        (G + J, P) values of W'W in each residual group, then those of the absorbed term's classes.
    grams
        By group, W'W as an (N, N) matrix.
    wy
        (G, N) cross-products with y.
    """

    terms: tuple[int, ...]
    layout: Layout
    pattern: Pattern
    bases: sparse.csr_array
    grams: tuple[sparse.csr_array, ...]
    wy: FloatArray
    absorbed: tuple[int, Absorbed] | None


@dataclass(frozen=True, eq=False)
class _Entries:
    """Values of one base matrix: places in column numbers, each pair of levels once."""

    rows: IndexArray
    cols: IndexArray
    values: FloatArray


def cross_products(sums: PairSums, meetings: dict[tuple[int, int], Meeting], total: FloatArray) -> Products:
    """Cross-products of all columns, with one term absorbed where that is worth it.

    Parameters
    ----------
    sums, meetings
        The pair sums and what they gave.
    total
        (m,) sum of y over each cell.
    """
    n_terms = len(sums.sizes)
    full = Layout.of(sums.sizes, sums.widths, sums.n_fixed)
    response = sums.with_response(full, total)
    target = _worth_absorbing(full, meetings)
    terms = tuple(k for k in range(n_terms) if k != target)
    layout = Layout.of([sums.sizes[k] for k in terms], [sums.widths[k] for k in terms], sums.n_fixed)
    number = {k: at for at, k in enumerate((*terms, n_terms))}
    kept = {(number[k], number[h]): m for (k, h), m in meetings.items() if target not in {k, h}}
    if target is None:
        pattern = Pattern.of(layout, {pair: (m.i, m.j) for pair, m in kept.items()})
        flat = [m.block.reshape(m.block.shape[0], -1) for m in kept.values()]
        values = np.concatenate(flat, axis=1)
        grams = tuple(_symmetric(pattern, v) for v in values)
        return Products(terms, layout, pattern, sparse.csr_array(values), grams, response, None)
    cross = {
        number[k if h == target else h]: (m, h == target)
        for (k, h), m in meetings.items()
        if target in {k, h} and k != h
    }
    counts = meetings[target, target].block[:, :, 0, 0]
    absorbed, entries = _absorb(layout, counts, cross, response[:, full.columns(target)])
    entries = [*_group_entries(layout, kept, counts.shape[0]), *entries]
    pattern, places = Pattern.covering(
        layout, np.concatenate([e.rows for e in entries]), np.concatenate([e.cols for e in entries])
    )
    edges = np.cumsum([0, *(e.rows.shape[0] for e in entries)])
    every = np.concatenate([e.values for e in entries])
    bases = sparse.csr_array((every, places, edges), shape=(len(entries), pattern.size))
    grams = tuple(_symmetric(pattern, bases[[g]].toarray()[0]) for g in range(counts.shape[0]))
    wy = np.delete(response, np.arange(full.n_columns)[full.columns(target)], axis=1)
    return Products(terms, layout, pattern, bases, grams, wy, (target, absorbed))


def _worth_absorbing(layout: Layout, meetings: dict[tuple[int, int], Meeting]) -> int | None:
    best = None
    for k, size in enumerate(layout.sizes):
        if layout.widths[k] > 1 or size < _MIN_LEVELS or (best is not None and size <= layout.sizes[best]):
            continue
        meets = sum(m.block[0].size for pair, m in meetings.items() if k in pair and pair != (k, k))
        counts = meetings[k, k].block[:, :, 0, 0]
        if meets <= _MAX_MEETS * size and np.unique(counts, axis=1).shape[1] <= _MAX_CLASSES:
            best = k
    return best


def _group_entries(layout: Layout, meetings: dict[tuple[int, int], Meeting], n_groups: int) -> list[_Entries]:
    pattern = Pattern.of(layout, {pair: (m.i, m.j) for pair, m in meetings.items()})
    values = np.concatenate([m.block.reshape(n_groups, -1) for m in meetings.values()], axis=1)
    return [_Entries(pattern.rows, pattern.cols, v) for v in values]


def _absorb(
    layout: Layout, counts: FloatArray, cross: dict[int, tuple[Meeting, bool]], wy: FloatArray
) -> tuple[Absorbed, list[_Entries]]:
    n_groups, n_levels = counts.shape
    matrices = tuple(_cross_matrix(layout, cross, g, n_levels) for g in range(n_groups))
    class_counts, member, sizes = np.unique(counts.T, axis=0, return_inverse=True, return_counts=True)
    order = np.argsort(member, kind="stable")
    edges = np.cumsum(np.concatenate([[0], sizes]))
    level = np.arange(layout.n_columns)
    for k in range(layout.n_terms):
        if layout.widths[k] > 1:
            level[layout.columns(k)] -= np.arange(layout.sizes[k] * 2) % 2
    entries, places = [], []
    for c, row in enumerate(class_counts):
        mine = order[edges[c] : edges[c + 1]]
        present = [int(g) for g in np.flatnonzero(row)]
        parts = {g: matrices[g][mine] for g in present}
        for at, g in enumerate(present):
            for h in present[at:]:
                product = (parts[g].T @ parts[h]).tocoo()
                entries.append(_upper(product, level, both=g != h))
                places.append((c, g, h))
    where = np.array(places, dtype=np.int64).reshape(-1, 3)
    absorbed = Absorbed(counts, matrices, wy, class_counts, sizes.astype(np.float64), *where.T)
    return absorbed, entries


def _upper(product: sparse.coo_array, level: IndexArray, *, both: bool) -> _Entries:
    """Entries of M, or of M + M', with the row's level not after the column's."""
    rows, cols, values = product.row.astype(np.int64), product.col.astype(np.int64), product.data
    if both:
        rows, cols, values = np.append(rows, cols), np.append(cols, rows), np.append(values, values)
    kept = level[rows] <= level[cols]
    return _Entries(rows[kept], cols[kept], values[kept])


def _cross_matrix(
    layout: Layout, cross: dict[int, tuple[Meeting, bool]], group: int, n_levels: int
) -> sparse.csr_array:
    rows, cols, values = [], [], []
    for other, (meeting, last) in cross.items():
        first, _, width = layout.extent(other)
        level, mine = (meeting.i, meeting.j) if last else (meeting.j, meeting.i)
        block = meeting.block[group].reshape(-1, width)
        for u in range(width):
            kept = np.flatnonzero(block[:, u])
            rows.append(mine[kept])
            cols.append(first + level[kept] * width + u)
            values.append(block[kept, u])
    shape = (n_levels, layout.n_columns)
    return sparse.csr_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), shape=shape
    )


def _symmetric(pattern: Pattern, values: FloatArray) -> sparse.csr_array:
    n = pattern.layout.n_columns
    kept = np.flatnonzero(values)
    flip = kept[pattern.mirror[kept]]
    rows = np.concatenate([pattern.rows[kept], pattern.cols[flip]])
    cols = np.concatenate([pattern.cols[kept], pattern.rows[flip]])
    return sparse.csr_array((np.concatenate([values[kept], values[flip]]), (rows, cols)), shape=(n, n))
