from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lbeval.errors import FitError
from lbeval.fit.ratings import OVERALL, RatingsFit
from tests.fit.graded_rooms import Floats, Plan, Room, make_rubric, rate, simulate
from tests.hand_season import table

PLAN = Plan()
EXACT = {"p": 0.06, "pc": 0.03, "pr": 0.0, "pg": 0.0, "ps": 0.0, "e": 1e-3}
ONE_SIDED = ((1.0,) * 6, (0.0, 0.0, 0.0, 1.0, 1.0, 1.0))
"""The harsh rater grades everyone, the lenient one only the last three."""


@pytest.fixture(scope="module")
def room() -> Room:
    return simulate(1, PLAN)


@pytest.fixture(scope="module")
def fit(room: Room) -> RatingsFit:
    return rate(room)


def column(frame: pd.DataFrame, name: str) -> Floats:
    return frame[name].to_numpy(dtype=np.float64)


def overall(fit: RatingsFit, name: str = "estimate") -> Floats:
    return column(fit.grades.loc[fit.grades["group"] == OVERALL], name)


def notes(frame: pd.DataFrame) -> list[str]:
    return [str(one) for one in frame["note"]]


def marks_of(room: Room, **columns: str) -> Room:
    """Keep the marks with these ids."""
    keep = np.ones(len(room.grades), dtype=bool)
    for name, wanted in columns.items():
        keep &= room.grades[name].isin(wanted.split()).to_numpy()
    return replace(room, grades=room.grades.loc[keep].reset_index(drop=True))


def test_who_graded_whom_no_longer_matters() -> None:
    fitted = simulate(2, replace(PLAN, sd=EXACT, coverage=ONE_SIDED))
    found = rate(fitted)
    assert np.abs(overall(found, "raw") - fitted.truth).max() > 0.05
    assert np.abs(overall(found) - fitted.truth).max() < 0.005
    assert column(found.raters, "estimate") == pytest.approx(fitted.severity, abs=0.005)
    assert [row.rater_id for row in found.rater_rows()] == ["r0", "r1"]


def test_each_part_of_the_rubric_is_recovered_where_nothing_blurs_it() -> None:
    plan = replace(PLAN, sd=EXACT, weights=(2.0, 1.0, 1.0))
    fitted = simulate(3, plan)
    found = rate(fitted)
    criteria = column(found.criteria, "estimate").reshape(6, 3)  # in the rubric's order
    weights = np.array([0.5, 0.25, 0.25])
    assert overall(found) == pytest.approx(criteria @ weights, abs=1e-9)
    rest = column(found.grades.loc[found.grades["group"] == "rest"], "estimate")
    assert rest == pytest.approx(criteria[:, 1:].mean(axis=1), abs=1e-9)
    assert overall(found) == pytest.approx(fitted.truth, abs=0.005)


def test_games_average_to_the_season(fit: RatingsFit) -> None:
    by_player = fit.games.groupby("player_id")["estimate"].mean().to_numpy(dtype=np.float64)
    assert by_player == pytest.approx(overall(fit), abs=1e-9)
    orders = [row.order for row in fit.game_rows("p0")]
    assert orders == sorted(orders)


def test_intervals_hold_their_estimates_and_widen_for_less_film(fit: RatingsFit) -> None:
    for frame in (fit.grades, fit.criteria, fit.games, fit.raters):
        assert (column(frame, "conf_low") < column(frame, "estimate")).all()
        assert (column(frame, "estimate") < column(frame, "conf_high")).all()
    season = fit.grades.loc[fit.grades["group"] == OVERALL].set_index("player_id")["std_error"]
    of_game = fit.games["player_id"].map(season).to_numpy(dtype=np.float64)
    assert (column(fit.games, "std_error") > of_game).all()


def test_grades_of_an_even_room_are_drawn_together(fit: RatingsFit) -> None:
    assert overall(fit).std() < overall(fit, "raw").std()
    assert np.corrcoef(overall(fit), overall(fit, "raw"))[0, 1] > 0.99


