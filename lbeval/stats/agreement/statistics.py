"""Coefficients of agreement as functions of sums over units, so that resampling only adds up."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from lbeval.stats.agreement.alpha import Metric, mid_ranks, ratio_distance, row_disagreement
from lbeval.stats.agreement.gwet import Chance
from lbeval.stats.agreement.kappa import kappa_of_tables
from lbeval.stats.agreement.patterns import MISSING, Patterns
from lbeval.stats.agreement.raw import equal_pairs

FloatArray = npt.NDArray[np.float64]

MOST_RANKED = 20  # above it the mid-ranks of ordinal alpha are held at those of all ratings


class Statistic(NamedTuple):
    """What a row adds to the sums, (n_patterns, q), and the coefficient of sums (..., q)."""

    sums: FloatArray
    value: Callable[[FloatArray], FloatArray]


def mean_pairs(data: Patterns, within: int = 0) -> Statistic:
    """Share of pairs at most ``within`` categories apart, averaged over units."""
    twice = data.n_ratings >= 2
    each = np.zeros(data.weight.size)
    paired = data.paired()
    each[twice] = equal_pairs(paired, within)
    return Statistic(np.column_stack([each, twice]), lambda s: _divide(s[..., 0], s[..., 1]))


def cohen_statistic(data: Patterns, weights: FloatArray) -> Statistic:
    """Cohen's kappa of the first two raters."""
    return _pairs(data, weights, [(0, 1)])


def light_statistic(data: Patterns, weights: FloatArray) -> Statistic:
    """Mean of Cohen's kappa over the pairs of raters that share units."""
    return _pairs(data, weights, list(combinations(range(data.codes.shape[1]), 2)))


def gwet_statistic(data: Patterns, weights: FloatArray, chance: Chance) -> Statistic:
    """Coefficient with Gwet's, Fleiss's or the Brennan-Prediger chance agreement."""
    counts, m = data.counts(), data.n_ratings
    twice = m >= 2
    pairs = (counts * (counts @ weights - 1)).sum(axis=1)
    agreement = np.divide(pairs, m * (m - 1), out=np.zeros(m.size), where=twice)
    sums = np.column_stack([agreement, twice, np.ones(m.size), counts / m[:, None]])
    q = data.n_categories
    total = weights.sum() / (q * (q - 1))

    def value(s: FloatArray) -> FloatArray:
        observed = _divide(s[..., 0], s[..., 1])
        shares = s[..., 3:] / s[..., 2:3]
        if chance == "gwet":
            expected = total * (shares * (1 - shares)).sum(axis=-1)
        elif chance == "fleiss":
            expected = ((shares @ weights) * shares).sum(axis=-1)
        else:
            expected = np.full(observed.shape, weights.sum() / q**2)
        return _divide(observed - expected, 1 - expected)

    return Statistic(sums, value)


def alpha_statistic(data: Patterns, metric: Metric) -> Statistic:
    """Krippendorff's alpha; rows rated once add nothing."""
    paired = data.paired()
    twice = data.n_ratings >= 2
    if metric == "ordinal":
        if data.n_categories <= MOST_RANKED:
            return _spread(_ordinal(paired), twice)
        numbers = (paired.weight[:, None] * paired.counts()).sum(axis=0)
        return _spread(_moments(paired, mid_ranks(numbers)), twice)
    if metric == "interval":
        return _spread(_moments(paired, paired.scale), twice)
    return _spread(_by_numbers(paired, metric), twice)


def _pairs(data: Patterns, weights: FloatArray, pairs: list[tuple[int, int]]) -> Statistic:
    k = data.n_categories
    sums = np.zeros((data.weight.size, len(pairs), k * k))
    rows = np.arange(data.weight.size)
    for place, (a, b) in enumerate(pairs):
        one, two = data.codes[:, a], data.codes[:, b]
        both = (one != MISSING) & (two != MISSING)
        sums[rows[both], place, one[both] * k + two[both]] = 1.0

    def value(s: FloatArray) -> FloatArray:
        kappas = kappa_of_tables(s.reshape(*s.shape[:-1], len(pairs), k, k), weights)
        known = ~np.isnan(kappas)
        return _divide(np.where(known, kappas, 0.0).sum(axis=-1), known.sum(axis=-1).astype(float))

    return Statistic(sums.reshape(rows.size, -1), value)


def _spread(inner: Statistic, rows: npt.NDArray[np.bool_]) -> Statistic:
    sums = np.zeros((rows.size, inner.sums.shape[1]))
    sums[rows] = inner.sums
    return Statistic(sums, inner.value)


def _moments(data: Patterns, scores: FloatArray) -> Statistic:
    """Squared distances of fixed scores: D_o, and D_e from n, the sum and the sum of squares."""
    rated, m = data.codes != MISSING, data.n_ratings
    values = np.where(rated, scores[data.codes] - scores.mean(), 0.0)
    seen = m * row_disagreement(data, "interval", scores)

    def value(s: FloatArray) -> FloatArray:
        n = s[..., 1]
        apart = 2 * (n * s[..., 3] - s[..., 2] ** 2)
        return 1 - _divide((n - 1) * s[..., 0], np.where(apart > 1e-9 * n * s[..., 3], apart, 0.0))

    return Statistic(np.column_stack([seen, m, values.sum(axis=1), (values**2).sum(axis=1)]), value)


def _by_numbers(data: Patterns, metric: Metric) -> Statistic:
    """Distances that do not depend on the ratings: D_o, and D_e from how often each value is used."""
    k = data.n_categories
    distance = 1 - np.eye(k) if metric == "nominal" else ratio_distance(data.scale)
    seen = data.n_ratings * row_disagreement(data, metric, data.scale)

    def value(s: FloatArray) -> FloatArray:
        numbers = s[..., 1:]
        apart = ((numbers @ distance) * numbers).sum(axis=-1)
        return 1 - _divide((numbers.sum(axis=-1) - 1) * s[..., 0], apart)

    return Statistic(np.column_stack([seen, data.counts()]), value)


def _ordinal(data: Patterns) -> Statistic:
    """Coincidences of the categories; the mid-ranks follow each sample."""
    counts, k = data.counts(), data.n_categories
    both = counts[:, :, None] * counts[:, None, :]
    both[:, np.arange(k), np.arange(k)] -= counts
    both /= (data.n_ratings - 1)[:, None, None]

    def value(s: FloatArray) -> FloatArray:
        seen = s.reshape(*s.shape[:-1], k, k)
        numbers = seen.sum(axis=-1)
        ranks = mid_ranks(numbers)
        n = numbers.sum(axis=-1)
        squares = (numbers * ranks**2).sum(axis=-1)
        apart = 2 * (n * squares - (numbers * ranks).sum(axis=-1) ** 2)
        observed = 2 * (squares - np.einsum("...i,...ij,...j->...", ranks, seen, ranks))
        return 1 - _divide((n - 1) * observed, np.where(apart > 1e-9 * n * squares, apart, 0.0))

    return Statistic(both.reshape(-1, k * k), value)


def _divide(top: FloatArray, bottom: FloatArray) -> FloatArray:
    found = np.full(np.shape(top), np.nan)
    np.divide(top, bottom, out=found, where=bottom > 1e-12)
    return found
