from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import confint_proportions_2indep

from lbeval.errors import FitError
from lbeval.stats import proportions
from tests.stats.published import Case

CASES = ["newcombe_81_of_263", "newcombe_15_of_148", "newcombe_0_of_20", "newcombe_1_of_29"]
METHODS = [proportions.wilson, proportions.clopper_pearson, proportions.jeffreys]


@pytest.mark.parametrize("name", CASES)
def test_newcombe_1998_table_1(name: str) -> None:
    case = Case(name)
    count, nobs, level = case.data["x"], case.data["n"], case.data["conf"]
    case.check("wilson", proportions.wilson(count, nobs, level))
    case.check("wilson exact", proportions.wilson(count, nobs, level))
    case.check("clopper_pearson", proportions.clopper_pearson(count, nobs, level))
    case.check("clopper_pearson exact", proportions.clopper_pearson(count, nobs, level))
    case.check("jeffreys", proportions.jeffreys(count, nobs, level))


@pytest.mark.parametrize("method", METHODS)
def test_ends_close_and_no_trials_gives_no_number(method: object) -> None:
    assert callable(method)
    low, high = method([0, 8, 0, 1], [8, 8, 0, 1])
    assert low[0] == 0.0
    assert high[1] == high[3] == 1.0
    assert np.isnan(low[2])
    assert np.isnan(high[2])
    assert high[0] < 0.5 < low[1]


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999))
def test_an_interval_holds_its_estimate_and_mirrors(counts: tuple[int, int], level: float) -> None:
    count, nobs = counts
    for method in METHODS:
        low, high = method(count, nobs, level)
        other_low, other_high = method(nobs - count, nobs, level)
        assert 0 <= low <= count / nobs + 1e-12
        assert count / nobs - 1e-12 <= high <= 1
        np.testing.assert_allclose([1 - other_high, 1 - other_low], [low, high], atol=1e-8)


@pytest.mark.parametrize(("count", "nobs"), [(-1, 4), (5, 4), (1.5, 4), (np.nan, 4), (1, np.inf)])
def test_impossible_counts_are_refused(count: float, nobs: float) -> None:
    with pytest.raises(FitError, match="not a count"):
        proportions.wilson(count, nobs)


def test_a_level_in_percent_is_refused() -> None:
    with pytest.raises(FitError, match="between 0 and 1"):
        proportions.jeffreys(1, 4, 90)


def test_difference_of_newcombe_1998() -> None:
    # 56/70 - 48/80, method 10: 0.2 (0.0524, 0.3339). Newcombe RG (1998) Stat Med 17:873-890, Table II,
    # from memory, then reproduced with statsmodels 0.15.0
    found = proportions.difference(56, 70, 48, 80, 0.95)
    np.testing.assert_allclose([*found], [0.2, 0.0524, 0.3339], atol=5e-5)
    other = confint_proportions_2indep(56, 70, 48, 80, method="newcomb")  # type: ignore[no-untyped-call]
    np.testing.assert_allclose(found[1:], other, atol=1e-12)


def test_difference_without_one_sample_is_missing() -> None:
    found = proportions.difference([3, 0], [5, 0], 2, 5)
    assert np.isnan(found.estimate[1])
    assert np.isnan(found.conf_low[1])
    assert found.conf_low[0] < found.estimate[0] < found.conf_high[0]
