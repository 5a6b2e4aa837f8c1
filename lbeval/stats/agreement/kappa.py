"""Kappa: Cohen's for two raters, Light's mean over pairs, Fleiss's for many."""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Coefficient, Note, chance_corrected
from lbeval.stats.agreement.gwet import linearised
from lbeval.stats.agreement.patterns import MISSING, Patterns, declared, patterns
from lbeval.stats.agreement.raw import equal_pairs
from lbeval.stats.agreement.weights import Weights, agreement_weights

FloatArray = npt.NDArray[np.float64]


class CategoryKappa(NamedTuple):
    """Fleiss kappa of one category against all others; ``std_error_null`` is common to all."""

    category: float
    estimate: float
    std_error_null: float
    n: int
    note: Note


def cohen(
    first: npt.ArrayLike,
    second: npt.ArrayLike,
    categories: npt.ArrayLike,
    *,
    weights: Weights | npt.ArrayLike = "identity",
    level: float = 0.90,
) -> Coefficient:
    """Cohen's kappa of two raters, plain or weighted, on the declared scale.

    Cohen (1960, Educ Psychol Meas 20:37; 1968, Psychol Bull 70:213); standard errors of Fleiss, Cohen &
    Everitt (1969, Psychol Bull 72:323): ``std_error`` for the interval, ``std_error_null`` to test kappa = 0.

    Parameters
    ----------
    first, second : (n_units,)
        Ratings; NaN is missing, units not rated by both are left out.
    categories
        The declared scale, ascending. Weights follow its values, also of a category nobody used:
        dropping one would change linear and quadratic kappa.
    weights
        See `agreement_weights`.
    level
        Confidence level of the normal interval.

    Returns
    -------
    Coefficient
        NaN with a note for no shared unit or one category only; zero with a note where one rater never
        changes his grade.

    Raises
    ------
    FitError
        For unequal lengths, ratings off the scale, or weights that do not fit it.
    """
    one, two = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    if one.ndim != 1 or one.shape != two.shape:
        raise FitError(f"two raters' grades of the same units are needed, not {one.shape} and {two.shape}")
    return _cohen(patterns(np.column_stack([one, two]), categories), weights, level)


def cohen_table(
    table: npt.ArrayLike,
    *,
    weights: Weights | npt.ArrayLike = "identity",
    categories: npt.ArrayLike | None = None,
    level: float = 0.90,
) -> Coefficient:
    """Cohen's kappa from a square table of counts, first rater in rows; otherwise as `cohen`.

    Without ``categories`` the scale is 0, 1, 2, ...
    """
    cells = np.asarray(table, dtype=float)
    square = cells.ndim == 2 and cells.shape[0] == cells.shape[1] >= 2
    if not square or (cells < 0).any() or not np.isfinite(cells).all():
        raise FitError("kappa needs a square table of counts, categories by categories")
    scale = declared(np.arange(cells.shape[0]) if categories is None else categories)
    if scale.size != cells.shape[0]:
        raise FitError(f"a table of {cells.shape[0]} categories does not fit a scale of {scale.size}")
    rows, columns = np.nonzero(cells)
    codes = np.column_stack([rows, columns]).astype(np.int64)
    nobody = np.zeros(0, dtype=np.int64)
    return _cohen(Patterns(codes, cells[rows, columns], nobody, scale, 2), weights, level)


def light(
    ratings: npt.ArrayLike,
    categories: npt.ArrayLike,
    *,
    weights: Weights | npt.ArrayLike = "identity",
    level: float = 0.90,
) -> Coefficient:
    """Light's kappa: the mean of Cohen's over all pairs of raters (Light 1971, Psychol Bull 76:365).

    Pairs without a shared unit, or whose kappa is undefined, are left out. Standard error by linearising
    every pair's kappa over the units (for one pair: Fleiss, Cohen & Everitt 1969). Parameters and errors
    as in `cohen`, with ``ratings`` (n_units, n_raters).
    """
    data = patterns(ratings, categories).paired()
    matrix = agreement_weights(weights, data.scale)
    values, influence, expected = [], np.zeros(data.weight.size), []
    for a, b in combinations(range(data.codes.shape[1]), 2):
        pair = _pair(data, a, b, matrix)
        if pair is not None:
            values.append(pair[0])
            influence += pair[1]
            expected.append(pair[2])
    mean = float(np.mean(values)) if values else np.nan
    chance = float(np.mean(expected)) if values else 1.0
    std_error = float(np.sqrt(data.weight @ (influence / max(len(values), 1)) ** 2))
    return chance_corrected(
        _named("Light kappa", weights),
        observed=mean * (1 - chance) + chance,
        expected=chance,
        std_error=std_error,
        degrees=np.inf,
        level=level,
        ratings=data,
        raw_agreement=_raw(data),
        method="linearised over units, normal",
    )


