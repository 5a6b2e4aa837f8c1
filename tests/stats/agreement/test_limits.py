from __future__ import annotations

import numpy as np
import pytest

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.limits import limits_of_agreement, limits_of_repeats
from tests.stats.published import Case


def test_bland_and_altman_1986() -> None:
    case = Case("pefr_1986")
    table = case.table()
    found = limits_of_agreement(table["wright1"], table["mini1"], multiplier=2, formula="1986", level=0.95)
    case.check("mean difference, SD", [found.bias.estimate, found.sd])
    case.check(
        "limits mean +/- 2 SD (paper rounds mean and SD first)", [found.lower.estimate, found.upper.estimate]
    )
    case.check("95% CI of bias (t, 16 df)", found.bias[2:])
    case.check("95% CI lower limit (2 SD version)", found.lower[2:])
    case.check("95% CI upper limit (2 SD version)", found.upper[2:])
    exact = limits_of_agreement(table["wright1"], table["mini1"], multiplier=1.96)
    case.check("limits mean +/- 1.96 SD", [exact.lower.estimate, exact.upper.estimate])
    exact = limits_of_agreement(table["wright1"], table["mini1"])
    assert exact.lower.std_error == pytest.approx(exact.sd * np.sqrt(1 / 17 + 1.959963984540054**2 / 32))


def test_repeats_of_1986() -> None:
    case = Case("pefr_1986")
    table = case.table()
    wright = np.column_stack([table["wright1"], table["wright2"]])
    mini = np.column_stack([table["mini1"], table["mini2"]])
    found = limits_of_repeats(wright, mini)
    case.check("corrected SD for single measurements", found.sd)
    means = limits_of_agreement(wright.mean(axis=1), mini.mean(axis=1))
    case.check("SD of differences of replicate means", means.sd)
    within = [np.sqrt(np.mean((one - two) ** 2) / 2) for one, two in (wright.T, mini.T)]
    case.check("within-subject SD wright, mini (sqrt(mean d^2/2))", within)
    assert found.bias.estimate == pytest.approx(means.bias.estimate)
    assert found.lower.std_error > found.bias.std_error


def test_repeats_without_repeats_are_the_plain_limits() -> None:
    rng = np.random.default_rng(3)
    one, two = rng.standard_normal((2, 30))
    plain, repeated = limits_of_agreement(one, two), limits_of_repeats(one[:, None], two[:, None])
    np.testing.assert_allclose(repeated.lower, plain.lower)
    ragged = np.column_stack([one, np.where(np.arange(30) < 10, one + 0.1, np.nan)])
    assert limits_of_repeats(ragged, two[:, None]).n == 30


@pytest.mark.slow
def test_the_intervals_cover() -> None:
    rng = np.random.default_rng(4)
    held = np.zeros(3)
    for _ in range(600):
        truth = rng.standard_normal(15) * 3
        one = truth[:, None] + rng.standard_normal((15, 2))
        two = truth[:, None] + 0.5 + rng.standard_normal((15, 2)) * 2
        found = limits_of_repeats(one, two, level=0.90)
        true = np.array([-0.5, -0.5 - 1.959964 * np.sqrt(5), -0.5 + 1.959964 * np.sqrt(5)])
        for i, bound in enumerate((found.bias, found.lower, found.upper)):
            held[i] += bound.conf_low <= true[i] <= bound.conf_high
    np.testing.assert_allclose(held / 600, 0.90, atol=0.04)


def test_degenerate_differences_are_named() -> None:
    constant = limits_of_agreement([1, 2, 3], [2, 3, 4])
    assert constant.note == Note.NO_ERROR
    assert constant.lower.estimate == constant.bias.estimate == -1
    assert np.isnan(constant.lower.conf_low)
    assert limits_of_agreement([1, np.nan], [np.nan, 1]).note == Note.NO_OVERLAP
    assert limits_of_agreement([1], [1]).note == Note.ONE_UNIT
    assert limits_of_repeats([[1]], [[2]]).note == Note.ONE_UNIT
    with pytest.raises(FitError, match="same units"):
        limits_of_agreement([1, 2], [1])
    with pytest.raises(FitError, match="a row a unit"):
        limits_of_repeats([1, 2], [1, 2])
