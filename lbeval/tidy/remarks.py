"""A coach's words on a player, kept as written."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from lbeval.raw import RawTable
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tidy.desk import Desk
from lbeval.tidy.findings import Said
from lbeval.tidy.identity import Identity


def tidy_remarks(desk: Desk, tables: Sequence[RawTable], identity: Identity) -> pd.DataFrame:
    """Return the remarks table, in the order they were written."""
    frames = []
    for table in tables:
        if table.source.kind != "remarks" or table.frame.empty:
            continue
        rows = table.frame[table.frame["text"] != ""].reset_index(drop=True)
        desk.findings.leave_out(table, table.frame[table.frame["text"] == ""], "text", scope="row")
        ids, lost = desk.settle(table, rows, "player", identity.find, everywhere=True)
        nobody = (rows["player"] == "").to_numpy()
        said = Said("player_missing", "no player's name stands over this text", "put `# Name` over it")
        desk.findings.add(table, rows[nobody], "player", "", said)
        keep = ~(lost | nobody)
        frames.append(rows[keep].assign(player_id=ids[keep]).astype({"player_id": "str"}))
    if not frames:
        return empty_table("remarks")
    frame = pd.concat(frames, ignore_index=True)[list(TABLES["remarks"].columns)]
    return frame.sort_values(["player_id", *LINEAGE], ignore_index=True)