def test_severity_is_the_raters_own_shift(room: Room, fit: RatingsFit) -> None:
    lenient = room.grades.assign(
        score=np.where(room.grades["rater_id"] == "r1", room.grades["score"] + 0.1, room.grades["score"])
    )
    found = rate(replace(room, grades=lenient))
    assert column(found.raters, "estimate") - column(fit.raters, "estimate") == pytest.approx(
        [-0.05, 0.05], abs=1e-6
    )
    assert overall(found) - overall(fit) == pytest.approx(0.05, abs=1e-6)
    assert column(fit.raters, "estimate").sum() == pytest.approx(0.0, abs=1e-12)


def test_row_order_and_unused_rows_change_nothing(room: Room, fit: RatingsFit) -> None:
    shuffled = room.grades.sample(frac=1.0, random_state=1).reset_index(drop=True)
    practice = room.grades.head(40).assign(game_id="practice", play_id="practice-001")
    again = room.grades.head(40).assign(look="repeat", score=0.0)
    agreed = room.grades.head(40).assign(look="meeting", score=0.0)
    notes_too = room.grades.head(40).assign(mode="notes", score=0.0)
    prospect = room.grades.head(40).assign(player_id="visitor")
    blank = room.grades.head(40).assign(play_id="g0-900", score=np.nan)
    games = pd.concat(
        [room.games, table("games", [{"game_id": "practice", "phase": "practice", "order": 9}])],
        ignore_index=True,
    )
    players = pd.concat(
        [room.players, table("players", [{"player_id": "visitor", "status": "prospect"}])], ignore_index=True
    )
    grades = pd.concat([shuffled, practice, again, agreed, notes_too, prospect, blank], ignore_index=True)
    before = grades.copy()
    found = rate(replace(room, grades=grades, games=games, players=players))
    pd.testing.assert_frame_equal(grades, before)
    for name in ("grades", "criteria", "games", "raters", "components", "pairs", "tiers", "draws", "model"):
        pd.testing.assert_frame_equal(getattr(found, name), getattr(fit, name), check_exact=True)
    assert (found.terms, found.notes) == (fit.terms, fit.notes)


def test_a_player_without_film_keeps_his_row(room: Room) -> None:
    players = pd.concat([room.players, table("players", [{"player_id": "new"}])], ignore_index=True)
    found = rate(replace(room, players=players))
    for row in found.rows("new"):
        assert (row.note, row.n_obs, row.n_plays) == ("no_film", 0, 0)
        assert math.isnan(row.raw)
        assert math.isnan(row.estimate)
    assert "new" not in found.draws.columns
    assert len(found.rows()) == 7 * 3


def test_under_the_floor_there_are_counts_and_no_number(room: Room) -> None:
    few = room.grades.loc[
        (room.grades["player_id"] != "p2") | room.grades["play_id"].str.endswith(("01", "11"))
    ]
    found = rate(replace(room, grades=few.reset_index(drop=True)))
    row = found.rows("p2")[0]
    assert row.note == "not_enough_film"
    assert 0 < row.n_plays < 30
    assert 0 < row.raw < 1
    assert math.isnan(row.estimate)
    assert math.isnan(row.rank_low)
    assert "p2" not in set(found.tiers["player_id"]) | set(found.pairs["player_id"])
    assert found.games.loc[found.games["player_id"] == "p2", "estimate"].isna().all()
    assert found.criteria.loc[found.criteria["player_id"] == "p2", "estimate"].isna().all()
    assert sum(note == "" for note in notes(found.grades)) == 15


def test_floors_are_the_houses(room: Room) -> None:
    house = room.settings.house.model_copy(update={"min_plays": 75, "confidence": 0.80})
    found = rate(replace(room, settings=room.settings.model_copy(update={"house": house})))
    plays = overall(found, "n_plays")
    assert [note == "" for note in notes(found.grades.loc[found.grades["group"] == OVERALL])] == list(
        plays >= 75
    )
    assert found.level == 0.80


