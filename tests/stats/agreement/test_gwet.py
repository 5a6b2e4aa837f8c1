from __future__ import annotations

import numpy as np
import pytest

from lbeval.errors import FitError
from lbeval.stats.agreement import alpha, gwet, kappa
from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.weights import Weights
from tests.stats.published import Case

WEIGHTS: tuple[Weights, ...] = ("identity", "linear", "quadratic", "ordinal")
PRINTED: dict[gwet.Chance, str] = {
    "gwet": "AC",
    "fleiss": "fleiss",
    "conger": "conger",
    "brennan_prediger": "brennan_prediger",
    "krippendorff": "krippendorff",
}


@pytest.mark.parametrize("weights", WEIGHTS)
def test_gwet_2014_four_raters(weights: Weights) -> None:
    case = Case("raw_4raters")
    ratings = case.matrix("raters_by_unit").T
    for chance, printed in PRINTED.items():
        found = gwet.gwet_ac(ratings, [1, 2, 3, 4, 5], weights=weights, chance=chance, level=0.95)
        case.check(f"{printed} weights={weights}: value, SE", [found.estimate, found.std_error])
    found = gwet.gwet_ac(ratings, [1, 2, 3, 4, 5], weights=weights, level=0.95)
    case.check(f"AC weights={weights} 95% CI", [found.conf_low, found.conf_high])
    if weights == "identity":
        case.check("identity: p_a and AC1 p_e", [found.observed, found.expected])


@pytest.mark.parametrize("weights", WEIGHTS)
@pytest.mark.parametrize("chance", PRINTED)
def test_program_irrcac_on_simulated_ratings(weights: Weights, chance: gwet.Chance) -> None:
    case = Case("agreement_24_units_5_raters")
    found = gwet.gwet_ac(case.matrix("ratings"), case.data["categories"], weights=weights, chance=chance)
    case.check(f"{chance} {weights}: value, SE", [found.estimate, found.std_error])


def test_the_paradox_of_gwet_2008() -> None:
    case = Case("gwet_2008_paradox_2x2")
    (a, b), (c, d) = case.data["table"]
    ratings = np.repeat([[0, 0], [0, 1], [1, 0], [1, 1]], [a, b, c, d], axis=0)
    plain = kappa.cohen_table(case.matrix("table"))
    ac1 = gwet.gwet_ac(ratings, [0, 1])
    nominal = alpha.krippendorff(ratings, "nominal", [0, 1])
    case.check(
        "percent agreement, Cohen kappa, AC1, Krippendorff alpha",
        [plain.raw_agreement, plain.estimate, ac1.estimate, nominal.estimate],
    )
    # Scott's pi is Fleiss's kappa of two raters
    case.check(
        "Scott pi, Brennan-Prediger",
        [
            gwet.gwet_ac(ratings, [0, 1], chance="fleiss").estimate,
            gwet.gwet_ac(ratings, [0, 1], chance="brennan_prediger").estimate,
        ],
    )


def test_ac1_of_the_prevalence_paradox() -> None:
    case = Case("prevalence_and_bias_paradox")
    for name, table in case.data["tables"].items():
        ratings = np.repeat([[0, 0], [0, 1], [1, 0], [1, 1]], np.ravel(table), axis=0)
        case.check(f"{name} Gwet AC1", gwet.gwet_ac(ratings, [0, 1]).estimate)


def test_krippendorff_by_identity_and_quadratic_weights_is_alpha() -> None:
    ratings = Case("agreement_24_units_5_raters").matrix("ratings")
    for weights, metric in (("identity", "nominal"), ("quadratic", "interval")):
        one = gwet.gwet_ac(ratings, [0, 1, 2, 3], weights=weights, chance="krippendorff")
        two = alpha.krippendorff(ratings, metric, [0, 1, 2, 3])  # type: ignore[arg-type]
        np.testing.assert_allclose([one.estimate, one.std_error], [two.estimate, two.std_error], rtol=1e-10)
        assert (one.n, one.n_raters, one.raw_agreement) == (two.n, two.n_raters, two.raw_agreement)


@pytest.mark.parametrize("chance", PRINTED)
def test_degenerate_ratings_are_named(chance: gwet.Chance) -> None:
    def note(ratings: object) -> Note:
        found = gwet.gwet_ac(np.asarray(ratings, dtype=float), [0, 1, 2], chance=chance)
        assert np.isnan(found.std_error)
        return found.note

    assert note([[0], [1]]) == Note.ONE_RATER
    assert note([[0, np.nan], [np.nan, 1]]) == Note.NO_OVERLAP
    assert note(np.full((2, 2), np.nan)) == Note.NO_RATINGS
    assert note(np.zeros((0, 2))) == Note.NO_RATINGS
    assert note([[0, 0], [1, 1], [2, 2]]) == Note.NO_DISAGREEMENT
    assert note([[0, 1]]) in {Note.ONE_UNIT, Note.CONSTANT}
    assert note(np.ones((4, 2))) in {Note.CONSTANT, Note.NO_DISAGREEMENT}


def test_a_vector_is_refused() -> None:
    with pytest.raises(FitError, match="one column a rater"):
        gwet.gwet_ac([0, 1, 2], [0, 1, 2])
