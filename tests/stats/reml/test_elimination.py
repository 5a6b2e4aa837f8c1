"""Every order of elimination, and absorbing the finest term or not, gives the same figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lbeval.stats.reml import CellSums, Term, collapse, evaluate
from lbeval.stats.reml import products as products_module
from lbeval.stats.reml.derivatives import derivatives
from lbeval.stats.reml.plan import choose, schemes
from lbeval.stats.reml.tree import build
from tests.stats.reml.designs import MAIN, VARIANCES, FloatArray, Season, season


@pytest.fixture(scope="module")
def small() -> Season:
    rng = np.random.default_rng(1)
    return season(rng, games=3, plays=4, players=6, raters=3, criteria=3, missing=0.3)


def small_terms(small: Season, *, slopes: bool) -> list[Term]:
    terms = small.terms(tuple(VARIANCES))
    if slopes:
        rng = np.random.default_rng(2)
        for k, along in ((0, "game"), (4, "player:criterion")):
            codes, n_levels = small.codes[along]
            terms[k] = replace(terms[k], covariate=rng.normal(size=n_levels)[codes])
    return terms


def figures(cells: CellSums, terms: list[Term]) -> FloatArray:
    """Criterion, estimates, derivatives and some joint covariances, in one vector."""
    parameters = np.concatenate([[0.5, 0.1, 0.2] if t.width == 2 else [0.3] for t in terms])
    solution = evaluate(cells, np.concatenate([parameters, [0.5, 0.7, 0.9][: cells.n_groups]]))
    rng = np.random.default_rng(3)
    weights = {t.name: rng.normal(size=(4, t.n_levels * t.width)) for t in terms}
    found = derivatives(solution)
    parts = [solution.beta, *solution.effects.values(), found.gradient, found.hessian]
    parts.extend(solution.combine(rng.normal(size=(4, cells.n_fixed)), weights))
    return np.concatenate([[solution.criterion], *(np.ravel(p) for p in parts)])


@pytest.mark.slow
@pytest.mark.parametrize("slopes", [False, True])
@pytest.mark.parametrize("groups", [False, True])
def test_every_scheme_gives_the_figures_of_one_dense_block(
    small: Season, monkeypatch: pytest.MonkeyPatch, slopes: bool, groups: bool
) -> None:
    terms = small_terms(small, slopes=slopes)
    wanted = None
    for smallest in (10**9, 2):
        monkeypatch.setattr(products_module, "_MIN_LEVELS", smallest)
        cells = collapse(small.y, small.x, terms, small.rater if groups else None)
        assert (cells.products.absorbed is None) == (smallest > 2)
        for scheme in list(schemes(cells.products))[:: 7 if groups or slopes else 3]:
            found = figures(replace(cells, tree=build(cells.products, scheme)), terms)
            wanted = found if wanted is None else wanted
            np.testing.assert_allclose(found, wanted, rtol=1e-8, atol=1e-8 * np.abs(wanted).max())


def test_plays_are_eliminated_game_by_game() -> None:
    full = season(np.random.default_rng(4), games=12, plays=60, players=10, raters=3, criteria=18)
    names = (*MAIN, "play", "player:play")
    cells = collapse(full.y, full.x, full.terms(names))
    scheme = choose(cells.products)
    inside = {names[k] for k, depth in enumerate(scheme.depth) if depth}
    assert {"play", "player:play", "player:game", "rater:game", "game"} <= inside
    assert cells.tree.nodes[-1].n_own < 0.5 * cells.n_columns


def test_finest_term_is_absorbed() -> None:
    full = season(np.random.default_rng(4), games=4, plays=20, players=10, raters=3, criteria=6)
    cells = collapse(full.y, full.x, full.terms(tuple(VARIANCES)))
    assert cells.products.absorbed is not None
    assert cells.names[cells.products.absorbed[0]] == "player:play:criterion"


def test_levels_that_meet_through_an_absorbed_term_share_a_block(monkeypatch: pytest.MonkeyPatch) -> None:
    # Students rate instructors of departments; once students are absorbed departments meet each other.
    rng = np.random.default_rng(5)
    student, instructor = rng.integers(0, 40, 400), rng.integers(0, 20, 400)
    terms = [
        Term("student", student, 40),
        Term("instructor", instructor, 20),
        Term("dept", instructor // 5, 4),
    ]
    y, x, at = rng.normal(size=400), np.ones((400, 1)), np.array([0.2, 0.3, 0.1, 1.0])
    plain = evaluate(collapse(y, x, terms), at)
    monkeypatch.setattr(products_module, "_MIN_LEVELS", 30)
    absorbed = collapse(y, x, terms)
    assert absorbed.products.absorbed is not None
    np.testing.assert_allclose(evaluate(absorbed, at).criterion, plain.criterion)
