from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from lbeval.fit.tackling import TacklingFit, fit_tackling
from lbeval.tables import Season
from tests.hand_season import season


def tackles(outcomes: str, player: str = "ada", **more: Any) -> list[dict[str, Any]]:
    """One tackle for each letter: s solo, a assist, m miss; each on a play of its own in game 1."""
    words = {"s": "solo", "a": "assist", "m": "miss"}
    return [
        {
            "player_id": player,
            "game_id": "g1",
            "play_id": f"g1-{number:03d}",
            "outcome": words[letter],
            **more,
        }
        for number, letter in enumerate(outcomes, start=1)
    ]


def rate(fit: TacklingFit, denominator: str, approach: str = "all", player: str = "ada") -> pd.Series[Any]:
    rates = fit.rates
    found = rates[
        (rates["player_id"] == player)
        & (rates["denominator"] == denominator)
        & (rates["approach"] == approach)
    ]
    assert len(found) == 1
    return found.iloc[0]


def head(fit: TacklingFit, player: str, *names: str) -> list[int]:
    row = fit.head[fit.head["player_id"] == player].iloc[0]
    return [int(row[name]) for name in names]


def test_both_denominators_of_a_worked_example() -> None:
    # 8 solo, 4 assists, 2 misses: 20.0 % of solo and miss, 14.3 % of all are missed (arithmetic)
    fit = fit_tackling(season(tackles=tackles("ssssssssaaaamm")))
    assert fit.printed == "solo+assist"
    assert (rate(fit, "solo")["missed"], rate(fit, "solo")["n_obs"]) == (2, 10)
    assert 1 - rate(fit, "solo")["estimate"] == pytest.approx(0.200)
    assert 1 - rate(fit, "solo+assist")["estimate"] == pytest.approx(0.143, abs=5e-4)


def test_interval_of_published_attempts() -> None:
    # Hirase et al. 2023, OJSM 11(7), doi 10.1177/23259671231182968: 741 of 1,000 solo attempts made;
    # missed 25.9 %, Wilson 95 % 23.3 to 28.7
    rows = tackles("s" * 741 + "m" * 259)
    for number, row in enumerate(rows):
        row["play_id"] = f"g1-{number:04d}"
    fit = fit_tackling(
        season(settings={"house": {"confidence": 0.95, "tackle_made": ["solo"]}}, tackles=rows)
    )
    got = rate(fit, "solo")
    assert fit.printed == "solo"
    assert [1 - got["conf_high"], 1 - got["conf_low"]] == pytest.approx([0.233, 0.287], abs=5e-4)


def test_the_house_rule_is_printed_whatever_it_is() -> None:
    fit = fit_tackling(season(settings={"house": {"tackle_made": ["assist"]}}, tackles=tackles("sam")))
    assert fit.printed == "assist"
    assert set(fit.rates["denominator"]) == {"assist", "solo", "solo+assist"}
    assert rate(fit, "assist")["n_obs"] == 2


def test_practice_and_nullified_plays_count_for_the_head_alone() -> None:
    rows = [
        *tackles("s"),
        {"player_id": "ada", "game_id": "p1", "play_id": "p1-001", "outcome": "solo", "head": "down"},
        {"player_id": "ada", "game_id": "g1", "play_id": "g1-009", "outcome": "miss", "head": "down"},
    ]
    plays = [
        {"game_id": "g1", "play_id": "g1-001", "clip": 1},
        {"game_id": "g1", "play_id": "g1-009", "clip": 9, "nullified": True},
    ]
    fit = fit_tackling(season(tackles=rows, plays=plays))
    assert rate(fit, "solo+assist")["n_obs"] == 1
    assert head(fit, "ada", "n_plays", "n_log", "n_made", "n_missed", "n_outside") == [2, 2, 1, 1, 1]


def test_a_play_in_the_log_and_in_the_marks_is_one_contact() -> None:
    rows = [*tackles("sm", head="down"), *tackles("s", player="bo", faults="arms_only;head_down")]
    marks = [
        {"play_id": "g1-001", "score": 0.0},
        {"play_id": "g1-001", "score": 0.0, "rater_id": "b"},
        {"play_id": "g1-007", "score": 0.0},
        {"play_id": "g1-008", "score": 0.5},
        {"play_id": "g1-009", "score": float("nan"), "blank": "ungradable"},
        {"play_id": "g1-010", "score": 0.0, "criterion": "wrap"},
    ]
    common = {"rater_id": "a", "player_id": "ada", "game_id": "g1", "criterion": "eyes", "scale": "points"}
    fit = fit_tackling(season(tackles=rows, grades=[{**common, **mark} for mark in marks]))
    assert head(fit, "ada", "n_plays", "n_log", "n_marked", "n_judged") == [3, 2, 2, 3]
    assert head(fit, "bo", "n_plays", "n_log", "n_made", "n_noted") == [1, 1, 1, 1]
    both = fit.head_plays[fit.head_plays["in_log"] & fit.head_plays["in_marks"]]
    assert both["play_id"].tolist() == ["g1-001"]


