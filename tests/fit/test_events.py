from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from lbeval.fit.events import fit_events
from tests.hand_season import season


def marks(plays: list[str], player: str = "ada", rater: str = "a") -> list[dict[str, Any]]:
    return [
        {
            "rater_id": rater,
            "player_id": player,
            "game_id": play.split("-")[0],
            "play_id": play,
            "criterion": "wrap",
            "score": 1.0,
        }
        for play in plays
    ]


def snaps(plays: list[str], player: str = "ada", **more: Any) -> list[dict[str, Any]]:
    return [
        {"player_id": player, "game_id": play.split("-")[0], "play_id": play, "role": "inside", **more}
        for play in plays
    ]


def happened(kind: str, plays: list[str]) -> list[dict[str, Any]]:
    return [{"player_id": "ada", "game_id": "g1", "play_id": play, "kind": kind} for play in plays]


def film(frame: pd.DataFrame, player: str, phase: str) -> pd.Series[Any]:
    return frame[(frame["player_id"] == player) & (frame["phase"] == phase)].iloc[0]


def test_film_counts_plays_once_and_keeps_practice_apart() -> None:
    grades = [
        *marks(["g1-001", "g1-002", "g2-001"]),
        *marks(["g1-001"], rater="b"),
        *marks(["p1-001", "p1-002"]),
        {**marks(["g1-009"])[0], "score": float("nan"), "blank": "did_not_occur"},
    ]
    got = fit_events(season(grades=grades, roles=snaps(["g1-001", "g1-002", "g1-003", "g2-001"])))
    game = film(got.film, "ada", "game")
    names = ["n_snaps", "n_plays", "n_games", "n_raters", "n_marks", "note"]
    assert game[names].tolist() == [4, 3, 2, 2, 4, "few_plays"]
    assert film(got.film, "ada", "outside_games")["n_plays"] == 2
    assert film(got.film, "bo", "game")["n_plays"] == 0
    assert got.raters[["rater_id", "n_plays"]].to_numpy().tolist() == [["a", 3], ["b", 1]]


def test_events_are_a_share_of_snaps() -> None:
    # 3 of 20: Wilson 90 %, by the formula: (p + z2/2n ± z sqrt(p(1-p)/n + z2/4n2)) / (1 + z2/n), z = 1.644854
    plays = [f"g1-{number:03d}" for number in range(1, 21)]
    got = fit_events(season(roles=snaps(plays), events=happened("loaf", plays[:3]))).events.iloc[0]
    n, p, z2 = 20, 0.15, 1.644854**2
    half = np.sqrt(z2 * (p * (1 - p) / n + z2 / (4 * n * n)))
    ends = [(p + z2 / (2 * n) - half) / (1 + z2 / n), (p + z2 / (2 * n) + half) / (1 + z2 / n)]
    assert (got["n_events"], got["n_obs"], got["base"]) == (3, 20, "snaps")
    assert [got["conf_low"], got["conf_high"]] == pytest.approx(ends, rel=1e-6)


def test_without_a_list_of_snaps_graded_plays_are_the_base() -> None:
    got = fit_events(season(grades=marks(["g1-001", "g1-002"]), events=happened("loaf", ["g1-001"]))).events
    assert got[["n_obs", "base"]].to_numpy().tolist() == [[2, "graded plays"]]


def test_no_share_where_events_outnumber_plays_or_belong_to_other_snaps() -> None:
    events = [*happened("loaf", ["", "", ""]), *happened("special_teams_snap", [""])]
    got = fit_events(season(grades=marks(["g1-001"]), events=events)).events
    assert got["n_events"].tolist() == [3, 1]
    assert got["estimate"].isna().all()
    assert got["conf_low"].isna().all()


def test_roles_busiest_first() -> None:
    roles = [
        *snaps(["g1-001"], role="edge", at_point="yes"),
        *snaps(["g1-002", "g1-003"], at_point="no"),
        *snaps(["p1-001", "p1-002", "p1-003"], role="edge"),
        *snaps(["g1-004"], role=""),
    ]
    got = fit_events(season(roles=roles)).roles
    assert got[["role", "n_plays", "n_at_point"]].to_numpy().tolist() == [["inside", 2, 0], ["edge", 1, 1]]


def test_a_season_with_nothing_in_it() -> None:
    got = fit_events(season())
    assert got.film["n_plays"].eq(0).all()
    assert len(got.film) == 4
    assert got.events.empty
    assert got.roles.empty
