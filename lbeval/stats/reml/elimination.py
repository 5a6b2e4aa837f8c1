"""Factor, solve and partial inverse of a sparse positive definite matrix by nested block elimination.

A node eliminates its own columns: one dense block, or many small blocks of one size that never meet.
What is left goes to its parent (the multifrontal method: Duff & Reid 1983, ACM Trans. Math. Softw. 9, 302).
The inverse on the pattern follows from the root back to the leaves (Takahashi, Fagan & Chen 1973).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.linalg import lapack

from lbeval.errors import FitError

FloatArray = npt.NDArray[np.float64]
IndexArray = npt.NDArray[np.int64]

# Up to this size a product of triangles beats LAPACK's inverse.
_SMALL = 100


@dataclass(frozen=True, eq=False)
class Node:
    """Columns eliminated together.

    Attributes
    ----------
    own
        (n_blocks * size,) columns, block by block; -1 pads a short block.
    touched
        (t,) columns of later nodes that the own columns meet.
    n_blocks, size
        Shape of the block-diagonal part.
    parent
        Index of the parent node, -1 for the root; a parent stands after its children.
    places
        (t,) where `touched` stands in the parent's (own, touched).
    front_at, front_from
        Entry `front_from` of the matrix' values goes to place `front_at` of the node's own rows: the
        (n_blocks, size, size) diagonal part first, then the (n_blocks * size, t) part.
    """

    own: IndexArray
    touched: IndexArray
    n_blocks: int
    size: int
    parent: int
    places: IndexArray
    front_at: IndexArray
    front_from: IndexArray

    @cached_property
    def run(self) -> slice | None:
        """`places` as a slice, where they are one."""
        n = self.places.shape[0]
        first = int(self.places[0]) if n else 0
        return slice(first, first + n) if (self.places == np.arange(first, first + n)).all() else None

    def taken(self, front: FloatArray) -> FloatArray:
        """Block of the parent's front over the touched columns."""
        if self.run is not None:
            return front[self.run, self.run]
        n = self.places.shape[0]
        return front.reshape(-1).take(self._flat(front.shape[0])).reshape(n, n)

    def add(self, front: FloatArray, block: FloatArray) -> None:
        """Add to the block of the parent's front over the touched columns."""
        if self.run is not None:
            front[self.run, self.run] += block
        else:
            np.add.at(front.reshape(-1), self._flat(front.shape[0]), block.reshape(-1))

    def _flat(self, size: int) -> IndexArray:
        return np.add.outer(self.places * size, self.places).reshape(-1)

    @property
    def n_own(self) -> int:
        """Own columns, padding included."""
        return self.n_blocks * self.size

    @property
    def n_diagonal(self) -> int:
        """Numbers in the block-diagonal part."""
        return self.n_blocks * self.size * self.size


@dataclass(frozen=True, eq=False)
class Tree:
    """Nodes in the order of elimination."""

    nodes: tuple[Node, ...]
    n_columns: int
    n_values: int


@dataclass(frozen=True, eq=False)
class Eliminated:
    """A node's Cholesky factor: L (n_blocks, size, size), its inverse for small blocks, and L^-1 B."""

    lower: FloatArray
    lower_inverse: FloatArray | None
    border: FloatArray


@dataclass(frozen=True, eq=False)
class Factor:
    """Cholesky factor of the whole matrix along a tree."""

    tree: Tree
    parts: tuple[Eliminated, ...]
    log_determinant: float

    def half_solve(self, right: FloatArray) -> FloatArray:
        """L^-1 right for an (N, r) array; untouched nodes are passed over."""
        work = right.copy()
        for node, part in zip(self.tree.nodes, self.parts, strict=True):
            mine = _rows(work, node)
            if not mine.any():
                continue
            solved = _lower_solve(part, node, mine)
            _set_rows(work, node, solved)
            if node.touched.shape[0]:
                work[node.touched] -= part.border.T @ solved
        return work

    def back_solve(self, right: FloatArray) -> FloatArray:
        """L^-T right for an (N, r) array."""
        work = right.copy()
        for node, part in zip(reversed(self.tree.nodes), reversed(self.parts), strict=True):
            mine = _rows(work, node)
            if node.touched.shape[0]:
                mine = mine - part.border @ work[node.touched]
            _set_rows(work, node, _upper_solve(part, node, mine))
        return work

    def solve(self, right: FloatArray) -> FloatArray:
        """Inverse times an (N, r) array."""
        return self.back_solve(self.half_solve(right))

    def inverse_on_pattern(self) -> FloatArray:
        """(P,) entries of the inverse at the places of the matrix' values."""
        out = np.empty(self.tree.n_values)
        fronts: dict[int, FloatArray] = {}
        has_child = {node.parent for node in self.tree.nodes}
        for index in range(len(self.tree.nodes) - 1, -1, -1):
            node, part = self.tree.nodes[index], self.parts[index]
            t = node.touched.shape[0]
            after = node.taken(fronts[node.parent]) if t else np.zeros((0, 0))
            diagonal, cross = _inverse_rows(part, node, after)
            flat = np.concatenate([diagonal.ravel(), cross.ravel()])
            out[node.front_from] = flat[node.front_at]
            if index in has_child:
                k = node.n_own
                front = np.empty((k + t, k + t))
                front[:k, :k] = diagonal[0]
                front[:k, k:] = cross
                front[k:, :k] = cross.T
                front[k:, k:] = after
                fronts[index] = front
        return out


