from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.icc import ICC, icc
from lbeval.stats.agreement.twoway import two_way
from tests.stats.published import Case

# Shrout & Fleiss's names, in the order of the family
PRINTED = ("ICC(1,1)", "ICC(1,4)", "ICC(3,1)", "ICC(3,4)", "ICC(2,1)", "ICC(2,4)")
MCGRAW_WONG = ("ICC(1)", "ICC(k)", "ICC(C,1)", "ICC(C,k)", "ICC(A,1)", "ICC(A,k)")


def test_shrout_and_fleiss_1979() -> None:
    case = Case("shrout_fleiss_1979")
    for name, found in zip(PRINTED, icc(case.matrix("matrix"), level=0.95), strict=True):
        named = next(key for key in case.expected if key.startswith(f"{name} = McGraw-Wong"))
        assert named.endswith(found.name)
        case.check(named, found.estimate)
        case.check(f"{name} exact", found.estimate)
        case.check(f"{name} F, df1, df2, p", [found.f, found.df1, found.df2, found.p_value])
        case.check(f"{name} 95% CI", [found.conf_low, found.conf_high])
        assert found.method == "mean squares"
    layers = two_way(case.matrix("matrix"))
    case.check("BMS, WMS, JMS, EMS", [layers.rows, layers.within, layers.columns, layers.error])
    case.check("variance components target, judge, residual (ANOVA)", layers.components)


def test_reml_of_complete_data_is_the_mean_squares() -> None:
    ratings = Case("shrout_fleiss_1979").matrix("matrix")
    for one, two in zip(icc(ratings), icc(ratings, method="REML"), strict=True):
        assert two.method == "REML"
        np.testing.assert_allclose(
            [two.estimate, two.std_error, two.conf_low, two.conf_high, two.f],
            [one.estimate, one.std_error, one.conf_low, one.conf_high, one.f],
            rtol=2e-4,
        )


def test_weir_2005() -> None:
    case = Case("weir_2005_pair")
    for name, quantity in (("A", "data set A: ICC 1,1 1,k 2,1 2,k 3,1 3,k"), ("B", "data set B: same six")):
        family = icc(case.matrix(name))
        order = (family.icc_1, family.icc_k, family.icc_a1, family.icc_ak, family.icc_c1, family.icc_ck)
        case.check(quantity, [found.estimate for found in order])
        layers = two_way(case.matrix(name))
        case.check(f"{name}: MSB MSW MSJ MSE", [layers.rows, layers.within, layers.columns, layers.error])


def test_pingouin_where_every_coefficient_is_negative() -> None:
    case = Case("icc_negative_7_units_3_raters")
    for name, found in zip(MCGRAW_WONG, icc(case.matrix("matrix"), level=0.95), strict=True):
        case.check(
            f"{name} value, F, df1, df2, p", [found.estimate, found.f, found.df1, found.df2, found.p_value]
        )
        case.check(f"{name} 95% CI", [found.conf_low, found.conf_high])
        assert found.note == Note.NEGATIVE


def test_reml_cannot_be_negative_and_says_so() -> None:
    ratings = Case("icc_negative_7_units_3_raters").matrix("matrix")
    found = icc(ratings, method="REML").icc_c1
    assert found.estimate == pytest.approx(0, abs=1e-6)
    assert found.conf_low < 0 < found.conf_high


def test_missing_cells_go_to_reml_and_recover_the_truth() -> None:
    rng = np.random.default_rng(7)
    truth, severity = rng.standard_normal((300, 1)), 0.5 * rng.standard_normal(12)
    ratings = truth + severity + rng.standard_normal((300, 12))
    ratings[rng.random(ratings.shape) < 0.6] = np.nan
    family = icc(ratings)
    assert family.icc_a1.method == "REML"
    expected = 1 / (1 + severity.var(ddof=1) + 1)
    assert family.icc_a1.estimate == pytest.approx(expected, abs=0.06)
    assert family.icc_c1.estimate == pytest.approx(0.5, abs=0.06)
    for found in family:
        assert found.conf_low < found.estimate < found.conf_high
    dropped = icc(ratings[:, :2], method="mean squares").icc_c1
    assert dropped.note == Note.INCOMPLETE
    assert dropped.n == (~np.isnan(ratings[:, :2])).all(axis=1).sum()


