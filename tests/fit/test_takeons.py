from __future__ import annotations

from typing import Any

import pytest

from lbeval.fit.takeons import TakeOnCounts, fit_takeons
from tests.hand_season import season


def rep(play: str, scores: dict[str, float], **more: Any) -> list[dict[str, Any]]:
    common = {"rater_id": "a", "player_id": "ada", "game_id": play.split("-", maxsplit=1)[0], "play_id": play}
    return [
        {**common, "criterion": name, "score": score, "technique": "take_on", **more}
        for name, score in scores.items()
    ]


def counted(fit: TakeOnCounts) -> dict[str, tuple[int, int]]:
    return {row.stage: (row.passed, row.n_obs) for row in fit.stages.itertuples()}  # type: ignore[misc]


def test_a_rep_is_at_risk_only_where_it_passed_the_stage_before() -> None:
    grades = [
        *rep("g1-001", {"close": 1.0, "strike": 1.0}),
        *rep("g1-002", {"close": 1.0, "strike": 0.5}),
        *rep("g1-003", {"close": 0.0, "strike": 1.0}),
    ]
    fit = fit_takeons(season(grades=grades))
    assert counted(fit) == {"close": (2, 3), "strike": (1, 2)}
    assert fit.reps[["n_reps", "n_out_of_order"]].to_numpy().tolist() == [[3, 1]]
    assert fit.cut == pytest.approx(0.7)


def test_only_called_take_ons_of_games_at_first_look() -> None:
    grades = [
        *rep("g1-001", {"close": 1.0}),
        *rep("g1-002", {"close": 1.0}, technique="slip"),
        *rep("g1-003", {"close": 1.0}, technique=""),
        *rep("g1-001", {"close": 0.0}, look="repeat"),
        *rep("p1-001", {"close": 1.0}),
    ]
    assert counted(fit_takeons(season(grades=grades))) == {"close": (1, 1)}


def test_a_rep_graded_twice_counts_once_by_the_coach_who_graded_most() -> None:
    grades = [
        *rep("g1-001", {"close": 1.0, "strike": 1.0}),
        *rep("g1-002", {"close": 1.0, "strike": 1.0}),
        *rep("g1-001", {"close": 0.0, "strike": 0.0}, rater_id="b"),
    ]
    assert counted(fit_takeons(season(grades=grades))) == {"close": (2, 2), "strike": (2, 2)}


def test_gap_held_is_counted_a_rep() -> None:
    grades = [
        *rep("g1-001", {"close": 1.0, "strike": 0.0}, gap_held="yes"),
        *rep("g1-002", {"close": 1.0}, gap_held="no"),
        *rep("g1-003", {"close": 1.0}),
    ]
    got = fit_takeons(season(grades=grades)).reps.iloc[0]
    assert (got["gap_held"], got["gap_lost"], got["n_reps"]) == (1, 1, 3)


@pytest.mark.parametrize("staged", [True, False])
def test_no_take_ons(staged: bool) -> None:
    plain = {"groups": [{"id": "g", "label": "G"}], "criteria": [{"id": "c", "label": "C", "group": "g"}]}
    fit = fit_takeons(season(rubric=None if staged else plain))
    assert fit.stages.empty
    assert fit.room.empty
    assert fit.reps.empty


def test_stages_stand_in_the_order_of_the_chain() -> None:
    grades = rep("g1-001", {"shed": 1.0, "strike": 1.0, "close": 1.0})
    # this rubric has no criterion for extend, so shed comes after strike
    fit = fit_takeons(season(grades=grades))
    assert fit.stages["stage"].tolist() == ["close", "strike", "shed"]