def test_raw_is_what_is_in_the_sheets(room: Room, fit: RatingsFit) -> None:
    his = room.grades.loc[room.grades["player_id"] == "p3"]
    row = next(row for row in fit.rows("p3") if row.group == OVERALL)
    assert row.raw_simple == pytest.approx(his["score"].mean())
    assert row.raw == pytest.approx(his.groupby("criterion")["score"].mean().mean())
    assert (row.n_obs, row.n_plays) == (len(his), his["play_id"].nunique())
    weighted = rate(replace(room, rubric=make_rubric(replace(PLAN, weights=(3.0, 1.0, 0.0)))))
    means = his.groupby("criterion")["score"].mean()
    expected = (3 * means["assignment"] + means["technique"]) / 4
    assert weighted.rows("p3")[0].raw == pytest.approx(expected)


def test_standing_follows_the_draws(fit: RatingsFit) -> None:
    ids = list(fit.tiers["player_id"])
    drawn = fit.draws.loc[fit.draws["group"] == OVERALL, ids].to_numpy(dtype=np.float64)
    assert drawn.mean(axis=0) == pytest.approx(overall(fit), abs=0.002)
    assert set(fit.draws["group"]) == {OVERALL, "first", "rest"}
    assert len(fit.pairs) == 15
    assert (column(fit.pairs, "estimate") >= 0).all()
    assert (column(fit.pairs.loc[fit.pairs["ahead"]], "prob_ahead") > 0.95).all()
    best = fit.grades.loc[overall_index(fit, int(np.argmax(overall(fit))))]
    assert (best["tier"], best["rank_low"]) == (1.0, 1.0)


def overall_index(fit: RatingsFit, place: int) -> int:
    return int(np.flatnonzero((fit.grades["group"] == OVERALL).to_numpy())[place])


def test_one_rater_is_said_and_his_severity_is_not() -> None:
    found = rate(simulate(4, replace(PLAN, severity=(0.0,))))
    assert np.isfinite(overall(found)).all()
    assert notes(found.raters) == ["one_rater"]
    assert np.isnan(column(found.raters, "estimate")).all()
    assert "All marks are Coach 0's" in found.notes[0]
    left_out = set(found.components.loc[found.components["estimate"].isna(), "term"])
    assert {"player:rater", "rater:game", "rater:player:play"} <= left_out
    assert "player" in found.terms


@pytest.mark.parametrize(
    "plan",
    [
        replace(PLAN, n_players=1),
        replace(PLAN, n_players=2),
        replace(PLAN, n_games=1, n_plays=70, n_players=2),
        replace(PLAN, n_games=1, n_plays=70, n_players=1, severity=(0.0,)),
        replace(PLAN, criteria=("all",), weights=(1.0,)),
        replace(PLAN, steps=1),
        replace(PLAN, steps=100),
        replace(PLAN, n_games=1, n_plays=9, house={"min_plays": 1, "min_plays_group": 1}),
    ],
    ids=["one player", "two", "one game", "one of all", "one criterion", "plus-minus", "percent", "9 plays"],
)
def test_small_and_odd_seasons_are_rated(plan: Plan) -> None:
    fitted = simulate(5, plan)
    found = rate(fitted)
    assert np.isfinite(overall(found)).all()
    assert (overall(found, "conf_low") < fitted.truth + 0.15).all()
    assert (overall(found, "conf_high") > fitted.truth - 0.15).all()


def test_nine_plays_are_not_enough_film() -> None:
    found = rate(simulate(5, replace(PLAN, n_games=1, n_plays=9)))
    assert set(notes(found.grades)) == {"not_enough_film"}
    assert found.pairs.empty
    assert found.tiers.empty


def test_marks_that_are_all_alike_tell_nothing(room: Room) -> None:
    found = rate(replace(room, grades=room.grades.assign(score=1.0)))
    assert set(notes(found.grades)) == {"marks_alike"}
    assert np.isnan(overall(found)).all()
    assert (overall(found, "raw") == 1.0).all()


