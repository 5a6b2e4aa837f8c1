"""Sums over the cells for each pair of terms."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

from lbeval.stats.reml.layout import distinct

if TYPE_CHECKING:
    from lbeval.stats.reml.layout import IndexArray, Layout
    from lbeval.stats.reml.rows import Cells, FloatArray


@dataclass(frozen=True, eq=False)
class Meeting:
    """Levels i of one term and j of another that meet, and (G, blocks, width, width) cross-products."""

    i: IndexArray
    j: IndexArray
    block: FloatArray


class PairSums:
    """Cross-products of cells, pair by pair; a term is a number, X the number of terms.

    Parameters
    ----------
    cells
        Cells whose codes number the levels that occur without gaps.
    x
        (m, p) fixed-effect row of each cell, full rank.
    """

    def __init__(self, cells: Cells, x: FloatArray) -> None:
        self._cells = cells
        self._x = x
        self._compact = sparse.csr_array(x)
        edges = np.searchsorted(cells.group, np.arange(cells.n_groups + 1))
        self.n_fixed = x.shape[1]
        self._groups = [slice(int(a), int(b)) for a, b in pairwise(edges)]
        self.sizes = [int(c.max()) + 1 for c in cells.codes]
        self.widths = [1 if v is None else 2 for v in cells.covariates]
        self._weights = [
            [cells.count] if v is None else [cells.count, cells.count * v] for v in cells.covariates
        ]

    def all(self) -> dict[tuple[int, int], Meeting]:
        """Every pair that meets, a term with itself included."""
        n_terms = len(self.sizes)
        out = {}
        for k in range(n_terms):
            for h in range(k, n_terms):
                out[k, h] = self._terms(k, h)
            if self._x.shape[1]:
                out[k, n_terms] = self._with_fixed(k)
        p = self._x.shape[1]
        if p:
            i, j = np.triu_indices(p)
            gram = [(self._x[g].T * self._cells.count[g]) @ self._x[g] for g in self._groups]
            block = np.stack([g[i, j] for g in gram])[:, :, None, None]
            out[n_terms, n_terms] = Meeting(i, j, block)
        return out

    def with_response(self, layout: Layout, total: FloatArray) -> FloatArray:
        """(G, N) cross-products with y, of which `total` (m,) holds the sum over each cell."""
        cells = self._cells
        out = np.zeros((len(self._groups), layout.n_columns))
        for g, rows in enumerate(self._groups):
            for k, codes in enumerate(cells.codes):
                block = out[g, layout.columns(k)].reshape(layout.sizes[k], layout.widths[k])
                covariate = cells.covariates[k]
                block[:, 0] = np.bincount(codes[rows], total[rows], minlength=layout.sizes[k])
                if covariate is not None:
                    weight = total[rows] * covariate[rows]
                    block[:, 1] = np.bincount(codes[rows], weight, minlength=layout.sizes[k])
            out[g, layout.fixed] = total[rows] @ self._x[rows]
        return out

    def _terms(self, k: int, h: int) -> Meeting:
        cells = self._cells
        if k == h:
            key, i = cells.codes[k], np.arange(self.sizes[k])
            j = i
        else:
            joint = cells.codes[k] * self.sizes[h] + cells.codes[h]
            found, key = distinct(joint, self.sizes[k] * self.sizes[h])
            i, j = np.divmod(found, self.sizes[h])
        block = np.empty((len(self._groups), i.shape[0], self.widths[k], self.widths[h]))
        for u, left in enumerate(self._weights[k]):
            for v in range(self.widths[h]):
                covariate = cells.covariates[h]
                weight = left if v == 0 or covariate is None else left * covariate
                for g, rows in enumerate(self._groups):
                    block[g, :, u, v] = np.bincount(key[rows], weight[rows], minlength=i.shape[0])
        return Meeting(i, j, block)

    def _with_fixed(self, k: int) -> Meeting:
        every = np.ones(self._x.shape[0])
        i, j = np.nonzero(self._sum_fixed(k, every, slice(None), abs(self._compact)))
        block = np.empty((len(self._groups), i.shape[0], self.widths[k], 1))
        for u, weight in enumerate(self._weights[k]):
            for g, rows in enumerate(self._groups):
                block[g, :, u, 0] = self._sum_fixed(k, weight, rows, self._compact)[i, j]
        return Meeting(i, j, block)

    def _sum_fixed(self, k: int, weight: FloatArray, rows: slice, x: sparse.csr_array) -> FloatArray:
        """(levels, p) weighted sums of the fixed-effect rows by level."""
        codes = self._cells.codes[k][rows]
        shape = (self.sizes[k], codes.shape[0])
        left = sparse.csc_array((weight[rows], codes, np.arange(codes.shape[0] + 1)), shape=shape)
        sums: FloatArray = (left @ x[rows]).toarray()
        return sums