def test_raters_in_groups_that_share_no_unit() -> None:
    rng = np.random.default_rng(8)
    ratings = np.full((20, 4), np.nan)
    ratings[:10, :2] = rng.standard_normal((10, 2)) + rng.standard_normal((10, 1))
    ratings[10:, 2:] = rng.standard_normal((10, 2)) + rng.standard_normal((10, 1))
    family = icc(ratings)
    assert family.icc_a1.note == family.icc_c1.note == Note.NOT_LINKED
    assert np.isnan(family.icc_a1.estimate)
    assert np.isfinite(family.icc_c1.estimate)


def test_too_few_shared_units_to_tell_raters_from_units() -> None:
    # two raters, one shared unit: rater and unit cannot be told apart
    family = icc(np.array([[1.0, 2.0], [3.0, np.nan], [np.nan, 1.0], [2.0, np.nan]]))
    assert family.icc_c1.note == family.icc_a1.note == Note.TOO_FEW_SHARED
    assert np.isnan(family.icc_c1.estimate)


def test_degenerate_ratings_are_named() -> None:
    for ratings, note in (
        (np.full((4, 3), 2.0), Note.CONSTANT),
        ([[1.0], [2.0]], Note.ONE_RATER),
        ([[1.0, np.nan], [np.nan, 2.0]], Note.NO_OVERLAP),
        ([[1.0, 2.0]], Note.ONE_UNIT),
        (np.full((2, 2), np.nan), Note.NO_RATINGS),
        (np.zeros((0, 3)), Note.NO_RATINGS),
    ):
        for found in icc(np.asarray(ratings)):
            assert found.note == note
            assert np.isnan(found.estimate)


def test_raters_who_differ_by_a_constant() -> None:
    ratings = np.arange(6.0)[:, None] + np.array([0.0, 1.0, 3.0])
    for data in (ratings, np.where(np.eye(6, 3) == 1, np.nan, ratings)):
        family = icc(data)
        assert family.icc_c1.estimate == pytest.approx(1)
        assert family.icc_c1.note == Note.NO_ERROR
        assert np.isnan(family.icc_c1.conf_low)
        assert 0.3 < family.icc_a1.estimate < 0.8
        assert family.icc_a1.conf_low < family.icc_a1.estimate < family.icc_a1.conf_high


def test_units_that_do_not_differ_at_all() -> None:
    # the unit means are equal: MSR is zero and the average's reliability has no value
    family = icc(np.array([[0.0, 1.0], [1.0, 0.0], [0.0, 1.0], [1.0, 0.0]]))
    assert family.icc_c1.estimate == pytest.approx(-1)
    assert np.isnan(family.icc_ck.estimate)
    assert family.icc_ck.note == Note.NEGATIVE


def test_an_impossible_level_is_refused() -> None:
    with pytest.raises(FitError, match="between 0 and 1"):
        icc(np.eye(3), level=95)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.booleans())
def test_invariances(seed: int, complete: bool) -> None:
    rng = np.random.default_rng(seed)
    ratings = rng.standard_normal((9, 1)) + rng.standard_normal((9, 3))
    if not complete:
        ratings[rng.integers(0, 9), rng.integers(0, 3)] = np.nan
    before = icc(ratings)
    offset = icc(ratings + np.array([0.0, 2.0, -3.0]))
    same(before.icc_c1, offset.icc_c1)
    shuffled = ratings[rng.permutation(9)][:, rng.permutation(3)]
    for one, two in zip(before, icc(5 - 2 * shuffled), strict=True):
        same(one, two)
    if complete:
        for found in before:
            low, high = np.nan_to_num(found.conf_low, nan=-np.inf), found.conf_high
            assert low <= found.estimate <= high


def same(one: ICC, two: ICC) -> None:
    np.testing.assert_allclose(
        [one.estimate, one.conf_low, one.conf_high], [two.estimate, two.conf_low, two.conf_high], atol=2e-3
    )
