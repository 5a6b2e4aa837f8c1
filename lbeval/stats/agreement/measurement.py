"""Standard error of measurement and the smallest change that can be told from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import stats

from lbeval.stats.agreement.coefficient import Note, critical
from lbeval.stats.agreement.twoway import Method, two_way

FloatArray = npt.NDArray[np.float64]
Definition = Literal["agreement", "consistency", "within"]


@dataclass(frozen=True)
class Measurement:
    """Size of the error of one rating, on the ratings' scale.

    ``std_error`` is estimate / sqrt(2 df); the interval is that of a chi-square variance with ``df`` degrees
    of freedom. ``n`` units; ``method`` ``mean squares`` or ``REML``; ``note`` empty or why there is
    no number.
    """

    name: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    level: float
    df: float
    n: int
    method: str
    note: Note = Note.NONE


def standard_error(
    ratings: npt.ArrayLike,
    definition: Definition = "agreement",
    *,
    level: float = 0.90,
    method: Method = "auto",
) -> Measurement:
    """Estimate the standard error of measurement of one rating.

    ``consistency``: sqrt(MSE), raters' severities left out (Weir 2005, J Strength Cond Res 19:231).
    ``agreement``: severities counted, sqrt(var_raters + MSE), a negative rater component taken as zero (de
    Vet, Terwee, Knol & Bouter 2006, J Clin Epidemiol 59:1033); Satterthwaite degrees of freedom. ``within``:
    the within-unit standard deviation sqrt(MSW) of the one-way analysis (Bland & Altman 1996, BMJ 313:744).

    Parameters
    ----------
    ratings : (n_units, n_raters)
        NaN is missing.
    definition
        Which of the three.
    level
        Confidence level.
    method
        See `two_way`.

    Raises
    ------
    FitError
        For ratings that are not a finite matrix.
    """
    layers = two_way(ratings, method)
    name = f"standard error of measurement ({definition})"
    degrees = np.nan
    if definition == "consistency":
        variance, degrees = layers.consistent_error, layers.df_error
    elif definition == "within":
        variance, degrees = layers.within, layers.df_within
    elif np.isnan(layers.error):
        variance = np.nan
    else:
        rater, rest = layers.columns / layers.n, (1 - 1 / layers.n) * layers.error
        if layers.columns < layers.error:
            rater, rest = 0.0, layers.error
        variance = rater + rest
        spread = rater**2 / layers.df_columns + rest**2 / layers.df_error
        degrees = variance**2 / spread if spread > 0 else layers.df_error
    note = layers.note or (Note.NO_ERROR if variance == 0 else Note.NONE)
    estimate = float(np.sqrt(variance))
    low, high = _chi_interval(estimate, degrees, level) if estimate > 0 else (np.nan, np.nan)
    std_error = estimate / np.sqrt(2 * degrees) if estimate > 0 else np.nan
    return Measurement(
        name,
        estimate,
        float(std_error),
        low,
        high,
        level,
        float(degrees),
        layers.n_units,
        layers.method,
        note,
    )


def smallest_change(error: Measurement, change_level: float = 0.95) -> Measurement:
    """Smallest detectable change between two ratings, z sqrt(2) SEM.

    With the default ``change_level`` this is the 1.96 sqrt(2) SEM of de Vet et al. (2006), the minimal
    difference of Weir (2005) and, from ``within``, the repeatability of Bland & Altman (1996). The interval
    keeps the level of ``error``.
    """
    factor = critical(change_level) * np.sqrt(2)
    return replace(
        error,
        name=f"smallest detectable change, {change_level:.0%}",
        estimate=float(error.estimate * factor),
        std_error=float(error.std_error * factor),
        conf_low=float(error.conf_low * factor),
        conf_high=float(error.conf_high * factor),
    )


def from_reliability(spread: npt.ArrayLike, reliability: npt.ArrayLike) -> FloatArray:
    """Give the standard error of measurement SD sqrt(1 - r) (Harvill 1991); NaN unless 0 <= r <= 1."""
    return np.asarray(spread, dtype=float) * _root(1 - np.asarray(reliability, dtype=float), reliability)


def error_of_estimate(spread: npt.ArrayLike, reliability: npt.ArrayLike) -> FloatArray:
    """Give the standard error of a true score's estimate, SD sqrt(r (1 - r)) (Weir 2005, SEE)."""
    r = np.asarray(reliability, dtype=float)
    return np.asarray(spread, dtype=float) * _root(r * (1 - r), reliability)


def error_of_prediction(spread: npt.ArrayLike, reliability: npt.ArrayLike) -> FloatArray:
    """Give the standard error of a retest's prediction, SD sqrt(1 - r^2) (Weir 2005, SEP)."""
    r = np.asarray(reliability, dtype=float)
    return np.asarray(spread, dtype=float) * _root(1 - r**2, reliability)


def _root(share: FloatArray, reliability: npt.ArrayLike) -> FloatArray:
    r = np.asarray(reliability, dtype=float)
    valid = (r >= 0) & (r <= 1)
    return np.sqrt(np.where(valid, share, np.nan))


def _chi_interval(estimate: float, degrees: float, level: float) -> tuple[float, float]:
    low = np.sqrt(degrees / stats.chi2.ppf((1 + level) / 2, degrees))
    high = np.sqrt(degrees / stats.chi2.ppf((1 - level) / 2, degrees))
    return float(estimate * low), float(estimate * high)