def factorise(tree: Tree, values: FloatArray) -> Factor:
    """Cholesky factor of the matrix with these (P,) values on the tree's pattern.

    Raises
    ------
    FitError
        When the matrix is not positive definite in working precision.
    """
    waiting: dict[int, FloatArray] = {}
    parts: list[Eliminated] = []
    logdet = 0.0
    for index, node in enumerate(tree.nodes):
        k, t = node.n_own, node.touched.shape[0]
        flat = np.zeros(node.n_diagonal + k * t)
        flat[node.front_at] = values[node.front_from]
        diagonal = flat[: node.n_diagonal].reshape(node.n_blocks, node.size, node.size)
        border = flat[node.n_diagonal :].reshape(k, t)
        update = waiting.pop(index, None)
        if update is not None:
            diagonal[0] -= update[:k, :k]
            border -= update[:k, k:]
        padded = np.flatnonzero(node.own < 0)
        if padded.shape[0]:
            diagonal[padded // node.size, padded % node.size, padded % node.size] = 1.0
        part = _eliminate(node, diagonal, border)
        parts.append(part)
        logdet += 2.0 * float(np.log(np.diagonal(part.lower, axis1=1, axis2=2)).sum())
        if node.parent < 0:
            continue
        rest = part.border.T @ part.border
        if update is not None:
            rest += update[k:, k:]
        parent = tree.nodes[node.parent]
        full = parent.n_own + parent.touched.shape[0]
        if node.parent not in waiting:
            waiting[node.parent] = np.zeros((full, full))
        node.add(waiting[node.parent], rest)
    return Factor(tree, tuple(parts), logdet)


def _eliminate(node: Node, diagonal: FloatArray, border: FloatArray) -> Eliminated:
    if node.n_blocks == 1:
        lower, info = lapack.dpotrf(diagonal[0], lower=1, clean=1)
        if info:
            _fail()
        solved = lapack.dtrtrs(lower, border, lower=1)[0] if border.shape[1] else border
        return Eliminated(lower[None], None, solved)
    try:
        lower = np.linalg.cholesky(diagonal)
    except np.linalg.LinAlgError:
        _fail()
    inverse = np.linalg.inv(lower)
    shaped = border.reshape(node.n_blocks, node.size, -1)
    return Eliminated(lower, inverse, (inverse @ shaped).reshape(border.shape))


def _fail() -> None:
    message = "the mixed-model equations are singular: a fixed effect is a combination of others"
    raise FitError(message)


def _inverse_rows(part: Eliminated, node: Node, after: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Own rows of the inverse, given its block over the touched columns."""
    if part.lower_inverse is None:
        diagonal = _inverse_of(part.lower[0])[None]
        if not after.shape[0]:
            return diagonal, part.border
        ratio = lapack.dtrtrs(part.lower[0], part.border, lower=1, trans=1)[0]
        cross = -(ratio @ after)
        return diagonal - (cross @ ratio.T)[None], cross
    m, b = node.n_blocks, node.size
    turned = part.lower_inverse.transpose(0, 2, 1)
    diagonal = turned @ part.lower_inverse
    ratio = turned @ part.border.reshape(m, b, -1)
    cross = -(ratio.reshape(m * b, -1) @ after)
    return diagonal - cross.reshape(m, b, -1) @ ratio.transpose(0, 2, 1), cross


def _inverse_of(lower: FloatArray) -> FloatArray:
    """Inverse of LL'."""
    if lower.shape[0] <= _SMALL:
        inverse, _ = lapack.dtrtri(lower, lower=1)
        small: FloatArray = inverse.T @ inverse
        return small
    full: FloatArray = lapack.dpotri(lower, lower=1)[0]
    for a in range(0, full.shape[0], _SMALL):
        b = a + _SMALL
        full[a:b, b:] = full[b:, a:b].T
        full[a:b, a:b] = np.tril(full[a:b, a:b]) + np.tril(full[a:b, a:b], -1).T
    return full


def _rows(work: FloatArray, node: Node) -> FloatArray:
    mine: FloatArray = work[node.own]
    if node.n_blocks > 1:
        mine[node.own < 0] = 0.0
    return mine


def _set_rows(work: FloatArray, node: Node, mine: FloatArray) -> None:
    if node.n_blocks > 1:
        real = node.own >= 0
        work[node.own[real]] = mine[real]
    else:
        work[node.own] = mine


def _lower_solve(part: Eliminated, node: Node, right: FloatArray) -> FloatArray:
    if part.lower_inverse is None:
        solved: FloatArray = lapack.dtrtrs(part.lower[0], right, lower=1)[0]
        return solved
    shaped = right.reshape(node.n_blocks, node.size, -1)
    return (part.lower_inverse @ shaped).reshape(right.shape)


def _upper_solve(part: Eliminated, node: Node, right: FloatArray) -> FloatArray:
    if part.lower_inverse is None:
        solved: FloatArray = lapack.dtrtrs(part.lower[0], right, lower=1, trans=1)[0]
        return solved
    shaped = right.reshape(node.n_blocks, node.size, -1)
    return (part.lower_inverse.transpose(0, 2, 1) @ shaped).reshape(right.shape)