def test_a_rater_who_always_gives_the_same_is_named(room: Room) -> None:
    score = np.where(room.grades["rater_id"] == "r1", 0.5, room.grades["score"])
    found = rate(replace(room, grades=room.grades.assign(score=score)))
    assert notes(found.raters) == ["", "marks_alike"]
    assert np.isfinite(overall(found)).all()


def test_raters_without_a_player_in_common_are_not_compared() -> None:
    apart = ((1.0, 1.0, 1.0, 0.0, 0.0, 0.0), (0.0, 0.0, 0.0, 1.0, 1.0, 1.0))
    found = rate(simulate(6, replace(PLAN, coverage=apart)))
    assert set(notes(found.grades)) == {"not_linked"}
    assert np.isnan(overall(found, "rank_low")).all()
    assert found.tiers.empty
    across = found.pairs.loc[found.pairs["note"] == "not_linked"]
    assert len(across) == 9
    assert not across["ahead"].any()
    assert np.isnan(column(found.raters, "estimate")).all()
    assert any("Coach 0; Coach 1" in note for note in found.notes)
    assert not bool(found.glance()["linked"].iloc[0])


def test_each_player_with_a_rater_of_his_own_gets_no_grade() -> None:
    full = simulate(7, replace(PLAN, severity=(0.0, 0.1, 0.2, -0.1, -0.1, 0.0)))
    same = full.grades["rater_id"].str[1:] == full.grades["player_id"].str[1:]
    found = rate(replace(full, grades=full.grades.loc[same].reset_index(drop=True)))
    assert set(notes(found.grades)) == {"not_linked"}
    assert np.isnan(overall(found)).all()


def test_raters_without_a_criterion_in_common_still_grade_the_same_players(room: Room) -> None:
    split = (room.grades["rater_id"] == "r0") == (room.grades["criterion"] == "assignment")
    found = rate(replace(room, grades=room.grades.loc[split].reset_index(drop=True)))
    assert set(notes(found.grades)) <= {"", "one_rater"}
    assert np.isfinite(overall(found)).all()
    assert notes(found.raters) == ["not_linked", "not_linked"]


def test_each_rater_with_a_game_of_his_own_is_fitted() -> None:
    full = simulate(8, replace(PLAN, severity=(0.0, 0.1, 0.2, -0.1, -0.1), n_plays=50))
    same = full.grades["rater_id"].str[1:] == full.grades["game_id"].str[1:]
    found = rate(replace(full, grades=full.grades.loc[same].reset_index(drop=True)))
    assert np.isfinite(overall(found)).all()
    assert "game" not in found.terms


def test_a_player_of_one_rater_has_the_wider_interval() -> None:
    found = rate(simulate(9, replace(PLAN, coverage=((1.0,) * 6, (0.3, 0.3, 0.3, 0.3, 0.3, 0.0)))))
    error = overall(found, "std_error")
    assert error[5] > error[:5].max()
    assert notes(found.grades.loc[found.grades["group"] == OVERALL])[5] == "one_rater"


def test_no_game_mark_at_all_is_refused_with_what_to_do(room: Room) -> None:
    with pytest.raises(FitError, match="grade a game"):
        rate(replace(room, games=room.games.assign(phase=pd.Series("practice", index=room.games.index))))
    with pytest.raises(FitError, match="with a weight"):
        rate(
            marks_of(
                replace(room, rubric=make_rubric(replace(PLAN, weights=(1.0, 0.0, 0.0)))), criterion="effort"
            )
        )


def test_components_name_what_was_left_out(fit: RatingsFit) -> None:
    known = fit.components.loc[fit.components["estimate"].notna()]
    assert [*fit.terms, "residual"] == list(known["term"])
    assert known["share"].sum() == pytest.approx(1.0)
    assert fit.glance().shape[0] == 1
    assert fit.tidy() is fit.grades
