"""The tackle log: who tried, how it ended, what went wrong."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lbeval.raw import RawTable
from lbeval.spelling import fold
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tables.schema import APPROACHES, HEADS, OUTCOMES
from lbeval.tidy.cells import exploded, number_column, without_repeats, word_column
from lbeval.tidy.desk import Desk, declared_words, own_words, word_finder
from lbeval.tidy.findings import Said

_SAME = Said("duplicate_row", "the same attempt stands in the file already", "delete one of the two")
_CREDIT = Said(
    "credit_of_play",
    "more than one solo, or a solo and an assist, are credited on this play; all were used",
    "a play carries one solo or two assists: correct the log",
)


def tidy_tackles(desk: Desk, parts: Sequence[tuple[RawTable, pd.DataFrame]]) -> pd.DataFrame:
    """Return the tackles table from rows whose player and session are known."""
    frames = [(table, _entries(desk, table, rows)) for table, rows in parts if len(rows)]
    for table, frame in frames:
        _check_credit(desk, table, frame)
    if not frames:
        return empty_table("tackles")
    frame = pd.concat([frame for _, frame in frames], ignore_index=True)
    order = ["player_id", "game_id", "play_id", *LINEAGE]
    return frame[list(TABLES["tackles"].columns)].sort_values(order, ignore_index=True)


def _entries(desk: Desk, table: RawTable, rows: pd.DataFrame) -> pd.DataFrame:
    outcome, lost = desk.settle(
        table, rows, "outcome", word_finder(own_words(OUTCOMES), "outcome of a tackle")
    )
    blank = rows[(rows["outcome"] == "").to_numpy()]
    desk.findings.add(
        table, blank, "outcome", "", Said("outcome_missing", "the row has no outcome", "write it")
    )
    rows = rows.assign(outcome=pd.Series(outcome, index=rows.index, dtype="str"))
    rows = rows[~lost & (outcome != "")].reset_index(drop=True)
    rows, faults = _faults(desk, table, rows)
    frame = rows[["player_id", "game_id", "play_id", "outcome", *LINEAGE]].assign(
        approach=word_column(desk, table, rows, "approach", own_words(APPROACHES)),
        faults=faults,
        yards_after_contact=number_column(desk, table, rows, "yards_after_contact", -20, 110),
        head=word_column(desk, table, rows, "head", own_words(HEADS), "position of the head"),
        scorer=_scorers(desk, table, rows),
    )
    known = frame["play_id"] != ""
    values = [name for name in TABLES["tackles"].columns if name not in LINEAGE]
    once = without_repeats(desk, table, frame[known], values, "player", _SAME)
    return pd.concat([once, frame[~known]], ignore_index=True)


def _faults(desk: Desk, table: RawTable, rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """Return the rows whose faults are all known, and their ids joined; a fault unread would read as none."""
    rubric = desk.rubric.faults
    words = {one.label: fault for fault, one in rubric.items()} | own_words(tuple(rubric))
    find = word_finder(words | declared_words(table.source, "faults"), "fault of rubric.toml")
    wide = exploded(rows, "faults", table.source.separators, find)
    ids, lost = desk.settle(table, wide, "faults", find, shown="shown")
    unread = np.zeros(len(rows), dtype=bool)
    unread[wide.loc[lost & (ids == ""), "entry"].to_numpy()] = True
    named = wide.assign(faults=ids)[ids != ""]
    joined = named.groupby("entry")["faults"].agg(lambda found: ";".join(sorted(set(found))))
    texts = joined.reindex(np.arange(len(rows))).fillna("").astype("str")
    return rows[~unread].reset_index(drop=True), texts[~unread].reset_index(drop=True)


def _scorers(desk: Desk, table: RawTable, rows: pd.DataFrame) -> pd.Series:
    """Return who kept the log: a coach's id where he is one, else the name as written."""
    raters = desk.settings.raters
    known = {fold(one.name): rater for rater, one in raters.items()} | {
        fold(rater): rater for rater in raters
    }
    given = rows["scorer"].map(lambda text: known.get(fold(text), text)).astype("str")
    return given.where(given != "", table.source.rater or "")


def _check_credit(desk: Desk, table: RawTable, frame: pd.DataFrame) -> None:
    made = frame[(frame["outcome"] != "miss") & (frame["play_id"] != "")]
    solos = (made["outcome"] == "solo").groupby(made["play_id"]).transform("sum")
    counts = made.groupby("play_id")["outcome"].transform("size")
    over = made[((solos > 0) & (counts > 1)) | (counts > 2)]
    desk.findings.add(table, over, "outcome", over["outcome"].to_numpy(dtype=object), _CREDIT, kind="notice")
