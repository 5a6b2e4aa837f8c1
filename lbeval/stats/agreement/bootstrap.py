"""Bootstrap over plays for coefficients of agreement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import sparse, stats

from lbeval.errors import FitError
from lbeval.stats.agreement.alpha import Metric, krippendorff
from lbeval.stats.agreement.coefficient import Coefficient, Note
from lbeval.stats.agreement.gwet import gwet_ac
from lbeval.stats.agreement.kappa import cohen, fleiss, light
from lbeval.stats.agreement.patterns import MISSING, Patterns, patterns, row_keys, scramble
from lbeval.stats.agreement.raw import adjacent, exact
from lbeval.stats.agreement.statistics import (
    Statistic,
    alpha_statistic,
    cohen_statistic,
    gwet_statistic,
    light_statistic,
    mean_pairs,
)
from lbeval.stats.agreement.weights import Weights, agreement_weights
from lbeval.stats.proportions import check_level, wilson_effective

FloatArray = npt.NDArray[np.float64]
Kind = Literal["exact", "adjacent", "cohen", "light", "fleiss", "gwet", "alpha"]

LARGEST_CHUNK = 4_000_000  # numbers drawn at a time
LEAST_DEFINED = 0.99  # share of the resamples in which a coefficient must exist


class Wanted(NamedTuple):
    """A coefficient to resample: ``weights`` of cohen, light and gwet, ``metric`` of alpha."""

    kind: Kind
    weights: Weights = "identity"
    metric: Metric = "nominal"


def bootstrap(
    ratings: npt.ArrayLike,
    categories: npt.ArrayLike,
    wanted: Sequence[Wanted],
    *,
    rng: np.random.Generator,
    clusters: npt.ArrayLike | None = None,
    n_resamples: int = 2000,
    level: float = 0.90,
) -> tuple[Coefficient, ...]:
    """Coefficients with standard error and BCa interval from resampled plays.

    Whole clusters are drawn with replacement (Davison & Hinkley 1997, sec. 3.8), all coefficients on the
    same resamples; interval bias-corrected and accelerated (Efron 1987, JASA 82:171), the acceleration
    from leaving out each cluster. A coefficient is a function of sums over units, equal clusters are
    drawn together, so the cost hardly grows with the ratings. Row order does not change the result.

    Parameters
    ----------
    ratings : (n_units, n_raters)
        NaN is missing.
    categories
        The declared scale, ascending.
    wanted
        Which coefficients.
    rng
        Source of the draws.
    clusters : (n_units,)
        Play of each unit; None makes every unit its own.
    n_resamples
        Number of resamples.
    level
        Confidence level.

    Returns
    -------
    tuple of Coefficient
        In the order of ``wanted``. What is undefined keeps its note; where no disagreement was seen the
        lower end is from the raw agreement's Wilson interval on the number of clusters; where the
        coefficient is undefined in more than 1 % of the resamples the interval is NaN, noted ``unstable``.

    Raises
    ------
    FitError
        For ratings off the scale, clusters that do not fit the units, or fewer than 100 resamples.
    """
    check_level(level)
    if n_resamples < 100:
        raise FitError(f"{n_resamples} resamples do not give an interval; use 1,000 or more")
    data = patterns(ratings, categories)
    points = [_point(one, ratings, categories, level) for one in wanted]
    if data.n_paired == 0:
        return tuple(points)
    parts = [_statistic(one, data) for one in wanted]
    sums, sizes = _groups(data, clusters, np.hstack([part.sums for part in parts]))
    edges = np.cumsum([0, *(part.sums.shape[1] for part in parts)])
    n_clusters = int(sizes.sum())
    if n_clusters < 2:
        return tuple(_without_interval(point, point.note or Note.ONE_UNIT) for point in points)
    resampled = _resample(sums, sizes, rng, n_resamples)
    left_out = sizes @ sums - sums
    return tuple(
        _with_interval(point, part.value(resampled[:, i:j]), part.value(left_out[:, i:j]), sizes, level)
        for point, part, i, j in zip(points, parts, edges[:-1], edges[1:], strict=True)
    )


def bca_interval(
    estimate: float, draws: FloatArray, left_out: FloatArray, sizes: FloatArray, level: float
) -> tuple[float, float]:
    """Bias-corrected and accelerated interval (Efron 1987).

    ``left_out`` are the values without one cluster of each group, ``sizes`` how many clusters a group has.
    """
    share = (np.sum(draws < estimate) + np.sum(draws == estimate) / 2) / draws.size
    # all draws on one side would push the bias to infinity
    bias = stats.norm.ppf(np.clip(share, 1 / (draws.size + 1), draws.size / (draws.size + 1)))
    known = np.isfinite(left_out)
    away = sizes[known] @ left_out[known] / sizes[known].sum() - left_out[known]
    squares = sizes[known] @ away**2
    acceleration = 0.0 if squares <= 0 else (sizes[known] @ away**3) / (6 * squares**1.5)
    z = bias + stats.norm.ppf([(1 - level) / 2, (1 + level) / 2])
    low, high = np.quantile(draws, stats.norm.cdf(bias + z / (1 - acceleration * z)))
    return float(min(low, estimate)), float(max(high, estimate))


def _with_interval(
    point: Coefficient, draws: FloatArray, left_out: FloatArray, sizes: FloatArray, level: float
) -> Coefficient:
    n_clusters = float(sizes.sum())
    if point.note == Note.NO_DISAGREEMENT:
        floor, _ = wilson_effective(1.0, n_clusters, level)
        low = max(-1.0, (floor - point.expected) / (1 - point.expected))
        return replace(point, conf_low=low, method="Wilson interval of the raw agreement on the plays")
    if np.isnan(point.estimate) or point.note == Note.CONSTANT_RATER:
        return point
    method = f"bootstrap over {n_clusters:.0f} plays, {draws.size} resamples, BCa"
    defined = draws[np.isfinite(draws)]
    if defined.size < LEAST_DEFINED * draws.size:
        return _without_interval(replace(point, method=method), Note.UNSTABLE)
    std_error = float(defined.std(ddof=1))
    if std_error < 1e-9:
        return _without_interval(replace(point, method=method), Note.NO_SPREAD)
    low, high = bca_interval(point.estimate, defined, left_out, sizes, level)
    note = Note.NONE if point.note in {Note.ONE_UNIT, Note.NO_SPREAD} else point.note
    return replace(point, std_error=std_error, conf_low=low, conf_high=high, method=method, note=note)


def _without_interval(point: Coefficient, note: Note) -> Coefficient:
    return replace(point, std_error=np.nan, conf_low=np.nan, conf_high=np.nan, note=note)


def _point(one: Wanted, ratings: npt.ArrayLike, categories: npt.ArrayLike, level: float) -> Coefficient:
    if one.kind == "cohen":
        first, second = _two(ratings)
        return cohen(first, second, categories, weights=one.weights, level=level)
    if one.kind == "light":
        return light(ratings, categories, weights=one.weights, level=level)
    if one.kind == "fleiss":
        return fleiss(ratings, categories, level=level)
    if one.kind == "gwet":
        return gwet_ac(ratings, categories, weights=one.weights, level=level)
    if one.kind == "alpha":
        return krippendorff(ratings, one.metric, categories, level=level)
    share = exact(ratings, categories, level) if one.kind == "exact" else adjacent(ratings, categories, level)
    raw = share if one.kind == "exact" else exact(ratings, categories, level)
    return Coefficient(
        name=share.name,
        estimate=share.estimate,
        std_error=share.std_error,
        conf_low=share.conf_low,
        conf_high=share.conf_high,
        level=level,
        n=share.n,
        n_raters=patterns(ratings, categories).n_raters,
        raw_agreement=raw.estimate,
        observed=share.estimate,
        expected=0.0,
        method="Wilson, effective size",
        note=Note.NO_DISAGREEMENT if share.estimate == 1 else share.note,
    )


def _two(ratings: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    matrix = np.asarray(ratings, dtype=float)
    if matrix.shape[1] != 2:
        raise FitError(f"Cohen's kappa is of two raters, not {matrix.shape[1]}; use Light's or Fleiss's")
    return matrix[:, 0], matrix[:, 1]


def _statistic(one: Wanted, data: Patterns) -> Statistic:
    if one.kind == "exact":
        return mean_pairs(data)
    if one.kind == "adjacent":
        return mean_pairs(data, within=1)
    if one.kind == "alpha":
        return alpha_statistic(data, one.metric)
    if one.kind == "fleiss":
        return gwet_statistic(data, np.eye(data.n_categories), "fleiss")
    matrix = agreement_weights(one.weights, data.scale)
    if one.kind == "gwet":
        return gwet_statistic(data, matrix, "gwet")
    return cohen_statistic(data, matrix) if one.kind == "cohen" else light_statistic(data, matrix)


def _groups(
    data: Patterns, clusters: npt.ArrayLike | None, sums: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Add up the distinct clusters and count how many there are of each.

    A cluster's key adds up the keys of its rows, so it does not depend on their order. A second key tells
    should two different clusters share the first; all are then kept apart.
    """
    rated = data.unit != MISSING
    unit = data.unit[rated]
    if clusters is None:
        return sums, data.weight
    labels = np.asarray(clusters)
    if labels.shape != data.unit.shape:
        raise FitError(f"{labels.size} clusters for {data.unit.size} units; name the play of every unit")
    _, place = np.unique(labels[rated], return_inverse=True)
    order = np.argsort(place, kind="stable")
    starts = np.flatnonzero(np.diff(place[order], prepend=-1))
    of_row = row_keys(data.codes)
    keys, check = (np.add.reduceat(key[unit[order]], starts) for key in (of_row, scramble(of_row)))
    _, first, group, count = np.unique(keys, return_index=True, return_inverse=True, return_counts=True)
    if not np.array_equal(check[first[group]], check):
        first, count = np.arange(starts.size), np.ones(starts.size, dtype=np.int64)
    row_of = np.full(starts.size, MISSING, dtype=np.int64)
    row_of[first] = np.arange(first.size)
    rows = row_of[place]
    kept = rows != MISSING
    members = sparse.csr_array(
        (np.ones(int(kept.sum())), (rows[kept], unit[kept])), shape=(first.size, data.weight.size)
    )
    return members @ sums, count.astype(float)


def _resample(sums: FloatArray, sizes: FloatArray, rng: np.random.Generator, n_resamples: int) -> FloatArray:
    """Add up clusters drawn with replacement, (n_resamples, q)."""
    n_groups, n_clusters = sizes.size, int(sizes.sum())
    member = np.repeat(np.arange(n_groups), sizes.astype(np.int64))
    # a multinomial draw costs as much as ten draws of one cluster
    one_by_one = n_clusters <= 10 * n_groups
    step = max(1, LARGEST_CHUNK // (n_clusters if one_by_one else n_groups))
    found = np.empty((n_resamples, sums.shape[1]))
    for start in range(0, n_resamples, step):
        rows = min(step, n_resamples - start)
        if one_by_one:
            drawn = member[rng.integers(0, n_clusters, size=(rows, n_clusters))]
            drawn += n_groups * np.arange(rows)[:, None]
            times = np.bincount(drawn.ravel(), minlength=rows * n_groups).reshape(rows, n_groups)
        else:
            times = rng.multinomial(n_clusters, sizes / n_clusters, size=rows)
        found[start : start + rows] = times.astype(float) @ sums
    return found
