"""Generalizability of balanced designs, and decision studies from any set of components."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain, combinations
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import stats

from lbeval.errors import FitError
from lbeval.stats.proportions import check_level

FloatArray = npt.NDArray[np.float64]
Effect = frozenset[str]


@dataclass(frozen=True, eq=False)
class GStudy:
    """Analysis of variance of a balanced random design (Brennan 2001, Generalizability Theory, ch. 3).

    Attributes
    ----------
    effects : tuple of frozenset of str
        Facets of each effect; a nested facet's effect holds the facet it is nested in.
    names : tuple of str
        ``p``, ``pi``, ``r:t``, ``pr:t``.
    sizes : mapping
        Levels of each facet; of a nested one, within each level it is nested in.
    uncorrected, sum_squares, df, mean_squares : array
        T terms, sums of squares, degrees of freedom and mean squares, in the order of ``effects``.
    components : array
        Variance components from the expected mean squares; may be negative.
    std_error : array
        Their standard errors, sqrt(sum 2 (c MS)^2 / (df + 2)) (Brennan 2001, sec. 6.1).
    conf_low, conf_high : array
        Modified large-sample intervals (Ting, Burdick, Graybill, Jeyaratnam & Lu 1990, J Stat Comput Simul
        35:135; Brennan 2001, sec. 6.2), which hold for negative components too.
    level : float
        Confidence level.
    mean : float
        Grand mean.
    note : str
        Names of the components that came out negative, or empty.
    """

    effects: tuple[Effect, ...]
    names: tuple[str, ...]
    sizes: dict[str, int]
    uncorrected: FloatArray
    sum_squares: FloatArray
    df: FloatArray
    mean_squares: FloatArray
    components: FloatArray
    std_error: FloatArray
    conf_low: FloatArray
    conf_high: FloatArray
    level: float
    mean: float
    note: str

    def variances(self) -> dict[Effect, float]:
        """Components by effect, for `d_study`."""
        return dict(zip(self.effects, self.components.tolist(), strict=True))


class DStudy(NamedTuple):
    """Reliability of a mean score over the conditions of a decision study.

    ``universe`` is the variance of what is to be known; ``relative_error`` bears on ranking and gives
    ``generalizability`` (E rho^2); ``absolute_error`` on a cut-off and gives ``dependability`` (Phi).
    ``note`` names components taken as zero because they came out negative.
    """

    universe: float
    relative_error: float
    absolute_error: float
    generalizability: float
    dependability: float
    note: str


def g_study(
    scores: npt.ArrayLike,
    facets: tuple[str, ...],
    *,
    nested: Mapping[str, str] | None = None,
    level: float = 0.90,
) -> GStudy:
    """Mean squares and variance components of a complete balanced design.

    Parameters
    ----------
    scores
        One axis a facet; a nested facet's axis holds its levels within each level it is nested in.
    facets
        Names of the axes, e.g. ``("p", "t", "r")``.
    nested
        Facet to the facet it is nested in: ``{"r": "t"}`` for p x (r:t), ``{"i": "p"}`` for i:p.
    level
        Confidence level.

    Raises
    ------
    FitError
        For missing cells (use REML), axes that do not fit the facets, or a facet with one level.
    """
    check_level(level)
    values = np.asarray(scores, dtype=float)
    inside = dict(nested or {})
    _check_design(values, facets, inside)
    effects = _effects(facets, inside)
    sizes = dict(zip(facets, values.shape, strict=True))
    grand = float(values.mean())
    centred = values - grand
    squares, degrees = np.empty(len(effects)), np.empty(len(effects))
    raw = np.empty(len(effects))
    for i, effect in enumerate(effects):
        axes = tuple(a for a, facet in enumerate(facets) if facet not in effect)
        means = centred.mean(axis=axes)
        repeats = np.prod([sizes[f] for f in facets if f not in effect])
        levels = np.prod([sizes[f] for f in effect])
        lower = [j for j, other in enumerate(effects[:i]) if other < effect]
        total = repeats * float((means**2).sum())
        raw[i] = total + values.size * grand**2
        squares[i] = max(total - sum(squares[j] for j in lower), 0.0)
        degrees[i] = levels - 1 - sum(degrees[j] for j in lower)
    mean_squares = squares / degrees
    weights = _inverse_expected(effects, facets, sizes)
    components = weights @ mean_squares
    std_error = np.sqrt(weights**2 @ (2 * mean_squares**2 / (degrees + 2)))
    low, high = _limits(weights, mean_squares, degrees, level)
    names = tuple(_name(effect, facets, inside) for effect in effects)
    negative = [name for name, component in zip(names, components, strict=True) if component < 0]
    return GStudy(
        effects=effects,
        names=names,
        sizes=sizes,
        uncorrected=raw,
        sum_squares=squares,
        df=degrees,
        mean_squares=mean_squares,
        components=components,
        std_error=std_error,
        conf_low=low,
        conf_high=high,
        level=level,
        mean=grand,
        note=_negative_note(negative),
    )


def d_study(
    variances: Mapping[Effect, float],
    target: str,
    conditions: Mapping[str, float],
    *,
    fixed: frozenset[str] = frozenset(),
) -> DStudy:
    """Reliability of the target's mean over ``conditions`` (Brennan 2001, ch. 4).

    An effect's variance is divided by the conditions of its facets, nested ones within those they are
    nested in. With the target and fixed facets only it is universe score; with the target and a random
    facet it is relative error; any effect with a random facet is absolute error. Fixed facets alone move
    everybody alike and drop out.

    Parameters
    ----------
    variances
        Component by effect, an effect being the set of its facets; e.g. `GStudy.variances`, or REML's.
    target
        The facet measured, e.g. ``player``.
    conditions
        Conditions a score is averaged over, by facet. For a fixed facet averaged with weights w that
        add up to one give 1 / sum w^2.
    fixed
        Facets whose conditions are all that matter, such as the criteria of a rubric.

    Raises
    ------
    FitError
        For a facet without conditions, conditions that are not positive, or no component of the target.
    """
    if frozenset({target}) not in variances:
        raise FitError(f"no variance component of {target} itself; a decision study needs it")
    facets = {facet for effect in variances for facet in effect} - {target}
    for facet in sorted(facets):
        if not conditions.get(facet, 0) > 0:
            raise FitError(f"say over how many conditions of {facet} a score is averaged (more than zero)")
    universe = relative = absolute = 0.0
    negative = []
    for effect, variance in variances.items():
        if variance < 0:
            negative.append(" x ".join(sorted(effect)))
        share = max(float(variance), 0.0) / float(np.prod([conditions[f] for f in effect - {target}]))
        random = effect - fixed - {target}
        if target in effect and not random:
            universe += share
        elif random:
            absolute += share
            relative += share if target in effect else 0.0
    return DStudy(
        universe,
        relative,
        absolute,
        _ratio(universe, relative),
        _ratio(universe, absolute),
        _negative_note(negative),
    )


def cut_score_dependability(study: GStudy, target: str, conditions: Mapping[str, float], cut: float) -> float:
    """Dependability of decisions at a cut score, Phi(lambda) (Brennan & Kane 1977, J Educ Meas 14:277).

    The squared distance of the mean from the cut is corrected for the mean's own sampling error. NaN
    where nothing varies.
    """
    decision = d_study(study.variances(), target, conditions)
    over = {**conditions, target: study.sizes[target]}
    of_mean = sum(max(v, 0.0) / np.prod([over[f] for f in effect]) for effect, v in study.variances().items())
    distance = (study.mean - cut) ** 2 - float(of_mean)
    return _ratio(decision.universe + distance, decision.absolute_error)


def spearman_brown(reliability: npt.ArrayLike, length: npt.ArrayLike) -> FloatArray:
    """Reliability of a measurement ``length`` times as long (Spearman 1910; Brown 1910).

    NaN where the length turns the denominator to zero or below.
    """
    r, k = np.broadcast_arrays(np.asarray(reliability, dtype=float), np.asarray(length, dtype=float))
    bottom = 1 + (k - 1) * r
    found = np.full(r.shape, np.nan)
    np.divide(k * r, bottom, out=found, where=bottom > 0)
    return found


def length_for(reliability: npt.ArrayLike, target: npt.ArrayLike) -> FloatArray:
    """How many times as long a measurement must be to reach ``target``, not rounded.

    Infinite where the reliability is zero or below, or the target 1; NaN for a target outside (0, 1].
    """
    r, wanted = np.broadcast_arrays(np.asarray(reliability, dtype=float), np.asarray(target, dtype=float))
    bottom = r * (1 - wanted)
    found = np.full(r.shape, np.inf)
    np.divide(wanted * (1 - r), bottom, out=found, where=bottom > 0)
    found[(r >= 1) & (wanted <= 1)] = 0.0
    found[~((wanted > 0) & (wanted <= 1)) | np.isnan(r)] = np.nan
    return found


def _check_design(values: FloatArray, facets: tuple[str, ...], nested: dict[str, str]) -> None:
    if values.ndim != len(facets) or len(set(facets)) != len(facets):
        raise FitError(f"{values.ndim} axes of scores do not fit the facets {', '.join(facets)}")
    unknown = (set(nested) | set(nested.values())) - set(facets)
    if unknown or any(inner == outer for inner, outer in nested.items()):
        raise FitError(f"nesting {nested} does not fit the facets {', '.join(facets)}")
    if not np.isfinite(values).all():
        raise FitError("a balanced design has no missing cells; fit its components by REML instead")
    single = [facet for facet, size in zip(facets, values.shape, strict=True) if size < 2]
    if single:
        raise FitError(f"facet {single[0]} has one level: its variance cannot be found; leave it out")


def _effects(facets: tuple[str, ...], nested: dict[str, str]) -> tuple[Effect, ...]:
    def closed(effect: Effect) -> bool:
        return all(nested[facet] in effect for facet in effect if facet in nested)

    subsets = chain.from_iterable(combinations(facets, size) for size in range(1, len(facets) + 1))
    return tuple(effect for effect in map(frozenset, subsets) if closed(effect))


def _inverse_expected(
    effects: tuple[Effect, ...], facets: tuple[str, ...], sizes: dict[str, int]
) -> FloatArray:
    """Weights of the mean squares in each component: the inverse of the expected mean squares."""
    expected = np.zeros((len(effects), len(effects)))
    for i, effect in enumerate(effects):
        for j, other in enumerate(effects):
            if effect <= other:
                expected[i, j] = np.prod([sizes[f] for f in facets if f not in other])
    return np.asarray(np.linalg.inv(expected), dtype=float)


def _limits(
    weights: FloatArray, squares: FloatArray, degrees: FloatArray, level: float
) -> tuple[FloatArray, FloatArray]:
    """Find modified large-sample limits of each component, a sum of mean squares with signs."""
    parts = weights * squares
    tail = (1 - level) / 2
    low = [part.sum() - _reach(part, degrees, tail) for part in parts]
    # the upper limit is the lower one of the component with its signs turned
    high = [part.sum() + _reach(-part, degrees, tail) for part in parts]
    return np.array(low), np.array(high)


def _reach(parts: FloatArray, degrees: FloatArray, tail: float) -> float:
    """Distance from a signed sum of mean squares down to its lower limit (Ting et al. 1990)."""
    plus, minus = np.flatnonzero(parts > 0), np.flatnonzero(parts < 0)
    shrink = 1 - degrees / stats.chi2.isf(tail, degrees)
    stretch = degrees / stats.chi2.ppf(tail, degrees) - 1
    size = np.abs(parts)
    total = float(((shrink * size)[plus] ** 2).sum() + ((stretch * size)[minus] ** 2).sum())
    for q in plus:
        for r in minus:
            f = float(stats.f.isf(tail, degrees[q], degrees[r]))
            total += ((f - 1) ** 2 - (shrink[q] * f) ** 2 - stretch[r] ** 2) / f * size[q] * size[r]
    for q, t in combinations(plus, 2):
        both, one, two = degrees[q] + degrees[t], degrees[q], degrees[t]
        joint = 1 - both / float(stats.chi2.isf(tail, both))
        cross = joint**2 * both**2 / (one * two) - shrink[q] ** 2 * one / two - shrink[t] ** 2 * two / one
        total += cross / (plus.size - 1) * size[q] * size[t]
    return float(np.sqrt(max(total, 0.0)))


def _name(effect: Effect, facets: tuple[str, ...], nested: dict[str, str]) -> str:
    outer = {nested[facet] for facet in effect if facet in nested}
    inner = "".join(_ordered(effect - outer, facets))
    return f"{inner}:{''.join(_ordered(frozenset(outer), facets))}" if outer else inner


def _ordered(effect: Effect, facets: tuple[str, ...]) -> Iterator[str]:
    return (facet for facet in facets if facet in effect)


def _negative_note(names: list[str]) -> str:
    return f"negative: {', '.join(names)}" if names else ""


def _ratio(universe: float, error: float) -> float:
    total = universe + error
    return universe / total if total > 0 else np.nan
