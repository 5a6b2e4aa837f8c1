from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.errors import FitError
from lbeval.stats.agreement.icc import icc
from lbeval.stats.gstudy import (
    GStudy,
    cut_score_dependability,
    d_study,
    g_study,
    length_for,
    spearman_brown,
)
from tests.stats.published import Case

FloatArray = npt.NDArray[np.float64]


def take(study: GStudy, names: tuple[str, ...], values: FloatArray) -> FloatArray:
    return values[[study.names.index(name) for name in names]]


def test_brennan_synthetic_1_p_by_i() -> None:
    case = Case("brennan_synthetic1_p_x_i")
    study = g_study(case.matrix("matrix"), ("p", "i"))
    case.check("T(p), T(i), T(pi)", study.uncorrected)
    case.check("SS p, i, pi", study.sum_squares)
    case.check("MS p, i, pi", study.mean_squares)
    case.check("variance components p, i, pi", study.components)
    decision = d_study(study.variances(), "p", {"i": 12})
    case.check("E rho^2 (n_i=12)", decision.generalizability)
    case.check("Phi (n_i=12)", decision.dependability)
    over = [d_study(study.variances(), "p", {"i": n}) for n in (5, 10, 15, 20)]
    case.check("D study n_i=5,10,15,20: E rho^2", [one.generalizability for one in over])
    case.check("D study n_i=5,10,15,20: Phi", [one.dependability for one in over])
    cuts = [cut_score_dependability(study, "p", {"i": 12}, cut) for cut in (0.5, 0.6, 0.7, 0.8)]
    case.check("Phi(lambda) at .5,.6,.7,.8 (n_i=12)", cuts)


def test_brennan_synthetic_2_items_within_persons() -> None:
    case = Case("brennan_synthetic2_items_nested_in_persons")
    table = case.table()
    scores = np.empty((10, 8))
    scores[table["p"].astype(int) - 1, table["item_in_p"].astype(int) - 1] = table["y"]
    study = g_study(scores, ("p", "i"), nested={"i": "p"})
    assert study.names == ("p", "i:p")
    case.check("SS p, i:p", study.sum_squares)
    case.check("MS p, i:p", study.mean_squares)
    case.check("variance p, i:p", study.components)
    decision = d_study(study.variances(), "p", {"i": 8})
    assert decision.generalizability == decision.dependability
    case.check("E rho^2 = Phi", decision.dependability)


def test_brennan_synthetic_3_p_by_i_by_o() -> None:
    case = Case("brennan_synthetic3_p_x_i_x_o")
    table = case.table()
    scores = np.empty((10, 4, 2))
    scores[tuple(table[facet].astype(int) - 1 for facet in "pio")] = table["y"]
    study = g_study(scores, ("p", "i", "o"))
    assert study.names == ("p", "i", "o", "pi", "po", "io", "pio")
    case.check("T p,i,o,pi,po,io,pio", study.uncorrected)
    case.check("SS in same order", study.sum_squares)
    case.check("MS in same order", study.mean_squares)
    case.check("variance components in same order", study.components)
    found = d_study(study.variances(), "p", {"i": 4, "o": 2})
    case.check("random model n_i=4,n_o=2: E rho^2, Phi", found[3:5])
    fixed = d_study(study.variances(), "p", {"i": 4, "o": 2}, fixed=frozenset({"i"}))
    case.check("items fixed n_i=4,n_o=2: E rho^2, Phi", fixed[3:5])
    for n_i, n_o in ((1, 1), (2, 2), (4, 1), (8, 1), (8, 2), (6, 3)):
        found = d_study(study.variances(), "p", {"i": n_i, "o": n_o})
        case.check(f"D study n_i={n_i},n_o={n_o}: rel err, abs err, E rho^2, Phi", found[1:5])


def test_brennan_synthetic_4_raters_within_tasks() -> None:
    case = Case("brennan_synthetic4_p_x_r_in_t")
    table = case.table()
    scores = np.empty((10, 3, 4))
    person, task, rater = (table[facet].astype(int) - 1 for facet in "ptr")
    scores[person, task, rater % 4] = table["y"]
    study = g_study(scores, ("p", "t", "r"), nested={"r": "t"})
    order = ("p", "t", "r:t", "pt", "pr:t")
    totals = take(study, order, study.uncorrected)
    case.check("T p,t,r:t,pt,pr:t,mean", [*totals, scores.size * study.mean**2])
    case.check("SS p,t,r:t,pt,pr:t", take(study, order, study.sum_squares))
    case.check("MS same order", take(study, order, study.mean_squares))
    case.check("variance components same order", take(study, order, study.components))
    found = d_study(study.variances(), "p", {"t": 3, "r": 4})
    case.check("random n_t=3,n_r=4: E rho^2, Phi", found[3:5])
    fixed = d_study(study.variances(), "p", {"t": 3, "r": 4}, fixed=frozenset({"t"}))
    case.check("tasks fixed: E rho^2, Phi", fixed[3:5])
    for n_t, n_r in ((1, 12), (2, 6), (6, 2), (12, 1), (3, 1), (3, 2)):
        found = d_study(study.variances(), "p", {"t": n_t, "r": n_r})
        case.check(f"D study n_t={n_t},n_r={n_r}: rel, abs, E rho^2, Phi", found[1:5])


