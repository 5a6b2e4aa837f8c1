"""The tree of nodes of an elimination scheme on the pattern of the cross-products."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lbeval.stats.reml.elimination import Node, Tree

if TYPE_CHECKING:
    from lbeval.stats.reml.elimination import IndexArray
    from lbeval.stats.reml.plan import Scheme
    from lbeval.stats.reml.products import Products

# Rows of a batch of leaves without a batch factor.
_MAX_BATCH = 2048


@dataclass(eq=False)
class _Group:
    """Nodes of one depth: their parents, the columns they own in blocks, and the columns they touch."""

    parent: IndexArray
    own: list[IndexArray]
    touched: list[IndexArray]
    n_blocks: list[int]
    size: int


def build(products: Products, scheme: Scheme) -> Tree:
    """Lay the nodes out in order of elimination and say where each value goes."""
    return _Builder(products, scheme).tree()


class _Builder:
    def __init__(self, products: Products, scheme: Scheme) -> None:
        self.products = products
        self.layout = products.layout
        self.scheme = scheme
        self.segments = {(s.first, s.second): s for s in products.pattern.segments}
        self.n_terms = len(self.layout.sizes)

    def tree(self) -> Tree:
        groups = [self._root(), *map(self._chain_group, range(1, len(self.scheme.chain) + 1))]
        if self.scheme.leaf is not None:
            groups.append(self._leaf_group())
        return self._assemble(groups)

    def _meeting(self, a: int, b: int) -> tuple[IndexArray, IndexArray]:
        """Levels of a and of b that meet (b may be X)."""
        if a == b:
            every = np.arange(self.layout.sizes[a])
            return every, every
        if (a, b) in self.segments:
            return self.segments[a, b].i, self.segments[a, b].j
        return self.segments[b, a].j, self.segments[b, a].i

    def _level_in(self, term: int, factor: int) -> IndexArray:
        """Level of the factor that holds each level of a term nested in it."""
        i, j = self._meeting(term, factor)
        out = np.empty(self.layout.sizes[term], dtype=np.int64)
        out[i] = j
        return out

    def _columns(self, term: int, levels: IndexArray) -> IndexArray:
        if term == self.n_terms:
            return self.layout.n_random + levels
        width = self.layout.widths[term]
        first = self.layout.starts[term] + levels * width
        return (first[:, None] + np.arange(width)).ravel()

    def _root(self) -> _Group:
        terms = [k for k, d in enumerate(self.scheme.depth) if d == 0]
        columns = [self._columns(k, np.arange(self.layout.sizes[k])) for k in terms]
        columns.append(np.arange(self.layout.n_random, self.layout.n_columns))
        return _Group(np.array([-1]), [np.concatenate(columns)], [np.empty(0, dtype=np.int64)], [1], -1)

    def _split(
        self, factor: int, terms: list[int], homes: list[IndexArray] | None = None
    ) -> list[IndexArray]:
        """Columns of the terms by level of the factor: the ones nested in it, or all that meet it."""
        levels, columns = [], []
        for at, k in enumerate(terms):
            if homes is None:
                level, other = self._meeting(factor, k)
            else:
                level, other = homes[at], np.arange(self.layout.sizes[k])
            width = 1 if k == self.n_terms else self.layout.widths[k]
            levels.append(np.repeat(level, width))
            columns.append(self._columns(k, other))
        level, column = np.concatenate(levels), np.concatenate(columns)
        order = np.lexsort((column, level))
        edges = np.searchsorted(level[order], np.arange(1, self.layout.sizes[factor]))
        return list(np.split(column[order], edges))

    def _chain_group(self, depth: int) -> _Group:
        factor = self.scheme.chain[depth - 1]
        n = self.layout.sizes[factor]
        mine = [k for k, d in enumerate(self.scheme.depth) if d == depth]
        above = [k for k, d in enumerate(self.scheme.depth) if d < depth]
        parent = (
            np.zeros(n, dtype=np.int64)
            if depth == 1
            else self._level_in(factor, self.scheme.chain[depth - 2])
        )
        own = self._split(factor, mine, [self._level_in(k, factor) for k in mine])
        return _Group(parent, own, self._split(factor, [*above, self.n_terms]), [1] * n, -1)

    def _leaf_group(self) -> _Group:
        scheme = self.scheme
        mine = [k for k, d in enumerate(scheme.depth) if d == len(scheme.chain) + 1]
        above = [k for k, d in enumerate(scheme.depth) if d <= len(scheme.chain)]
        assert scheme.leaf is not None
        blocks = self._split(scheme.leaf, mine, [self._level_in(k, scheme.leaf) for k in mine])
        size = max(b.shape[0] for b in blocks)
        padded = np.full((len(blocks), size), -1, dtype=np.int64)
        for row, block in zip(padded, blocks, strict=True):
            row[: block.shape[0]] = block
        batch, touched, parent = self._batches(above, len(blocks), size)
        order = np.argsort(batch, kind="stable")
        parts = np.split(order, np.searchsorted(batch[order], np.arange(1, len(touched))))
        own = [padded[part].ravel() for part in parts]
        return _Group(parent, own, touched, [part.shape[0] for part in parts], size)

    def _batches(
        self, above: list[int], n_blocks: int, size: int
    ) -> tuple[IndexArray, list[IndexArray], IndexArray]:
        """Batch of each leaf block; the columns each batch touches, and its parent."""
        scheme = self.scheme
        if scheme.batch is None:
            batch = np.arange(n_blocks) // max(1, _MAX_BATCH // size)
            every = [self._columns(k, np.arange(self.layout.extent(k)[1])) for k in (*above, self.n_terms)]
            touched = [np.concatenate(every)] * (int(batch[-1]) + 1)
            return batch, touched, np.zeros(len(touched), dtype=np.int64)
        assert scheme.leaf is not None
        batch = self._level_in(scheme.leaf, scheme.batch)
        touched = self._split(scheme.batch, [*above, self.n_terms])
        if not scheme.chain:
            return batch, touched, np.zeros(len(touched), dtype=np.int64)
        return batch, touched, self._level_in(scheme.batch, scheme.chain[-1])

    def _assemble(self, groups: list[_Group]) -> Tree:
        order = _order(groups)
        number = [np.empty(len(g.own), dtype=np.int64) for g in groups]
        for index, (depth, at) in enumerate(order):
            number[depth][at] = index
        owner = np.empty(self.layout.n_columns, dtype=np.int64)
        within = np.empty(self.layout.n_columns, dtype=np.int64)
        for depth, group in enumerate(groups):
            for at, own in enumerate(group.own):
                real = np.flatnonzero(own >= 0)
                owner[own[real]] = number[depth][at]
                within[own[real]] = real
        placer = _Placer(self.products, owner, within)
        nodes = []
        place = np.empty(self.layout.n_columns, dtype=np.int64)
        for index, (depth, at) in enumerate(order):
            group = groups[depth]
            own, touched = group.own[at], group.touched[at]
            parent, places = -1, np.empty(0, dtype=np.int64)
            if depth:
                above, home = groups[depth - 1], int(group.parent[at])
                parent = int(number[depth - 1][home])
                full = np.concatenate([above.own[home], above.touched[home]])
                place[full] = np.arange(full.shape[0])
                places = place[touched]
            n_blocks = group.n_blocks[at]
            size = own.shape[0] if group.size < 0 else group.size
            nodes.append(
                Node(
                    own,
                    touched,
                    n_blocks,
                    size,
                    parent,
                    places,
                    *placer.place(index, n_blocks, size, touched),
                )
            )
        return Tree(tuple(nodes), self.layout.n_columns, self.products.pattern.rows.shape[0])


def _order(groups: list[_Group]) -> list[tuple[int, int]]:
    """Depth and position of the nodes, children before parents, subtree by subtree."""
    children = []
    for depth in range(1, len(groups)):
        order = np.argsort(groups[depth].parent, kind="stable")
        edges = np.searchsorted(groups[depth].parent[order], np.arange(1, len(groups[depth - 1].own)))
        children.append(np.split(order, edges))
    out: list[tuple[int, int]] = []

    def visit(depth: int, at: int) -> None:
        if depth < len(children):
            for child in children[depth][at]:
                visit(depth + 1, int(child))
        out.append((depth, at))

    visit(0, 0)
    return out


class _Placer:
    """Places of the values in the fronts, node by node."""

    def __init__(self, products: Products, owner: IndexArray, within: IndexArray) -> None:
        flip = np.flatnonzero(products.pattern.mirror)
        row = np.concatenate([products.pattern.rows, products.pattern.cols[flip]])
        col = np.concatenate([products.pattern.cols, products.pattern.rows[flip]])
        source = np.concatenate([np.arange(products.pattern.rows.shape[0]), flip])
        kept = np.flatnonzero(owner[row] <= owner[col])
        node = owner[row[kept]]
        kept = kept[np.argsort(node, kind="stable")]
        self.row, self.col, self.source = row[kept], col[kept], source[kept]
        self.edges = np.searchsorted(owner[self.row], np.arange(int(owner.max()) + 2))
        self.owner, self.within = owner, within
        self.position = np.empty(owner.shape[0], dtype=np.int64)

    def place(
        self, index: int, n_blocks: int, size: int, touched: IndexArray
    ) -> tuple[IndexArray, IndexArray]:
        """Places and sources of the values of one node."""
        part = slice(int(self.edges[index]), int(self.edges[index + 1]))
        row, col = self.within[self.row[part]], self.col[part]
        mine = self.owner[col] == index
        self.position[touched] = np.arange(touched.shape[0])
        inner = row * size + self.within[col] % size
        outer = n_blocks * size * size + row * touched.shape[0] + self.position[col]
        return np.where(mine, inner, outer), self.source[part]
