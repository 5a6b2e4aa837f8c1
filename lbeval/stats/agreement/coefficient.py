"""What every coefficient of agreement comes back as, and the notes it may carry."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from lbeval.stats.proportions import check_level, wilson_effective

if TYPE_CHECKING:
    from lbeval.stats.agreement.patterns import Patterns


class Note(StrEnum):
    """Why a number is missing or must be read with care; ``ADVICE`` says what to do."""

    NONE = ""
    NO_RATINGS = "no_ratings"
    ONE_RATER = "one_rater"
    NO_OVERLAP = "no_overlap"
    ONE_UNIT = "one_unit"
    CONSTANT = "constant"
    CONSTANT_RATER = "constant_rater"
    NO_DISAGREEMENT = "no_disagreement"
    TWO_CATEGORIES = "two_categories"
    NOT_A_RATIO = "not_a_ratio"
    NEGATIVE = "negative"
    INCOMPLETE = "incomplete"
    UNSTABLE = "unstable"
    NOT_LINKED = "not_linked"
    TOO_FEW_SHARED = "too_few_shared"
    AT_ZERO = "at_zero"
    TIES = "ties"
    NO_SPREAD = "no_spread"
    NO_ERROR = "no_error"


ADVICE: dict[Note, str] = {
    Note.NO_RATINGS: "nothing was rated",
    Note.ONE_RATER: "only one rater: let a second rater grade some of the same plays",
    Note.NO_OVERLAP: "no play was graded by two raters: let them grade some of the same plays",
    Note.ONE_UNIT: "only one play was graded twice: an interval needs two or more",
    Note.CONSTANT: "every grade is the same: chance cannot be told from agreement; read the raw agreement",
    Note.CONSTANT_RATER: "one rater never changes his grade: kappa is zero whatever the agreement",
    Note.NO_DISAGREEMENT: "no disagreement was seen: the lower end comes from the raw agreement's interval",
    Note.TWO_CATEGORIES: "on two categories every pair of grades is adjacent",
    Note.NOT_A_RATIO: "a grade is below zero: a ratio scale has none",
    Note.NEGATIVE: "raters differ more on one play than plays differ: the plays may be too alike",
    Note.INCOMPLETE: "some plays were not graded by everybody and were left out",
    Note.NOT_LINKED: "the raters fall into groups that share no play: their severities cannot be compared",
    Note.TOO_FEW_SHARED: "too few plays were graded by more than one to tell a grader from a play",
    Note.AT_ZERO: "no difference between plays shows beyond the raters' disagreement",
    Note.NO_SPREAD: "every play shows the same disagreement: no interval can be computed",
    Note.NO_ERROR: "grades of one play differ by a constant at most: no interval can be computed",
    Note.TIES: "somebody ranks all alike: his ranking says nothing",
    Note.UNSTABLE: "the figure is undefined in some resamples: too few plays for an interval",
}


@dataclass(frozen=True)
class Coefficient:
    """One coefficient of agreement.

    Attributes
    ----------
    name : str
        Which coefficient, with its weights or metric.
    estimate, std_error, conf_low, conf_high : float
        NaN where not defined; `note` then says why.
    level : float
        Confidence level of the interval.
    n : int
        Units rated twice or more.
    n_raters : int
        Raters with any rating.
    raw_agreement : float
        Share of pairs of ratings of one unit that are equal, averaged over the units.
    observed, expected : float
        Agreement seen and agreement by chance that make up ``estimate``: (o - e) / (1 - e).
    std_error_null : float
        Standard error if there were no agreement beyond chance; NaN where not published.
    method : str
        Where the interval comes from.
    note : Note
        Empty, or why the number is missing or to be read with care.
    """

    name: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    level: float
    n: int
    n_raters: int
    raw_agreement: float
    observed: float
    expected: float
    method: str
    std_error_null: float = np.nan
    note: Note = Note.NONE


@dataclass(frozen=True)
class Share:
    """A share of pairs of ratings or of ratings; ``n`` units. ``note`` as in `Coefficient`."""

    name: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    level: float
    n: int
    note: Note = Note.NONE


def pairing_note(ratings: Patterns) -> Note:
    """Why raters cannot be compared at all, if so."""
    if ratings.n_raters == 0:
        return Note.NO_RATINGS
    if ratings.n_raters == 1:
        return Note.ONE_RATER
    if ratings.n_paired == 0:
        return Note.NO_OVERLAP
    return Note.NONE


def critical(level: float, degrees: float = np.inf) -> float:
    """Two-sided critical value of t, or of the normal for infinite ``degrees``."""
    check_level(level)
    return float(stats.t.ppf((1 + level) / 2, degrees))


def chance_corrected(
    name: str,
    *,
    observed: float,
    expected: float,
    std_error: float,
    degrees: float,
    level: float,
    ratings: Patterns,
    raw_agreement: float,
    method: str,
    std_error_null: float = np.nan,
    note: Note = Note.NONE,
) -> Coefficient:
    """Assemble (observed - expected) / (1 - expected) with its interval and note.

    The interval is estimate +- t SE, cut at -1 and 1. Where no disagreement was seen its SE is zero and
    says nothing: the lower end is then that of the raw agreement's Wilson interval, chance agreement
    held, and the upper end 1.
    """
    check_level(level)
    n = int(ratings.n_paired)
    note = note or pairing_note(ratings)
    estimate = low = high = np.nan
    if not note and expected >= 1 - 1e-12:
        note = Note.CONSTANT
    if note in {Note.NONE, Note.CONSTANT_RATER}:
        estimate = float((observed - expected) / (1 - expected))
    if note:
        std_error = std_error_null = np.nan
    elif observed >= 1 - 1e-12:
        note, std_error, estimate = Note.NO_DISAGREEMENT, np.nan, 1.0
        floor, _ = wilson_effective(1.0, n, level)
        low, high = max(-1.0, float((floor - expected) / (1 - expected))), 1.0
    elif n < 2:
        note, std_error = Note.ONE_UNIT, np.nan
    elif not std_error > 1e-9:
        note, std_error = Note.NO_SPREAD, np.nan
    else:
        half = critical(level, degrees) * std_error
        low, high = max(-1.0, estimate - half), min(1.0, estimate + half)
    return Coefficient(
        name=name,
        estimate=estimate,
        std_error=std_error,
        conf_low=low,
        conf_high=high,
        level=level,
        n=n,
        n_raters=ratings.n_raters,
        raw_agreement=raw_agreement,
        observed=observed,
        expected=expected,
        method=method,
        std_error_null=std_error_null,
        note=note,
    )