def test_criteria_weights_enter_as_one_over_their_squares() -> None:
    # by hand: tau = sigma_p + sum w^2 sigma_pc, delta = pr / n_r + sum w^2 e / n_r
    weights = np.array([0.5, 0.3, 0.2])
    squares = float(weights @ weights)
    variances = {
        frozenset({"p"}): 1.0,
        frozenset({"c"}): 9.0,
        frozenset({"p", "c"}): 0.4,
        frozenset({"p", "r"}): 0.2,
        frozenset({"r", "c"}): 0.3,
        frozenset({"p", "r", "c"}): 0.5,
    }
    found = d_study(variances, "p", {"r": 2, "c": 1 / squares}, fixed=frozenset({"c"}))
    assert found.universe == pytest.approx(1 + 0.4 * squares)
    assert found.relative_error == pytest.approx(0.1 + 0.25 * squares)
    assert found.absolute_error == pytest.approx(0.1 + 0.25 * squares + 0.15 * squares)


def test_negative_components_are_named_and_count_as_zero() -> None:
    rng = np.random.default_rng(1)
    scores = rng.standard_normal((5, 8)) + np.arange(8)
    scores -= scores.mean(axis=1, keepdims=True)  # persons do not differ: less than chance
    study = g_study(scores, ("p", "i"))
    assert study.note == "negative: p"
    assert study.conf_low[0] < study.components[0] < study.conf_high[0]
    found = d_study(study.variances(), "p", {"i": 8})
    assert found.generalizability == 0
    assert found.note == "negative: p"


def test_what_a_balanced_design_cannot_be() -> None:
    with pytest.raises(FitError, match="REML"):
        g_study(np.array([[1, np.nan], [2, 3]]), ("p", "i"))
    with pytest.raises(FitError, match="one level"):
        g_study([[1, 2, 3]], ("p", "i"))
    with pytest.raises(FitError, match="do not fit the facets"):
        g_study([[1, 2], [3, 4]], ("p", "i", "o"))
    with pytest.raises(FitError, match="nesting"):
        g_study([[1, 2], [3, 4]], ("p", "i"), nested={"r": "i"})
    with pytest.raises(FitError, match="how many conditions of i"):
        d_study({frozenset({"p"}): 1.0, frozenset({"p", "i"}): 1.0}, "p", {})
    with pytest.raises(FitError, match="no variance component of p"):
        d_study({frozenset({"i"}): 1.0}, "p", {"i": 2})


def test_nothing_varies() -> None:
    study = g_study(np.ones((3, 4)), ("p", "i"))
    np.testing.assert_array_equal(study.components, 0)
    assert np.isnan(d_study(study.variances(), "p", {"i": 4}).generalizability)


def test_spearman_brown_grid_and_shrout_fleiss() -> None:
    table = Case("spearman_brown_grid").table()
    np.testing.assert_allclose(spearman_brown(table["r1"], table["k"]), table["r_k"], rtol=1e-9)
    np.testing.assert_allclose(length_for(table["r1"], 0.80), table["k_needed_for_0.80"], rtol=1e-9)
    case = Case("spearman_brown_grid")
    case.check(
        "e.g. r=.5,k=2 -> 2/3 ; r=.7,k=2 -> .8235294 ; r=.8,k=.5 -> 2/3",
        spearman_brown([0.5, 0.7, 0.8], [2, 2, 0.5]),
    )
    case = Case("spearman_brown_on_shrout_fleiss")
    family = icc(Case(case.data["from_case"]).matrix("matrix"))
    for name, single in (("1,1", family.icc_1), ("2,1", family.icc_a1), ("3,1", family.icc_c1)):
        case.check(f"SB(k=4) of ICC({name})", spearman_brown(single.estimate, 4))
    needed = float(length_for(family.icc_a1.estimate, 0.80))
    case.check(
        "raters needed for mean reliability .80 starting from ICC(2,1)=.28976 (unrounded, then ceil)",
        [needed, np.ceil(needed)],
    )


def test_lengths_that_cannot_be() -> None:
    assert np.isinf(length_for(0.0, 0.8))
    assert np.isinf(length_for(-0.3, 0.8))
    assert np.isinf(length_for(0.5, 1.0))
    assert np.isnan(length_for(0.5, 1.2))
    assert np.isnan(spearman_brown(-0.5, 4))


@given(st.integers(0, 5000))
def test_p_by_i_generalizability_is_the_consistency_icc(seed: int) -> None:
    scores = np.random.default_rng(seed).standard_normal((7, 4))
    study = g_study(scores, ("p", "i"))
    variance = study.components
    family = icc(scores)
    assert variance[0] / (variance[0] + variance[2]) == pytest.approx(family.icc_c1.estimate, rel=1e-6)
    np.testing.assert_allclose(g_study(scores + 7, ("p", "i")).components, variance, atol=1e-9)
    assert ((study.conf_low <= variance) & (variance <= study.conf_high)).all()


@pytest.mark.slow
def test_intervals_of_components_cover() -> None:
    rng = np.random.default_rng(2)
    true = np.array([1.0, 0.5, 0.3, 0.2, 0.4, 0.1, 0.6])
    held = np.zeros(7)
    for _ in range(300):
        deviations = np.sqrt(true)
        p, i, o = (deviations[k] * rng.standard_normal(n) for k, n in enumerate((12, 6, 4)))
        pi, po = deviations[3] * rng.standard_normal((12, 6)), deviations[4] * rng.standard_normal((12, 4))
        io = deviations[5] * rng.standard_normal((6, 4))
        rest = deviations[6] * rng.standard_normal((12, 6, 4))
        scores = p[:, None, None] + i[None, :, None] + o + pi[:, :, None] + po[:, None, :] + io + rest
        study = g_study(scores, ("p", "i", "o"), level=0.90)
        held += (study.conf_low <= true) & (true <= study.conf_high)
    assert (held / 300 > 0.85).all()
    assert (held / 300 < 0.97).all()
