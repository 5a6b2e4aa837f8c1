from __future__ import annotations

import numpy as np
import pytest

from lbeval.errors import FitError
from lbeval.stats import proportions
from lbeval.stats.agreement import raw
from lbeval.stats.agreement.coefficient import ADVICE, Note


def test_two_raters_exact_agreement_is_a_wilson_proportion() -> None:
    ratings = np.repeat([[0, 0], [0, 1], [1, 1]], [12, 5, 8], axis=0)
    found = raw.exact(ratings, [0, 1], level=0.95)
    assert found.estimate == 20 / 25
    np.testing.assert_allclose(
        [found.conf_low, found.conf_high], proportions.wilson(20, 25, 0.95), rtol=1e-12
    )


def test_many_raters_are_averaged_over_units() -> None:
    ratings = np.array([[1, 1, 2], [2, 2, np.nan], [3, np.nan, np.nan]])
    assert raw.exact(ratings, [1, 2, 3]).estimate == pytest.approx((1 / 3 + 1) / 2)
    assert raw.adjacent(ratings, [1, 2, 3]).estimate == 1
    assert raw.exact(ratings, [1, 2, 3]).n == 2


def test_adjacent_follows_the_declared_scale_not_the_distance() -> None:
    ratings = [[0, 10], [0, 3], [3, 10]]
    assert raw.adjacent(ratings, [0, 3, 10]).estimate == pytest.approx(2 / 3)
    assert raw.adjacent(ratings, [0, 3, 5, 10]).estimate == pytest.approx(1 / 3)
    assert raw.adjacent([[0, 1], [1, 1]], [0, 1]).note == Note.TWO_CATEGORIES


def test_positive_and_negative_agreement() -> None:
    # Cicchetti & Feinstein (1990): p_pos = 2a / (2a + b + c), p_neg = 2d / (2d + b + c)
    ratings = np.repeat([[1, 1], [1, 0], [0, 1], [0, 0]], [80, 10, 5, 5], axis=0)
    negative, positive = raw.specific(ratings, [0, 1])
    assert positive.estimate == pytest.approx(160 / 175)
    assert negative.estimate == pytest.approx(10 / 25)
    assert positive.conf_low < positive.estimate < positive.conf_high
    assert negative.conf_high - negative.conf_low > positive.conf_high - positive.conf_low
    assert positive.n == 100


def test_prevalence_adds_up_and_names_an_unused_category() -> None:
    ratings = np.array([[1, 1], [1, 2], [2, 2], [2, np.nan]])
    shares = raw.prevalence(ratings, [1, 2, 3])
    np.testing.assert_allclose([share.estimate for share in shares], [0.5, 0.5, 0])
    assert shares[2].conf_low == 0
    assert 0 < shares[2].conf_high < 1
    assert raw.specific(ratings, [1, 2, 3])[2].note == Note.NO_RATINGS


def test_nothing_to_compare() -> None:
    for ratings, note in (
        ([[1], [2]], Note.ONE_RATER),
        ([[1, np.nan], [np.nan, 2]], Note.NO_OVERLAP),
        ([[np.nan, np.nan]], Note.NO_RATINGS),
    ):
        found = raw.exact(ratings, [1, 2])
        assert np.isnan(found.estimate)
        assert found.note == note


def test_every_note_has_advice() -> None:
    assert set(ADVICE) == set(Note) - {Note.NONE}


def test_two_by_two_refuses_other_tables() -> None:
    with pytest.raises(FitError, match="2 x 2"):
        raw.two_by_two([[1, 2, 3]])
    assert np.isnan(raw.two_by_two([[0, 0], [0, 0]]).pabak)
