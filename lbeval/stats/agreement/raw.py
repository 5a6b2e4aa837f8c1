"""Agreement before any correction for chance, and how often each category is used."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Note, Share, pairing_note
from lbeval.stats.agreement.patterns import MISSING, Patterns, patterns
from lbeval.stats.proportions import wilson_effective

FloatArray = npt.NDArray[np.float64]


class TwoByTwo(NamedTuple):
    """Indices of two raters on two categories (Byrt, Bishop & Carlin 1993, J Clin Epidemiol 46:423).

    ``pabak`` is kappa adjusted for prevalence and bias, 2 p_o - 1; ``prevalence_index`` the difference of
    the agreeing cells, (a - d) / n; ``bias_index`` that of the disagreeing cells, (b - c) / n.
    """

    pabak: float
    prevalence_index: float
    bias_index: float


def exact(ratings: npt.ArrayLike, categories: npt.ArrayLike, level: float = 0.90) -> Share:
    """Share of pairs of ratings of one unit that are equal, averaged over the units.

    Parameters
    ----------
    ratings : (n_units, n_raters)
        NaN is missing; units rated once are left out.
    categories
        The declared scale, ascending.
    level
        Confidence level of the interval: Wilson's, with the effective size of the mean over units.

    Raises
    ------
    FitError
        For ratings off the scale (`patterns`).
    """
    data = patterns(ratings, categories).paired()
    return mean_share("exact agreement", equal_pairs(data), data, level)


def adjacent(ratings: npt.ArrayLike, categories: npt.ArrayLike, level: float = 0.90) -> Share:
    """Share of pairs of ratings of one unit that are equal or neighbours on the scale.

    Parameters, interval and errors as in `exact`; on two categories it says nothing and is NaN.
    """
    data = patterns(ratings, categories).paired()
    if data.n_categories == 2 and not pairing_note(data):
        n = int(data.n_units)
        return Share("adjacent agreement", np.nan, np.nan, np.nan, np.nan, level, n, Note.TWO_CATEGORIES)
    return mean_share("adjacent agreement", equal_pairs(data, within=1), data, level)


def specific(ratings: npt.ArrayLike, categories: npt.ArrayLike, level: float = 0.90) -> tuple[Share, ...]:
    """Agreement specific to each category, in the scale's order.

    Of the ratings in a category, the share of the other ratings of the same units that are in it too
    (Spitzer & Fleiss 1974, Br J Psychiatry 125:341). On two categories these are negative and positive
    agreement (Cicchetti & Feinstein 1990, J Clin Epidemiol 43:551). Standard error of a ratio over units,
    Wilson interval with its effective size. Parameters and errors as in `exact`; NaN with a note for a
    category nobody used on a unit rated twice.
    """
    data = patterns(ratings, categories).paired()
    counts = data.counts()
    others = (data.n_ratings - 1)[:, None]
    # each unit weighs its ratings once: pairs over the other raters' number
    agreeing = counts * (counts - 1) / others
    return tuple(
        _ratio(f"agreement on {value:g}", agreeing[:, k], counts[:, k], data, level)
        for k, value in enumerate(data.scale)
    )


def prevalence(ratings: npt.ArrayLike, categories: npt.ArrayLike, level: float = 0.90) -> tuple[Share, ...]:
    """Share of the ratings in each category, in the scale's order, over units rated twice or more.

    Standard error of a ratio over units, Wilson interval with its effective size. Parameters and errors
    as in `exact`.
    """
    data = patterns(ratings, categories).paired()
    counts, ratings_each = data.counts(), data.n_ratings
    return tuple(
        _ratio(f"prevalence of {value:g}", counts[:, k], ratings_each, data, level)
        for k, value in enumerate(data.scale)
    )


def two_by_two(table: npt.ArrayLike) -> TwoByTwo:
    """Prevalence and bias of a 2 x 2 table, first rater in rows; NaN for an empty one."""
    cells = np.asarray(table, dtype=float)
    if cells.shape != (2, 2) or not np.isfinite(cells).all() or (cells < 0).any():
        raise FitError("prevalence and bias indices need a 2 x 2 table of counts")
    n = cells.sum()
    if n == 0:
        return TwoByTwo(np.nan, np.nan, np.nan)
    (a, b), (c, d) = cells
    return TwoByTwo(float(2 * (a + d) / n - 1), float((a - d) / n), float((b - c) / n))


def equal_pairs(data: Patterns, within: int = 0) -> FloatArray:
    """Share of each row's pairs that are at most ``within`` categories apart; rows rated twice or more."""
    codes = np.sort(data.codes, axis=1)
    found = np.zeros(codes.shape[0])
    for lag in range(1, codes.shape[1]):
        low, high = codes[:, :-lag], codes[:, lag:]
        found += ((low != MISSING) & (high - low <= within)).sum(axis=1)
    m = data.n_ratings
    return found / (m * (m - 1) / 2)


def mean_share(name: str, each: FloatArray, data: Patterns, level: float) -> Share:
    """Mean over units of a share a unit, one value a row of ``data``."""
    note = pairing_note(data)
    n = data.n_units
    if note:
        return Share(name, np.nan, np.nan, np.nan, np.nan, level, int(n), note)
    estimate = float(data.weight @ each / n)
    spread = float(data.weight @ (each - estimate) ** 2 / n)
    effective = n if spread <= 0 else estimate * (1 - estimate) / (spread / n)
    low, high = wilson_effective(estimate, effective, level)
    std_error = np.sqrt(spread / (n - 1)) if n > 1 else np.nan
    return Share(name, estimate, float(std_error), low, high, level, int(n))


def _ratio(name: str, part: FloatArray, whole: FloatArray, data: Patterns, level: float) -> Share:
    note = pairing_note(data)
    n = data.n_units
    total = float(data.weight @ whole)
    if note or total == 0:
        return Share(name, np.nan, np.nan, np.nan, np.nan, level, int(n), note or Note.NO_RATINGS)
    estimate = float(data.weight @ part) / total
    squares = float(data.weight @ (part - estimate * whole) ** 2)
    variance = squares * n / (n - 1) / total**2 if n > 1 else np.nan
    using = float(data.weight[whole > 0].sum())
    effective = using if not variance > 0 else estimate * (1 - estimate) / variance
    low, high = wilson_effective(estimate, effective, level)
    return Share(name, estimate, float(np.sqrt(variance)), low, high, level, int(n))
