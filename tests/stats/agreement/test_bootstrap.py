from __future__ import annotations

import time

import numpy as np
import numpy.typing as npt
import pytest

from lbeval.errors import FitError
from lbeval.stats.agreement import bootstrap as module
from lbeval.stats.agreement.bootstrap import Wanted, bootstrap
from lbeval.stats.agreement.coefficient import Coefficient, Note
from lbeval.stats.agreement.gwet import gwet_ac
from lbeval.stats.agreement.patterns import patterns
from tests.stats.published import Case

FloatArray = npt.NDArray[np.float64]
EVERYTHING = (
    Wanted("exact"),
    Wanted("adjacent"),
    Wanted("cohen"),
    Wanted("cohen", weights="linear"),
    Wanted("light", weights="quadratic"),
    Wanted("fleiss"),
    Wanted("gwet"),
    Wanted("gwet", weights="ordinal"),
    Wanted("alpha", metric="nominal"),
    Wanted("alpha", metric="ordinal"),
    Wanted("alpha", metric="interval"),
    Wanted("alpha", metric="ratio"),
)


def simulate(rng: np.random.Generator, n: int, raters: int, categories: int) -> FloatArray:
    truth = rng.standard_normal((n, 1))
    marks = truth + 0.7 * rng.standard_normal((n, raters)) + (categories - 1) / 2
    found = np.clip(np.round(marks), 0, categories - 1)
    found[rng.random(found.shape) < 0.1] = np.nan
    return found


def test_errors_of_single_plays_are_those_of_the_formulas() -> None:
    ratings = simulate(np.random.default_rng(0), 800, 2, 4)
    for found in bootstrap(ratings, [0, 1, 2, 3], EVERYTHING, rng=np.random.default_rng(1)):
        assert "BCa" in found.method
        assert found.conf_low < found.estimate < found.conf_high
        half = (found.conf_high - found.conf_low) / 2
        assert half == pytest.approx(1.645 * found.std_error, rel=0.1)
    by_formula = {one.name: one for one in bootstrap_points(ratings)}
    for found in bootstrap(ratings, [0, 1, 2, 3], EVERYTHING, rng=np.random.default_rng(1)):
        assert found.estimate == by_formula[found.name].estimate
        assert found.std_error == pytest.approx(by_formula[found.name].std_error, rel=0.12)


def bootstrap_points(ratings: FloatArray) -> list[Coefficient]:
    return [module._point(one, ratings, [0, 1, 2, 3], 0.90) for one in EVERYTHING]


def test_the_statistics_are_the_coefficients() -> None:
    ratings = np.vstack([simulate(np.random.default_rng(2), 60, 2, 4), [[np.nan, 1.0], [np.nan, np.nan]]])
    data = patterns(ratings, [0, 1, 2, 3])
    for one in EVERYTHING:
        sums, value = module._statistic(one, data)
        found = module._point(one, ratings, [0, 1, 2, 3], 0.90)
        assert float(value((data.weight @ sums)[None])[0]) == pytest.approx(found.estimate, abs=1e-10)


def test_clusters_of_like_plays_widen_the_interval() -> None:
    rng = np.random.default_rng(3)
    hard = np.repeat(rng.random(60) < 0.5, 20)
    first = rng.integers(0, 2, hard.size).astype(float)
    second = np.where(hard & (rng.random(hard.size) < 0.8), 1 - first, first)
    ratings = np.column_stack([first, second])
    single = bootstrap(ratings, [0, 1], [Wanted("cohen")], rng=np.random.default_rng(0))[0]
    play = np.repeat([f"g1-{i:03d}" for i in range(60)], 20)
    whole = bootstrap(ratings, [0, 1], [Wanted("cohen")], rng=np.random.default_rng(0), clusters=play)[0]
    assert whole.estimate == single.estimate
    assert whole.std_error > 2 * single.std_error
    assert "60 plays" in whole.method


def test_intervals_cover_over_clusters() -> None:
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(150):
        hard = np.repeat(rng.random(30), 6)
        first = rng.integers(0, 2, hard.size).astype(float)
        second = np.where(rng.random(hard.size) < 0.4 * hard, 1 - first, first)
        found = bootstrap(
            np.column_stack([first, second]),
            [0, 1],
            [Wanted("alpha")],
            rng=rng,
            clusters=np.repeat(np.arange(30), 6),
            n_resamples=400,
        )[0]
        held += found.conf_low <= 1 - 0.2 / 0.5 <= found.conf_high
    assert 0.82 <= held / 150 <= 0.97


