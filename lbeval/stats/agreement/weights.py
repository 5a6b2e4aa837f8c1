"""Agreement weights: 1 for equal categories, less the further apart two categories are."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError

FloatArray = npt.NDArray[np.float64]
Weights = Literal["identity", "linear", "quadratic", "ordinal"]


def agreement_weights(weights: Weights | npt.ArrayLike, scale: npt.ArrayLike) -> FloatArray:
    """Weight matrix on the declared scale.

    Parameters
    ----------
    weights
        ``identity``; ``linear``, 1 - |a - b| / range (Cicchetti & Allison 1971); ``quadratic``,
        1 - (a - b)^2 / range^2 (Fleiss & Cohen 1973), both from the categories' values, so a category
        nobody used still counts; ``ordinal``, one less the share of the pairs of categories that lie
        within a to b (Gwet 2014), from their order alone; or a symmetric matrix of weights with ones on
        its diagonal and nothing above one.
    scale
        Values of the categories, ascending.

    Raises
    ------
    FitError
        For an unknown name or a matrix that is not a set of agreement weights on this scale.
    """
    values = np.asarray(scale, dtype=float)
    if isinstance(weights, str):
        return _named(weights, values)
    matrix = np.asarray(weights, dtype=float)
    fits = matrix.shape == (values.size, values.size)
    if not fits or not np.allclose(matrix, matrix.T) or not np.allclose(np.diag(matrix), 1):
        raise FitError(
            f"weights must be a symmetric {values.size} x {values.size} matrix with ones on the diagonal"
        )
    off_diagonal = matrix[~np.eye(values.size, dtype=bool)]
    if not np.isfinite(off_diagonal).all() or (off_diagonal > 1).any():
        raise FitError("agreement weights are finite and at most 1")
    return matrix


def from_disagreement(disagreement: npt.ArrayLike) -> FloatArray:
    """Agreement weights 1 - v / max(v) from disagreement weights v (Cohen 1968)."""
    matrix = np.asarray(disagreement, dtype=float)
    if not matrix.size or not np.isfinite(matrix).all() or matrix.max() <= 0:
        raise FitError("disagreement weights need a value above zero off the diagonal")
    weights: FloatArray = 1 - matrix / matrix.max()
    return weights


def _named(name: str, values: FloatArray) -> FloatArray:
    apart: FloatArray = np.abs(values[:, None] - values[None, :])
    if name == "identity":
        return np.eye(values.size)
    if name == "linear":
        linear: FloatArray = 1 - apart / apart.max()
        return linear
    if name == "quadratic":
        quadratic: FloatArray = 1 - (apart / apart.max()) ** 2
        return quadratic
    if name == "ordinal":
        steps = np.abs(np.subtract.outer(np.arange(values.size), np.arange(values.size)))
        ordinal: FloatArray = 1 - steps * (steps + 1) / (values.size * (values.size - 1))
        return ordinal
    raise FitError(f"weights {name!r} are not known; use identity, linear, quadratic, ordinal or a matrix")
