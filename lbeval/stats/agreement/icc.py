"""Intraclass correlations under McGraw & Wong's names, complete or with missing cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import stats

from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.twoway import Method, TwoWay, two_way
from lbeval.stats.gstudy import spearman_brown
from lbeval.stats.proportions import check_level


@dataclass(frozen=True)
class ICC:
    """One intraclass correlation.

    Attributes
    ----------
    name : str
        In McGraw & Wong's notation, ``ICC(A,1)``.
    estimate, std_error, conf_low, conf_high : float
        NaN where not defined; ``note`` says why. ``std_error`` is by the delta method on the mean squares.
    level : float
        Confidence level.
    f, df1, df2, p_value : float
        F test of no correlation.
    n, n_raters : int
        Units and raters that entered.
    method : str
        ``mean squares`` or ``REML``.
    note : Note
        Empty, or why the number is missing or to be read with care.
    """

    name: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    level: float
    f: float
    df1: float
    df2: float
    p_value: float
    n: int
    n_raters: int
    method: str
    note: Note = Note.NONE


class ICCFamily(NamedTuple):
    """The six coefficients of one set of ratings.

    ``icc_1``, ``icc_k`` one-way; ``icc_c1``, ``icc_ck`` consistency, raters' severities left out;
    ``icc_a1``, ``icc_ak`` agreement, severities counted as error. ``1`` is a single rating, ``k`` the mean of
    as many ratings as there are raters. Shrout & Fleiss (1979) call them (1,1) (1,k) (3,1) (3,k) (2,1) (2,k).
    """

    icc_1: ICC
    icc_k: ICC
    icc_c1: ICC
    icc_ck: ICC
    icc_a1: ICC
    icc_ak: ICC


def icc(ratings: npt.ArrayLike, *, level: float = 0.90, method: Method = "auto") -> ICCFamily:
    """Intraclass correlations with F tests and intervals (McGraw & Wong 1996, Psychol Methods 1:30, 390).

    With missing cells the REML components are turned into the mean squares they would give at the
    harmonic mean number of ratings (`two_way`) and enter the same formulas, whose interval is then
    approximate. The average forms follow from the single ones by Spearman-Brown.

    Parameters
    ----------
    ratings : (n_units, n_raters)
        NaN is missing.
    level
        Confidence level.
    method
        See `two_way`.

    Returns
    -------
    ICCFamily
        NaN with a note for one rater, no unit rated twice, one unit, or ratings all equal; no interval where
        raters agree but for a constant, noted ``no_error``. The lower limit of an average form may be minus
        infinity. Mean squares may
        give a negative value, noted ``negative``; REML gives zero, noted ``at_zero``. Raters in groups that
        share no unit have no agreement form, noted ``not_linked``.

    Raises
    ------
    FitError
        For ratings that are not a finite matrix or a level outside (0, 1).
    """
    check_level(level)
    layers = two_way(ratings, method)
    one_way = _single("ICC(1)", layers, level, layers.one_way_rows, layers.within, layers.df_within)
    consistency = _single(
        "ICC(C,1)", layers, level, layers.consistent_rows, layers.consistent_error, layers.df_error
    )
    agreement = _agreement(layers, consistency, level)
    return ICCFamily(
        one_way,
        _average("ICC(k)", one_way),
        consistency,
        _average("ICC(C,k)", consistency),
        agreement,
        _average("ICC(A,k)", agreement),
    )


def _single(name: str, layers: TwoWay, level: float, between: float, within: float, degrees: float) -> ICC:
    """One-way and consistency forms, (MSB - MSW) / (MSB + (k - 1) MSW)."""
    if np.isnan(between):
        return _undefined(name, layers, level)
    k = layers.k
    if between == 0 and within == 0:
        return _undefined(name, layers, level, Note.CONSTANT)
    bottom = between + (k - 1) * within
    estimate = (between - within) / bottom
    f = between / within if within > 0 else np.inf
    tail = (1 - level) / 2
    ratio_low = f / stats.f.ppf(1 - tail, layers.df_rows, degrees)
    ratio_high = f * stats.f.ppf(1 - tail, degrees, layers.df_rows)
    slopes = ((1 - estimate) / bottom, -(1 + estimate * (k - 1)) / bottom)
    return ICC(
        name=name,
        estimate=estimate,
        std_error=_delta(slopes, (between, within), (layers.df_rows, degrees)),
        conf_low=_of_ratio(ratio_low, k),
        conf_high=_of_ratio(ratio_high, k),
        level=level,
        f=f,
        df1=layers.df_rows,
        df2=degrees,
        p_value=float(stats.f.sf(f, layers.df_rows, degrees)),
        n=layers.n_units,
        n_raters=layers.n_raters,
        method=layers.method,
        note=_reading(estimate, layers),
    )


def _agreement(layers: TwoWay, consistency: ICC, level: float) -> ICC:
    """ICC(A,1); its interval has Satterthwaite degrees of freedom."""
    rows, columns, error, n, k = layers.rows, layers.columns, layers.error, layers.n, layers.k
    if np.isnan(rows) or layers.note == Note.NOT_LINKED:
        return _undefined("ICC(A,1)", layers, level)
    bottom = rows + (k - 1) * error + k / n * (columns - error)
    if bottom <= 0:
        return _undefined("ICC(A,1)", layers, level, Note.CONSTANT)
    estimate = (rows - error) / bottom
    slopes = (
        (1 - estimate) / bottom,
        -estimate * k / n / bottom,
        -(1 + estimate * (k - 1 - k / n)) / bottom,
    )
    low, high = _agreement_interval(layers, estimate, level)
    return ICC(
        name="ICC(A,1)",
        estimate=estimate,
        std_error=_delta(
            slopes, (rows, columns, error), (layers.df_rows, layers.df_columns, layers.df_error)
        ),
        conf_low=low,
        conf_high=high,
        level=level,
        f=consistency.f,
        df1=consistency.df1,
        df2=consistency.df2,
        p_value=consistency.p_value,
        n=layers.n_units,
        n_raters=layers.n_raters,
        method=layers.method,
        note=_reading(estimate, layers),
    )


def _agreement_interval(layers: TwoWay, estimate: float, level: float) -> tuple[float, float]:
    rows, columns, error, n, k = layers.rows, layers.columns, layers.error, layers.n, layers.k
    if estimate >= 1 or rows == 0:
        return np.nan, np.nan
    a = k * estimate / (n * (1 - estimate))
    b = 1 + k * estimate * (n - 1) / (n * (1 - estimate))
    spread = (a * columns) ** 2 / layers.df_columns + (b * error) ** 2 / layers.df_error
    degrees = (a * columns + b * error) ** 2 / spread if spread > 0 else layers.df_error
    tail = (1 - level) / 2
    f_low = stats.f.ppf(1 - tail, layers.df_rows, degrees)
    f_high = stats.f.ppf(1 - tail, degrees, layers.df_rows)
    rest = k * columns + (k * n - k - n) * error
    # divided through by F, which is infinite for hardly any degrees of freedom
    bottom_low, bottom_high = rest + n * rows / f_low, rest / f_high + n * rows
    low = n * (rows / f_low - error) / bottom_low if bottom_low > 0 else -np.inf
    high = n * (rows - error / f_high) / bottom_high if bottom_high > 0 else np.nan
    return float(low), float(high)


def _average(name: str, single: ICC) -> ICC:
    """Mean of as many ratings as raters, from the single form."""
    k = single.n_raters
    if np.isnan(single.estimate):
        return ICC(**{**vars(single), "name": name})
    length = 1 + (k - 1) * single.estimate
    if length <= 1e-12:
        # no variance between units at all: the mean's reliability runs to minus infinity
        return ICC(
            **{**vars(single), "name": name, "estimate": np.nan, "std_error": np.nan}
            | {"conf_low": np.nan, "conf_high": np.nan, "note": Note.NEGATIVE}
        )
    low, mid, high = (
        float(spearman_brown(v, k)) for v in (single.conf_low, single.estimate, single.conf_high)
    )
    if single.conf_low <= -1 / (k - 1):
        low = -np.inf
    changed = {
        "name": name,
        "estimate": mid,
        "std_error": single.std_error * k / length**2,
        "conf_low": low,
        "conf_high": high,
    }
    return ICC(**{**vars(single), **changed})


def _of_ratio(ratio: float, k: float) -> float:
    return np.nan if np.isinf(ratio) else float((ratio - 1) / (ratio + k - 1))


def _delta(slopes: tuple[float, ...], squares: tuple[float, ...], degrees: tuple[float, ...]) -> float:
    """Delta method with independent mean squares of variance 2 MS^2 / df."""
    parts = zip(slopes, squares, degrees, strict=True)
    return float(np.sqrt(sum(2 * (slope * ms) ** 2 / df for slope, ms, df in parts)))


def _reading(estimate: float, layers: TwoWay) -> Note:
    if layers.note:
        return layers.note
    if estimate < 0:
        return Note.NEGATIVE
    if estimate == 0:
        return Note.AT_ZERO
    return Note.NO_ERROR if estimate >= 1 else Note.NONE


def _undefined(name: str, layers: TwoWay, level: float, note: Note = Note.NONE) -> ICC:
    nan = np.nan
    n, raters = layers.n_units, layers.n_raters
    return ICC(
        name, nan, nan, nan, nan, level, nan, nan, nan, nan, n, raters, layers.method, note or layers.note
    )
