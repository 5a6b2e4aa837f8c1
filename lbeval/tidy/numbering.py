"""Checks each file's play numbers against who was on the field; offers a shift, never applies it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.raw import RawTable
from lbeval.tidy.context import Books
from lbeval.tidy.desk import Desk
from lbeval.tidy.findings import Said
from lbeval.tidy.plays import PlayBook

SHIFTS = (1, -1, 2, -2, 3, -3, 4, -4, 5, -5)
_MOST = 20
"""Plays off the field listed one by one for a file and session; more are counted."""


class _Fit(NamedTuple):
    shift: int
    hits: int


def check_numbering(
    desk: Desk,
    marks: pd.DataFrame,
    roles: pd.DataFrame,
    books: Books,
    book: PlayBook,
    tables: Mapping[int, RawTable],
) -> None:
    """Say where marks fall on plays the player was not on, and which shift of a file would fit better.

    A shift is offered for a file and session if it explains at least three marks more, and at least one in
    thirty, than the numbers as they stand, and more than any smaller one.
    """
    if roles.empty or marks.empty:
        return
    players = pd.Index(pd.unique(roles["player_id"]))
    places = dict(zip(book.plays["play_id"], range(len(book.plays)), strict=True))
    n_plays = len(book.plays) + 1
    taken = np.unique(
        players.get_indexer(pd.Index(roles["player_id"])) * n_plays + roles["play_id"].map(places).to_numpy()
    )
    kept = roles["game_id"].unique()
    rows = marks[(marks["score"].notna()) & (marks["place"] >= 0) & marks["game_id"].isin(kept)]
    keys = ["block", "source_file", "game_id"]
    rows = rows.sort_values([*keys, "source_sheet", "source_row", "source_column"])
    rows = rows.drop_duplicates([*keys, "player_id", "place"])
    who = players.get_indexer(pd.Index(rows["player_id"]))
    hit = np.isin(who * n_plays + rows["place"].to_numpy(), taken) & (who >= 0)
    rows = rows.assign(who=who, hit=hit)
    for (block, _, game), group in rows.groupby(keys):
        if group["hit"].all():
            continue
        table = tables[int(str(block))]
        best = _best_shift(group, table, book, taken, n_plays)
        if best.shift:
            _offer(desk, table, group, best, str(game), books)
        else:
            _off_field(desk, table, group[~group["hit"]])


def _best_shift(
    group: pd.DataFrame, table: RawTable, book: PlayBook, taken: NDArray[np.int64], n_plays: int
) -> _Fit:
    n, now = len(group), int(group["hit"].sum())
    best = _Fit(0, now + max(3, n // 30) - 1)
    for shift in SHIFTS:
        moved = book.places(group["game_id"], group["number"] + shift, table.source.numbering).to_numpy()
        hits = np.isin(group["who"].to_numpy() * n_plays + moved, taken) & (moved >= 0)
        if int(hits.sum()) > best.hits:
            best = _Fit(shift, int(hits.sum()))
    return best


def _offer(desk: Desk, table: RawTable, group: pd.DataFrame, best: _Fit, game: str, books: Books) -> None:
    label = dict(zip(books.games.games["game_id"], books.games.games["label"], strict=True))[game]
    declared = {books.games.find(text).id: offset for text, offset in table.source.offsets.items()}
    offset = declared.get(game, 0) + best.shift
    now, n = int(group["hit"].sum()), len(group)
    message = (
        f"{label}: {n - now} of {n} players marked were not on the field of their play; with all numbers of "
        f"this file {best.shift:+d}, {n - best.hits} would not. Nothing was shifted"
    )
    if len(table.source.files) > 1 or any(c in table.source.files[0] for c in "*?["):
        message += "; the block covers several files, so give this one a block of its own first"
    setting = f'offsets."{label}" = {offset}'
    remedy = f"look at the film; if it is so, add to block {table.block} of season.toml: {setting}"
    first = group[~group["hit"]].head(1)
    desk.findings.add(table, first, "play", label, Said("numbering_shift", message, remedy), kind="notice")


def _off_field(desk: Desk, table: RawTable, rows: pd.DataFrame) -> None:
    shown = rows.head(_MOST)
    remedy = "correct the player or the play, or the list of roles"
    said = Said(
        "not_on_field",
        "by the list of roles he was not on the field of this play; the mark was used",
        remedy,
    )
    desk.findings.add(table, shown, "player", shown["player_id"].to_numpy(dtype=object), said, kind="notice")
    if len(rows) > _MOST:
        message = f"{len(rows) - _MOST} more marks of this file and session are of players not on the field"
        more = Said("not_on_field", message, remedy)
        desk.findings.add(table, rows.iloc[_MOST : _MOST + 1], "player", "", more, kind="notice")
