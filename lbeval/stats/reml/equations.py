"""The mixed-model equations at given variances, factored.

Random effects are scaled, u = Lb with LL' their covariance: the equations become L'AL + I, which stay regular
at zero and at singular covariance matrices. Vectors hold the columns of the layout, then the absorbed levels.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from lbeval.stats.reml.elimination import Factor, Tree, factorise

if TYPE_CHECKING:
    from scipy import sparse

    from lbeval.stats.reml.products import Absorbed, Products
    from lbeval.stats.reml.rows import FloatArray
    from lbeval.stats.reml.variances import Variances


class Scaling:
    """Multiplication by the block-diagonal root L of the variances (1 for X)."""

    def __init__(self, products: Products, variances: Variances) -> None:
        self._layout = products.layout
        self._pattern = products.pattern
        self._roots = [variances.roots[k] for k in products.terms]
        self._plain = all(root.shape[0] == 1 for root in self._roots)
        self._diagonal = np.ones(self._layout.n_columns)
        for k, root in enumerate(self._roots):
            self._diagonal[self._layout.columns(k)] = root[0, 0]
        self.absorbed = (
            0.0 if products.absorbed is None else float(variances.roots[products.absorbed[0]][0, 0])
        )

    def inward(self, values: FloatArray) -> FloatArray:
        """Pattern values of L'AL from those of A."""
        return self._congruence([root.T for root in self._roots], values)

    def outward(self, values: FloatArray) -> FloatArray:
        """Pattern values of LQL' from those of Q."""
        return self._congruence(self._roots, values)

    def down(self, vectors: FloatArray) -> FloatArray:
        """L'v for (N, r) vectors."""
        return self._times([root.T for root in self._roots], vectors)

    def up(self, vectors: FloatArray) -> FloatArray:
        """Lv for (N, r) vectors."""
        return self._times(self._roots, vectors)

    def _times(self, roots: list[FloatArray], vectors: FloatArray) -> FloatArray:
        if self._plain:
            return vectors * self._diagonal[:, None]
        out = vectors.copy()
        for k, root in enumerate(roots):
            part, width = self._layout.columns(k), root.shape[0]
            blocks = vectors[part].reshape(-1, width, vectors.shape[1])
            out[part] = (root @ blocks).reshape(-1, vectors.shape[1])
        return out

    def _congruence(self, roots: list[FloatArray], values: FloatArray) -> FloatArray:
        if self._plain:
            return values * self._diagonal[self._pattern.rows] * self._diagonal[self._pattern.cols]
        every = [*roots, np.ones((1, 1))]
        out = np.empty_like(values)
        for s in self._pattern.segments:
            block = values[s.entries].reshape(-1, *s.shape)
            out[s.entries] = (every[s.first] @ block @ every[s.second].T).ravel()
        return out


@dataclass(frozen=True, eq=False)
class Pivots:
    """The absorbed levels' part: D^-1/2 (L,), cross-products with the rest over sigma2, and D by class."""

    data: Absorbed
    root: float
    inverse_root: FloatArray
    cross: sparse.csr_array
    by_class: FloatArray


