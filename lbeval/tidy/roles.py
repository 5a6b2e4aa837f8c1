"""Who was on the field, doing what."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from lbeval.raw import RawTable
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tidy.cells import YES_NO, without_repeats, word_column
from lbeval.tidy.desk import Desk, own_words
from lbeval.tidy.findings import Said

_BLOCKERS = ("line", "climbing", "puller", "tight_end", "back", "crack")
_SIDES = ("left", "right", "front")
_TWICE = Said("role_twice", "this player has a role on this play already; the first was taken", "delete one")


def tidy_roles(desk: Desk, parts: Sequence[tuple[RawTable, pd.DataFrame]]) -> pd.DataFrame:
    """Return the roles table from rows whose player, session and play are known."""
    frames = []
    for table, rows in parts:
        if rows.empty:
            continue
        once = without_repeats(desk, table, rows, ["player_id", "play_id"], "player", _TWICE)
        frames.append(_entries(desk, table, once))
    if not frames:
        return empty_table("roles")
    frame = pd.concat(frames, ignore_index=True).sort_values(["player_id", "play_id", *LINEAGE])
    twice = frame.duplicated(["player_id", "play_id"])
    for table, _ in parts:
        again = frame[twice & (frame["block"] == table.block)]
        desk.findings.add(table, again, "player", "", _TWICE, scope="row")
    return frame.loc[~twice, list(TABLES["roles"].columns)].reset_index(drop=True)


def _entries(desk: Desk, table: RawTable, rows: pd.DataFrame) -> pd.DataFrame:
    return rows[["player_id", "game_id", "play_id", "role", "assignment", *LINEAGE]].assign(
        at_point=word_column(desk, table, rows, "at_point", YES_NO, "yes or no"),
        blocker=word_column(desk, table, rows, "blocker", own_words(_BLOCKERS)),
        block_side=word_column(desk, table, rows, "block_side", own_words(_SIDES), "side of a block"),
        block=table.block,
    )
