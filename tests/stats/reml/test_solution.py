"""The solution at given variances is that of N x N algebra, whatever the design."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse

from lbeval.errors import FitError
from lbeval.stats.reml import Solution, Term, collapse, evaluate, parameter_names
from lbeval.stats.reml.derivatives import derivatives
from tests.stats.reml.designs import Design, FloatArray, brute, random_design

SEEDS = range(60)


def everything(solution: Solution, design: Design) -> tuple[FloatArray, FloatArray]:
    """Each fixed and each random effect as a combination."""
    p = design.x.shape[1]
    edges = np.cumsum([p, *(t.n_levels * t.width for t in design.terms)])
    unit = np.eye(edges[-1])
    random = {
        t.name: unit[:, a:b].reshape((-1, t.n_levels, 2) if t.width == 2 else (-1, t.n_levels))
        for t, a, b in zip(design.terms, edges[:-1], edges[1:], strict=True)
    }
    return solution.combine(unit[:, :p], random)


@pytest.mark.parametrize("singular", [False, True])
@pytest.mark.parametrize("seed", SEEDS)
def test_solution_is_that_of_plain_algebra(seed: int, singular: bool) -> None:
    design = random_design(seed, singular=singular)
    wanted = brute(design)
    solution = evaluate(design.collapse(), design.parameters)
    effects = np.concatenate([solution.effects[t.name].ravel() for t in design.terms])
    estimate, covariance = everything(solution, design)
    np.testing.assert_allclose(solution.criterion, wanted.criterion, atol=1e-8)
    np.testing.assert_allclose(solution.beta, wanted.beta, atol=1e-8)
    np.testing.assert_allclose(solution.beta_cov, wanted.covariance[:3, :3], atol=1e-8)
    np.testing.assert_allclose(effects, wanted.effects, atol=1e-8)
    np.testing.assert_allclose(estimate, np.append(wanted.beta, wanted.effects), atol=1e-8)
    np.testing.assert_allclose(covariance, wanted.covariance, atol=1e-8)


@pytest.mark.parametrize("seed", SEEDS)
def test_gradient_and_average_information_are_those_of_plain_algebra(seed: int) -> None:
    design = random_design(seed)
    wanted = brute(design)
    found = derivatives(evaluate(design.collapse(), design.parameters))
    np.testing.assert_allclose(found.gradient, wanted.gradient, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(found.hessian, wanted.average_information, rtol=1e-7, atol=1e-7)


@pytest.mark.parametrize("seed", [0, 3, 5, 8])
def test_gradient_is_the_slope_of_the_criterion(seed: int) -> None:
    design = random_design(seed)
    cells, at = design.collapse(), design.parameters
    gradient = derivatives(evaluate(cells, at)).gradient
    for k, unit in enumerate(np.eye(at.shape[0])):
        h = 1e-6 * max(abs(at[k]), 1e-2)
        slope = (evaluate(cells, at + h * unit).criterion - evaluate(cells, at - h * unit).criterion) / (
            2 * h
        )
        np.testing.assert_allclose(gradient[k], slope, rtol=1e-4, atol=1e-4)


def test_levels_without_rows_are_predicted_at_zero_with_their_prior_variance() -> None:
    rng = np.random.default_rng(2)
    codes = np.array([0, 2, 3] * 8)
    term, extra = Term("player", codes, 5), np.array([[0.0, 1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0, 1.0]])
    solution = evaluate(collapse(rng.normal(size=24), np.ones((24, 1)), [term]), np.array([0.7, 1.0]))
    assert solution.effects["player"][[1, 4]].tolist() == [0.0, 0.0]
    estimate, covariance = solution.combine(None, {"player": extra})
    assert estimate.tolist() == [0.0, 0.0]
    np.testing.assert_allclose(covariance, [[0.7, 0.7], [0.7, 1.4]])


def test_sparse_weights_give_what_dense_ones_give() -> None:
    design = next(d for d in map(random_design, SEEDS) if any(t.width == 2 for t in d.terms))
    solution = evaluate(design.collapse(), design.parameters)
    term = next(t for t in design.terms if t.width == 2)
    weights = np.random.default_rng(1).normal(size=(4, term.n_levels, 2))
    dense = solution.combine(None, {term.name: weights})
    flat = solution.combine(None, {term.name: sparse.csr_array(weights.reshape(4, -1))})
    np.testing.assert_array_equal(dense[0], flat[0])
    np.testing.assert_array_equal(dense[1], flat[1])


def test_dropped_column_is_missing_and_counts_as_zero() -> None:
    design = random_design(1)
    x = np.column_stack([design.x, design.x[:, 0] - design.x[:, 2]])
    cells = collapse(design.y, x, design.terms, design.group)
    solution, plain = evaluate(cells, design.parameters), evaluate(design.collapse(), design.parameters)
    assert solution.rank_dropped == (3,)
    assert np.isnan(solution.beta[3])
    np.testing.assert_allclose(solution.beta[:3], plain.beta)
    np.testing.assert_allclose(solution.criterion, plain.criterion)
    weights = np.array([[1.0, 0.0, 2.0, 5.0]])
    np.testing.assert_allclose(solution.combine(weights, {})[1], plain.combine(weights[:, :3], {})[1])


@pytest.mark.parametrize(
    ("parameters", "message"),
    [
        ([0.1, 0.0], "residual variance must be positive"),
        ([-0.1, 1.0], "must not be negative"),
        ([0.1], "2 finite variance parameters"),
        ([np.nan, 1.0], "2 finite variance parameters"),
    ],
)
def test_impossible_variances_are_refused(parameters: list[float], message: str) -> None:
    cells = collapse(np.arange(9.0), np.ones((9, 1)), [Term("player", np.arange(9) % 3, 3)])
    with pytest.raises(FitError, match=message):
        evaluate(cells, np.array(parameters))


def test_indefinite_matrix_is_refused() -> None:
    term = Term("player", np.arange(9) % 3, 3, np.arange(9.0))
    cells = collapse(np.arange(9.0) ** 2, np.ones((9, 1)), [term])
    assert parameter_names(cells) == ("player.intercept", "player.covariance", "player.slope", "residual")
    with pytest.raises(FitError, match="not positive semidefinite"):
        evaluate(cells, np.array([1.0, 2.0, 1.0, 1.0]))


def test_weights_of_the_wrong_shape_or_term_are_refused() -> None:
    cells = collapse(np.arange(9.0), np.ones((9, 1)), [Term("player", np.arange(9) % 3, 3)])
    solution = evaluate(cells, np.ones(2))
    with pytest.raises(FitError, match="no term 'rater'"):
        solution.combine(None, {"rater": np.ones((1, 3))})
    with pytest.raises(FitError, match="have shape"):
        solution.combine(None, {"player": np.ones((1, 4))})
    with pytest.raises(FitError, match="one number of combinations"):
        solution.combine(np.ones((2, 1)), {"player": np.ones((1, 3))})
    with pytest.raises(FitError, match="fixed-effect weights"):
        solution.combine(np.ones((1, 2)), {})
