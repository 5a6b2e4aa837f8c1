from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lbeval.errors import FitError
from lbeval.stats.agreement import alpha, kappa
from lbeval.stats.agreement.coefficient import Note
from tests.stats.published import Case


def test_krippendorff_two_raters_binary() -> None:
    case = Case("krippendorff_binary_A")
    ratings = np.column_stack([case.matrix("meg"), case.matrix("owen")])
    case.check("alpha nominal", alpha.krippendorff(ratings, "nominal", [0, 1]).estimate)


def test_krippendorff_two_raters_nominal() -> None:
    case = Case("krippendorff_nominal_B")
    ratings = np.array([[ord(letter) for letter in case.data[name]] for name in ("ben", "gerry")]).T
    case.check("alpha nominal", alpha.krippendorff(ratings, "nominal").estimate)


def test_krippendorff_four_raters_with_missing() -> None:
    case = Case("krippendorff_missing_C")
    ratings = case.matrix("observers_by_unit").T
    for metric in alpha.METRICS:
        found = alpha.krippendorff(ratings, metric)
        case.check(f"alpha {metric}", found.estimate)
        assert found.n == 11  # unit 12 was rated once
        assert alpha.krippendorff(ratings, metric, [0, 1, 2, 3, 4, 5, 9]).estimate == pytest.approx(
            found.estimate
        )


def test_program_krippendorff_on_simulated_ratings() -> None:
    case = Case("agreement_24_units_5_raters")
    ratings = case.matrix("ratings")
    for metric in alpha.METRICS:
        case.check(f"alpha {metric}", alpha.krippendorff(ratings, metric, case.data["categories"]).estimate)


def test_ordinal_alpha_is_not_the_alpha_with_ordinal_weights() -> None:
    ratings = Case("krippendorff_missing_C").matrix("observers_by_unit").T
    assert alpha.krippendorff(ratings, "ordinal").estimate == pytest.approx(0.815, abs=5e-4)
    by_weights = Case("raw_4raters").expected["krippendorff weights=ordinal: value, SE"]["value"][0]
    assert by_weights == pytest.approx(0.834, abs=5e-4)


def test_measurements_need_no_scale() -> None:
    rng = np.random.default_rng(0)
    truth = rng.standard_normal((400, 1))
    ratings = truth + 0.5 * rng.standard_normal((400, 3))
    found = alpha.krippendorff(ratings, "interval")
    assert found.estimate == pytest.approx(0.8, abs=0.05)
    assert found.conf_low < 0.8 < found.conf_high
    assert alpha.krippendorff(ratings, "ordinal").estimate == pytest.approx(0.8, abs=0.06)
    with pytest.raises(FitError, match="interval alpha"):
        alpha.krippendorff(np.abs(rng.standard_normal((2000, 2))), "ratio")


@pytest.mark.parametrize("metric", alpha.METRICS)
def test_degenerate_ratings_are_named(metric: alpha.Metric) -> None:
    constant = alpha.krippendorff(np.full((5, 3), 2.0), metric, [1, 2, 3])
    assert constant.note == Note.CONSTANT
    assert constant.raw_agreement == 1
    assert np.isnan(constant.estimate)
    apart = np.array([[1, np.nan], [np.nan, 2]])
    assert alpha.krippendorff(apart, metric).note == Note.NO_OVERLAP
    assert alpha.krippendorff([[1], [2]], metric).note == Note.ONE_RATER
    assert alpha.krippendorff(np.full((3, 2), np.nan), metric).note == Note.NO_RATINGS
    assert alpha.krippendorff([[1, 2]], metric).note == Note.ONE_UNIT
    perfect = alpha.krippendorff([[1, 1], [2, 2], [3, 3]], metric)
    assert perfect.note == Note.NO_DISAGREEMENT
    assert perfect.conf_low < 0.9


def test_systematic_disagreement_is_negative() -> None:
    ratings = np.tile([[0, 1], [1, 0]], (20, 1))
    found = alpha.krippendorff(ratings, "nominal", [0, 1])
    assert found.estimate < -0.9
    assert found.note == Note.NO_SPREAD
    mixed = alpha.krippendorff(np.vstack([ratings, [[1, 1], [0, 0]]]), "nominal", [0, 1])
    assert -1 <= mixed.conf_low < mixed.estimate < mixed.conf_high < 0


def test_a_ratio_below_zero_is_named_and_zeros_are_not() -> None:
    assert alpha.krippendorff([[-1, 1], [2, 2]], "ratio").note == Note.NOT_A_RATIO
    assert np.isfinite(alpha.krippendorff([[0, 0], [0, 2], [2, 2]], "ratio").estimate)


def test_an_unknown_metric_is_refused() -> None:
    with pytest.raises(FitError, match="not known"):
        alpha.krippendorff([[1, 2]], "circular")  # type: ignore[arg-type]


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 10_000))
def test_invariances(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ratings = rng.integers(0, 4, (12, 3)).astype(float)
    ratings[rng.random(ratings.shape) < 0.2] = np.nan
    order, relabel = rng.permutation(3), rng.permutation(4).astype(float)
    labels = np.where(np.isnan(ratings), np.nan, relabel[np.nan_to_num(ratings).astype(int)])

    def value(data: np.ndarray[tuple[int, ...], np.dtype[np.float64]], metric: alpha.Metric) -> float:
        return alpha.krippendorff(data, metric).estimate

    nominal, ordinal, interval = (value(ratings, metric) for metric in ("nominal", "ordinal", "interval"))
    np.testing.assert_allclose(value(labels, "nominal"), nominal, atol=1e-10)
    np.testing.assert_allclose(value(ratings[::-1][:, order], "ordinal"), ordinal, atol=1e-10)
    np.testing.assert_allclose(value(np.exp(ratings), "ordinal"), ordinal, atol=1e-10)
    np.testing.assert_allclose(value(3 - 2 * ratings, "interval"), interval, atol=1e-10)
    np.testing.assert_allclose(
        value(np.where(np.isnan(ratings), np.nan, 10 - ratings), "ordinal"), ordinal, atol=1e-10
    )


def test_nominal_alpha_nears_fleiss_kappa_with_many_units() -> None:
    rng = np.random.default_rng(1)
    ratings = rng.integers(0, 3, (4000, 1)) * np.ones((1, 3))
    noisy = np.where(rng.random(ratings.shape) < 0.3, rng.integers(0, 3, ratings.shape), ratings)
    one = alpha.krippendorff(noisy, "nominal", [0, 1, 2])
    two = kappa.fleiss(noisy, [0, 1, 2])
    np.testing.assert_allclose([one.estimate, one.std_error], [two.estimate, two.std_error], rtol=2e-3)
