"""The small season's three files."""

from __future__ import annotations

import numpy as np
import pandas as pd

from data_demo.maker.effects import stream
from data_demo.maker.paper import Cell, Paper, Sheet, text_paper
from data_demo.maker.settings import source_text
from data_demo.maker.small import OPPONENTS, PEOPLE, SmallSeason, game_dates
from data_demo.maker.tables import records

GRADES, TACKLES, ROSTER = "LB grades 2025.xlsx", "tackles.csv", "roster.csv"
_CODES = (("assignment", "MA", 0.25), ("assignment", "ME", 0.12), ("effort", "L", 0.5))


def small_papers(season: SmallSeason) -> list[Paper]:
    """Return the staff's files."""
    return [_grades(season), _tackles(season), _roster()]


def small_season_toml() -> str:
    """Return `season.toml` with its games."""
    lines = []
    for g, (opponent, day) in enumerate(zip(OPPONENTS, game_dates(), strict=True), 1):
        facts = f'label = "Game {g}", opponent = "{opponent}", week = {g}, date = {day.isoformat()}'
        lines.append(f"game-{g} = {{ {facts} }}")
    return source_text("small_season.toml").replace("#GAMES#", "\n".join(lines))


def _grades(season: SmallSeason) -> Paper:
    rng = stream(season.seed, 21)
    first = season.marks[season.marks["rater_id"] == "varga"]
    written = first.assign(mark=_with_codes(rng, first))
    sheets = []
    for g, part in written.groupby("game"):
        rows: list[list[Cell]] = [["Play", "Name", "A", "T", "E"]]
        rows += _reps(part)
        sheets.append(Sheet(f"Game {int(str(g)) + 1}", rows))
    second: list[list[Cell]] = [["Game", "Play", "Name", "A", "T", "E"]]
    for g, part in season.marks[season.marks["rater_id"] == "osei"].groupby("game"):
        second += [[f"Game {int(str(g)) + 1}", *row] for row in _reps(part)]
    return Paper(GRADES, [*sheets, Sheet("Second look", second)])


def _reps(part: pd.DataFrame) -> list[list[Cell]]:
    found: list[list[Cell]] = []
    for _, rep in part.groupby(["play", "player"]):
        first = rep.iloc[0]
        surname = PEOPLE[int(first["player"])][0].split(" ", 1)[1]
        found.append([int(first["play"]), surname, *map(str, rep["mark"])])
    return found


def _with_codes(rng: np.random.Generator, marks: pd.DataFrame) -> list[str]:
    """Return the marks with a code in brackets behind some of the minuses."""
    luck = rng.random(len(marks))
    found = []
    for mark, criterion, chance in zip(marks["mark"], marks["criterion"], luck, strict=True):
        said = str(mark)
        for where, code, share in _CODES:
            if said == "-" and criterion == where and chance < share:
                said = f"-({code})"
        found.append(said)
    return found


def _tackles(season: SmallSeason) -> Paper:
    rows: list[list[Cell]] = [
        ["Game", "Play", "Name", "Result", "Angle", "Why missed", "Yards after", "Head"]
    ]
    for t in records(season.tackles):
        name = PEOPLE[t.player][0]
        rows.append([f"Game {t.game + 1}", t.play, name, t.outcome, t.approach, t.fault, t.yards, t.head])
    return text_paper(TACKLES, rows)


def _roster() -> Paper:
    rows: list[list[Cell]] = [["Name", "No.", "Pos", "Year", "Left"]]
    rows += [list(p[:5]) for p in PEOPLE]
    return text_paper(ROSTER, rows)
