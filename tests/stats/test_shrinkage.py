from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lbeval.errors import FitError
from lbeval.stats import proportions, shrinkage
from tests.stats.published import Case


def test_rat_tumours_of_bayesian_data_analysis() -> None:
    case = Case("bda_rat_tumor_beta_binomial")
    table = case.table()
    earlier = shrinkage.beta_prior_moments(table["y"][:70], table["n"][:70])
    case.check("moment (a,b) from first 70 groups", earlier[:2])
    rates = table["y"][:70] / table["n"][:70]
    case.check("observed mean, SD of first 70 rates", [rates.mean(), rates.std(ddof=1)])
    rounded = shrinkage.BetaPrior(1.4, 8.6, 0.14, 10.0)
    mean, spread, _, _ = shrinkage.posterior(4, 14, rounded)
    case.check("posterior for 4/14 under Beta(1.4,8.6): mean, SD", [mean, spread])
    case.check("ML (a,b) all 71", shrinkage.beta_prior(table["y"], table["n"])[:2])
    found = shrinkage.shrink_rates(table["y"], table["n"], level=0.95)
    # BDA 3rd ed. sec. 5.3: averaged over the prior, rates from about .06 (0/20) to .21 (4/14); from memory
    assert found.estimate[0] == pytest.approx(0.063, abs=0.003)
    assert found.estimate[-1] == pytest.approx(0.21, abs=0.01)


def test_averaging_is_that_of_sampling_the_hyperparameters() -> None:
    # the same posterior by importance sampling from its own definition, without a grid
    y, n = np.array([3.0, 9.0, 1.0, 6.0, 4.0]), np.array([12.0, 14.0, 9.0, 15.0, 4.0])
    found = shrinkage.shrink_rates(y, n, level=0.90)
    rng = np.random.default_rng(0)
    mean, root = rng.random(400_000), 2 * rng.random(400_000)
    total = root**-2
    log_weight = shrinkage._log_marginal(y, n, mean, total)
    weight = np.exp(log_weight - log_weight.max())
    pick = rng.choice(mean.size, 200_000, p=weight / weight.sum())
    a, b = mean[pick] * total[pick], (1 - mean[pick]) * total[pick]
    draws = rng.beta(a[:, None] + y, b[:, None] + n - y)
    np.testing.assert_allclose(found.estimate, draws.mean(axis=0), atol=3e-3)
    np.testing.assert_allclose(found.std_error, draws.std(axis=0), atol=3e-3)
    np.testing.assert_allclose(found.conf_low, np.quantile(draws, 0.05, axis=0), atol=6e-3)
    np.testing.assert_allclose(found.conf_high, np.quantile(draws, 0.95, axis=0), atol=6e-3)


