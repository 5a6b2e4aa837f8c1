"""The clip list to plays, and which play a number in a file means."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lbeval.raw import RawTable
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tidy.cells import YES_NO, number_column, word_column
from lbeval.tidy.desk import Desk, own_words
from lbeval.tidy.findings import Said
from lbeval.tidy.games import GameBook
from lbeval.tidy.numbers import WHOLE_SESSION, play_numbers
from lbeval.tidy.texts import fault_of


class PlayBook:
    """The plays of the season by game and number, as clip or as defensive snap.

    `listed` are the sessions whose plays come from a clip list.
    """

    def __init__(self, plays: pd.DataFrame, listed: frozenset[str]) -> None:
        self.plays = plays
        self.listed = listed
        snaps = plays[plays["snap"].notna()]
        self._places = {
            "clip": pd.Series(np.arange(len(plays)), pd.MultiIndex.from_frame(plays[["game_id", "clip"]])),
            "snap": pd.Series(
                snaps.index.to_numpy(),
                pd.MultiIndex.from_arrays([snaps["game_id"], snaps["snap"].astype("int64")]),
            ),
        }
        for name, places in self._places.items():
            self._places[name] = places[~places.index.duplicated(keep=False)]

    def places(self, games: pd.Series, numbers: pd.Series, numbering: str) -> pd.Series:
        """Return the row of `plays` that each game and number means, -1 where there is none."""
        wanted = pd.MultiIndex.from_arrays([games, numbers])
        found = self._places[numbering].index.get_indexer(wanted)
        rows = self._places[numbering].to_numpy()
        return pd.Series(
            np.where(found < 0, -1, rows[np.maximum(found, 0)] if len(rows) else -1), index=games.index
        )

    def ids(self, places: pd.Series) -> pd.Series:
        """Return the play ids of rows of `plays`; empty for -1."""
        ids = self.plays["play_id"].to_numpy(dtype=object)
        known = np.where(places < 0, "", ids[np.maximum(places, 0)] if len(ids) else "")
        return pd.Series(known, index=places.index, dtype="str")


def make_plays(desk: Desk, tables: Sequence[RawTable], games: GameBook) -> pd.DataFrame:
    """Return the plays of the clip list; rows without a game, without a number, or doubled are set aside."""
    parts = [_entries(desk, t, games) for t in tables if t.source.kind == "plays" and len(t.frame)]
    parts = [part for part in parts if len(part)]
    if not parts:
        return empty_table("plays")
    frame = pd.concat(parts, ignore_index=True).sort_values(["game_id", "clip", *LINEAGE], ignore_index=True)
    frame = _one_each(desk, frame, {table.block: table for table in tables})
    return ordered_plays(frame, games)


def play_id(games: pd.Series, numbers: pd.Series) -> pd.Series:
    """Return `game_id-number`, the number with at least three digits."""
    return games.astype("str") + "-" + numbers.astype("int64").astype("str").str.zfill(3)


def ordered_plays(frame: pd.DataFrame, games: GameBook) -> pd.DataFrame:
    """Return the plays table in the order they were played."""
    order = dict(zip(games.games["game_id"], games.games["order"], strict=True))
    frame = frame.assign(order=frame["game_id"].map(order)).sort_values(["order", "clip"], ignore_index=True)
    return frame[list(TABLES["plays"].columns)]


def _entries(desk: Desk, table: RawTable, games: GameBook) -> pd.DataFrame:
    frame = table.frame
    game_ids, _ = desk.settle(table, frame, "game", games.find, everywhere=True)
    blank = frame[frame["game"] == ""]
    desk.findings.add(table, blank, "game", "", Said("game_missing", "the row has no session", "write it"))
    year = desk.settings.program.year
    clips = frame["play"].map({text: _clip(text, year) for text in frame["play"].unique()})
    bad = frame[clips.isna()]
    texts = bad["play"].to_numpy(dtype=object)
    said = [_no_number(str(text)) for text in texts]
    desk.findings.add(table, bad, "play", texts, said)
    rows = frame[(game_ids != "") & clips.notna()]
    return pd.DataFrame(
        {
            "game_id": pd.Series(game_ids, index=frame.index, dtype="str").loc[rows.index],
            "clip": clips.loc[rows.index].astype("int64"),
            "snap": number_column(desk, table, rows, "snap", 1, 999),
            "play_type": word_column(desk, table, rows, "play_type", own_words(("run", "pass"))),
            "down": number_column(desk, table, rows, "down", 1, 4),
            "distance": number_column(desk, table, rows, "distance", 0, 99),
            "hash": word_column(desk, table, rows, "hash", own_words(("left", "middle", "right"))),
            "call": rows["call"],
            "side": rows["side"],
            "nullified": word_column(desk, table, rows, "nullified", YES_NO) == "yes",
            **{name: rows[name] for name in LINEAGE},
            "block": table.block,
        }
    )


def _clip(text: str, year: int) -> float:
    found = play_numbers(text, year)
    return float(found.first) if found is not None and found.first == found.last else np.nan


def _no_number(text: str) -> Said:
    fault = fault_of(text)
    if fault is not None:
        return Said(*fault)
    message = f"{text!r} is no number of a play" if text else "the row has no number of a play"
    return Said("play_number_unreadable", message, "write the play's number")


def _one_each(desk: Desk, frame: pd.DataFrame, tables: dict[int, RawTable]) -> pd.DataFrame:
    frame["play_id"] = play_id(frame["game_id"], frame["clip"])
    twice = frame["play_id"].duplicated()
    same = frame.duplicated([name for name in frame.columns if name not in {*LINEAGE, "block"}])
    for mask, said in (
        (same, Said("duplicate_row", "this play stands in the list already", "delete one of the two")),
        (
            twice & ~same,
            Said(
                "play_twice",
                "this number stands in the list with other details; the first row was taken",
                "correct the list",
            ),
        ),
    ):
        for block, group in frame[mask].groupby("block"):
            numbers = group["clip"].astype(str).to_numpy(dtype=object)
            desk.findings.add(tables[int(str(block))], group, "play", numbers, said, scope="row")
    return frame[~twice].reset_index(drop=True)


def plays_from_sheets(
    desk: Desk, parts: Sequence[tuple[RawTable, pd.DataFrame]], listed: frozenset[str]
) -> pd.DataFrame:
    """Return the plays of sessions that have no clip list: every number that a sheet gives one.

    A session marked as a whole has the play 0 for it, with or without a clip list.

    Parameters
    ----------
    parts : rows with game_id, number and lineage.
    listed : sessions with a clip list.
    """
    own = []
    for table, rows in parts:
        unlisted = ~rows["game_id"].isin(listed) | (rows["number"] == WHOLE_SESSION)
        own.append((table, rows[unlisted & (rows["number"] >= 0)]))
    own = [(table, rows) for table, rows in own if len(rows)]
    if not own:
        return empty_table("plays")
    for table, rows in own:
        if table.source.numbering == "snap":
            first = rows.drop_duplicates(["source_file", "game_id"])
            said = Said(
                "snaps_without_clip_list",
                "plays are numbered by defensive snaps, but this session has no clip list; taken as they are",
                "bring the clip list, or other coaches' marks cannot be joined",
            )
            desk.findings.add(table, first, "play", first["play"].to_numpy(dtype=object), said, kind="notice")
    rows = pd.concat([rows[["game_id", "number", *LINEAGE]] for _, rows in own], ignore_index=True)
    rows = rows.sort_values(["game_id", "number", *LINEAGE]).drop_duplicates(
        ["game_id", "number"], ignore_index=True
    )
    empty = pd.Series("", index=rows.index, dtype="str")
    missing = pd.Series(np.nan, index=rows.index, dtype="float64")
    frame = rows[list(LINEAGE)].assign(
        game_id=rows["game_id"],
        play_id=play_id(rows["game_id"], rows["number"]),
        clip=rows["number"].astype("int64"),
        nullified=False,
        **dict.fromkeys(("snap", "down", "distance"), missing),
        **dict.fromkeys(("play_type", "hash", "call", "side"), empty),
    )
    return frame[list(TABLES["plays"].columns)]
