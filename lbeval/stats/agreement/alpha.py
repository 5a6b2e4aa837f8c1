"""Krippendorff's alpha with missing ratings."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Coefficient, Note, chance_corrected
from lbeval.stats.agreement.patterns import MISSING, Patterns, patterns
from lbeval.stats.agreement.raw import equal_pairs

FloatArray = npt.NDArray[np.float64]
Metric = Literal["nominal", "ordinal", "interval", "ratio"]
METRICS: tuple[Metric, ...] = ("nominal", "ordinal", "interval", "ratio")

MOST_RATIO_VALUES = 3000  # the ratio metric compares every value with every other


def krippendorff(
    ratings: npt.ArrayLike,
    metric: Metric,
    categories: npt.ArrayLike | None = None,
    *,
    level: float = 0.90,
) -> Coefficient:
    """Krippendorff's alpha: 1 - D_o / D_e over pairable ratings (2004, Content Analysis, ch. 11).

    Distances: nominal, 0 or 1; ordinal, the squared difference of mid-ranks among the pairable ratings;
    interval, (a - b)^2; ratio, ((a - b) / (a + b))^2. An unused category changes nothing, so the scale
    only guards against marks that are not on it. ``std_error`` linearises alpha over the units (Gwet 2014),
    mid-ranks held; the bootstrap over plays (`bootstrap`) holds nothing.

    Parameters
    ----------
    ratings : (n_units, n_raters)
        NaN is missing; units rated once are not pairable and left out.
    metric
        How far two ratings are apart.
    categories
        The declared scale, or None for measurements.
    level
        Confidence level of the t interval with n - 1 degrees of freedom, n the pairable units.

    Returns
    -------
    Coefficient
        NaN with a note for one rater, no overlap or no variation, or a ratio below zero. ``observed`` and
        ``expected`` are one less the disagreement as a share of the largest distance.

    Raises
    ------
    FitError
        For ratings off the scale, an unknown metric, or a ratio metric on more than
        `MOST_RATIO_VALUES` different values.
    """
    if metric not in METRICS:
        raise FitError(f"metric {metric!r} is not known; use {', '.join(METRICS)}")
    data = patterns(ratings, categories).paired()
    rated, n = data.codes != MISSING, data.n_units
    raw = float(data.weight @ equal_pairs(data) / n) if n else np.nan
    below = metric == "ratio" and n > 0 and data.scale[data.codes[rated]].min() < 0
    note = Note.NOT_A_RATIO if below else Note.NONE
    observed = expected = std_error = np.nan
    if n and not note:
        observed, expected, std_error = _agreement(data, metric)
    return chance_corrected(
        f"Krippendorff alpha, {metric}",
        observed=observed,
        expected=expected,
        std_error=std_error,
        degrees=n - 1,
        level=level,
        ratings=data,
        raw_agreement=raw,
        method="linearised over units (Gwet 2014), t",
        note=note,
    )


def mid_ranks(numbers: FloatArray) -> FloatArray:
    """Mid-ranks of the categories from how often each was used, (..., K), less a constant."""
    ranks: FloatArray = np.cumsum(numbers, axis=-1) - numbers / 2
    return ranks


def ratio_distance(scale: FloatArray) -> FloatArray:
    """Squared ratio distance of every pair of values; zero for two zeros."""
    if scale.size > MOST_RATIO_VALUES:
        raise FitError(f"ratio alpha on {scale.size} different values is not offered; use interval alpha")
    total = scale[:, None] + scale[None, :]
    apart = np.zeros_like(total)
    np.divide(scale[:, None] - scale[None, :], total, out=apart, where=total != 0)
    return apart**2


def row_disagreement(data: Patterns, metric: Metric, scores: FloatArray) -> FloatArray:
    """Mean distance over the pairs of each row's ratings; ``scores`` are values or mid-ranks by category."""
    m = data.n_ratings
    if metric == "nominal":
        return 1 - equal_pairs(data)
    rated = data.codes != MISSING
    if metric in {"ordinal", "interval"}:
        values = np.where(rated, scores[data.codes], 0.0)
        centre = values.sum(axis=1) / m
        squares = (np.where(rated, values - centre[:, None], 0.0) ** 2).sum(axis=1)
        mean: FloatArray = squares * 2 / (m - 1)
        return mean
    found = np.zeros(m.size)
    values = np.where(rated, scores[data.codes], np.nan)
    for lag in range(1, values.shape[1]):
        low, high = values[:, :-lag], values[:, lag:]
        total = low + high
        apart = np.divide(high - low, total, out=np.zeros_like(total), where=total > 0)
        found += np.nansum(apart**2, axis=1)
    return found / (m * (m - 1) / 2)


def _agreement(data: Patterns, metric: Metric) -> tuple[float, float, float]:
    """Observed and expected agreement and the standard error of alpha."""
    rated, m, w = data.codes != MISSING, data.n_ratings, data.weight
    each = np.broadcast_to(w[:, None], rated.shape)[rated]
    numbers = np.bincount(data.codes[rated], weights=each, minlength=data.n_categories).astype(float)
    total = numbers.sum()
    scores = mid_ranks(numbers) if metric == "ordinal" else data.scale
    away = _distance_to_all(metric, scores, numbers)
    used = scores[numbers > 0]
    largest = _largest(metric, used)
    if largest == 0:
        return 1.0, 1.0, np.nan
    apart = row_disagreement(data, metric, scores)
    n, mean_m = data.n_units, total / data.n_units
    seen = float(w @ (m * apart) / total)
    by_chance = float(numbers @ away / total)  # with replacement; pairs without: times total / (total - 1)
    finite = (total - 1) / total
    observed, expected = 1 - finite * seen / largest, 1 - by_chance / largest
    if n < 2:
        return observed, expected, np.nan
    # D_o / D_e linearised, units weighing by their ratings; the finite factor enters where Gwet has it
    mean_away = np.where(rated, away[data.codes], 0.0).sum(axis=1)
    ratio = seen / by_chance
    rows = (m * apart - finite * seen * (m - mean_m)) / mean_m / by_chance
    rows = rows - 2 * ratio * ((mean_away - by_chance * (m - mean_m)) / mean_m / by_chance - 1)
    variance = float(w @ (rows - ratio) ** 2) / (n * (n - 1))
    return observed, expected, float(np.sqrt(variance))


def _distance_to_all(metric: Metric, scores: FloatArray, numbers: FloatArray) -> FloatArray:
    """Mean distance of each category from all ratings."""
    share: FloatArray = numbers / numbers.sum()
    if metric == "nominal":
        return 1 - share
    if metric == "ratio":
        away: FloatArray = ratio_distance(scores) @ share
        return away
    from_centre = (scores - float(share @ scores)) ** 2
    return np.asarray(from_centre + share @ from_centre, dtype=float)


def _largest(metric: Metric, used: FloatArray) -> float:
    if used.size < 2:
        return 0.0
    if metric == "nominal":
        return 1.0
    if metric == "ratio":
        return float(ratio_distance(used).max())
    return float((used.max() - used.min()) ** 2)