def test_efron_and_morris_1975() -> None:
    case = Case("efron_morris_baseball")
    table = case.table()
    hits, later = table["r"], table["p"]

    def arcsine(rate: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> object:
        return np.sqrt(45) * np.arcsin(2 * rate - 1)

    x, truth = np.asarray(arcsine(hits / 45)), np.asarray(arcsine(later))
    found = shrinkage.james_stein(x, 1.0)
    squares = float(((x - x.mean()) ** 2).sum())
    case.check("arcsine scale: S = sum (x-xbar)^2 and multiplier 1-15/S", [squares, 1 - found.shrinkage[0]])
    raw_loss, loss = ((x - truth) ** 2).sum(), ((found.estimate - truth) ** 2).sum()
    case.check("arcsine scale: total squared error raw, James-Stein", [raw_loss, loss])
    case.check("efficiency ratio", raw_loss / loss)
    rate = hits / 45
    centre = rate.mean()
    found = shrinkage.james_stein(rate, centre * (1 - centre) / 45)
    case.check("raw scale 1977: grand mean, multiplier", [found.centre, 1 - found.shrinkage[0]])
    case.check("James-Stein estimates to 3 dp, file order", found.estimate)
    raw_loss, loss = ((rate - later) ** 2).sum(), ((found.estimate - later) ** 2).sum()
    case.check("raw-scale squared error raw, JS, ratio", [raw_loss, loss, raw_loss / loss])
    prior = shrinkage.beta_prior(hits, 45)
    case.check("beta-binomial ML mean, M=a+b", [prior.mean, prior.total])
    assert prior.mean == pytest.approx(0.265432488, abs=1e-5)
    case.check("beta-binomial EB estimates (ML prior)", shrinkage.posterior(hits, 45, prior)[0])
    case.check("beta-binomial moment M (equal n)", shrinkage.overdispersion_moments(hits, 45).total)


def test_rates_no_more_different_than_chance() -> None:
    prior = shrinkage.beta_prior([5, 5, 5, 5], 10)
    assert prior.note == "no_spread"
    assert np.isinf(prior.total)
    found = shrinkage.shrink_rates([5, 5, 5, 5], 10)
    assert found.note == "no_spread"
    assert (found.conf_high - found.conf_low > 0.1).all()  # not certain, though
    assert shrinkage.overdispersion_moments([5, 5, 5, 5], 10).note == "no_spread"
    mean, spread, _, _ = shrinkage.posterior([5, 0], [10, 0], prior)
    np.testing.assert_array_equal(mean, 0.5)
    np.testing.assert_array_equal(spread, 0)


def test_a_room_that_never_or_always_succeeds() -> None:
    for count, side in ((0, "low"), (8, "high")):
        found = shrinkage.shrink_rates([count] * 4, 8)
        assert found.note == "boundary"
        assert np.isfinite(found.estimate).all()
        assert (found.estimate < 0.1).all() if side == "low" else (found.estimate > 0.9).all()
        assert (found.conf_low < found.conf_high).all()


def test_one_group_and_players_without_trials() -> None:
    found = shrinkage.shrink_rates([3, 0], [8, 0])
    assert found.note == "one_group"
    low, high = proportions.jeffreys(3, 8)
    np.testing.assert_allclose([found.conf_low[0], found.conf_high[0]], [low, high])
    assert np.isnan(found.estimate[1])
    found = shrinkage.shrink_rates([3, 6, 0], [8, 9, 0])
    assert np.isnan(found.raw[2])
    assert min(found.estimate[:2]) < found.estimate[2] < max(found.estimate[:2])
    assert found.std_error[2] > found.std_error[0]
    with pytest.raises(FitError, match="nobody has a trial"):
        shrinkage.shrink_rates([0, 0], [0, 0])
    with pytest.raises(FitError, match="not a count"):
        shrinkage.shrink_rates([3], [2])


@pytest.mark.slow
@pytest.mark.parametrize("total", [8.0, 40.0])
def test_intervals_cover_a_dozen_players(total: float) -> None:
    rng = np.random.default_rng(int(total))
    held = []
    n = rng.integers(8, 30, 11)
    for _ in range(25):
        truth = rng.beta(0.75 * total, 0.25 * total, 11)
        found = shrinkage.shrink_rates(rng.binomial(n, truth), n, level=0.90)
        held.append((found.conf_low <= truth) & (truth <= found.conf_high))
    assert 0.85 <= np.mean(held) <= 0.96


@settings(max_examples=12, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 12), st.integers(1, 12)), min_size=2, max_size=8))
def test_a_shrunken_rate_lies_in_its_interval_and_mirrors(pairs: list[tuple[int, int]]) -> None:
    nobs = np.array([count + extra for count, extra in pairs])
    count = np.array([count for count, _ in pairs])
    found = shrinkage.shrink_rates(count, nobs)
    assert (found.conf_low <= found.estimate).all()
    assert (found.estimate <= found.conf_high).all()
    mirrored = shrinkage.shrink_rates(nobs - count, nobs)
    np.testing.assert_allclose(mirrored.estimate, 1 - found.estimate, atol=2e-3)
    order = np.random.default_rng(0).permutation(nobs.size)
    np.testing.assert_allclose(
        shrinkage.shrink_rates(count[order], nobs[order]).estimate, found.estimate[order]
    )


@settings(max_examples=50)
@given(st.integers(0, 10_000), st.booleans())
def test_a_shrunken_mean_lies_between_its_own_and_the_common_one(seed: int, equal: bool) -> None:
    rng = np.random.default_rng(seed)
    variance = np.full(7, 0.5) if equal else rng.uniform(0.1, 2, 7)
    values = rng.standard_normal(7) * rng.choice([0.1, 1, 3])
    found = shrinkage.james_stein(values, variance)
    low, high = np.minimum(values, found.centre), np.maximum(values, found.centre)
    assert (low - 1e-12 <= found.estimate).all()
    assert (found.estimate <= high + 1e-12).all()
    assert ((found.shrinkage >= 0) & (found.shrinkage <= 1)).all()
    assert (found.std_error > 0).all()


def test_means_cover_and_beat_the_raw_ones() -> None:
    rng = np.random.default_rng(3)
    held, gain = [], []
    for _ in range(400):
        variance = rng.uniform(0.3, 2, 10)
        truth = rng.standard_normal(10)
        raw = truth + np.sqrt(variance) * rng.standard_normal(10)
        found = shrinkage.james_stein(raw, variance)
        held.append((found.conf_low <= truth) & (truth <= found.conf_high))
        gain.append(((raw - truth) ** 2).sum() - ((found.estimate - truth) ** 2).sum())
    assert 0.86 <= np.mean(held) <= 0.95
    assert np.mean(gain) > 0


def test_too_few_means_are_refused() -> None:
    with pytest.raises(FitError, match="too few"):
        shrinkage.james_stein([1, 2, 3], 1.0)
    with pytest.raises(FitError, match="above zero"):
        shrinkage.james_stein([1, 2, 3, 4], [1, 1, 1, 0])
    with pytest.raises(FitError, match="no spread of rates"):
        shrinkage.beta_prior([1], [2])
    with pytest.raises(FitError, match="equally many"):
        shrinkage.overdispersion_moments([1, 2], [3, 4])
    with pytest.raises(FitError, match="different rates"):
        shrinkage.beta_prior_moments([1, 2], [2, 4])
