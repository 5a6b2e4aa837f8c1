from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lbeval.fit.ratings.marks import Marks, select_marks
from lbeval.fit.ratings.spread import estimate_spread
from tests.fit.graded_rooms import Plan, rate, simulate

THREE = Plan(
    severity=(-0.05, 0.0, 0.05),
    slopes=(1.3, 1.0, 0.7),
    n_plays=60,
    sd={"p": 0.05, "pc": 0.03, "pr": 0.0, "pg": 0.02, "ps": 0.12, "e": 0.08},
)


def marks(seed: int, plan: Plan) -> Marks:
    room = simulate(seed, plan)
    return select_marks(room.grades, room.games, room.players, room.rubric)


def test_slopes_of_three_raters_are_recovered() -> None:
    found = np.mean([estimate_spread(marks(seed, THREE)).slopes for seed in range(4)], axis=0)
    assert found == pytest.approx([1.3, 1.0, 0.7], abs=0.04)


def test_noise_does_not_flatten_them() -> None:
    noisy = replace(THREE, n_plays=120, sd={**THREE.sd, "e": 0.2})
    found = estimate_spread(marks(1, noisy)).slopes
    assert found.mean() == pytest.approx(1.0)
    assert found[0] / found[2] == pytest.approx(1.3 / 0.7, rel=0.2)


def test_equal_slopes_stay_nearly_equal() -> None:
    spread = estimate_spread(marks(2, replace(THREE, slopes=())))
    assert spread.slopes == pytest.approx([1.0, 1.0, 1.0], abs=0.04)


def test_two_raters_are_taken_as_equal_and_it_is_said() -> None:
    plan = Plan()
    spread = estimate_spread(marks(3, plan))
    assert (spread.slopes == 1.0).all()
    assert "needs three" in spread.why_equal
    assert spread.why_equal in rate(simulate(3, plan)).notes


def test_three_raters_who_share_little_are_taken_as_equal() -> None:
    apart = replace(THREE, coverage=((1.0,) * 6, (0.5,) * 6, (0.02,) * 6))
    spread = estimate_spread(marks(4, apart))
    assert (spread.slopes == 1.0).all()
    assert "too few reps" in spread.why_equal


def test_rescaling_makes_spreads_alike() -> None:
    found = marks(5, THREE)
    scores = estimate_spread(found).rescale(found)
    one_criterion = found.criterion.codes == 0
    raw = [found.score[one_criterion & (found.rater.codes == r)].std() for r in range(3)]
    alike = [scores[one_criterion & (found.rater.codes == r)] for r in range(3)]
    assert raw[0] > 1.2 * raw[2]
    shared = np.cov(np.stack(alike))
    assert shared[0, 1] == pytest.approx(shared[1, 2], rel=0.1)


def test_a_grade_is_what_the_average_rater_would_have_given() -> None:
    room = simulate(6, replace(THREE, coverage=((1.0,) * 6, (1.0,) * 6, (0.2, 0.2, 0.2, 1.0, 1.0, 1.0))))
    found = rate(room)
    overall = found.grades.loc[found.grades["group"] == "overall", "estimate"].to_numpy(dtype=np.float64)
    assert np.abs(overall - room.truth).max() < 0.03
