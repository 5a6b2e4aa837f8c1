from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.stats.agreement import measurement
from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.icc import icc
from lbeval.stats.agreement.twoway import two_way
from tests.stats.published import Case


def test_bland_and_altman_1996() -> None:
    case = Case("bland_altman_1996_within_subject_sd")
    table = case.table()
    child, trial = table["child"].astype(int) - 1, table["trial"].astype(int) - 1
    ratings = np.empty((child.max() + 1, trial.max() + 1))
    ratings[child, trial] = table["pefr"]
    layers = two_way(ratings)
    case.check(
        "SS children, MS children, SS residual, MS residual, F",
        [
            layers.one_way_rows * layers.df_rows,
            layers.one_way_rows,
            layers.within * layers.df_within,
            layers.within,
            layers.one_way_rows / layers.within,
        ],
    )
    within = measurement.standard_error(ratings, "within")
    case.check("within-subject SD", within.estimate)
    case.check("difference from true value 1.96*sw", 1.96 * within.estimate)
    case.check("repeatability = SDC = 1.96*sqrt(2)*sw", measurement.smallest_change(within).estimate)
    case.check("ICC(1,1)", icc(ratings).icc_1.estimate)


def test_weir_2005_same_error_whatever_the_spread() -> None:
    case = Case("weir_2005_pair")
    for name in ("A", "B"):
        error = measurement.standard_error(case.matrix(name), "consistency")
        case.check("SEM = sqrt(MSE), identical for A and B", error.estimate)
        case.check("minimal difference 1.96*sqrt2*SEM", measurement.smallest_change(error).estimate)
        assert error.conf_low < error.estimate < error.conf_high
    ratings = case.matrix("A")
    spread, reliability = ratings.std(ddof=1), icc(ratings).icc_c1.estimate
    error = measurement.standard_error(ratings, "consistency")
    case.check(
        "A: SEM, SEP, SEE (1 dp)",
        [
            error.estimate,
            float(measurement.error_of_prediction(spread, reliability)),
            float(measurement.error_of_estimate(spread, reliability)),
        ],
    )


def test_grid_of_reliabilities() -> None:
    table = Case("sem_sdc_grid").table()
    sem = measurement.from_reliability(table["sd"], table["reliability"])
    np.testing.assert_allclose(sem, table["sem"], rtol=1e-9)
    np.testing.assert_allclose(1.959963984540054 * sem, table["ci_half_95"], rtol=1e-9)
    np.testing.assert_allclose(1.959963984540054 * np.sqrt(2) * sem, table["sdc_95"], rtol=1e-9)
    assert np.isnan(measurement.from_reliability(1, [-0.2, 1.1])).all()


def test_agreement_counts_severity_and_consistency_does_not() -> None:
    rng = np.random.default_rng(2)
    ratings = rng.standard_normal((200, 1)) + rng.standard_normal((200, 3)) + np.array([-2.0, 0.0, 2.0])
    agreement = measurement.standard_error(ratings, "agreement")
    consistency = measurement.standard_error(ratings, "consistency")
    assert consistency.estimate == pytest.approx(1, abs=0.1)
    assert agreement.estimate == pytest.approx(np.sqrt(5), abs=0.2)
    assert agreement.df < 4  # three raters say little about raters
    ratings[0, 0] = np.nan
    by_reml = measurement.standard_error(ratings, "agreement")
    assert by_reml.method == "REML"
    assert by_reml.estimate == pytest.approx(agreement.estimate, abs=0.02)


def test_nothing_to_measure_is_named() -> None:
    assert measurement.standard_error([[1.0], [2.0]]).note == Note.ONE_RATER
    assert np.isnan(measurement.standard_error([[1.0], [2.0]]).estimate)
    perfect = measurement.standard_error([[1.0, 1.0], [2.0, 2.0], [4.0, 4.0]])
    assert perfect.estimate == 0
    assert perfect.note == Note.NO_ERROR
    assert np.isnan(perfect.conf_low)


@given(st.integers(0, 5000), st.floats(0.1, 5))
def test_a_rater_s_offset_leaves_consistency_and_the_unit_scales_it(seed: int, unit: float) -> None:
    rng = np.random.default_rng(seed)
    ratings = rng.standard_normal((8, 3))
    before = measurement.standard_error(ratings, "consistency").estimate
    after = measurement.standard_error(unit * (ratings + np.array([0, 3, -1])), "consistency").estimate
    assert after == pytest.approx(unit * before, rel=1e-6)
