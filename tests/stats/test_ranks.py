from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lbeval.errors import FitError
from lbeval.stats import ranks


def test_far_apart_players_have_one_rank_each() -> None:
    rng = np.random.default_rng(1)
    estimate = np.array([0.2, 0.9, 0.5])
    draws = estimate + 0.01 * rng.standard_normal((2000, 3))
    low, high = ranks.rank_bands(draws)
    np.testing.assert_array_equal(low, [3, 1, 2])
    np.testing.assert_array_equal(high, [3, 1, 2])
    ahead = ranks.clearly_ahead(estimate, draws)
    assert ahead.sum() == 3
    assert ahead[1, 0]
    np.testing.assert_array_equal(ranks.tiers(estimate, ahead), [3, 1, 2])


def test_a_band_leaves_at_most_its_tails_out() -> None:
    rng = np.random.default_rng(2)
    draws = rng.standard_normal((5000, 9)) + np.linspace(0, 2, 9)
    low, high = ranks.rank_bands(draws, 0.80)
    rank = 9 - draws.argsort(axis=1).argsort(axis=1)
    assert ((rank < low).mean(axis=0) <= 0.1).all()
    assert ((rank > high).mean(axis=0) <= 0.1).all()
    assert ((rank <= low).mean(axis=0) >= 0.1).all()


def test_equal_players_tie_over_all_ranks() -> None:
    low, high = ranks.rank_bands(np.full((200, 4), 0.5))
    np.testing.assert_array_equal(low, 1)
    np.testing.assert_array_equal(high, 4)
    ahead = ranks.clearly_ahead(np.full(4, 0.5), np.full((200, 4), 0.5))
    assert not ahead.any()
    np.testing.assert_array_equal(ranks.tiers(np.full(4, 0.5), ahead), 1)


def test_one_player() -> None:
    draws = np.random.default_rng(0).standard_normal((200, 1))
    assert ranks.rank_bands(draws)[1][0] == 1
    assert not ranks.clearly_ahead([0.0], draws).any()
    assert ranks.tiers([0.0], [[False]])[0] == 1


def test_max_t_critical_value_matches_the_studentized_range() -> None:
    # independent equal errors: max over pairs |d* - d| / se is the range over sqrt(2); its 95 % point for
    # 8 groups and infinite df is 4.286 / sqrt(2) (tables of the studentized range, e.g. scipy 1.17)
    rng = np.random.default_rng(3)
    draws = rng.standard_normal((40_000, 8))
    estimate = np.zeros(8)
    critical = 4.286
    for gap, expected in [(0.97 * critical, False), (1.03 * critical, True)]:
        estimate[0] = gap
        shifted = draws + estimate
        assert ranks.clearly_ahead(estimate, shifted)[0, 1:].all() == expected
        assert ranks.clearly_ahead(estimate, shifted)[0, 1:].any() == expected


def test_calls_in_a_room_without_differences_are_held() -> None:
    rng = np.random.default_rng(4)
    covariance = 0.5 * np.eye(6) + 0.5
    root = np.linalg.cholesky(covariance)
    calls = 0
    for _ in range(200):
        estimate = root @ rng.standard_normal(6)
        draws = estimate + rng.standard_normal((1000, 6)) @ root.T
        calls += int(ranks.clearly_ahead(estimate, draws).any())
    assert calls <= 20  # 5 % of 200 with three standard errors


def test_a_shared_error_separates_what_marginal_intervals_cannot() -> None:
    rng = np.random.default_rng(5)
    estimate = np.array([0.0, 1.0])
    draws = estimate + 5 * rng.standard_normal((2000, 1)) + 0.01 * rng.standard_normal((2000, 2))
    assert ranks.clearly_ahead(estimate, draws)[1, 0]


def test_a_difference_known_exactly_counts_and_spoils_nothing() -> None:
    rng = np.random.default_rng(6)
    noise = rng.standard_normal((2000, 1))
    draws = np.hstack([noise + 1, noise, rng.standard_normal((2000, 1))])
    ahead = ranks.clearly_ahead([1.0, 0.0, 0.0], draws)
    assert ahead[0, 1]
    assert not ahead[1, 0]
    assert not ahead[0, 2]


def test_tiers_follow_the_tops() -> None:
    estimate = np.array([1.0, 4.0, 3.0, 2.0])
    ahead = np.zeros((4, 4), dtype=bool)
    ahead[1, 3] = ahead[1, 0] = ahead[2, 0] = True
    np.testing.assert_array_equal(ranks.tiers(estimate, ahead), [2, 1, 1, 2])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 8))
def test_order_of_players_does_not_matter(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    estimate = rng.integers(0, 4, n) / 2
    draws = estimate + 0.4 * rng.standard_normal((300, n))
    order = rng.permutation(n)
    ahead = ranks.clearly_ahead(estimate, draws)
    np.testing.assert_array_equal(
        ranks.clearly_ahead(estimate[order], draws[:, order]), ahead[np.ix_(order, order)]
    )
    np.testing.assert_array_equal(
        ranks.tiers(estimate[order], ahead[np.ix_(order, order)]), ranks.tiers(estimate, ahead)[order]
    )
    low, high = ranks.rank_bands(draws)
    np.testing.assert_array_equal(ranks.rank_bands(draws[:, order])[0], low[order])
    assert (low <= high).all()


def test_what_cannot_rank_is_refused() -> None:
    with pytest.raises(FitError, match="100 or more"):
        ranks.rank_bands(np.zeros((5, 3)))
    with pytest.raises(FitError, match="without a grade"):
        ranks.rank_bands(np.full((200, 3), np.nan))
    with pytest.raises(FitError, match="finite estimates"):
        ranks.clearly_ahead([1.0, np.nan], np.zeros((200, 2)))
    with pytest.raises(FitError, match="finite grades"):
        ranks.tiers([np.nan], [[False]])
