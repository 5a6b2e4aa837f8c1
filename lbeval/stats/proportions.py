"""Intervals for proportions and for the difference of two proportions."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from lbeval.errors import FitError

FloatArray = npt.NDArray[np.float64]


class ProportionDifference(NamedTuple):
    """Difference of two independent proportions, first minus second."""

    estimate: FloatArray
    conf_low: FloatArray
    conf_high: FloatArray


def wilson(count: npt.ArrayLike, nobs: npt.ArrayLike, level: float = 0.90) -> tuple[FloatArray, FloatArray]:
    """Wilson score interval (Wilson 1927, JASA 22:209).

    Parameters
    ----------
    count, nobs
        Successes and trials; broadcast against each other.
    level
        Confidence level, 0 to 1.

    Returns
    -------
    tuple of ndarray
        Lower and upper end; NaN where ``nobs`` is zero.

    Raises
    ------
    FitError
        For counts that are not whole, negative, or above ``nobs``, or a level outside (0, 1).
    """
    return _confint(count, nobs, level, "wilson")


def wilson_effective(rate: float, nobs: float, level: float = 0.90) -> tuple[float, float]:
    """Wilson interval of a rate with an effective sample size that need not be whole.

    For shares of clustered observations, whose effective size is rate (1 - rate) over the variance of the
    rate (Kish 1965; Franco, Little, Louis & Slud 2019, J Surv Stat Methodol 7:334). NaN for ``nobs`` 0.
    """
    check_level(level)
    if not nobs > 0:
        return np.nan, np.nan
    z = float(stats.norm.ppf((1 + level) / 2))
    centre = (rate + z**2 / (2 * nobs)) / (1 + z**2 / nobs)
    half = z / (1 + z**2 / nobs) * np.sqrt(rate * (1 - rate) / nobs + z**2 / (4 * nobs**2))
    low, high = max(0.0, centre - half), min(1.0, centre + half)
    return (0.0 if rate == 0 else float(low)), (1.0 if rate == 1 else float(high))


def clopper_pearson(
    count: npt.ArrayLike, nobs: npt.ArrayLike, level: float = 0.90
) -> tuple[FloatArray, FloatArray]:
    """Exact interval (Clopper & Pearson 1934, Biometrika 26:404).

    Parameters, returns and errors as in `wilson`.
    """
    return _confint(count, nobs, level, "beta")


def jeffreys(count: npt.ArrayLike, nobs: npt.ArrayLike, level: float = 0.90) -> tuple[FloatArray, FloatArray]:
    """Equal-tailed Jeffreys interval with closed ends (Brown, Cai & DasGupta 2001, Stat Sci 16:101).

    The lower end is 0 when nothing succeeded and the upper end 1 when everything did; the raw beta
    quantiles would leave out the observed rate. Parameters, returns and errors as in `wilson`.
    """
    successes, trials = _counts(count, nobs, level)
    tail = (1 - level) / 2
    low = stats.beta.ppf(tail, successes + 0.5, trials - successes + 0.5)
    high = stats.beta.ppf(1 - tail, successes + 0.5, trials - successes + 0.5)
    low = np.where(successes == 0, 0.0, low)
    high = np.where(successes == trials, 1.0, high)
    empty = trials == 0
    return np.where(empty, np.nan, low), np.where(empty, np.nan, high)


def difference(
    count1: npt.ArrayLike,
    nobs1: npt.ArrayLike,
    count2: npt.ArrayLike,
    nobs2: npt.ArrayLike,
    level: float = 0.90,
) -> ProportionDifference:
    """Difference of two independent proportions, first minus second.

    Newcombe's hybrid score interval without continuity correction (1998, Stat Med 17:873, method 10).

    Parameters
    ----------
    count1, nobs1, count2, nobs2
        Successes and trials of each sample; broadcast against each other.
    level
        Confidence level, 0 to 1.

    Returns
    -------
    ProportionDifference
        Arrays of estimate and interval; NaN where either sample is empty.

    Raises
    ------
    FitError
        As in `wilson`.
    """
    first, second = _rate(count1, nobs1, level), _rate(count2, nobs2, level)
    low1, high1 = wilson(count1, nobs1, level)
    low2, high2 = wilson(count2, nobs2, level)
    estimate = first - second
    low = estimate - np.hypot(first - low1, high2 - second)
    high = estimate + np.hypot(high1 - first, second - low2)
    return ProportionDifference(estimate, np.clip(low, -1, 1), np.clip(high, -1, 1))


def check_level(level: float) -> None:
    """Refuse a confidence level that is not between 0 and 1."""
    if not 0 < level < 1:
        raise FitError(f"confidence level {level} is not between 0 and 1; give e.g. 0.90")


def _confint(
    count: npt.ArrayLike, nobs: npt.ArrayLike, level: float, method: str
) -> tuple[FloatArray, FloatArray]:
    successes, trials = _counts(count, nobs, level)
    low = np.full(successes.shape, np.nan)
    high = np.full(successes.shape, np.nan)
    some = trials > 0
    if some.any():
        ends = proportion_confint(successes[some], trials[some], alpha=1 - level, method=method)
        low[some], high[some] = np.clip(ends[0], 0, 1), np.clip(ends[1], 0, 1)
        # rounding of the closed form may leave 1e-17 where the end is exactly 0 or 1
        low[some & (successes == 0)] = 0.0
        high[some & (successes == trials)] = 1.0
    return low, high


def _rate(count: npt.ArrayLike, nobs: npt.ArrayLike, level: float) -> FloatArray:
    successes, trials = _counts(count, nobs, level)
    rate = np.full(successes.shape, np.nan)
    np.divide(successes, trials, out=rate, where=trials > 0)
    return rate


def _counts(count: npt.ArrayLike, nobs: npt.ArrayLike, level: float) -> tuple[FloatArray, FloatArray]:
    check_level(level)
    successes, trials = np.broadcast_arrays(np.asarray(count, dtype=float), np.asarray(nobs, dtype=float))
    whole = (np.floor(successes) == successes) & (np.floor(trials) == trials)
    bad = ~(whole & (successes >= 0) & (successes <= trials) & np.isfinite(trials))
    if bad.any():
        message = (
            f"{successes[bad].flat[0]:g} successes of {trials[bad].flat[0]:g} trials is not a count; "
            "give whole numbers with 0 <= successes <= trials"
        )
        raise FitError(message)
    return successes, trials
