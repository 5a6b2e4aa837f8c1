"""The REML estimates: published figures, and what makes a minimum a minimum."""

from __future__ import annotations

import csv
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize

from lbeval.errors import FitError
from lbeval.stats.reml import CellSums, Term, collapse, evaluate, fit_reml, profile
from lbeval.stats.reml.derivatives import derivatives
from tests.stats.published import Case
from tests.stats.reml.designs import MAIN, VARIANCES, FloatArray, numbered, random_design, season


def read(case: Case, key: str = "csv") -> dict[str, list[str]]:
    """Columns of a case as text."""
    with (case.folder / case.data[key]).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {name: [row[name] for row in rows] for name in rows[0]}


def term(name: str, *columns: list[str], covariate: FloatArray | None = None) -> Term:
    """Term of the combinations of some columns, in alphabetical order."""
    parts = [np.unique(c, return_inverse=True)[1].astype(np.int64) for c in columns]
    return Term(name, *numbered(*parts), covariate)


def not_above(fit_criterion: float, case: Case, quantity: str) -> None:
    """The reference program stops early: its criterion may be higher, never lower."""
    entry = case.expected[quantity]
    assert fit_criterion <= entry["value"] + entry["tol"]


def test_sleepstudy() -> None:
    case = Case("reml_sleepstudy")
    table = read(case)
    y, days = np.array(table["Reaction"], float), np.array(table["Days"], float)
    x = np.column_stack([np.ones_like(days), days])
    cells = collapse(y, x, [term("subject", table["Subject"], covariate=days)])
    fit = fit_reml(cells)
    assert fit.converged
    matrix, residual = fit.components["subject"], fit.residual[0]
    deviations = np.sqrt(np.diag(matrix))
    correlation = matrix[0, 1] / deviations.prod()
    case.check(
        "SD intercept, SD slope, correlation, residual SD", [*deviations, correlation, np.sqrt(residual)]
    )
    case.check("variances and covariance", [matrix[0, 0], matrix[1, 1], matrix[0, 1], residual])
    case.check("fixed effects", fit.beta)
    case.check("SE of fixed effects", np.sqrt(np.diag(fit.beta_cov)))
    case.check("REML criterion", fit.criterion)
    case.check("logLik REML", fit.loglik)
    case.check("predictions by subject in order of appearance: intercept, slope", fit.effects["subject"])
    not_above(fit.criterion, case, "criterion of lme4")
    interval = case.expected["profile 95% CI: SD int, cor, SD slope, sigma, intercept, slope"]
    found = np.sqrt(profile(cells, fit, "residual", 0.95))
    np.testing.assert_allclose(found, interval["value"][3], atol=interval["tol"])


@pytest.mark.parametrize(
    ("name", "response", "columns", "deviations"),
    [
        (
            "reml_penicillin",
            "diameter",
            {"plate": ["plate"], "sample": ["sample"]},
            "SDs plate, sample, Residual",
        ),
        (
            "reml_pastes",
            "strength",
            {"cask": ["batch", "cask"], "batch": ["batch"]},
            "SDs cask:batch, batch, Residual",
        ),
        ("reml_dyestuff", "Yield", {"batch": ["Batch"]}, "SDs Batch, Residual"),
        ("reml_dyestuff2", "Yield", {"batch": ["Batch"]}, "SDs Batch, Residual"),
    ],
)
def test_textbook_cases(name: str, response: str, columns: dict[str, list[str]], deviations: str) -> None:
    case = Case(name)
    table = read(case)
    terms = [term(k, *(table[c] for c in v)) for k, v in columns.items()]
    y = np.array(table[response], float)
    fit = fit_reml(collapse(y, np.ones((y.shape[0], 1)), terms))
    assert fit.converged
    case.check(deviations, np.sqrt(fit.parameters))
    case.check("exact variances", fit.parameters)
    case.check("REML criterion", fit.criterion)
    case.check("intercept, SE", [fit.beta[0], np.sqrt(fit.beta_cov[0, 0])])
    if "criterion of lme4" in case.expected:
        not_above(fit.criterion, case, "criterion of lme4")


