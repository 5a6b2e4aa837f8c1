from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.concordance import kendall_w, lin_ccc
from tests.stats.published import Case


def test_siegel_1956() -> None:
    case = Case("siegel_executives")
    found = kendall_w(case.matrix("rankings").T)
    case.check("rank sums", found.rank_sums)
    deviations = np.array(found.rank_sums) - np.mean(found.rank_sums)
    case.check("s, W", [deviations @ deviations, found.estimate])
    case.check("W exact, chi2 (df 5)", [found.estimate, found.chi_square])
    assert found.df == 5
    assert found.p_value == pytest.approx(stats.chi2.sf(found.chi_square, 5))


def test_mean_spearman_and_friedman_with_ties() -> None:
    rng = np.random.default_rng(5)
    ratings = rng.integers(0, 4, (15, 4)) + rng.integers(0, 3, (15, 1))
    found = kendall_w(ratings)
    pairs = [stats.spearmanr(ratings[:, a], ratings[:, b]).statistic for a in range(4) for b in range(a)]
    # with ties W's own mean is weighted by the raters' spread of ranks: near, not equal
    assert found.mean_spearman == pytest.approx(np.mean(pairs), abs=0.02)
    friedman = stats.friedmanchisquare(*ratings)  # judges are its blocks
    assert found.chi_square == pytest.approx(float(friedman.statistic))
    assert found.p_value == pytest.approx(float(friedman.pvalue))


def test_interval_by_resampling_does_not_depend_on_global_state() -> None:
    rng = np.random.default_rng(6)
    ratings = rng.standard_normal((30, 1)) + rng.standard_normal((30, 3))
    one = kendall_w(ratings, rng=np.random.default_rng(1), n_resamples=500)
    two = kendall_w(ratings, rng=np.random.default_rng(1), n_resamples=500)
    assert one == two
    assert one.conf_low < one.estimate < one.conf_high
    assert np.isnan(kendall_w(ratings).conf_low)


def test_degenerate_rankings_are_named() -> None:
    assert kendall_w(np.ones((4, 3))).note == Note.TIES
    assert np.isnan(kendall_w(np.ones((4, 3))).estimate)
    one_flat = kendall_w(np.array([[1, 1], [1, 2], [1, 3]]))
    assert one_flat.note == Note.TIES
    assert kendall_w([[1], [2]]).note == Note.ONE_RATER
    assert kendall_w(np.array([[1, np.nan], [np.nan, 1]])).note == Note.NO_OVERLAP
    assert kendall_w([[1, 2]]).note == Note.ONE_UNIT
    assert kendall_w(np.full((2, 2), np.nan)).note == Note.NO_RATINGS
    partly = kendall_w(np.array([[1, 2], [2, 1], [3, 3], [4, np.nan]]))
    assert partly.note == Note.INCOMPLETE
    assert partly.n == 3


def test_perfect_and_opposite_rankings() -> None:
    up = np.arange(8.0)
    assert kendall_w(np.column_stack([up, 2 * up])).estimate == pytest.approx(1)
    opposite = kendall_w(np.column_stack([up, -up]))
    assert opposite.estimate == pytest.approx(0)
    assert opposite.mean_spearman == pytest.approx(-1)


def test_lin_1989_on_peak_flow() -> None:
    case = Case("pefr_1986")
    table = case.table()
    found = lin_ccc(table["wright1"], table["mini1"], level=0.95)
    case.check("Lin's CCC and 95% CI", [found.estimate, found.conf_low, found.conf_high])
    case.check("correlation wright1,mini1", found.correlation)


def test_degenerate_concordance_is_named() -> None:
    assert lin_ccc([1, 1, 1], [1, 2, 3]).note == Note.CONSTANT_RATER
    assert lin_ccc([1, 1, 1], [1, 1, 1]).note == Note.CONSTANT
    assert lin_ccc([1, 2, 3], [1, 2, 3]).note == Note.NO_ERROR
    assert lin_ccc([1, 2], [1, 2]).note == Note.ONE_UNIT
    assert lin_ccc([1, np.nan], [np.nan, 2]).note == Note.NO_OVERLAP
    none = lin_ccc([0, 0, 1, 1], [0, 1, 0, 1])
    assert none.estimate == pytest.approx(0)
    assert none.conf_low < 0 < none.conf_high
    with pytest.raises(FitError, match="same units"):
        lin_ccc([1, 2, 3], [1, 2])
