"""What happened beside the marks: from logs, and from codes behind marks."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from lbeval.raw import RawTable
from lbeval.tables import EVENT_KINDS, LINEAGE, TABLES, empty_table
from lbeval.tidy.cells import exploded, without_repeats
from lbeval.tidy.desk import Desk, declared_words, own_words, word_finder
from lbeval.tidy.findings import Said

_WORDS = {**own_words(tuple(EVENT_KINDS)), **{name: kind for kind, name in EVENT_KINDS.items()}}
_TWICE = Said("duplicate_row", "this event of this player and play stands in the file already", "delete one")


def tidy_events(
    desk: Desk, parts: Sequence[tuple[RawTable, pd.DataFrame]], beside: Sequence[pd.DataFrame]
) -> pd.DataFrame:
    """Return the events table.

    Parameters
    ----------
    parts : rows of event logs whose player and session are known.
    beside : player_id, game_id, play_id, kind, scorer and lineage of codes behind marks.
    """
    frames = [_entries(desk, table, rows) for table, rows in parts if len(rows)]
    frames += [frame for frame in beside if len(frame)]
    if not frames:
        return empty_table("events")
    columns = list(TABLES["events"].columns)
    frame = pd.concat([f[columns] for f in frames], ignore_index=True)
    # one coach's code behind several marks of a play is one event
    frame = frame.sort_values(["player_id", "game_id", "play_id", "kind", "scorer", *LINEAGE])
    again = frame.duplicated(["player_id", "game_id", "play_id", "kind", "scorer", *LINEAGE[:3]])
    return frame[~again].reset_index(drop=True)


def _entries(desk: Desk, table: RawTable, rows: pd.DataFrame) -> pd.DataFrame:
    find = word_finder(_WORDS | declared_words(table.source, "kind"), "event")
    wide = exploded(rows, "kind", table.source.separators, find)
    blank = wide[wide["kind"] == ""]
    desk.findings.add(
        table, blank, "kind", "", Said("kind_missing", "the row names no event", "write what it was")
    )
    kinds, lost = desk.settle(table, wide, "kind", find, shown="shown")
    wide = wide.assign(kind=pd.Series(kinds, index=wide.index, dtype="str"), scorer=table.source.rater or "")
    known = wide[~lost & (kinds != "")].astype({"scorer": "str"})
    # without a play the same words twice can be two events
    on_play = known["play_id"] != ""
    once = without_repeats(desk, table, known[on_play], ["player_id", "play_id", "kind"], "kind", _TWICE)
    return pd.concat([once, pd.DataFrame(known[~on_play])], ignore_index=True)