def fleiss(ratings: npt.ArrayLike, categories: npt.ArrayLike, *, level: float = 0.90) -> Coefficient:
    """Fleiss's kappa of many raters, who need not be the same on every unit (1971, Psychol Bull 76:378).

    ``std_error_null`` is that of Fleiss, Nee & Landis (1979, Psychol Bull 86:974), which replaced the one of
    1971 and tests kappa = 0; it needs the same number of ratings on every unit and is NaN otherwise.
    ``std_error``, for the interval, linearises kappa over the units (Gwet 2008, Br J Math Stat Psychol
    61:29). Units rated once enter the category shares only. Parameters and errors as in `cohen`, with
    ``ratings`` (n_units, n_raters).
    """
    data = patterns(ratings, categories)
    return _fleiss(data, data.counts(), level)


def fleiss_counts(counts: npt.ArrayLike, *, level: float = 0.90) -> Coefficient:
    """Fleiss's kappa from how many raters chose each category, units x categories; else as `fleiss`."""
    cells = _count_table(counts)
    return _fleiss(_as_patterns(cells), cells, level)


def fleiss_categories(counts: npt.ArrayLike) -> tuple[CategoryKappa, ...]:
    """Kappa of each category against the rest (Fleiss, Nee & Landis 1979), units x categories counts.

    Raises
    ------
    FitError
        When the units have not all the same number of ratings, two or more.
    """
    cells = _count_table(counts)
    m = cells.sum(axis=1)
    if not cells.size or (m != m[0]).any() or m[0] < 2:
        raise FitError("category kappas need the same number of ratings, two or more, on every unit")
    n, m0 = cells.shape[0], m[0]
    share = cells.mean(axis=0) / m0
    disagreeing = (cells * (m0 - cells)).sum(axis=0)
    common = float(np.sqrt(2 / (n * m0 * (m0 - 1))))
    found = []
    for k, p in enumerate(share):
        note = Note.CONSTANT if p in {0.0, 1.0} else Note.NONE
        kappa = np.nan if note else float(1 - disagreeing[k] / (n * m0 * (m0 - 1) * p * (1 - p)))
        found.append(CategoryKappa(float(k), kappa, np.nan if note else common, n, note))
    return tuple(found)


def kappa_of_tables(tables: FloatArray, weights: FloatArray) -> FloatArray:
    """Cohen's kappa of many tables, (..., K, K); NaN where undefined."""
    total = tables.sum(axis=(-2, -1))
    observed = (tables * weights).sum(axis=(-2, -1))
    rows, columns = tables.sum(axis=-1), tables.sum(axis=-2)
    by_chance = np.einsum("...i,ij,...j->...", rows, weights, columns)
    # whole numbers up to here, so one category only is an exact zero for weights with few digits
    room = total**2 - by_chance
    top = observed * total - by_chance
    kappa = np.full(total.shape, np.nan)
    np.divide(top, room, out=kappa, where=room > 1e-12 * total**2)
    return kappa


def _cohen(data: Patterns, weights: Weights | npt.ArrayLike, level: float) -> Coefficient:
    matrix = agreement_weights(weights, data.scale)
    both = data.paired()
    table = both.table(0, 1)
    total = table.sum()
    observed = expected = std_error = std_error_null = np.nan
    note = Note.NONE
    if total > 0:
        rows, columns = table.sum(axis=1) / total, table.sum(axis=0) / total
        observed, expected = float((matrix * table).sum() / total), float(rows @ matrix @ columns)
        if expected < 1 - 1e-12:
            constant = (rows > 0).sum() == 1 or (columns > 0).sum() == 1
            note = Note.CONSTANT_RATER if constant else Note.NONE
            cell = _influence(table, matrix)
            std_error = float(np.sqrt((table * cell**2).sum()))
            std_error_null = _null_error(rows, columns, matrix, float(total))
    return chance_corrected(
        _named("Cohen kappa", weights),
        observed=observed,
        expected=expected,
        std_error=std_error,
        std_error_null=std_error_null,
        degrees=np.inf,
        level=level,
        ratings=data,
        raw_agreement=float(np.trace(table) / total) if total > 0 else np.nan,
        method="Fleiss, Cohen & Everitt 1969, normal",
        note=note,
    )


