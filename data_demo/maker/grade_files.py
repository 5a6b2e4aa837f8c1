"""The three graders' files, as unlike as they keep them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from data_demo.maker.paper import Cell, Paper, Sheet, text_paper
from data_demo.maker.rubric import ABBREVIATED, CRITERIA, CRITERION_IDS, GROUPS, SHORT
from data_demo.maker.season import SimulatedSeason
from data_demo.maker.tables import BLOCK_CRITERIA, records, written
from data_demo.maker.world import PLAYERS, SESSIONS, Athlete

RUSK, THACKRAY, QUELL = "grades/rusk_marks.csv", "grades/Thackray games.xlsx", "grades/quell_marks.tsv"
MISCOUNTED = "game-07"
"""The game at which the third coach counted two snaps too many."""

ASKED: tuple[tuple[str, str], ...] = (
    ("Darnell", "Darnell Achterberg"),
    ("Dash", "Dashiell Achterberg"),
    ("Kip", "Keoni Palaualelo"),
    ("Zibby", "Zbyszek Wrzosek"),
    ("R. Okonjo-Bel", "Rémy Okonjo-Bell"),
)
"""How the third coach writes some players, and whom the staff said he means."""
_HIS_NAMES = {full: written for written, full in ASKED}


def grade_papers(season: SimulatedSeason) -> list[Paper]:
    """Return the files of all three graders."""
    frame = _marks(season)
    return [_rusk(frame), _thackray(frame), _quell(frame)]


def last_first(player: Athlete) -> str:
    """Return `Last, First`."""
    return f"{player.last}, {player.first}"


def number_last(player: Athlete, *, spring: bool = False) -> str:
    """Return `44 LAST`."""
    return f"{player.spring if spring else player.season} {player.last.upper()}"


def initial_last(player: Athlete) -> str:
    """Return how the third coach writes him: `F. Last`, or a nickname."""
    return _HIS_NAMES.get(player.name, f"{player.first[0]}. {player.last}")


def _marks(season: SimulatedSeason) -> pd.DataFrame:
    """Return all marks with what stands beside them in a file, in the order they are kept."""
    marks = season.marks.frame
    reps = season.film.reps.take(marks["rep"].to_numpy()).reset_index(drop=True)
    plays = season.film.plays.take(reps["play"].to_numpy()).reset_index(drop=True)
    frame = marks.assign(
        mark=written(season.marks),
        session=reps["session"],
        player=reps["player"],
        clip=plays["clip"],
        snap=plays["snap"].fillna(0).astype(int),
        technique=reps["technique"],
        gap_held=reps["gap_held"],
    )
    return frame.sort_values(["rater", "session", "look", "clip", "player", "criterion"], ignore_index=True)


def _rusk(frame: pd.DataFrame) -> Paper:
    rows: list[list[Cell]] = [["Session", "Clip", "Player", "Criterion", "Mark", "Block", "Gap", "Look"]]
    names = [last_first(p) for p in PLAYERS]
    criteria = [SHORT[c] for c in CRITERION_IDS]
    noted = {i for i, c in enumerate(CRITERION_IDS) if c in BLOCK_CRITERIA}
    gap = {"yes": "Y", "no": "N", "": ""}
    mine = frame[frame["rater"] == 0]
    for m in records(mine):
        block = m.technique.replace("_", " ") if m.criterion in noted else ""
        held = gap[m.gap_held] if m.criterion in noted else ""
        again = "again" if m.look == "repeat" else ""
        session = SESSIONS[m.session].label
        rows.append([session, m.clip, names[m.player], criteria[m.criterion], m.mark, block, held, again])
    return text_paper(RUSK, rows, ";")


def _thackray(frame: pd.DataFrame) -> Paper:
    mine = frame[frame["rater"] == 1]
    sheets = []
    for look, letter in (("first", "G"), ("repeat", "R")):
        for session, part in mine[mine["look"] == look].groupby("session"):
            sheets.append(_game_sheet(letter, int(str(session)), part))
    return Paper(THACKRAY, sheets)


def _game_sheet(letter: str, session: int, part: pd.DataFrame) -> Sheet:
    """Return a sheet with the opponent in B1 and two rows of headings, a row a player and clip."""
    held = SESSIONS[session]
    groups: list[Cell] = ["SNAP", None]
    merged = [(2, 0, 2, 1)]
    for id_, label in GROUPS:
        size = sum(c[1] == id_ for c in CRITERIA)
        if size > 1:
            merged.append((2, len(groups), 2, len(groups) + size - 1))
        groups += [label.upper(), *[None] * (size - 1)]
    heads: list[Cell] = ["Clip", "Player", *(SHORT[c] for c in CRITERION_IDS)]
    title: list[Cell] = ["Opponent", held.opponent]
    rows: list[list[Cell]] = [title, [], groups, heads]
    for _, rep in part.groupby(["clip", "player"], sort=True):
        clip, player = int(rep["clip"].iloc[0]), int(rep["player"].iloc[0])
        row: list[Cell] = [clip, number_last(PLAYERS[player]), *[None] * len(CRITERION_IDS)]
        for criterion, mark in zip(rep["criterion"], rep["mark"], strict=True):
            row[2 + int(criterion)] = int(mark) if str(mark).isdigit() else str(mark)
        rows.append(row)
    return Sheet(f"{letter}{held.game_id[-2:]} {held.opponent}", rows, merged)


def _quell(frame: pd.DataFrame) -> Paper:
    rows: list[list[Cell]] = [["Vs / practice", "Snap", "Who", "Item", "Grade", "Pass"]]
    mine = frame[frame["rater"] == 2]
    names = [initial_last(p) for p in PLAYERS]
    criteria = [ABBREVIATED[c] for c in CRITERION_IDS]
    more = np.where(mine["session"] == _place(MISCOUNTED), 2, 0)
    for m, extra in zip(records(mine), more, strict=True):
        held = SESSIONS[m.session]
        session = f"vs {held.opponent}" if held.opponent else held.label
        again = 2 if m.look == "repeat" else 1
        rows.append([session, m.snap + int(extra), names[m.player], criteria[m.criterion], m.mark, again])
    return text_paper(QUELL, rows, "\t")


def _place(game_id: str) -> int:
    return next(i for i, s in enumerate(SESSIONS) if s.game_id == game_id)
