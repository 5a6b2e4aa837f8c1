"""REML components of units x raters with missing cells, from sums that do not grow with the units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import linalg, optimize

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex128]

GRID = 24  # starting points of a search over variance / (1 + variance)
LARGEST = 1 - 1e-9
STEP = 1e-20


class Components(NamedTuple):
    """Variance components; ``rater`` is zero where the model has none or has raters fixed."""

    unit: float
    rater: float
    error: float


@dataclass(frozen=True, eq=False)
class Sums:
    """What the likelihood needs of the ratings, with units grouped by their number of ratings m.

    ``size`` (M,) values of m; ``units`` (M,) how many units have them; ``shared`` (M, k, k) units rated by
    both of two raters; ``cross`` (M, k) sum of the totals of a rater's units; ``squares`` (M,) sum of squared
    totals; ``ratings``, ``totals`` (k,) number and sum of each rater's ratings; ``yy`` sum of squares.
    Ratings are taken from their mean.
    """

    size: FloatArray
    units: FloatArray
    shared: FloatArray
    cross: FloatArray
    squares: FloatArray
    ratings: FloatArray
    totals: FloatArray
    yy: float

    @property
    def n(self) -> float:
        return float(self.ratings.sum())

    def given(self, ratio: complex) -> tuple[ComplexArray, ComplexArray, complex, complex]:
        """Z'V^-1 Z, Z'V^-1 y, y'V^-1 y and log|V| for raters Z and V = I + ratio x same unit."""
        weight = ratio / (1 + self.size * ratio)
        a = np.diag(self.ratings) - np.tensordot(weight, self.shared, axes=1)
        b = self.totals - weight @ self.cross
        c = self.yy - weight @ self.squares
        return np.asarray(a), b, complex(c), complex(self.units @ np.log1p(self.size * ratio))


def sums(matrix: FloatArray) -> Sums:
    """Add up a units x raters matrix without empty rows or columns; NaN is missing."""
    rated = ~np.isnan(matrix)
    values = np.where(rated, matrix - matrix[rated].mean(), 0.0)
    m, total = rated.sum(axis=1), values.sum(axis=1)
    size, place = np.unique(m, return_inverse=True)
    k = matrix.shape[1]
    shared, cross = np.empty((size.size, k, k)), np.empty((size.size, k))
    for i in range(size.size):
        rows = rated[place == i].astype(float)
        shared[i], cross[i] = rows.T @ rows, total[place == i] @ rows
    return Sums(
        size=size.astype(float),
        units=np.bincount(place).astype(float),
        shared=shared,
        cross=cross,
        squares=np.bincount(place, weights=total**2).astype(float),
        ratings=rated.sum(axis=0).astype(float),
        totals=values.sum(axis=0),
        yy=float((values**2).sum()),
    )


def one_way(data: Sums) -> Components:
    """Random units only (Patterson & Thompson 1971)."""

    def fit(ratio: complex) -> tuple[complex, complex]:
        a, b, c, log_det = data.given(ratio)
        room = a.sum()
        rest = c - b.sum() ** 2 / room
        return complex(log_det + np.log(room) + (data.n - 1) * np.log(rest)), complex(rest / (data.n - 1))

    return _of_units(fit)


def fixed_raters(data: Sums) -> Components:
    """Random units, fixed raters: a rater's offset changes nothing."""
    free = data.n - data.ratings.size

    def fit(ratio: complex) -> tuple[complex, complex]:
        a, b, c, log_det = data.given(ratio)
        rest = c - b @ np.linalg.solve(a, b)
        return complex(log_det + _log_det(a) + free * np.log(rest)), complex(rest / free)

    return _of_units(fit)


def random_raters(data: Sums) -> Components:
    """Random units and random raters, crossed."""

    def slope(ratio: float) -> float:
        # at the best rater variance its own change does not count
        return _step(lambda r: _crossed(data, r, _rater_ratio(data, ratio))[0], ratio)

    ratio = _least(lambda r: _crossed(data, r, _rater_ratio(data, r))[0], slope)
    of_rater = _rater_ratio(data, ratio)
    error = float(np.real(_crossed(data, ratio, of_rater)[1]))
    return Components(ratio * error, of_rater * error, error)


def _crossed(data: Sums, ratio: complex, of_rater: float) -> tuple[complex, complex]:
    """Criterion and error variance at two variance ratios."""
    a, b, c, log_det = data.given(ratio)
    k = data.ratings.size
    inner = np.eye(k) + of_rater * a
    right = np.linalg.solve(inner, np.column_stack([np.ones(k), b]))
    room = (a @ right[:, 0]).sum()
    rest = c - of_rater * b @ right[:, 1] - right[:, 1].sum() ** 2 / room
    free = data.n - 1
    return complex(log_det + _log_det(inner) + np.log(room) + free * np.log(rest)), complex(rest / free)


def _rater_ratio(data: Sums, ratio: float) -> float:
    """Best rater variance for a unit variance, in the principal axes of the raters."""
    a, b, c, _ = data.given(ratio)
    roots, axes = np.linalg.eigh(np.real(a))
    ones, right = axes.sum(axis=0), axes.T @ np.real(b)
    weights = np.column_stack([ones**2 * roots, ones * right, right**2])

    def criterion(of_rater: complex) -> complex:
        grown = 1 + of_rater * roots
        room, total, taken = (1 / grown) @ weights
        rest = c - of_rater * taken - total**2 / room
        return complex(np.log(grown).sum() + np.log(room) + (data.n - 1) * np.log(rest))

    return _least(criterion, lambda r: _step(criterion, r))


def _of_units(fit: Callable[[complex], tuple[complex, complex]]) -> Components:
    ratio = _least(lambda r: fit(r)[0], lambda r: _step(lambda z: fit(z)[0], r))
    error = float(np.real(fit(ratio)[1]))
    return Components(ratio * error, 0.0, error)


def _least(criterion: Callable[[float], complex], slope: Callable[[float], float]) -> float:
    """Find the variance ratio of least criterion: where its slope is zero, next to the best of a grid."""
    shares = np.linspace(0, LARGEST, GRID + 1)
    ratios = shares / (1 - shares)
    best = int(np.argmin([np.real(criterion(float(ratio))) for ratio in ratios]))
    low, high = float(ratios[max(best - 1, 0)]), float(ratios[min(best + 1, GRID)])
    if slope(low) >= 0 or slope(high) <= 0:
        return float(ratios[best])
    return float(optimize.brentq(slope, low, high, xtol=1e-14, rtol=1e-12))


def _step(function: Callable[[complex], complex], at: float) -> float:
    """Differentiate by a complex step, exact to rounding (Squire & Trapp 1998, SIAM Rev 40:110)."""
    return float(np.imag(function(complex(at, STEP)))) / STEP


def _log_det(matrix: ComplexArray) -> complex:
    """Log determinant that keeps the imaginary part of a complex step."""
    with_pivots = linalg.lu(matrix, permute_l=False)[2]
    diagonal = np.diag(with_pivots)
    return complex(np.log(np.where(np.real(diagonal) < 0, -diagonal, diagonal)).sum())
