"""What goes into the one pass over the rows, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lbeval.errors import FitError
from lbeval.stats.reml import Term, collapse, evaluate, fit_reml
from tests.stats.reml.designs import MAIN, random_design, season

ONES = np.ones((12, 1))
Y = np.array([3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0, 5.0, 3.0, 5.0, 8.0])
PLAYER = Term("player", np.arange(12) % 3, 3)


def test_rows_that_cannot_be_told_apart_are_one_cell() -> None:
    full = season(np.random.default_rng(1), games=3, plays=20, players=6, raters=2, criteria=4)
    terms = full.terms(MAIN)
    cells = collapse(full.y, full.x, terms)
    assert cells.n_cells < full.y.shape[0] / 3
    unequal = collapse(full.y, np.column_stack([full.x, np.arange(full.y.shape[0])]), terms)
    assert unequal.n_cells == full.y.shape[0]
    apart = replace(terms[0], covariate=np.arange(full.y.shape[0], dtype=float))
    assert collapse(full.y, full.x, [apart, *terms[1:]]).n_cells == full.y.shape[0]


def test_row_order_and_code_types_do_not_matter() -> None:
    design = random_design(6)
    order = np.random.default_rng(0).permutation(design.y.shape[0])
    terms = [
        Term(
            t.name,
            t.codes[order].astype(np.int8),
            t.n_levels,
            None if t.covariate is None else t.covariate[order],
        )
        for t in design.terms
    ]
    mixed = collapse(design.y[order], design.x[order], terms, design.group[order].astype(np.int8))
    plain = evaluate(design.collapse(), design.parameters)
    np.testing.assert_allclose(evaluate(mixed, design.parameters).criterion, plain.criterion, rtol=1e-12)


def test_input_is_left_alone() -> None:
    design = random_design(3)
    y, x, codes = design.y.copy(), design.x.copy(), design.terms[0].codes.copy()
    fit_reml(design.collapse())
    np.testing.assert_array_equal(design.y, y)
    np.testing.assert_array_equal(design.x, x)
    np.testing.assert_array_equal(design.terms[0].codes, codes)


def test_repeated_fixed_effects_are_dropped_in_order() -> None:
    half = np.arange(12.0) % 2
    x = np.column_stack([np.ones(12), half, 1.0 - half, np.zeros(12)])
    cells = collapse(Y, x, [PLAYER])
    assert cells.kept == (0, 1)
    assert cells.dropped == (2, 3)


def test_large_offsets_of_a_fixed_effect_do_not_make_it_an_alias() -> None:
    year = np.repeat([2020.0, 2021.0, 2022.0, 2023.0], 3)
    cells = collapse(Y, np.column_stack([np.ones(12), year]), [PLAYER])
    assert cells.dropped == ()
    centred = collapse(Y, np.column_stack([np.ones(12), year - 2020.0]), [PLAYER])
    a, b = evaluate(cells, np.ones(2)), evaluate(centred, np.ones(2))
    np.testing.assert_allclose(a.beta[1], b.beta[1], rtol=1e-8)
    np.testing.assert_allclose(a.criterion, b.criterion, rtol=1e-10)


@pytest.mark.parametrize(
    ("y", "x", "terms", "message"),
    [
        (Y[:0], ONES[:0], [], "no scores"),
        (Y, ONES[:5], [PLAYER], "fixed effects have shape"),
        (np.append(Y[:-1], np.nan), ONES, [PLAYER], "score is missing"),
        (Y, np.where(np.arange(12)[:, None] == 3, np.nan, 1.0), [PLAYER], "fixed effect or a covariate"),
        (Y, ONES, [replace(PLAYER, codes=np.arange(5))], "5 codes for 12 scores"),
        (Y, ONES, [replace(PLAYER, n_levels=2)], "outside 0..1"),
        (Y, ONES, [replace(PLAYER, codes=np.zeros(12, int))], "'player' has a single level"),
        (Y, ONES, [Term("rep", np.arange(12), 12)], "'rep' has 12 effects for 12 scores"),
        (Y, ONES, [PLAYER, replace(PLAYER, name="jersey")], "'player' and 'jersey' have the same levels"),
        (Y, ONES, [PLAYER, PLAYER], "share a name"),
        (Y, ONES, [replace(PLAYER, covariate=np.ones(3))], "covariate has shape"),
        (Y, ONES, [replace(PLAYER, covariate=np.full(12, 2.0))], "covariate does not vary"),
        (Y, np.ones((12, 0)), [], "needs a fixed effect or a random term"),
        (Y, np.eye(12), [PLAYER], "12 scores cannot carry 12 fixed effects"),
        (np.full(12, 0.3), ONES, [PLAYER], "do not vary"),
        (np.zeros(12), ONES, [PLAYER], "do not vary"),
    ],
)
def test_what_cannot_be_fitted_is_refused(
    y: np.ndarray[tuple[int], np.dtype[np.float64]],
    x: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    terms: list[Term],
    message: str,
) -> None:
    with pytest.raises(FitError, match=message):
        collapse(y, x, terms)


def test_residual_groups_are_numbered_without_gaps() -> None:
    with pytest.raises(FitError, match="residual group 1 has no scores"):
        collapse(Y, ONES, [PLAYER], np.where(np.arange(12) < 6, 0, 2))
