"""Columns of every tidy table as pandera schemas; the data dictionary is generated from them."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import pandera.pandas as pa
from pandera.errors import SchemaErrors

from lbeval.errors import TableError

LINEAGE = ("source_file", "source_sheet", "source_row", "source_column")
"""Where a value came from; rows and columns count from 1, a text file's sheet is empty."""

PHASES = ("spring", "camp", "practice", "scrimmage", "game")
LOOKS = ("first", "repeat", "meeting")
MODES = ("sheet", "notes")
BLANKS = ("", "did_not_occur", "not_graded", "ungradable")
TECHNIQUES = ("", "take_on", "slip", "cut")
OUTCOMES = ("solo", "assist", "miss")
APPROACHES = ("straight_on", "angle", "pursuit", "")
HEADS = ("up", "down", "")
CONTACTS = ("air", "bag", "control", "thud", "live", "")
TIMINGS = ("electronic", "hand", "hand_start", "unknown", "")
STANDINGS = ("measured", "self_reported", "listed", "")
EVENT_KINDS: dict[str, str] = {
    "missed_assignment": "missed assignments",
    "mental_error": "mental errors",
    "loaf": "loafs",
    "penalty": "penalties",
    "pressure": "pressures",
    "tackle_for_loss": "tackles for loss",
    "sack": "sacks",
    "break_up": "passes broken up",
    "takeaway": "takeaways",
    "special_teams_snap": "special-teams snaps",
}
FATES = (
    "used",
    "heading",
    "blank",
    "did_not_occur",
    "not_graded",
    "ungradable",
    "set_aside",
    "left_out",
    "forgotten",
)
"""What becomes of a cell; every cell of every file has exactly one."""


def _text(meaning: str, allowed: Sequence[str] | None = None) -> pa.Column:
    checks = None if allowed is None else pa.Check.isin(list(allowed))
    return pa.Column(str, checks, description=meaning)


def _number(meaning: str, unit: str, low: float | None = None, high: float | None = None) -> pa.Column:
    checks = []
    if low is not None:
        checks.append(pa.Check.ge(low))
    if high is not None:
        checks.append(pa.Check.le(high))
    return pa.Column(float, checks, nullable=True, description=meaning, metadata={"unit": unit})


def _count(meaning: str) -> pa.Column:
    return pa.Column(int, pa.Check.ge(0), description=meaning)


def _flag(meaning: str) -> pa.Column:
    return pa.Column(bool, description=meaning)


def _date(meaning: str) -> pa.Column:
    return pa.Column("datetime64[us]", nullable=True, description=meaning)


_PLAYER = _text("the person, our id")
_RATER = _text("the coach who marked, id of [raters]")
_GAME = _text("the session: a game, practice or scrimmage")
_PLAY = _text("the snap, `game_id-number`; empty where an entry belongs to the whole session")
_LINEAGE = {
    "source_file": _text("file, relative to the season folder"),
    "source_sheet": _text("sheet; empty for text files"),
    "source_row": _count("row in that file or sheet, the first is 1"),
    "source_column": _count("column in that file or sheet, the first is 1; 0 where the whole row is meant"),
}


def _schema(
    name: str, meaning: str, columns: dict[str, pa.Column], key: list[str] | None
) -> pa.DataFrameSchema:
    return pa.DataFrameSchema(
        columns, name=name, description=meaning, strict=True, ordered=True, unique=key, coerce=False
    )


