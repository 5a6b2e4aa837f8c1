"""Gwet's AC1 and AC2 and the other chance corrections, with his variance for missing ratings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from lbeval.stats.agreement.coefficient import Coefficient, chance_corrected
from lbeval.stats.agreement.patterns import MISSING, Patterns, patterns
from lbeval.stats.agreement.raw import equal_pairs
from lbeval.stats.agreement.weights import Weights, agreement_weights

FloatArray = npt.NDArray[np.float64]
Chance = Literal["gwet", "fleiss", "conger", "brennan_prediger", "krippendorff"]

NAMES: dict[Chance, str] = {
    "gwet": "Gwet AC",
    "fleiss": "Fleiss kappa",
    "conger": "Conger kappa",
    "brennan_prediger": "Brennan-Prediger coefficient",
    "krippendorff": "Krippendorff alpha by weights",
}


@dataclass(frozen=True, eq=False)
class Linearised:
    """Agreement seen and by chance, the standard error of the coefficient, and the category shares."""

    observed: float
    expected: float
    std_error: float
    shares: FloatArray


def gwet_ac(
    ratings: npt.ArrayLike,
    categories: npt.ArrayLike,
    *,
    weights: Weights | npt.ArrayLike = "identity",
    chance: Chance = "gwet",
    level: float = 0.90,
) -> Coefficient:
    """Gwet's AC1 (identity weights) or AC2 (any other), or the same with another chance agreement.

    Gwet (2008, Br J Math Stat Psychol 61:29; 2014, Handbook of Inter-Rater Reliability, 4th ed.): agreement
    is averaged over units rated twice or more, category shares over all units; the variance linearises
    the coefficient over the units. ``chance`` gives the weighted kappas of Fleiss (1971) and Conger (1980),
    the coefficient of Brennan & Prediger (1981), and Krippendorff's alpha written with agreement weights,
    whose ``ordinal`` form is *not* alpha with Krippendorff's ordinal metric (`krippendorff`).

    Parameters
    ----------
    ratings : (n_units, n_raters)
        NaN is missing.
    categories
        The declared scale, ascending; unused categories count.
    weights
        See `agreement_weights`.
    chance
        Which agreement by chance.
    level
        Confidence level of the t interval with n - 1 degrees of freedom, n the units rated.

    Returns
    -------
    Coefficient
        NaN with a note for one rater, no overlap, or one category only.

    Raises
    ------
    FitError
        For ratings off the scale or weights that do not fit it.
    """
    data = patterns(ratings, categories)
    if chance == "krippendorff":
        data = data.paired()
    matrix = agreement_weights(weights, data.scale)
    found = linearised(data, data.counts(), matrix, chance)
    name = NAMES[chance]
    if chance == "gwet":
        name += "1" if isinstance(weights, str) and weights == "identity" else "2"
    if not isinstance(weights, str) or weights != "identity":
        name += f", {weights if isinstance(weights, str) else 'own'} weights"
    paired = data.paired()
    raw = float(paired.weight @ equal_pairs(paired) / paired.n_units) if paired.n_units else np.nan
    return chance_corrected(
        name,
        observed=found.observed,
        expected=found.expected,
        std_error=found.std_error,
        degrees=data.n_units - 1,
        level=level,
        ratings=data,
        raw_agreement=raw,
        method="linearised over units (Gwet 2014), t",
    )


def linearised(data: Patterns, counts: FloatArray, weights: FloatArray, chance: Chance) -> Linearised:
    """Observed and chance agreement, and the standard error of (p_a - p_e) / (1 - p_e).

    ``counts`` are the category counts of the rows of ``data``. NaN where no unit is rated twice or
    where agreement by chance is certain.
    """
    n, m, w = data.n_units, data.n_ratings, data.weight
    if data.n_paired == 0:
        return Linearised(np.nan, np.nan, np.nan, np.full(counts.shape[1], np.nan))
    pairs = (counts * (counts @ weights - 1)).sum(axis=1)
    if chance == "krippendorff":
        return _krippendorff(data, counts, weights, pairs)
    twice = m >= 2
    agreement = np.divide(pairs, m * (m - 1), out=np.zeros(m.size), where=twice)
    observed = float(w @ agreement / data.n_paired)
    each = counts / m[:, None]
    shares = w @ each / n
    expected, by_chance = _chance(data, each, shares, weights, chance)
    room = 1 - expected
    if room <= 1e-12 or n < 2:
        return Linearised(observed, expected, np.nan, shares)
    value = (observed - expected) / room
    rows = n / data.n_paired * (agreement - expected * twice) / room
    rows = rows - 2 * (1 - value) * (by_chance - expected) / room
    variance = float(w @ (rows - value) ** 2) / (n * (n - 1))
    return Linearised(observed, expected, float(np.sqrt(variance)), shares)


def _chance(
    data: Patterns, each: FloatArray, shares: FloatArray, weights: FloatArray, chance: Chance
) -> tuple[float, FloatArray]:
    """Agreement by chance and its linearised value in each row."""
    q = shares.size
    if chance == "gwet":
        total = weights.sum() / (q * (q - 1))
        return float(total * (shares * (1 - shares)).sum()), total * (each @ (1 - shares))
    if chance == "brennan_prediger":
        expected = float(weights.sum() / q**2)
        return expected, np.full(each.shape[0], expected)
    if chance == "fleiss":
        return float(shares @ weights @ shares), each @ (weights @ shares)
    return _conger(data, weights)


def _conger(data: Patterns, weights: FloatArray) -> tuple[float, FloatArray]:
    """Chance agreement over pairs of different raters (Conger 1980, Psychol Bull 88:322)."""
    rated = data.codes != MISSING
    active = np.flatnonzero(rated.any(axis=0))
    r = active.size
    own = np.empty((r, data.n_categories))
    for row, g in enumerate(active):
        own[row] = np.bincount(
            data.codes[rated[:, g], g], weights=data.weight[rated[:, g]], minlength=data.n_categories
        )
    sizes = own.sum(axis=1)
    own /= sizes[:, None]
    others = (own.sum(axis=0) - own) @ weights  # what the other raters' choices are worth to each category
    expected = float((own * others).sum() / (r * (r - 1)))
    by_chance = np.full(data.weight.size, expected)
    for row, g in enumerate(active):
        seen = rated[:, g]
        gain = others[row, data.codes[seen, g]] - own[row] @ others[row]
        by_chance[seen] += data.n_units / sizes[row] * gain / (r * (r - 1))
    return expected, by_chance


def _krippendorff(data: Patterns, counts: FloatArray, weights: FloatArray, pairs: FloatArray) -> Linearised:
    """Units weigh by their ratings; the finite-sample term joins ``observed`` after the variance."""
    n, m, w = data.n_units, data.n_ratings, data.weight
    mean_m = float(w @ m / n)
    rows = pairs / (mean_m * (m - 1))
    uncorrected = float(w @ rows / n)
    shares = w @ counts / (n * mean_m)
    expected = float(shares @ weights @ shares)
    finite = 1 / (n * mean_m)
    observed = (1 - finite) * uncorrected + finite
    rows = rows - observed * (m - mean_m) / mean_m
    room = 1 - expected
    if room <= 1e-12 or n < 2:
        return Linearised(observed, expected, np.nan, shares)
    value = (uncorrected - expected) / room
    by_chance = counts @ (weights @ shares) / mean_m - expected * (m - mean_m) / mean_m
    rows = (rows - expected) / room - 2 * (1 - value) * (by_chance - expected) / room
    variance = float(w @ (rows - value) ** 2) / (n * (n - 1))
    return Linearised(observed, expected, float(np.sqrt(variance)), shares)