def test_entries_without_a_play_are_each_a_contact() -> None:
    rows = tackles("ss", head="down")
    for row in rows:
        row["play_id"] = ""
    fit = fit_tackling(season(tackles=rows))
    assert head(fit, "ada", "n_plays") == [2]


def test_faults_are_counted_by_misses_and_once_an_attempt() -> None:
    rows = [*tackles("mmss", faults="arms_only"), *tackles("m", faults="feet_race;feet_race")]
    rows[-1]["play_id"] = "g1-050"
    fit = fit_tackling(season(tackles=rows))
    got = fit.faults[["fault", "attempts", "made", "missed", "n_obs", "n_missed"]].to_numpy().tolist()
    assert got == [["arms_only", 4, 2, 2, 5, 3], ["feet_race", 1, 0, 1, 5, 3]]


def test_yards_by_student() -> None:
    # t with 2 degrees of freedom at .95 is 2.919986 (any printed table: 2.920); sd of 1, 2, 3 is 1
    rows = tackles("sss")
    for yards, row in enumerate(rows, start=1):
        row["yards_after_contact"] = float(yards)
    got = fit_tackling(season(tackles=rows)).yards.iloc[0]
    assert got["total"] == 6
    assert got["conf_high"] - got["estimate"] == pytest.approx(2.919986 / np.sqrt(3), rel=1e-6)
    one = fit_tackling(season(tackles=rows[:1])).yards.iloc[0]
    assert np.isnan(one["conf_low"])


def test_few_attempts_are_said() -> None:
    fit = fit_tackling(season(tackles=tackles("sssssssss")))
    assert rate(fit, "solo")["note"] == "few_tackles"
    assert rate(fit, "solo", player="bo")["n_obs"] == 0
    assert np.isnan(rate(fit, "solo", player="bo")["estimate"])


def test_a_season_without_a_log() -> None:
    fit = fit_tackling(season())
    assert fit.rates["n_obs"].eq(0).all()
    assert fit.head["n_plays"].eq(0).all()
    assert fit.faults.empty
    assert fit.yards.empty
    assert fit.head_plays.empty


def test_prospects_are_nobody_here() -> None:
    players = [
        {"player_id": "ada", "name": "Ada Quist"},
        {"player_id": "pro", "name": "P. Rospect", "status": "prospect"},
    ]
    fit = fit_tackling(season(players=players, tackles=tackles("sm", player="pro", head="down")))
    assert "pro" not in set(fit.rates["player_id"]) | set(fit.head["player_id"]) | set(
        fit.head_plays["player_id"]
    )
    assert fit.room.loc[fit.room["approach"] == "all", "n_obs"].eq(0).all()


@pytest.fixture
def busy() -> Season:
    rows = [
        *tackles("ssam", approach="angle", faults="arms_only", yards_after_contact=2.0),
        *tackles("sm", player="bo", approach="pursuit", head="down"),
    ]
    return season(tackles=rows)


def test_row_order_is_irrelevant_and_the_input_unchanged(busy: Season) -> None:
    before = busy.tackles.copy(deep=True)
    first = fit_tackling(busy)
    pd.testing.assert_frame_equal(busy.tackles, before)
    busy.tackles[:] = busy.tackles.iloc[::-1].to_numpy()
    second = fit_tackling(busy)
    for name in ("rates", "room", "faults", "yards", "head", "head_plays"):
        pd.testing.assert_frame_equal(getattr(first, name), getattr(second, name))


def test_an_interval_holds_its_estimate_and_the_room_its_players(busy: Season) -> None:
    fit = fit_tackling(busy)
    known = fit.rates[fit.rates["n_obs"] > 0]
    assert known["estimate"].between(known["conf_low"], known["conf_high"]).all()
    sums = fit.rates.groupby(["approach", "denominator"])["n_obs"].sum()
    room = fit.room.set_index(["approach", "denominator"])["n_obs"]
    pd.testing.assert_series_equal(sums.sort_index(), room.sort_index())