def test_zero_variance_is_exactly_zero() -> None:
    table = read(Case("reml_dyestuff2"))
    y = np.array(table["Yield"], float)
    fit = fit_reml(collapse(y, np.ones((30, 1)), [term("batch", table["Batch"])]))
    assert fit.components["batch"] == 0.0
    assert fit.at_boundary == ("batch",)
    assert (fit.effects["batch"] == 0.0).all()
    np.testing.assert_allclose(fit.residual[0], y.var(ddof=1), rtol=1e-7)
    assert np.isnan(fit.parameter_cov[0]).all()
    np.testing.assert_allclose(fit.parameter_cov[1, 1], 2 * y.var(ddof=1) ** 2 / 29, rtol=1e-5)


def test_crossed_grades_as_lme4_fits_them() -> None:
    case = Case("reml_tiny")
    table = read(case)
    names = [q for q in case.expected if q.split(":")[0] in {"player", "rater", "game"}]
    columns = {name: [np.array(table[part], int) for part in name.split(":")] for name in names}
    terms = [Term(name, *numbered(*columns[name])) for name in names]
    criterion = np.array(table["criterion"], int)
    fit = fit_reml(collapse(np.array(table["score"], float), np.eye(12)[criterion], terms))
    assert fit.converged
    assert fit.n_evaluations <= 8
    for name in names:
        case.check(name, fit.components[name])
    case.check("Residual", fit.residual[0])
    case.check("fixed effects by criterion", fit.beta)
    case.check("standard errors of fixed effects", np.sqrt(np.diag(fit.beta_cov)))
    not_above(fit.criterion, case, "criterion")
    wanted: dict[str, dict[str, float]] = {}
    for row in zip(*read(case, "predictions").values(), strict=True):
        wanted.setdefault(row[0], {})[row[1]] = float(row[2])
    for t in terms:
        labels = [
            ":".join(str(c[row]) for c in columns[t.name]) for row in np.unique(t.codes, return_index=True)[1]
        ]
        reference = np.array([wanted[t.name][label] for label in labels])
        assert np.abs(fit.effects[t.name] - reference).max() < 1e-3 * reference.std()


def descent(cells: CellSums, widths: list[int], rng: np.random.Generator) -> float:
    """Lowest criterion a general-purpose optimiser finds over roots of the matrices and log residuals."""

    def parameters(z: FloatArray) -> FloatArray:
        parts, at = [], 0
        for width in widths:
            root = np.zeros((width, width))
            root[np.tril_indices(width)] = z[at : at + (1 if width == 1 else 3)]
            at += 1 if width == 1 else 3
            parts.append((root @ root.T)[np.tril_indices(width)])
        return np.concatenate([*parts, np.exp(np.clip(z[at:], -12.0, 12.0))])

    def criterion(z: FloatArray) -> float:
        return evaluate(cells, parameters(z)).criterion

    n = sum(1 if width == 1 else 3 for width in widths)
    starts = [np.append(rng.normal(size=n), np.zeros(cells.n_groups)) for _ in range(2)]
    return min(float(minimize(criterion, s, method="L-BFGS-B").fun) for s in starts)


@pytest.mark.parametrize("seed", range(20))
def test_no_other_optimiser_goes_lower(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(60, 150))
    y, terms = rng.normal(size=n), []
    for k in range(int(rng.integers(1, 4))):
        codes, n_levels = numbered(rng.integers(0, int(rng.integers(4, 9)), n))
        covariate = rng.normal(size=n) + 1.0 if rng.random() < 0.4 else None
        y += rng.normal(size=n_levels)[codes] * rng.choice([0.0, 0.3, 1.0, 3.0])
        if covariate is not None:
            y += rng.normal(size=n_levels)[codes] * covariate * rng.choice([0.0, 0.3, 1.0])
        terms.append(Term(f"t{k}", codes, n_levels, covariate))
    cells = collapse(y, np.ones((n, 1)), terms, np.arange(n) % 2 if seed % 2 else None)
    fit = fit_reml(cells)
    assert fit.converged
    assert fit.criterion <= descent(cells, [t.width for t in terms], rng) + 1e-6


