"""Drills done, and at which level of contact."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lbeval.raw import RawTable
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tables.schema import CONTACTS, PHASES
from lbeval.tidy.cells import number_column, word_column
from lbeval.tidy.days import read_days
from lbeval.tidy.desk import Desk, own_words
from lbeval.tidy.findings import Said
from lbeval.tidy.games import GameBook


def tidy_drills(desk: Desk, tables: Sequence[RawTable], games: GameBook) -> pd.DataFrame:
    """Return the drills table; phase and date come from the session where the row does not say them."""
    frames = [_entries(desk, t, games) for t in tables if t.source.kind == "drills" and len(t.frame)]
    frames = [frame for frame in frames if len(frame)]
    if not frames:
        return empty_table("drills")
    frame = pd.concat(frames, ignore_index=True)[list(TABLES["drills"].columns)]
    return frame.sort_values(["date", "game_id", *LINEAGE], na_position="last", ignore_index=True)


def _entries(desk: Desk, table: RawTable, games: GameBook) -> pd.DataFrame:
    rows = table.frame
    ids, lost = desk.settle(table, rows, "game", games.find, everywhere=True)
    nameless = (rows["drill"] == "").to_numpy()
    said = Said("drill_missing", "the row names no drill", "write it, or list the row in ignore_rows")
    desk.findings.add(table, rows[nameless], "drill", "", said)
    keep = ~(lost | nameless)
    rows = rows[keep].assign(game_id=ids[keep]).reset_index(drop=True)
    days = read_days(rows["date"], rows["source_file"] + rows["source_sheet"])
    bad = rows[(rows["date"] != "") & days.isna()]
    unread = Said(
        "unreadable_date",
        "the date has two readings or none; the row was used without",
        "write it as 2025-08-30",
    )
    desk.findings.add(table, bad, "date", bad["date"].to_numpy(dtype=object), unread, scope="cell")
    known = games.games.set_index("game_id")
    phase = word_column(desk, table, rows, "phase", own_words(PHASES))
    of_session = rows["game_id"].map(known["phase"]).fillna("")
    return (
        rows[["game_id", "drill", *LINEAGE]]
        .astype({"game_id": "str"})
        .assign(
            date=days.fillna(rows["game_id"].map(known["date"])).astype("datetime64[us]"),
            phase=pd.Series(np.where(phase == "", of_session, phase), index=rows.index, dtype="str"),
            reps=number_column(desk, table, rows, "reps", 0, 10_000),
            minutes=number_column(desk, table, rows, "minutes", 0, 300),
            contact=word_column(desk, table, rows, "contact", own_words(CONTACTS), "level of contact"),
        )
    )
