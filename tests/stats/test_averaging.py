from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from scipy import stats

from lbeval.errors import FitError
from lbeval.stats.averaging import Equations, average, draw_variances

Floats = npt.NDArray[np.float64]


def one_way(y: Floats) -> Equations:
    """Equations of y (groups x repeats) with a mean, a group effect and unit noise."""
    n, k = y.shape
    design = np.column_stack([np.ones(n * k), np.kron(np.eye(n), np.ones((k, 1)))])
    return Equations(design.T @ design, design.T @ y.ravel(), 1, (n,))


def groups(seed: int, n: int = 11, k: int = 5, deviation: float = 0.6) -> tuple[Floats, Floats]:
    rng = np.random.default_rng(seed)
    effects = rng.normal(0.0, deviation, n)
    return 2.0 + effects, 2.0 + effects[:, None] + rng.normal(0.0, 1.0, (n, k))


def level_of_each(n: int) -> Floats:
    return np.column_stack([np.ones(n), np.eye(n)])


def reml_variance(y: Floats) -> float:
    between = float(np.var(y.mean(axis=1), ddof=1))
    return max(0.0, between - 1.0 / int(y.shape[1]))


def restricted_criterion(y: Floats, variance: float) -> float:
    """-2 log restricted likelihood by N x N algebra (Harville 1974), less its constants."""
    n, k = y.shape
    v = np.eye(n * k) + variance * np.kron(np.eye(n), np.ones((k, k)))
    x, inverse = np.ones((n * k, 1)), np.linalg.inv(v)
    information = x.T @ inverse @ x
    residual = y.ravel() - (x @ np.linalg.solve(information, x.T @ inverse @ y.ravel()))
    parts = np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]
    return float(parts + residual @ inverse @ residual)


@pytest.mark.parametrize("variance", [0.0, 0.01, 0.4, 9.0])
def test_criterion_differs_by_a_constant_from_brute_force(variance: float) -> None:
    _, y = groups(3)
    equations = one_way(y)
    ours = equations.solve(np.array([variance])).criterion - equations.solve(np.array([1.0])).criterion
    theirs = restricted_criterion(y, variance) - restricted_criterion(y, 1.0)
    assert ours == pytest.approx(theirs, abs=1e-9)


def test_predictions_and_their_covariance_equal_brute_force() -> None:
    _, y = groups(4)
    n, k = y.shape
    estimate, root = one_way(y).solve(np.array([0.4])).combine(level_of_each(n))
    shrink = 0.4 / (0.4 + 1.0 / k)
    mean = y.mean()
    assert estimate == pytest.approx(mean + shrink * (y.mean(axis=1) - mean))
    within = shrink / k + (1 - shrink) / (n * k)
    assert np.diag(root @ root.T) == pytest.approx(within)


def test_a_variance_of_zero_takes_the_term_out() -> None:
    _, y = groups(5)
    estimate, root = one_way(y).solve(np.zeros(1)).combine(level_of_each(11))
    assert estimate == pytest.approx(np.full(11, y.mean()))
    assert np.sqrt((root**2).sum(axis=1)) == pytest.approx(1 / np.sqrt(y.size))


def test_a_fixed_effect_that_nothing_tells_is_refused() -> None:
    with pytest.raises(FitError, match="cannot be told"):
        Equations(np.zeros((2, 2)), np.zeros(2), 1, (1,)).solve(np.ones(1))


def test_draws_follow_the_likelihood_under_a_flat_prior() -> None:
    _, y = groups(6)
    points = draw_variances(one_way(y), [reml_variance(y)], [25.0], np.random.default_rng(1), n_points=512)
    grid = np.linspace(1e-6, 25.0, 20_001)
    density = np.exp(-0.5 * np.array([one_way(y).solve(np.array([v])).criterion for v in grid[::10]]))
    expected = (grid[::10] * density).sum() / density.sum()
    assert points.weights @ points.variances[:, 0] == pytest.approx(expected, rel=0.02)
    assert points.effective > 256


def test_a_start_far_from_the_likelihood_is_left() -> None:
    _, y = groups(7, n=40, k=30, deviation=1.0)
    points = draw_variances(one_way(y), [1e-6], [25.0], np.random.default_rng(1))
    assert points.effective > 40
    assert points.weights @ points.variances[:, 0] == pytest.approx(reml_variance(y), rel=0.2)


def test_what_is_not_averaged_stays_at_its_estimate() -> None:
    _, y = groups(8)
    points = draw_variances(one_way(y), [0.3], [25.0], np.random.default_rng(1), averaged=[False])
    mixture = average(one_way(y), points.thin(10), level_of_each(11), 11)
    low, high = mixture.interval(0.90)
    half = stats.norm.ppf(0.95) * mixture.std_error
    assert low == pytest.approx(mixture.estimate - half, abs=1e-9)
    assert high == pytest.approx(mixture.estimate + half, abs=1e-9)


@pytest.mark.slow
def test_averaged_intervals_hold_what_plugged_in_ones_miss() -> None:
    held = {True: 0.0, False: 0.0}
    for seed in range(120):
        truth, y = groups(seed, deviation=0.45)
        equations, start = one_way(y), [reml_variance(y)]
        for averaged in held:
            points = draw_variances(
                equations, start, [25.0], np.random.default_rng(seed), n_points=48, averaged=[averaged]
            )
            low, high = average(equations, points, level_of_each(11), 0).interval(0.90)
            held[averaged] += float(((low <= truth) & (truth <= high)).mean()) / 120
    assert held[False] < 0.87
    assert 0.87 <= held[True] <= 0.95


def test_draws_have_the_mixtures_moments_and_the_same_seed_the_same_draws() -> None:
    _, y = groups(9)
    points = draw_variances(one_way(y), [0.3], [25.0], np.random.default_rng(2)).thin(40)
    mixture = average(one_way(y), points, level_of_each(11), 5)
    drawn = mixture.draws(20_000, np.random.default_rng(3))
    assert drawn.shape == (20_000, 5)
    assert np.abs(drawn.mean(axis=0) - mixture.estimate[:5]).max() < 0.05 * mixture.std_error.min()
    assert drawn.std(axis=0) == pytest.approx(mixture.std_error[:5], rel=0.03)
    assert (
        mixture.draws(500, np.random.default_rng(4)) == mixture.draws(500, np.random.default_rng(4))
    ).all()


def test_thinned_points_keep_the_mean_and_sum_to_one() -> None:
    _, y = groups(10)
    points = draw_variances(one_way(y), [0.3], [25.0], np.random.default_rng(2), n_points=256)
    thin = points.thin(64)
    assert thin.weights.sum() == pytest.approx(1.0)
    assert thin.weights @ thin.variances[:, 0] == pytest.approx(
        float(points.weights @ points.variances[:, 0]), rel=0.03
    )
