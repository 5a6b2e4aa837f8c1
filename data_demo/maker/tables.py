"""The simulated film and marks as the tidy tables that a clean reading of the files gives."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from data_demo.maker.marks import BLANK_WRITTEN, SCALES, WRITTEN, Marks
from data_demo.maker.plays import Film
from data_demo.maker.rubric import CRITERION_IDS
from data_demo.maker.truth import PLAYER_IDS, RATER_IDS
from data_demo.maker.world import PLAYERS, SEASON_NUMBERS_FROM, SESSIONS

BLOCK_CRITERIA = ("run_fit", "close", "strike", "extend", "shed", "cut_block")
"""Criteria on whose marks the first coach notes the technique and whether the gap was held."""

Words = npt.NDArray[np.object_]
GAME_IDS: Words = np.array([s.game_id for s in SESSIONS], dtype=object)


def text(values: Any) -> pd.Series[str]:
    """Return `values` as a text column."""
    return pd.Series(values, dtype="str")


def records(frame: pd.DataFrame) -> list[Any]:
    """Return the rows with their columns as attributes."""
    return list(frame.itertuples(index=False))


def lineage(n: int) -> dict[str, pd.Series]:
    """Return the four columns that say where a row came from, for rows that were never in a file."""
    blank = text(np.full(n, "", dtype=object))
    row = pd.Series(np.arange(1, n + 1))
    return {
        "source_file": blank,
        "source_sheet": blank,
        "source_row": row,
        "source_column": pd.Series(np.zeros(n, dtype=np.int64)),
    }


def play_ids(film: Film) -> Words:
    """Return the id of every snap, `game_id-clip`."""
    names = [SESSIONS[g].game_id for g in film.plays["session"]]
    found = [f"{name}-{clip:03d}" for name, clip in zip(names, film.plays["clip"], strict=True)]
    return np.array(found, dtype=object)


def players_table() -> pd.DataFrame:
    """Return the roster."""
    n = len(PLAYERS)
    return pd.DataFrame(
        {
            "player_id": text(PLAYER_IDS),
            "name": text([p.name for p in PLAYERS]),
            "jersey": text([p.season for p in PLAYERS]),
            "position": text([p.position for p in PLAYERS]),
            "class_year": text([p.class_year for p in PLAYERS]),
            "seasons_left": np.array([p.seasons_left for p in PLAYERS], dtype=np.float64),
            "status": text(["roster"] * n),
            "birth_month": text([p.birth_month for p in PLAYERS]),
            "level": text([""] * n),
            **lineage(n),
        }
    )


def games_table() -> pd.DataFrame:
    """Return every session."""
    return pd.DataFrame(
        {
            "game_id": text([s.game_id for s in SESSIONS]),
            "label": text([s.label for s in SESSIONS]),
            "phase": text([s.phase for s in SESSIONS]),
            "week": np.array([np.nan if s.week is None else s.week for s in SESSIONS], dtype=np.float64),
            "opponent": text([s.opponent for s in SESSIONS]),
            "date": pd.to_datetime([s.date for s in SESSIONS]).astype("datetime64[us]"),
            "order": np.arange(len(SESSIONS)),
        }
    )


def plays_table(film: Film) -> pd.DataFrame:
    """Return every snap."""
    raw = film.plays
    game = GAME_IDS[raw["session"]]
    return pd.DataFrame(
        {
            "game_id": text(game),
            "play_id": text(play_ids(film)),
            "clip": raw["clip"].to_numpy(dtype=np.int64),
            "snap": raw["snap"].to_numpy(dtype=np.float64),
            "play_type": text(raw["play_type"]),
            "down": raw["down"].to_numpy(dtype=np.float64),
            "distance": raw["distance"].to_numpy(dtype=np.float64),
            "hash": text(raw["hash"]),
            "call": text(raw["call"]),
            "side": text(raw["side"]),
            "nullified": raw["nullified"].to_numpy(dtype=bool),
            **lineage(len(raw)),
        }
    )


def roles_table(film: Film) -> pd.DataFrame:
    """Return who did what on every snap."""
    reps = film.reps
    ids = play_ids(film)[reps["play"]]
    game = GAME_IDS[reps["session"]]
    return pd.DataFrame(
        {
            "player_id": text(np.array(PLAYER_IDS, dtype=object)[reps["player"]]),
            "game_id": text(game),
            "play_id": text(ids),
            "role": text(reps["role"]),
            "assignment": text(reps["assignment"]),
            "at_point": text(reps["at_point"]),
            "blocker": text(reps["blocker"]),
            "block_side": text(reps["block_side"]),
            **lineage(len(reps)),
        }
    )


def written(marks: Marks) -> Words:
    """Return every mark as its rater writes it."""
    frame = marks.frame
    rater, code = frame["rater"].to_numpy(), frame["code"].to_numpy()
    blank = frame["blank"].to_numpy(dtype=object)
    found = np.full(len(frame), "", dtype=object)
    for r, spelling in enumerate(WRITTEN):
        mine = rater == r
        found[mine] = np.array([*spelling, ""], dtype=object)[code[mine]]
        for kind, mark in BLANK_WRITTEN[r].items():
            found[mine & (blank == kind)] = mark
    return found


def grades_table(film: Film, marks: Marks) -> pd.DataFrame:
    """Return every mark."""
    frame = marks.frame
    reps = film.reps.take(frame["rep"].to_numpy())
    rater = frame["rater"].to_numpy()
    criterion = np.array(CRITERION_IDS, dtype=object)[frame["criterion"]]
    noted = (rater == 0) & np.isin(criterion, BLOCK_CRITERIA)
    n = len(frame)
    return pd.DataFrame(
        {
            "rater_id": text(np.array(RATER_IDS, dtype=object)[rater]),
            "player_id": text(np.array(PLAYER_IDS, dtype=object)[reps["player"]]),
            "game_id": text(GAME_IDS[reps["session"]]),
            "play_id": text(play_ids(film)[reps["play"]]),
            "criterion": text(criterion),
            "look": text(frame["look"]),
            "mode": text(np.full(n, "sheet", dtype=object)),
            "score": frame["score"].to_numpy(dtype=np.float64),
            "raw_score": text(written(marks)),
            "scale": text(np.array(SCALES, dtype=object)[rater]),
            "blank": text(frame["blank"]),
            "technique": text(np.where(noted, reps["technique"], "").astype(object)),
            "gap_held": text(np.where(noted, reps["gap_held"], "").astype(object)),
            **lineage(n),
        }
    )


def jerseys_table() -> pd.DataFrame:
    """Return the numbers worn, and when."""
    rows: list[tuple[str, str, dt.date | None, dt.date | None]] = []
    for p in PLAYERS:
        if p.spring == p.season:
            rows.append((p.player_id, p.season, None, None))
            continue
        rows.append((p.player_id, p.spring, None, SEASON_NUMBERS_FROM - dt.timedelta(days=1)))
        rows.append((p.player_id, p.season, SEASON_NUMBERS_FROM, None))
    ids, numbers, first, last = zip(*rows, strict=True)
    return pd.DataFrame(
        {
            "player_id": text(ids),
            "jersey": text(numbers),
            "date_from": pd.to_datetime(pd.Series(first)).astype("datetime64[us]"),
            "date_to": pd.to_datetime(pd.Series(last)).astype("datetime64[us]"),
        }
    )


def tackles_table(film: Film, log: pd.DataFrame) -> pd.DataFrame:
    """Return every tackle attempt."""
    reps = film.reps.take(log["rep"].to_numpy())
    return pd.DataFrame(
        {
            "player_id": text(np.array(PLAYER_IDS, dtype=object)[reps["player"]]),
            "game_id": text(GAME_IDS[reps["session"]]),
            "play_id": text(play_ids(film)[reps["play"]]),
            "outcome": text(log["outcome"]),
            "approach": text(log["approach"]),
            "faults": text(log["faults"]),
            "yards_after_contact": log["yards"].to_numpy(dtype=np.float64),
            "head": text(log["head"]),
            "scorer": text(log["scorer"]),
            **lineage(len(log)),
        }
    )


def events_table(film: Film, log: pd.DataFrame) -> pd.DataFrame:
    """Return every event."""
    ids = np.append(play_ids(film), "")
    return pd.DataFrame(
        {
            "player_id": text(np.array(PLAYER_IDS, dtype=object)[log["player"]]),
            "game_id": text(GAME_IDS[log["session"]]),
            "play_id": text(ids[log["play"]]),
            "kind": text(log["kind"]),
            "scorer": text(np.full(len(log), "", dtype=object)),
            **lineage(len(log)),
        }
    )