def test_slope_of_the_criterion_at_the_estimates() -> None:
    rng = np.random.default_rng(8)
    part = season(rng, games=4, plays=12, players=7, raters=3, criteria=4)
    terms = [*part.terms((*MAIN, "play", "player:play"))]
    cells = collapse(part.y, part.x, terms, part.rater)
    fit = fit_reml(cells)
    slope = derivatives(evaluate(cells, np.maximum(fit.parameters, 1e-6)))
    free = np.isfinite(np.diag(fit.parameter_cov))
    error = np.sqrt(np.diag(fit.parameter_cov))
    assert np.abs(slope.gradient[free] * error[free]).max() < 1e-3
    assert (slope.gradient[~free] > 0.0).all()


def test_scale_and_shift_of_the_scores() -> None:
    design = random_design(11)
    plain = fit_reml(design.collapse())
    cells = collapse(design.y * 20.0 + 7.0, design.x, design.terms, design.group)
    moved = fit_reml(cells)
    np.testing.assert_allclose(moved.parameters, 400.0 * plain.parameters, rtol=1e-4, atol=1e-6)
    np.testing.assert_allclose(moved.beta[1:], 20.0 * plain.beta[1:], rtol=1e-5, atol=1e-8)


def test_same_rows_same_bytes() -> None:
    part = season(np.random.default_rng(9), games=3, plays=20, players=7, raters=3, criteria=4)
    fits = [fit_reml(collapse(part.y, part.x, part.terms(tuple(VARIANCES)))) for _ in range(2)]
    assert fits[0].parameters.tobytes() == fits[1].parameters.tobytes()
    assert fits[0].effects["player"].tobytes() == fits[1].effects["player"].tobytes()


def test_residual_variances_by_rater_are_told_apart() -> None:
    rng = np.random.default_rng(10)
    player, rater = np.arange(6000) % 12, np.arange(6000) // 12 % 3
    y = rng.normal(size=12)[player] + rng.normal(size=6000) * np.array([0.3, 0.6, 1.2])[rater]
    fit = fit_reml(collapse(y, np.eye(3)[rater], [Term("player", player, 12)], rater))
    np.testing.assert_allclose(np.sqrt(fit.residual), [0.3, 0.6, 1.2], rtol=0.05)
    assert fit.parameter_names == ("player", "residual.0", "residual.1", "residual.2")


def test_fixed_parameters_stay_and_the_rest_is_minimal() -> None:
    table = read(Case("reml_penicillin"))
    terms = [term("plate", table["plate"]), term("sample", table["sample"])]
    cells = collapse(np.array(table["diameter"], float), np.ones((144, 1)), terms)
    fit, held = fit_reml(cells), fit_reml(cells, fixed_parameters={"plate": 1.5})
    assert held.components["plate"] == 1.5
    assert held.criterion > fit.criterion
    again = fit_reml(cells, start=held.parameters, fixed_parameters={"plate": fit.components["plate"]})
    np.testing.assert_allclose(again.parameters, fit.parameters, rtol=1e-4)
    with pytest.raises(FitError, match="no variance parameter 'batch'"):
        fit_reml(cells, fixed_parameters={"batch": 1.0})


def test_parameters_of_a_slope_are_held_together() -> None:
    design = next(d for d in map(random_design, range(60)) if d.terms[0].width == 2)
    with pytest.raises(FitError, match="hold all of its parameters fixed or none"):
        fit_reml(design.collapse(), fixed_parameters={"t0.slope": 0.0})


