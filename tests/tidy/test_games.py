"""A session must be found by what files call it, or asked for."""

from __future__ import annotations

import pandas as pd
import pytest

from lbeval.tidy.games import GameBook


def book() -> GameBook:
    rows = [
        ("spring-01", "Spring 01", "spring", None, "", "2025-03-18"),
        ("spring-10", "Spring 10", "spring", None, "", "2025-04-08"),
        ("practice-03", "Practice 03", "practice", 4, "", "2025-09-10"),
        ("game-01", "Game 01", "game", 1, "Ridge", "2025-09-06"),
        ("game-03", "Game 03", "game", 4, "Ridge State", "2025-09-27"),
        ("game-12", "Game 12", "game", 13, "St. Ann's", "2025-11-29"),
    ]
    games = pd.DataFrame(rows, columns=["game_id", "label", "phase", "week", "opponent", "date"])
    games = games.astype({"date": "datetime64[us]", "week": "float64"}).assign(order=range(len(rows)))
    return GameBook(games, {"game-12": ("The Last One",)})


@pytest.mark.parametrize(
    ("written", "game"),
    [
        ("Game 3", "game-03"),
        ("game_03", "game-03"),
        ("GAME3", "game-03"),
        ("G3", "game-03"),
        ("Gm. 3", "game-03"),
        ("Wk 4 vs ...", "game-03"),
        ("Week 4", "game-03"),
        ("vs Ridge State", "game-03"),
        ("@ Ridge", "game-01"),
        ("Ridge", "game-01"),
        ("Wk 4 vs Ridge State (H)", "game-03"),
        ("Coach Ames - Game 3 marks", "game-03"),
        ("2025 Wk 13 grades FINAL", "game-12"),
        ("Game 03 W 24-10", "game-03"),
        ("Spring 1", "spring-01"),
        ("Spring 10", "spring-10"),
        ("Ames spring 10", "spring-10"),
        ("2025-11-29", "game-12"),
        ("the last one", "game-12"),
        ("St Anns", "game-12"),
    ],
)
def test_found(written: str, game: str) -> None:
    assert book().find(written).id == game


@pytest.mark.parametrize(
    "written", ["Game 2", "Wk 4 vs Ridge", "Game 1 vs Ridge State", "Week 2", "Spring", "State", "", "31"]
)
def test_not_found_or_contradicting_is_asked(written: str) -> None:
    assert book().find(written).id == ""


def test_a_misspelt_opponent_is_suggested() -> None:
    assert book().find("vs Rigde State").near == "Game 03"