TABLES: dict[str, pa.DataFrameSchema] = {
    "players": _schema(
        "players",
        "a person on the roster, or a prospect",
        {
            "player_id": _PLAYER,
            "name": _text("as printed"),
            "jersey": _text("his last number; empty if none"),
            "position": _text("as the roster says it"),
            "class_year": _text("as the roster says it"),
            "seasons_left": _number("seasons of eligibility left", "seasons", 0, 6),
            "status": _text("roster or prospect", ("roster", "prospect")),
            "birth_month": _text("YYYY-MM, never a day; empty if not given"),
            "level": _text("level of competition of his film; empty for the roster"),
            **_LINEAGE,
        },
        ["player_id"],
    ),
    "jerseys": _schema(
        "jerseys",
        "a number a player wore, and when",
        {
            "player_id": _PLAYER,
            "jersey": _text("number as digits"),
            "date_from": _date("first day; missing: from the start"),
            "date_to": _date("last day; missing: to the end"),
        },
        None,
    ),
    "games": _schema(
        "games",
        "a session: game, practice or scrimmage, in the order they were held",
        {
            "game_id": _GAME,
            "label": _text("as printed on an axis"),
            "phase": _text("spring, camp, practice (in season), scrimmage or game", PHASES),
            "week": _number("week of the season", "weeks"),
            "opponent": _text("empty for practice"),
            "date": _date("day it was held"),
            "order": _count("place in the season, the first is 0"),
        },
        ["game_id"],
    ),
    "plays": _schema(
        "plays",
        "a snap, from the clip list, or from the grading sheets where there is none",
        {
            "game_id": _GAME,
            "play_id": _PLAY,
            "clip": _count("number on the film"),
            "snap": _number("number counting defensive snaps only", "snaps"),
            "play_type": _text("run, pass or empty", ("run", "pass", "")),
            "down": _number("down", "", 1, 4),
            "distance": _number("to go", "yd", 0, 99),
            "hash": _text("left, middle, right or empty", ("left", "middle", "right", "")),
            "call": _text("the defensive call, as written"),
            "side": _text("side of the play, as written"),
            "nullified": _flag("wiped out by a penalty: not graded"),
            **_LINEAGE,
        },
        ["play_id"],
    ),
    "roles": _schema(
        "roles",
        "a player on a play",
        {
            "player_id": _PLAYER,
            "game_id": _GAME,
            "play_id": _PLAY,
            "role": _text("inside, outside, edge, as the staff says it"),
            "assignment": _text("his job on the play, as written"),
            "at_point": _text("yes, no or empty: was he at the point of attack", ("yes", "no", "")),
            "blocker": _text("who blocked him: line, climbing, puller, tight_end, back, crack or empty"),
            "block_side": _text("side the block came from, or empty", ("left", "right", "front", "")),
            **_LINEAGE,
        },
        ["player_id", "play_id"],
    ),
    "grades": _schema(
        "grades",
        "a mark: rater x player x play x criterion x look x mode",
        {
            "rater_id": _RATER,
            "player_id": _PLAYER,
            "game_id": _GAME,
            "play_id": _PLAY,
            "criterion": _text("id in the rubric"),
            "look": _text("first, repeat (blind) or meeting (after it)", LOOKS),
            "mode": _text("sheet or notes", MODES),
            "score": _number("what the mark is worth on the rater's declared scale", "0 to 1", 0, 1),
            "raw_score": _text("the mark as written"),
            "scale": _text("id of the declared scale"),
            "blank": _text("why there is no score; empty where there is one", BLANKS),
            "technique": _text("on a block: take_on, slip, cut; else empty", TECHNIQUES),
            "gap_held": _text("yes, no or empty", ("yes", "no", "")),
            **_LINEAGE,
        },
        ["rater_id", "player_id", "play_id", "criterion", "look", "mode"],
    ),
    "events": _schema(
        "events",
        "something that happened beside the marks",
        {
            "player_id": _PLAYER,
            "game_id": _GAME,
            "play_id": _PLAY,
            "kind": _text("what happened", tuple(EVENT_KINDS)),
            "scorer": _text("who noted it, id of [raters] or empty"),
            **_LINEAGE,
        },
        None,
    ),
    "tackles": _schema(
        "tackles",
        "a tackle attempt",
        {
            "player_id": _PLAYER,
            "game_id": _GAME,
            "play_id": _PLAY,
            "outcome": _text("solo, assist or miss", OUTCOMES),
            "approach": _text("straight_on, angle, pursuit or empty", APPROACHES),
            "faults": _text("fault ids of the rubric, joined by `;`, sorted"),
            "yards_after_contact": _number("gained after first contact", "yd", -20, 110),
            "head": _text("up, down or empty: not noted", HEADS),
            "scorer": _text("who kept the log, or empty"),
            **_LINEAGE,
        },
        None,
    ),
    "measurables": _schema(
        "measurables",
        "a test result or body measurement",
        {
            "player_id": _PLAYER,
            "date": _date("day it was taken"),
            "test": _text("id of [ranges]"),
            "value": _number("in `unit`", "see unit"),
            "unit": _text("in, lb, s, reps"),
            "raw_value": _text("as written"),
            "timing": _text("electronic, hand, hand_start, unknown; empty where nothing is timed", TIMINGS),
            "standing": _text("measured, self_reported, listed or empty", STANDINGS),
            "note": _text("what was done to read it, e.g. recovered_from_date; empty if nothing"),
            **_LINEAGE,
        },
        None,
    ),
    "drills": _schema(
        "drills",
        "a drill in a practice",
        {
            "game_id": _GAME,
            "date": _date("day"),
            "phase": _text("phase of the season or empty", (*PHASES, "")),
            "drill": _text("as written"),
            "reps": _number("repetitions", "reps", 0),
            "minutes": _number("time", "min", 0, 300),
            "contact": _text("air, bag, control, thud, live or empty", CONTACTS),
            **_LINEAGE,
        },
        None,
    ),
    "remarks": _schema(
        "remarks",
        "a coach's words on a player",
        {
            "player_id": _PLAYER,
            "section": _text("part of the page they belong to; empty: the coach's words"),
            "text": _text("Markdown, as written"),
            **_LINEAGE,
        },
        None,
    ),
    "set_aside": _schema(
        "set_aside",
        "a row or cell that could not be used, or a notice about a file",
        {
            "source_file": _LINEAGE["source_file"],
            "source_sheet": _LINEAGE["source_sheet"],
            "source_row": _count("row, the first is 1; 0 where the whole sheet or file is meant"),
            "source_column": _LINEAGE["source_column"],
            "column": _text("heading as written; empty where the whole row is meant"),
            "value": _text("as written"),
            "kind": _text("set_aside: not used; notice: used, but look", ("set_aside", "notice")),
            "reason": _text("short code of the reason"),
            "message": _text("what is wrong, in a sentence"),
            "suggestion": _text("what to do"),
            "waits": _flag("waits for an answer in to_settle.xlsx"),
        },
        None,
    ),
    "to_settle": _schema(
        "to_settle",
        "a name or code that needs the coach's answer; one answer settles all its occurrences",
        {
            "what": _text("player, game, criterion, mark, rater, or a field name"),
            "where": _text("the source it stands in, if the answer is only good there; else empty"),
            "written": _text("as written"),
            "times": _count("how often it stands in the files"),
            "suggestion": _text("the nearest that is known; never used unasked"),
            "answer": _text("the coach's: an id or name, or `leave out`; empty while it waits"),
        },
        ["what", "where", "written"],
    ),
    "ledger": _schema(
        "ledger",
        "what became of every cell of a sheet",
        {
            "source_file": _LINEAGE["source_file"],
            "source_sheet": _LINEAGE["source_sheet"],
            "kind": _text("what the source block says it is; empty if no block covers it"),
            "rows": _count("rows read"),
            "cells": _count("cells read"),
            **{fate: _count(f"cells: {fate.replace('_', ' ')}") for fate in FATES},
        },
        ["source_file", "source_sheet"],
    ),
}


def check_table(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Return `frame` if it is what the glossary says of table `name`.

    Raises
    ------
    TableError
        Naming the table, the columns and up to three offending values.
    """
    try:
        return TABLES[name].validate(frame, lazy=True)
    except SchemaErrors as error:
        cases = error.failure_cases.head(3)
        said = "; ".join(
            f"{row.column or row.check}: {row.check} ({row.failure_case!r})" for row in cases.itertuples()
        )
        msg = f"table {name} is not what it should be: {said}"
        raise TableError(msg) from None


def _dtype(column: pa.Column) -> str:
    """Return the pandas name of a column's type; text is pandas' own `str`."""
    return "str" if str(column.dtype).startswith(("str", "string")) else str(column.dtype)


def empty_table(name: str) -> pd.DataFrame:
    """Return table `name` with its columns and types and no rows."""
    columns = TABLES[name].columns
    return pd.DataFrame({key: pd.Series([], dtype=_dtype(column)) for key, column in columns.items()})