def test_model_without_random_terms_is_least_squares() -> None:
    rng = np.random.default_rng(12)
    x = np.column_stack([np.ones(30), rng.normal(size=30)])
    y = rng.normal(size=30)
    fit = fit_reml(collapse(y, x, []))
    beta, rss, *_ = np.linalg.lstsq(x, y, rcond=None)
    np.testing.assert_allclose(fit.beta, beta)
    np.testing.assert_allclose(fit.residual, rss / 28)


def test_scores_without_noise_reach_the_lower_limit_and_say_so() -> None:
    player = np.arange(40) % 4
    fit = fit_reml(
        collapse(np.array([1.0, 2.0, 4.0, 8.0])[player], np.ones((40, 1)), [Term("player", player, 4)])
    )
    assert "residual" in fit.at_boundary
    np.testing.assert_allclose(fit.components["player"], np.var([1.0, 2.0, 4.0, 8.0], ddof=1), rtol=1e-3)


@pytest.mark.parametrize("name", ["batch", "residual"])
@pytest.mark.parametrize("case", ["reml_dyestuff", "reml_dyestuff2"])
def test_profile_ends_where_the_likelihood_ratio_rejects(case: str, name: str) -> None:
    table = read(Case(case))
    cells = collapse(np.array(table["Yield"], float), np.ones((30, 1)), [term("batch", table["Batch"])])
    fit = fit_reml(cells)
    low, high = profile(cells, fit, name, 0.90)
    at = fit.parameters[fit.parameter_names.index(name)]
    assert low <= at < high
    rises = [fit_reml(cells, fixed_parameters={name: v}).criterion - fit.criterion for v in (low, high)]
    np.testing.assert_allclose(rises[1], 2.705543, atol=1e-4)
    np.testing.assert_allclose(rises[0], 0.0 if low == 0.0 else 2.705543, atol=1e-4)
    wider = profile(cells, fit, name, 0.99)
    assert wider[0] <= low
    assert wider[1] > high


def test_profile_of_one_of_a_slopes_parameters_is_refused() -> None:
    design = next(d for d in map(random_design, range(60)) if d.terms[0].width == 2)
    cells = design.collapse()
    fit: Any = fit_reml(cells)
    for name in ("t0.slope", "t0", "nobody"):
        with pytest.raises(FitError, match="no interval for"):
            profile(cells, fit, name, 0.95)


def test_term_that_repeats_fixed_effects_is_refused() -> None:
    rng = np.random.default_rng(15)
    player, rater = np.arange(60) % 5, np.arange(60) // 5 % 3
    terms = [Term("player", player, 5), Term("rater", rater, 3)]
    cells = collapse(rng.normal(size=60), np.eye(3)[rater], terms)
    with pytest.raises(FitError, match="'rater' only repeats fixed effects"):
        fit_reml(cells)


def test_fewer_than_two_scores_a_level_on_average() -> None:
    rng = np.random.default_rng(13)
    codes = np.append(np.arange(18), [0, 1])
    y = np.append(rng.normal(size=18), [5.0, -5.0])
    fit = fit_reml(collapse(y, np.ones((20, 1)), [Term("player", codes, 18)]))
    assert fit.converged
    assert np.isfinite(fit.parameters).all()


def test_start_does_not_matter() -> None:
    part = season(np.random.default_rng(14), games=4, plays=12, players=7, raters=3, criteria=4)
    cells = collapse(part.y, part.x, part.terms(MAIN))
    fit = fit_reml(cells)
    for scale in (1e-3, 30.0):
        other = fit_reml(cells, start=np.append(np.full(8, scale), 1.0))
        np.testing.assert_allclose(other.criterion, fit.criterion, atol=1e-6)
        np.testing.assert_allclose(other.parameters, fit.parameters, rtol=1e-3, atol=1e-7)
    np.testing.assert_allclose(replace(fit).loglik, -0.5 * fit.criterion)
