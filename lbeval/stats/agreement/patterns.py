"""Ratings on a declared scale, with equal rows kept once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
KeyArray = npt.NDArray[np.uint64]

MISSING = -1


@dataclass(frozen=True, eq=False)
class Patterns:
    """Distinct rows of a units x raters matrix.

    Two raters on five categories have at most 35 distinct rows however long the season, so what
    is computed a row costs nothing with a million ratings.

    Attributes
    ----------
    codes : (n_patterns, n_raters) int array
        Position of the category on the scale, `MISSING` where not rated.
    weight : (n_patterns,) array
        Number of units with this row; every unit has at least one rating.
    unit : (n_units,) int array
        Row of ``codes`` of each unit given, `MISSING` where nobody rated it.
    scale : (n_categories,) array
        Values of the categories, ascending.
    n_raters : int
        Raters with any rating.
    """

    codes: IntArray
    weight: FloatArray
    unit: IntArray
    scale: FloatArray
    n_raters: int

    @property
    def n_categories(self) -> int:
        return self.scale.size

    @property
    def n_units(self) -> float:
        return float(self.weight.sum())

    @property
    def n_ratings(self) -> FloatArray:
        """Ratings in each row."""
        number: FloatArray = (self.codes != MISSING).sum(axis=1).astype(float)
        return number

    @property
    def n_paired(self) -> float:
        """Units rated twice or more."""
        return float(self.weight[self.n_ratings >= 2].sum())

    def counts(self) -> FloatArray:
        """How many raters chose each category, rows x categories."""
        found = np.empty((self.codes.shape[0], self.n_categories))
        for k in range(self.n_categories):
            found[:, k] = (self.codes == k).sum(axis=1)
        return found

    def paired(self) -> Patterns:
        """Rows rated twice or more; the others leave ``unit``, ``n_raters`` stays."""
        keep = self.n_ratings >= 2
        place = np.where(keep, np.cumsum(keep) - 1, MISSING)
        unit = np.where(self.unit == MISSING, MISSING, place[self.unit]) if keep.size else self.unit
        return Patterns(self.codes[keep], self.weight[keep], unit, self.scale, self.n_raters)

    def table(self, first: int, second: int) -> FloatArray:
        """Cross-tabulate two raters on the units both rated, categories x categories."""
        a, b = self.codes[:, first], self.codes[:, second]
        both = (a != MISSING) & (b != MISSING)
        cells = np.bincount(
            a[both] * self.n_categories + b[both],
            weights=self.weight[both],
            minlength=self.n_categories**2,
        ).astype(float)
        return cells.reshape(self.n_categories, self.n_categories)


def patterns(ratings: npt.ArrayLike, categories: npt.ArrayLike | None = None) -> Patterns:
    """Put ratings on a scale.

    Parameters
    ----------
    ratings : (n_units, n_raters)
        One row a unit (a play of a player on a criterion), one column a rater; NaN is missing.
    categories
        The declared scale, used or not. Without it the values that occur are the scale.

    Raises
    ------
    FitError
        For anything but a matrix, an infinite rating, fewer than two categories, or a rating that is
        not on the declared scale.
    """
    matrix = rating_matrix(ratings)
    rated = ~np.isnan(matrix)
    codes = np.full(matrix.shape, MISSING, dtype=np.int64)
    if categories is None:
        scale, codes[rated] = np.unique(matrix[rated], return_inverse=True)
    else:
        scale = declared(categories)
        codes[rated] = _codes(matrix[rated], scale)
    some = rated.any(axis=1)
    place, first, count = _distinct(codes[some])
    unit = np.full(matrix.shape[0], MISSING, dtype=np.int64)
    unit[some] = place
    return Patterns(codes[some][first], count, unit, scale, int(rated.any(axis=0).sum()))


def rating_matrix(ratings: npt.ArrayLike) -> FloatArray:
    """Units x raters as floats, or a `FitError` that says what is wrong."""
    matrix = np.asarray(ratings, dtype=float)
    if matrix.ndim != 2:
        raise FitError(
            f"ratings of shape {matrix.shape} are not a table; give one row a unit, one column a rater"
        )
    if np.isinf(matrix).any():
        raise FitError("a rating is infinite; mark what was not rated as missing")
    return matrix


def declared(categories: npt.ArrayLike) -> FloatArray:
    """Check a scale: two or more finite values, ascending."""
    scale = np.asarray(categories, dtype=float)
    if scale.ndim != 1 or scale.size < 2 or not np.isfinite(scale).all() or (np.diff(scale) <= 0).any():
        raise FitError("a scale is two or more categories in ascending order, each given once")
    return scale


def row_keys(rows: IntArray) -> KeyArray:
    """Hash each row to an integer, the same wherever the row stands."""
    keys = np.zeros(rows.shape[0], dtype=np.uint64)
    for column in np.ascontiguousarray(rows).view(np.uint64).T:
        keys = scramble(keys + column)
    return keys


def scramble(keys: KeyArray) -> KeyArray:
    """Mix the bits of integers so that sums of them do not meet (Steele, Lea & Flood 2014, SplitMix64)."""
    mixed = keys + np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return mixed ^ (mixed >> np.uint64(31))


def _distinct(rows: IntArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Place of each row among the distinct ones, first row of each, and how many there are.

    Distinct rows stand in the order of their keys, so they do not depend on the order of the units.
    Should two different rows share a key, all rows are kept apart.
    """
    _, first, place, count = np.unique(
        row_keys(rows), return_index=True, return_inverse=True, return_counts=True
    )
    if not np.array_equal(rows[first[place]], rows):
        first = place = np.arange(rows.shape[0])
        count = np.ones(rows.shape[0], dtype=np.int64)
    return place.astype(np.int64), first.astype(np.int64), count.astype(float)


def _codes(values: FloatArray, scale: FloatArray) -> IntArray:
    nearest = np.clip(np.searchsorted(scale, values), 1, scale.size - 1)
    nearest -= values - scale[nearest - 1] < scale[nearest] - values
    # a scale computed as x / 3 may differ from the ratings by rounding
    off = np.abs(values - scale[nearest]) > 1e-9 * np.maximum(1.0, np.abs(values))
    if off.any():
        known = ", ".join(f"{value:g}" for value in scale)
        raise FitError(f"rating {values[off][0]:g} is not on the declared scale ({known})")
    return nearest.astype(np.int64)
