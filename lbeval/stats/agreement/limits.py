"""Limits of agreement between two raters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Note, critical

FloatArray = npt.NDArray[np.float64]
Formula = Literal["1999", "1986"]


class Bound(NamedTuple):
    """A mean difference or limit with its interval."""

    estimate: float
    std_error: float
    conf_low: float
    conf_high: float


@dataclass(frozen=True)
class Limits:
    """Differences of two raters, first minus second.

    ``bias`` is their mean, ``sd`` their standard deviation, ``lower`` and ``upper`` are bias -+
    ``multiplier`` sd. ``n`` units; ``level`` of the t intervals; ``note`` empty or why there is no number.
    """

    bias: Bound
    lower: Bound
    upper: Bound
    sd: float
    multiplier: float
    level: float
    n: int
    method: str
    note: Note = Note.NONE


def limits_of_agreement(
    first: npt.ArrayLike,
    second: npt.ArrayLike,
    *,
    coverage: float = 0.95,
    multiplier: float | None = None,
    formula: Formula = "1999",
    level: float = 0.90,
) -> Limits:
    """Find the limits within which differences of two raters are expected to lie.

    Bland & Altman (1986, Lancet i:307; 1999, Stat Methods Med Res 8:135). Assumes differences that do not
    depend on the size of the ratings. The limits' standard error is sd sqrt(1/n + z^2 / (2 (n - 1))) (1999)
    or its older approximation sd sqrt(3 / n) (1986).

    Parameters
    ----------
    first, second : (n_units,)
        Ratings; units with either missing are left out.
    coverage
        Share of the differences between the limits.
    multiplier
        Standard deviations from bias to limit, instead of ``coverage``; the paper of 1986 takes 2.
    formula
        Which standard error of the limits.
    level
        Confidence level.

    Raises
    ------
    FitError
        For ratings that are not two equally long lists.
    """
    one, two = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    if one.ndim != 1 or one.shape != two.shape:
        raise FitError(f"limits need two raters' grades of the same units, not {one.shape} and {two.shape}")
    apart = one - two
    apart = apart[np.isfinite(apart)]
    times = critical(coverage) if multiplier is None else multiplier
    n = apart.size
    if n < 2:
        return _nothing(n, times, level)
    bias, sd = float(apart.mean()), float(apart.std(ddof=1))
    sd = sd if sd > 1e-12 * max(1.0, float(np.abs(apart).max())) else 0.0
    share = 3 / n if formula == "1986" else 1 / n + times**2 / (2 * (n - 1))
    return _limits(
        bias, sd, times, (sd / np.sqrt(n), sd * np.sqrt(share)), level, n, f"Bland & Altman {formula}"
    )


def limits_of_repeats(
    first: npt.ArrayLike,
    second: npt.ArrayLike,
    *,
    coverage: float = 0.95,
    level: float = 0.90,
) -> Limits:
    """Limits for single ratings where each rater graded a unit more than once, its truth unchanged.

    The variance of a difference of single ratings is that of the unit means' difference plus what
    averaging took away, (1 - mean 1/m) of each rater's within-unit variance (Bland & Altman 1999, sec. 5);
    its standard error from the variances of these parts (sec. 5.3).

    Parameters
    ----------
    first, second : (n_units, n_repeats)
        Repeats of each rater; NaN is missing, units without a rating of both are left out.
    coverage
        Share of the differences between the limits.
    level
        Confidence level.

    Raises
    ------
    FitError
        For ratings that are not two matrices with the same units.
    """
    one, two = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    if one.ndim != 2 or two.ndim != 2 or one.shape[0] != two.shape[0]:
        raise FitError(f"repeats need a row a unit for both raters, not {one.shape} and {two.shape}")
    both = np.isfinite(one).any(axis=1) & np.isfinite(two).any(axis=1)
    n = int(both.sum())
    times = critical(coverage)
    if n < 2:
        return _nothing(n, times, level)
    mean_one, taken_one, spread_one = _repeats(one[both])
    mean_two, taken_two, spread_two = _repeats(two[both])
    apart = mean_one - mean_two
    between = float(apart.var(ddof=1))
    variance = between + taken_one + taken_two
    sd = float(np.sqrt(variance))
    of_variance = 2 * between**2 / (n - 1) + spread_one + spread_two
    of_sd = of_variance / (4 * variance) if variance > 0 else 0.0
    errors = (float(np.sqrt(between / n)), float(np.sqrt(between / n + times**2 * of_sd)))
    return _limits(float(apart.mean()), sd, times, errors, level, n, "Bland & Altman 1999, repeats")


def _repeats(ratings: FloatArray) -> tuple[FloatArray, float, float]:
    """Find unit means, within-unit variance that averaging removed, and the sampling variance of that."""
    m = np.isfinite(ratings).sum(axis=1)
    means = np.nansum(ratings, axis=1) / m
    degrees = float((m - 1).sum())
    if degrees == 0:
        return means, 0.0, 0.0
    within = float(np.nansum((ratings - means[:, None]) ** 2)) / degrees
    removed = 1 - float((1 / m).mean())
    return means, removed * within, removed**2 * 2 * within**2 / degrees


def _limits(
    bias: float, sd: float, times: float, errors: tuple[float, float], level: float, n: int, method: str
) -> Limits:
    note = Note.NONE if sd > 0 else Note.NO_ERROR
    half = critical(level, n - 1) if sd > 0 else np.nan
    of_bias, of_limit = (float(error) if sd > 0 else np.nan for error in errors)

    def bound(value: float, error: float) -> Bound:
        return Bound(value, error, value - half * error, value + half * error)

    return Limits(
        bias=bound(bias, of_bias),
        lower=bound(bias - times * sd, of_limit),
        upper=bound(bias + times * sd, of_limit),
        sd=sd,
        multiplier=times,
        level=level,
        n=n,
        method=method,
        note=note,
    )


def _nothing(n: int, times: float, level: float) -> Limits:
    missing = Bound(np.nan, np.nan, np.nan, np.nan)
    note = Note.ONE_UNIT if n else Note.NO_OVERLAP
    return Limits(missing, missing, missing, np.nan, times, level, n, "none", note)