def _influence(table: FloatArray, weights: FloatArray) -> FloatArray:
    """Influence on kappa of a unit in each cell; its squares add up to the 1969 variance."""
    total = table.sum()
    rows, columns = table.sum(axis=1) / total, table.sum(axis=0) / total
    observed, expected = (weights * table).sum() / total, rows @ weights @ columns
    kappa = (observed - expected) / (1 - expected)
    cell = weights - (1 - kappa) * ((weights @ columns)[:, None] + (weights @ rows)[None, :])
    found: FloatArray = (cell - (kappa - expected * (1 - kappa))) / ((1 - expected) * total)
    return found


def _null_error(rows: FloatArray, columns: FloatArray, weights: FloatArray, total: float) -> float:
    """Give the standard error of kappa if the raters graded independently."""
    expected = rows @ weights @ columns
    cell = weights - ((weights @ columns)[:, None] + (weights @ rows)[None, :])
    variance = max(float(rows @ cell**2 @ columns - expected**2), 0.0)
    return float(np.sqrt(variance / total) / (1 - expected))


def _pair(data: Patterns, a: int, b: int, weights: FloatArray) -> tuple[float, FloatArray, float] | None:
    """Kappa of two raters, each row's influence on it, and chance agreement; None where undefined."""
    table = data.table(a, b)
    total = table.sum()
    if total == 0:
        return None
    expected = float(table.sum(axis=1) @ weights @ table.sum(axis=0) / total**2)
    if expected >= 1 - 1e-12:
        return None
    observed = float((weights * table).sum() / total)
    x, y = data.codes[:, a], data.codes[:, b]
    influence = np.where((x != MISSING) & (y != MISSING), _influence(table, weights)[x, y], 0.0)
    return (observed - expected) / (1 - expected), influence, expected


def _fleiss(data: Patterns, counts: FloatArray, level: float) -> Coefficient:
    found = linearised(data, counts, np.eye(counts.shape[1]), "fleiss")
    m = data.n_ratings
    same = bool(m.size) and bool((m == m[0]).all()) and m[0] >= 2
    return chance_corrected(
        "Fleiss kappa",
        observed=found.observed,
        expected=found.expected,
        std_error=found.std_error,
        std_error_null=_fleiss_1979(found.shares, data.n_units, float(m[0])) if same else np.nan,
        degrees=data.n_units - 1,
        level=level,
        ratings=data,
        raw_agreement=_raw(data.paired()),
        method="linearised over units (Gwet 2008), t; null: Fleiss, Nee & Landis 1979",
    )


def _fleiss_1979(shares: FloatArray, n: float, m: float) -> float:
    pq = shares * (1 - shares)
    if pq.sum() <= 0:
        return np.nan
    inner = pq.sum() ** 2 - (pq * (1 - 2 * shares)).sum()
    return float(np.sqrt(2 * inner / (n * m * (m - 1))) / pq.sum())


def _count_table(counts: npt.ArrayLike) -> FloatArray:
    cells = np.asarray(counts, dtype=float)
    whole = cells.ndim == 2 and cells.shape[1] >= 2 and np.isfinite(cells).all()
    if not whole or (cells < 0).any() or (cells != np.floor(cells)).any():
        raise FitError(
            "counts are whole numbers, one row a unit, one column a category, two categories or more"
        )
    return cells


def _as_patterns(cells: FloatArray) -> Patterns:
    n, n_categories = cells.shape
    width = max(int(cells.sum(axis=1).max(initial=0)), 1)
    codes = np.full((n, width), MISSING, dtype=np.int64)
    for i, row in enumerate(cells.astype(np.int64)):
        codes[i, : row.sum()] = np.repeat(np.arange(n_categories), row)
    scale = np.arange(n_categories, dtype=float)
    return Patterns(codes, np.ones(n), np.arange(n), scale, width if cells.any() else 0)


def _raw(data: Patterns) -> float:
    return float(data.weight @ equal_pairs(data) / data.n_units) if data.n_units > 0 else np.nan


def _named(name: str, weights: Weights | npt.ArrayLike) -> str:
    if isinstance(weights, str):
        return name if weights == "identity" else f"{name}, {weights} weights"
    return f"{name}, own weights"
