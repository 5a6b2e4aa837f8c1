"""Where the columns of the design stand, and the sparse pattern of its cross-products."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

IndexArray = npt.NDArray[np.int64]
FlagArray = npt.NDArray[np.bool_]

# Below this size a table of all pairs is faster than a sort.
_TABLE = 1 << 18
_BITS = 16
_DIGIT = (1 << _BITS) - 1


@dataclass(frozen=True, eq=False)
class Layout:
    """Columns of W = [Z_1 ... Z_K, X].

    Attributes
    ----------
    sizes, widths
        Levels (present in the data) and effects a level of each term.
    starts
        (K+1,) first column of each term; the last entry is the first column of X.
    n_columns
        All columns, those of X included.
    """

    sizes: tuple[int, ...]
    widths: tuple[int, ...]
    starts: tuple[int, ...]
    n_columns: int

    @classmethod
    def of(cls, sizes: list[int], widths: list[int], n_fixed: int) -> Layout:
        """Lay terms out one after the other, level by level."""
        edges = np.concatenate([[0], np.cumsum(np.asarray(sizes, int) * np.asarray(widths, int))])
        starts = tuple(int(e) for e in edges)
        return cls(tuple(sizes), tuple(widths), starts, starts[-1] + n_fixed)

    @property
    def n_terms(self) -> int:
        """Terms; the same number stands for X in a pair."""
        return len(self.sizes)

    @property
    def n_random(self) -> int:
        """Columns of the random effects."""
        return self.starts[-1]

    @property
    def n_fixed(self) -> int:
        """Columns of X."""
        return self.n_columns - self.n_random

    @property
    def fixed(self) -> slice:
        """Columns of X."""
        return slice(self.n_random, self.n_columns)

    def columns(self, term: int) -> slice:
        """Columns of a term."""
        return slice(self.starts[term], self.starts[term + 1])

    def extent(self, term: int) -> tuple[int, int, int]:
        """First column, levels and effects a level of a term or of X."""
        if term == self.n_terms:
            return self.n_random, self.n_fixed, 1
        return self.starts[term], self.sizes[term], self.widths[term]


@dataclass(frozen=True, eq=False)
class Segment:
    """Entries of the pattern that belong to one pair of terms.

    Entry (b, u, v) of the segment, stored in C order from `start`, is row i[b]*width + u of the first
    term and column j[b]*width + v of the second.
    """

    first: int
    second: int
    i: IndexArray
    j: IndexArray
    shape: tuple[int, int]
    start: int

    @property
    def entries(self) -> slice:
        """Place in the value arrays."""
        return slice(self.start, self.start + self.i.shape[0] * self.shape[0] * self.shape[1])


@dataclass(frozen=True, eq=False)
class Pattern:
    """Places where cross-products are not zero; a pair of different levels stands once.

    Attributes
    ----------
    rows, cols
        (P,) column numbers of each entry.
    mirror
        (P,) whether the transposed entry is implied: all but those inside a level.
    diagonal
        Places of the random effects' diagonal.
    """

    layout: Layout
    segments: tuple[Segment, ...]
    rows: IndexArray
    cols: IndexArray
    mirror: FlagArray
    diagonal: IndexArray

    @property
    def size(self) -> int:
        """Entries."""
        return int(self.rows.shape[0])

    @classmethod
    def of(cls, layout: Layout, pairs: dict[tuple[int, int], tuple[IndexArray, IndexArray]]) -> Pattern:
        """Pattern of these meetings of levels, by pair of terms."""
        segments, rows, cols, mirror, start = [], [], [], [], 0
        for (k, h), (i, j) in pairs.items():
            (at_k, _, wide_k), (at_h, _, wide_h) = layout.extent(k), layout.extent(h)
            segment = Segment(k, h, i, j, (wide_k, wide_h), start)
            start = segment.entries.stop
            segments.append(segment)
            shape = (i.shape[0], wide_k, wide_h)
            r, c = (
                at_k + i[:, None] * wide_k + np.arange(wide_k),
                at_h + j[:, None] * wide_h + np.arange(wide_h),
            )
            rows.append(np.broadcast_to(r[:, :, None], shape).ravel())
            cols.append(np.broadcast_to(c[:, None, :], shape).ravel())
            across = np.ones(i.shape[0], dtype=bool) if k != h else i != j
            mirror.append(np.repeat(across, wide_k * wide_h))
        row, col = np.concatenate(rows), np.concatenate(cols)
        diagonal = np.flatnonzero((row == col) & (row < layout.n_random))
        return cls(layout, tuple(segments), row, col, np.concatenate(mirror), diagonal)

    @classmethod
    def covering(cls, layout: Layout, rows: IndexArray, cols: IndexArray) -> tuple[Pattern, IndexArray]:
        """Smallest pattern with these entries, the row's level not after the column's; their places."""
        unit, within, width, owner = _units(layout)
        n_units = owner.shape[0]
        first = np.cumsum(np.concatenate([[0], np.bincount(owner, minlength=layout.n_terms + 1)]))
        keys = unit[rows] * n_units + unit[cols]
        found, number = distinct(keys, n_units * n_units)
        a, b = np.divmod(found, n_units)
        pair = owner[a] * (layout.n_terms + 1) + owner[b]
        order = np.argsort(pair, kind="stable")
        sizes = (width[a] * width[b])[order]
        block_start = np.empty(found.shape[0], dtype=np.int64)
        block_start[order] = np.cumsum(sizes) - sizes
        pairs = {}
        edges = np.flatnonzero(np.diff(pair[order], prepend=-1, append=-1))
        for low, high in pairwise(edges):
            part = order[low:high]
            k, h = (int(v) for v in divmod(int(pair[part[0]]), layout.n_terms + 1))
            pairs[k, h] = (a[part] - first[k], b[part] - first[h])
        places = block_start[number] + within[rows] * width[unit[cols]] + within[cols]
        return cls.of(layout, pairs), places


def _units(layout: Layout) -> tuple[IndexArray, IndexArray, IndexArray, IndexArray]:
    """Level and place in the level of each column; width and term of each level."""
    widths, owners = [], []
    for k in range(layout.n_terms + 1):
        _, size, wide = layout.extent(k)
        widths.append(np.full(size, wide))
        owners.append(np.full(size, k))
    width, owner = np.concatenate(widths), np.concatenate(owners)
    unit = np.repeat(np.arange(width.shape[0]), width)
    starts = np.cumsum(width) - width
    return unit, np.arange(layout.n_columns) - starts[unit], width, owner


def distinct(keys: npt.NDArray[np.integer[Any]], size: int) -> tuple[IndexArray, IndexArray]:
    """Keys in 0..size-1 that occur, ascending, and the number of each key among them."""
    if size <= max(4 * keys.shape[0], _TABLE):
        present = np.zeros(size, dtype=bool)
        present[keys] = True
        found = np.flatnonzero(present)
        number = np.empty(size, dtype=np.int64)
        number[found] = np.arange(found.shape[0])
        return found, number[keys]
    order = _radix_order(keys, size)
    ordered = keys[order]
    first = np.diff(ordered, prepend=-1) != 0
    number = np.empty(keys.shape[0], dtype=np.int64)
    number[order] = np.cumsum(first) - 1
    return ordered[first], number


def _radix_order(keys: npt.NDArray[np.integer[Any]], size: int) -> IndexArray:
    """Stable order by 16-bit digits, for which numpy's sort is linear."""
    order = (keys & _DIGIT).astype(np.uint16).argsort(kind="stable")
    shift = _BITS
    while size >> shift:
        digit = (keys[order] >> shift & _DIGIT).astype(np.uint16)
        order = order[digit.argsort(kind="stable")]
        shift += _BITS
    return order
