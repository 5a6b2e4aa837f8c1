from __future__ import annotations

import csv
import time

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lbeval.stats.agreement import crossed
from lbeval.stats.agreement.icc import icc
from lbeval.stats.reml import Term, collapse, fit_reml
from tests.stats.published import Case

FloatArray = npt.NDArray[np.float64]


def sparse_ratings(rng: np.random.Generator, n: int, k: int, missing: float) -> FloatArray:
    ratings = rng.standard_normal((n, 1)) + 0.6 * rng.standard_normal(k) + rng.standard_normal((n, k))
    ratings[rng.random(ratings.shape) < missing] = np.nan
    return ratings[~np.isnan(ratings).all(axis=1)]


def criterion(ratings: FloatArray, components: crossed.Components, *, fixed: bool = False) -> float:
    """-2 restricted log likelihood from its definition, with the whole covariance matrix."""
    unit, rater = np.nonzero(~np.isnan(ratings))
    y = ratings[unit, rater]
    x = np.eye(ratings.shape[1])[rater] if fixed else np.ones((y.size, 1))
    covariance = components.error * np.eye(y.size)
    covariance += components.unit * (unit[:, None] == unit) + components.rater * (rater[:, None] == rater)
    inverse = np.linalg.inv(covariance)
    inner = x.T @ inverse @ x
    left = y - x @ np.linalg.solve(inner, x.T @ inverse @ y)
    return float(np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(inner)[1] + left @ inverse @ left)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_no_nearby_point_is_likelier(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ratings = sparse_ratings(rng, 12, 4, 0.35)
    data = crossed.sums(ratings)
    for found, fixed in ((crossed.random_raters(data), False), (crossed.fixed_raters(data), True)):
        least = criterion(ratings, found, fixed=fixed)
        for step in (1.02, 1 / 1.02):
            for place in range(2 if fixed else 3):
                moved = list(found)
                index = (0, 2, 1)[place]
                moved[index] = max(moved[index] * step, moved[index] + (step - 1) * 0.01, 0.0)
                assert criterion(ratings, crossed.Components(*moved), fixed=fixed) >= least - 1e-9


def test_the_general_engine_finds_the_same() -> None:
    rng = np.random.default_rng(3)
    ratings = sparse_ratings(rng, 200, 6, 0.5)
    unit, rater = np.nonzero(~np.isnan(ratings))
    terms = [Term("unit", unit, ratings.shape[0]), Term("rater", rater, 6)]
    fit = fit_reml(collapse(ratings[unit, rater], np.ones((unit.size, 1)), terms))
    found = crossed.random_raters(crossed.sums(ratings))
    expected = [fit.components["unit"], fit.components["rater"], fit.residual[0]]
    np.testing.assert_allclose(found, np.array(expected, dtype=float), rtol=1e-4)


def text_columns(case: Case) -> list[list[str]]:
    with (case.folder / case.data["csv"]).open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))[1:]


def test_penicillin_of_lme4() -> None:
    case = Case("reml_penicillin")
    values, plates, samples = zip(*text_columns(case), strict=True)
    row = {name: i for i, name in enumerate(sorted(set(plates)))}
    column = {name: i for i, name in enumerate(sorted(set(samples)))}
    ratings = np.full((len(row), len(column)), np.nan)
    for value, plate, sample in zip(values, plates, samples, strict=True):
        ratings[row[plate], column[sample]] = float(value)
    case.check("exact variances", crossed.random_raters(crossed.sums(ratings)))


@pytest.mark.parametrize("name", ["reml_dyestuff", "reml_dyestuff2"])
def test_dyestuff_of_lme4(name: str) -> None:
    case = Case(name)
    columns = list(zip(*text_columns(case), strict=True))
    batch, value = (columns[0], columns[1]) if "." not in columns[0][0] else (columns[1], columns[0])
    labels = sorted(set(batch))
    ratings = np.array(
        [[float(v) for v, b in zip(value, batch, strict=True) if b == label] for label in labels]
    )
    found = crossed.one_way(crossed.sums(ratings))
    case.check("exact variances", [found.unit, found.error])


def test_a_million_ratings_with_missing_cells() -> None:
    rng = np.random.default_rng(4)
    start = time.perf_counter()
    for n, k in ((25_000, 40), (500_000, 2)):
        family = icc(sparse_ratings(rng, n, k, 0.1))
        assert family.icc_c1.estimate == pytest.approx(0.5, abs=0.02)
    assert time.perf_counter() - start < 20
