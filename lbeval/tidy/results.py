"""Test results: who took which test; the values themselves are read in `measurables`."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from lbeval.raw import RawTable
from lbeval.spelling import fold
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tidy.desk import Desk, declared_words
from lbeval.tidy.findings import Said
from lbeval.tidy.identity import Identity
from lbeval.tidy.measurables import tidy_measurables

_FIELDS = ["date", "test", "value", "unit", "timing", "standing"]


def tidy_tests(desk: Desk, tables: Sequence[RawTable], identity: Identity) -> pd.DataFrame:
    """Return the measurables table of all sources."""
    frames = []
    for table in tables:
        if table.source.kind == "measurables" and len(table.frame):
            frame, aside = _one_source(desk, table, identity)
            frames.append(frame)
            desk.findings.add_table(table, aside)
    filled = [frame for frame in frames if len(frame)]
    if not filled:
        return empty_table("measurables")
    frame = pd.concat(filled, ignore_index=True)[list(TABLES["measurables"].columns)]
    return frame.sort_values(["player_id", "test", "date", *LINEAGE], ignore_index=True)


def _one_source(desk: Desk, table: RawTable, identity: Identity) -> tuple[pd.DataFrame, pd.DataFrame]:
    source, rows = table.source, table.frame
    codes = pd.factorize(rows["source_file"] + "\0" + rows["source_sheet"])[0]
    any_value = (rows["value"] != "").groupby([codes, rows["source_row"]]).transform("any")
    desk.findings.leave_out(table, rows[~any_value], "player", scope="row")
    rows = rows[rows["value"] != ""].reset_index(drop=True)
    ids, lost = desk.settle(table, rows, "player", identity.find, everywhere=True)
    nobody = (rows["player"] == "").to_numpy()
    said = Said("player_missing", "the row names no player", "write his name")
    desk.findings.add(table, rows[nobody], "player", "", said)
    keep = ~(lost | nobody)
    rows = rows[keep].assign(player_id=ids[keep]).astype({"player_id": "str"}).reset_index(drop=True)
    for name in _FIELDS:
        declared = declared_words(source, name)
        declared |= {fold(written): test for written, test in source.tests.items()} if name == "test" else {}
        if declared:
            words = {text: declared.get(fold(text), text) for text in rows[name].unique()}
            rows[name] = rows[name].map(words).astype("str")
    frame = rows[["player_id", *_FIELDS, *LINEAGE]]
    return tidy_measurables(frame, desk.settings, source.units)