def test_row_order_and_labels_do_not_matter_and_the_generator_does() -> None:
    rng = np.random.default_rng(5)
    ratings, play = simulate(rng, 300, 3, 3), rng.integers(0, 80, 300)
    wanted = [one for one in EVERYTHING if one.kind != "cohen"]
    order = rng.permutation(300)
    one = bootstrap(ratings, [0, 1, 2], wanted, rng=np.random.default_rng(9), clusters=play)
    two = bootstrap(
        ratings[order], [0, 1, 2], wanted, rng=np.random.default_rng(9), clusters=1000 - play[order]
    )
    for a, b in zip(one, two, strict=True):
        np.testing.assert_allclose([a.conf_low, a.std_error], [b.conf_low, b.std_error], rtol=1e-9)
    other = bootstrap(ratings, [0, 1, 2], wanted, rng=np.random.default_rng(10), clusters=play)
    assert other[0].conf_low != one[0].conf_low
    assert bootstrap(ratings, [0, 1, 2], wanted, rng=np.random.default_rng(9), clusters=play) == one


def test_equal_clusters_drawn_together_have_the_same_spread() -> None:
    # 5,000 plays with 10 distinct rows take the multinomial way, the same plays one by one the other
    ratings = simulate(np.random.default_rng(6), 5000, 2, 2)
    together = bootstrap(ratings, [0, 1], [Wanted("gwet")], rng=np.random.default_rng(0))[0]
    assert together.std_error == pytest.approx(gwet_ac(ratings, [0, 1]).std_error, rel=0.08)


def test_degenerate_ratings_keep_their_notes() -> None:
    rng = np.random.default_rng(7)

    def note(ratings: object, kind: Wanted = EVERYTHING[2]) -> Note:
        found = bootstrap(np.asarray(ratings, dtype=float), [0, 1], [kind], rng=rng, n_resamples=200)[0]
        if found.note != Note.NO_DISAGREEMENT:
            assert np.isnan(found.conf_low)
        return found.note

    assert note(np.ones((5, 2))) == Note.CONSTANT
    assert note([[1, np.nan], [np.nan, 0]]) == Note.NO_OVERLAP
    assert note([[1, 1], [1, 0], [1, 0]]) == Note.CONSTANT_RATER
    assert note(np.tile([[0.0, 0.0], [1.0, 1.0]], (20, 1))) == Note.NO_DISAGREEMENT
    assert note([[0, 1], [1, 1], [0, 0]]) == Note.UNSTABLE
    assert note(np.full((3, 2), np.nan)) == Note.NO_RATINGS
    assert note([[0, 1]], Wanted("alpha")) == Note.ONE_UNIT


def test_one_play_of_many_units_is_no_sample_of_plays() -> None:
    ratings = simulate(np.random.default_rng(8), 40, 2, 3)
    found = bootstrap(
        ratings, [0, 1, 2], [Wanted("cohen")], rng=np.random.default_rng(0), clusters=np.zeros(40)
    )[0]
    assert found.note == Note.ONE_UNIT
    assert np.isnan(found.conf_low)
    assert np.isfinite(found.estimate)


def test_what_cannot_be_resampled_is_refused() -> None:
    ratings = Case("krippendorff_missing_C").matrix("observers_by_unit").T
    rng = np.random.default_rng(0)
    with pytest.raises(FitError, match="two raters"):
        bootstrap(ratings, [1, 2, 3, 4, 5], [Wanted("cohen")], rng=rng)
    with pytest.raises(FitError, match="play of every unit"):
        bootstrap(ratings, [1, 2, 3, 4, 5], [Wanted("alpha")], rng=rng, clusters=[1, 2])
    with pytest.raises(FitError, match="1,000 or more"):
        bootstrap(ratings, [1, 2, 3, 4, 5], [Wanted("alpha")], rng=rng, n_resamples=10)


def test_a_season_takes_less_than_three_seconds() -> None:
    ratings = simulate(np.random.default_rng(9), 50_000, 2, 3)
    play = np.arange(50_000) // 8
    start = time.perf_counter()
    bootstrap(
        ratings,
        [0, 1, 2],
        [Wanted("alpha", metric="ordinal"), Wanted("cohen", weights="linear")],
        rng=np.random.default_rng(0),
        clusters=play,
        n_resamples=2000,
    )
    assert time.perf_counter() - start < 3
