"""Variance parameters: the flat vector and the matrices it stands for."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from lbeval.errors import FitError

if TYPE_CHECKING:
    from lbeval.stats.reml.cells import CellSums
    from lbeval.stats.reml.rows import FloatArray

_ROUND_OFF = 1e-12


@dataclass(frozen=True, eq=False)
class Variances:
    """Covariance matrix of each term, a root L with LL' equal to it, and (G,) residual variances."""

    matrices: tuple[FloatArray, ...]
    roots: tuple[FloatArray, ...]
    residual: FloatArray


def parameter_names(cells: CellSums) -> tuple[str, ...]:
    """Names of the flat vector: a term, or its `.intercept`, `.covariance`, `.slope`; then residuals."""
    names: list[str] = []
    for name, width in zip(cells.names, cells.widths, strict=True):
        names.extend(
            [name] if width == 1 else [f"{name}.{part}" for part in ("intercept", "covariance", "slope")]
        )
    if cells.n_groups == 1:
        names.append("residual")
    else:
        names.extend(f"residual.{g}" for g in range(cells.n_groups))
    return tuple(names)


def term_slices(cells: CellSums) -> list[slice]:
    """Place of each term in the flat vector."""
    edges = np.concatenate([[0], np.cumsum([1 if w == 1 else 3 for w in cells.widths])])
    return [slice(int(a), int(b)) for a, b in pairwise(edges)]


def unpack(cells: CellSums, parameters: FloatArray) -> Variances:
    """Matrices of a flat vector.

    Raises
    ------
    FitError
        When a residual variance is not positive or a covariance matrix is not positive semidefinite.
    """
    names = parameter_names(cells)
    vector = np.asarray(parameters, dtype=np.float64)
    if vector.shape != (len(names),) or not np.isfinite(vector).all():
        message = f"{len(names)} finite variance parameters are needed: {', '.join(names)}"
        raise FitError(message)
    matrices, roots = [], []
    for name, part in zip(cells.names, term_slices(cells), strict=True):
        matrix = as_matrix(vector[part])
        matrices.append(matrix)
        roots.append(_root(name, matrix))
    residual = vector[len(names) - cells.n_groups :]
    if not (residual > 0.0).all():
        message = "a residual variance must be positive"
        raise FitError(message)
    return Variances(tuple(matrices), tuple(roots), residual.copy())


def as_matrix(part: FloatArray) -> FloatArray:
    """(1, 1) or (2, 2) matrix of a term's parameters."""
    if part.shape[0] == 1:
        return part.reshape(1, 1).copy()
    return np.array([[part[0], part[1]], [part[1], part[2]]])


def _root(name: str, matrix: FloatArray) -> FloatArray:
    """Lower-triangular root of a positive semidefinite matrix."""
    if matrix[0, 0] < 0.0:
        message = f"term '{name}': a variance must not be negative"
        raise FitError(message)
    if matrix.shape[0] == 1:
        return np.sqrt(matrix)
    a = float(np.sqrt(matrix[0, 0]))
    b = matrix[1, 0] / a if a > 0.0 else 0.0
    rest = matrix[1, 1] - b * b
    limit = _ROUND_OFF * max(matrix[1, 1], 0.0)
    if rest < -limit or matrix[1, 1] < 0.0 or (a == 0.0 and matrix[1, 0] != 0.0):
        message = f"term '{name}': the covariance matrix is not positive semidefinite"
        raise FitError(message)
    return np.array([[a, 0.0], [b, np.sqrt(max(rest, 0.0))]])