class Equations:
    """L'AL + I with A = sum_g W_g'W_g / sigma2_g, factored once."""

    def __init__(self, products: Products, tree: Tree, variances: Variances) -> None:
        self.products = products
        self.variances = variances
        self.rho = 1.0 / variances.residual
        self.scaling = Scaling(products, variances)
        self.pivots = self._pivots()
        values = self.scaling.inward(self._weights @ products.bases)
        values[products.pattern.diagonal] += 1.0
        self._factor: Factor = factorise(tree, values)

    def _pivots(self) -> Pivots | None:
        if self.products.absorbed is None:
            return None
        data = self.products.absorbed[1]
        root = self.scaling.absorbed
        cross = data.cross[0] * self.rho[0]
        for rho, part in zip(self.rho[1:], data.cross[1:], strict=True):
            cross = cross + part * rho
        inverse_root = 1.0 / np.sqrt(1.0 + root**2 * (self.rho @ data.counts))
        return Pivots(data, root, inverse_root, cross, 1.0 + root**2 * (data.class_counts @ self.rho))

    @cached_property
    def _weights(self) -> FloatArray:
        """Weight of each base matrix in the equations of the rest."""
        if self.pivots is None:
            return self.rho
        data, v = self.pivots.data, self.pivots.root**2
        products = self.rho[data.left] * self.rho[data.right]
        return np.concatenate([self.rho, -v * products / self.pivots.by_class[data.members]])

    @property
    def log_determinant(self) -> float:
        """Log-determinant of L'AL + I."""
        if self.pivots is None:
            return self._factor.log_determinant
        return self._factor.log_determinant + float(
            self.pivots.data.class_sizes @ np.log(self.pivots.by_class)
        )

    def down(self, vectors: FloatArray) -> FloatArray:
        """L'v for vectors over all columns; the same as Lv on the absorbed levels."""
        n = self.products.layout.n_columns
        return np.concatenate([self.scaling.down(vectors[:n]), self.scaling.absorbed * vectors[n:]])

    def up(self, vectors: FloatArray) -> FloatArray:
        """Lv for vectors over all columns."""
        n = self.products.layout.n_columns
        return np.concatenate([self.scaling.up(vectors[:n]), self.scaling.absorbed * vectors[n:]])

    def half_solve(self, right: FloatArray) -> FloatArray:
        """Inverse of the Cholesky factor times (N + L, r) scaled vectors; (N, r) stand for zero after."""
        n, pivots = self.products.layout.n_columns, self.pivots
        if pivots is None or right.shape[0] == n:
            return self._factor.half_solve(right)
        rest, last = right[:n], right[n:]
        if last.any():
            last = last * pivots.inverse_root[:, None]
            back = pivots.cross.T @ (pivots.root * pivots.inverse_root[:, None] * last)
            rest = rest - self.scaling.down(back)
        return np.concatenate([self._factor.half_solve(rest), last])

    def solve(self, right: FloatArray) -> FloatArray:
        """Inverse times (N + L, r) scaled vectors."""
        n, pivots = self.products.layout.n_columns, self.pivots
        half = self.half_solve(right)
        rest = self._factor.back_solve(half[:n])
        if pivots is None:
            return rest
        seen = pivots.root * (pivots.cross @ self.scaling.up(rest))
        scale = pivots.inverse_root[:, None]
        return np.concatenate([rest, scale * (half[n:] - scale * seen)])

    def times(self, group: int, vectors: FloatArray) -> FloatArray:
        """W_g'W_g times (N + L, r) unscaled vectors."""
        n, products = self.products.layout.n_columns, self.products
        rest = products.grams[group] @ vectors[:n]
        if products.absorbed is None:
            return rest
        data = products.absorbed[1]
        cross, last = data.cross[group], vectors[n:]
        rest += cross.T @ last
        return np.concatenate([rest, cross @ vectors[:n] + data.counts[group][:, None] * last])

    def traces(self) -> tuple[list[FloatArray], FloatArray]:
        """Differentiate the log-determinant with respect to the variances and to 1 / sigma2_g.

        Returns
        -------
        by_term : list of (width, width)
            By term of the model, sum over levels of Z'PZ; NaN where the covariance matrix is singular.
        by_group : (G,)
            Trace of W_g'W_g times the inverse of the unscaled equations.
        """
        products, pattern = self.products, self.products.pattern
        inverse = self._factor.inverse_on_pattern()
        by_term = self._rest_traces(inverse)
        weight = np.where(pattern.mirror, 2.0, 1.0)
        by_base = products.bases @ (weight * self.scaling.outward(inverse))
        n_groups = self.rho.shape[0]
        by_group = by_base[:n_groups]
        if self.pivots is None or products.absorbed is None:
            return by_term, by_group
        data, v, pivot = self.pivots.data, self.pivots.root**2, self.pivots.by_class
        seen, mine = by_base[n_groups:], pivot[data.members]
        both = self.rho[data.left] * self.rho[data.right]
        slope = seen * both / mine**2
        information = data.class_counts @ self.rho
        total = float(data.class_sizes @ (information / pivot)) - float(slope.sum())
        by_group = by_group + v * data.class_counts.T @ (data.class_sizes / pivot)
        by_group += v * v * (slope @ data.class_counts[data.members])
        for g, rho in enumerate(self.rho):
            times = (data.left == g).astype(float) + (data.right == g)
            by_group[g] -= v * float((times * seen * both / mine).sum()) / rho
        by_term.insert(products.absorbed[0], np.array([[total]]))
        return by_term, by_group

    def _rest_traces(self, inverse: FloatArray) -> list[FloatArray]:
        """Sum over levels of Z'PZ, from L'Z'PZL = I - Q."""
        out = []
        for s in self.products.pattern.segments:
            if s.first != s.second or s.first == self.products.layout.n_terms:
                continue
            size = self.products.layout.sizes[s.first]
            root = self.variances.roots[self.products.terms[s.first]]
            own = inverse[s.entries].reshape(-1, *s.shape)[s.i == s.j].sum(axis=0)
            if (np.diagonal(root) == 0.0).any():
                out.append(np.full(root.shape, np.nan))
                continue
            back = np.linalg.inv(root)
            out.append(back.T @ (size * np.eye(root.shape[0]) - own) @ back)
        return out
