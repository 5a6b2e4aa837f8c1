"""Which player, session and play a row is about: the same way for marks, roles, events and tackles."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.raw import Finding, RawTable
from lbeval.tidy.desk import Desk
from lbeval.tidy.findings import Said
from lbeval.tidy.games import GameBook
from lbeval.tidy.identity import Identity
from lbeval.tidy.numbers import WHOLE_SESSION, Numbers, play_numbers
from lbeval.tidy.plays import PlayBook
from lbeval.tidy.texts import fault_of


@dataclass(frozen=True, eq=False)
class Books:
    """Who plays and what was played."""

    identity: Identity
    games: GameBook


def with_player_and_game(desk: Desk, table: RawTable, rows: pd.DataFrame, books: Books) -> pd.DataFrame:
    """Return `rows` with player_id and game_id (empty where unknown) and `number`, `last` of the play.

    What is missing or unknown is set aside; `lost` says in which rows.
    """
    games, lost_game = desk.settle(table, rows, "game", books.games.find, everywhere=True)
    players, lost_player = _players(desk, table, rows, games, books)
    numbers, lost_play = _numbers(desk, table, rows)
    blank_player = (rows["player"] == "").to_numpy()
    desk.findings.add(
        table,
        rows[blank_player],
        "player",
        "",
        Said("player_missing", "the row names no player", "write his name"),
    )
    blank_game = (rows["game"] == "").to_numpy() if table.source.gives("game") else np.zeros(len(rows), bool)
    desk.findings.add(
        table,
        rows[blank_game],
        "game",
        "",
        Said("game_missing", "the row names no session", "write which game it is"),
    )
    return rows.assign(
        player_id=pd.Series(players, index=rows.index, dtype="str"),
        game_id=pd.Series(games, index=rows.index, dtype="str"),
        number=np.array([n.first if n else -1 for n in numbers], dtype=np.int64),
        last=np.array([n.last if n else -1 for n in numbers], dtype=np.int64),
        lost=lost_game | lost_player | lost_play | blank_player | blank_game,
    )


def _players(
    desk: Desk, table: RawTable, rows: pd.DataFrame, games: NDArray[np.object_], books: Books
) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
    """Look players up; a text with a number in it on the day of its session."""
    unique = rows["player"].unique()
    dated = {str(text) for text in unique if books.identity.needs_day(str(text))}
    by_day = rows["player"].isin(dated).to_numpy()
    ids = np.full(len(rows), "", dtype=object)
    lost = np.zeros(len(rows), dtype=bool)
    days = {str(game): at for game, at in pd.Series(np.flatnonzero(by_day)).groupby(games[by_day])}
    parts: list[tuple[NDArray[np.int64], pd.Timestamp | None]] = [(np.flatnonzero(~by_day), None)]
    parts += [(at.to_numpy(), books.games.dates.get(game)) for game, at in days.items()]
    for at, day in parts:
        if len(at):
            find = partial(books.identity.find, day=day)
            ids[at], lost[at] = desk.settle(table, rows.iloc[at], "player", find, everywhere=True)
    return ids, lost


def _numbers(
    desk: Desk, table: RawTable, rows: pd.DataFrame
) -> tuple[list[Numbers | None], NDArray[np.bool_]]:
    """Read play numbers; say which were dates, and set aside what is no number."""
    lost = np.zeros(len(rows), dtype=bool)
    if not table.source.gives("play"):
        whole = Numbers(WHOLE_SESSION, WHOLE_SESSION) if table.source.kind == "grades" else None
        return [whole] * len(rows), lost
    year = desk.settings.program.year
    texts = rows["play"]
    known = {text: play_numbers(str(text), year) for text in texts.unique()}
    numbers = [known[text] for text in texts]
    missing = np.array([n is None for n in numbers], dtype=bool)
    optional = table.source.kind in {"events", "tackles"}
    lost = missing & ~((texts == "").to_numpy() & optional)
    aside = rows[lost]
    said = [_unreadable(str(text)) for text in aside["play"]]
    desk.findings.add(table, aside, "play", aside["play"].to_numpy(dtype=object), said)
    dates = rows[np.array([n is not None and n.from_date for n in numbers], dtype=bool)]
    notes = []
    for text in dates["play"]:
        number = known[text]
        assert number is not None
        message = (
            f"a spreadsheet made a date of a range of plays; it was read as {number.first}-{number.last}"
        )
        notes.append(
            Said("recovered_from_date", message, "format the column as text, so that it stays as typed")
        )
    desk.findings.add(table, dates, "play", dates["play"].to_numpy(dtype=object), notes, kind="notice")
    return numbers, lost


def _unreadable(text: str) -> Said:
    fault = fault_of(text)
    if fault is not None:
        return Said(*fault)
    if not text:
        return Said("play_missing", "the row names no play", "write the play's number")
    return Said(
        "play_number_unreadable", f"{text!r} is no number of a play", "write the number, or a range: 12-18"
    )


def numbered(desk: Desk, table: RawTable, rows: pd.DataFrame, books: Books) -> pd.DataFrame:
    """Return the rows that were not lost, a range with a row for each of its plays, offsets added.

    `entry` tells which row they came from. A row without a number (-1) belongs to the whole session.
    """
    rows = rows[~rows["lost"].to_numpy(dtype=bool)]
    return _expanded(rows, _offsets(desk, table, rows, books))


def with_play(desk: Desk, table: RawTable, rows: pd.DataFrame, book: PlayBook) -> pd.DataFrame:
    """Return numbered rows with `play_id` and `place` in the plays; those in no list are set aside.

    Without a number the play_id is empty and the place -1.
    """
    counted = rows["game_id"].isin(book.listed) & (rows["number"] != WHOLE_SESSION)
    numbering = np.where(counted, table.source.numbering, "clip")
    places = pd.Series(-1, index=rows.index, dtype="int64")
    for name in ("clip", "snap"):
        here = (numbering == name) & (rows["number"] >= 0).to_numpy()
        places[here] = book.places(rows.loc[here, "game_id"], rows.loc[here, "number"], name)
    found = (places >= 0) | (rows["number"] < 0)
    # a range also covers plays of the kicking game, which are in no list: it is lost only if all are
    met = found.groupby(rows["entry"]).transform("any").astype(bool)
    lost = rows[~met].drop_duplicates("entry")
    said = [_not_listed(int(number), table.source.numbering) for number in lost["number"]]
    desk.findings.add(table, lost, "play", lost["play"].to_numpy(dtype=object), said)
    rows = rows.assign(place=places, play_id=book.ids(places))
    return rows[found].drop(columns="entry").reset_index(drop=True)


def _expanded(rows: pd.DataFrame, offsets: NDArray[np.int64]) -> pd.DataFrame:
    """Return a row for each play of a range; `entry` numbers the rows they came from."""
    numbered = (rows["number"] > WHOLE_SESSION).to_numpy()
    first = rows["number"].to_numpy() + np.where(numbered, offsets, 0)
    spans = (rows["last"] - rows["number"]).to_numpy() + 1
    entry = np.repeat(np.arange(len(rows)), spans)
    step = np.arange(len(entry)) - np.repeat(np.cumsum(spans) - spans, spans)
    return rows.iloc[entry].assign(number=first[entry] + step, entry=entry).reset_index(drop=True)


def _offsets(desk: Desk, table: RawTable, rows: pd.DataFrame, books: Books) -> NDArray[np.int64]:
    """Return what the block adds to the play numbers of each row's session."""
    declared: dict[str, int] = {}
    for written, offset in table.source.offsets.items():
        match = books.games.find(written)
        if match.id:
            declared[match.id] = offset
        else:
            message = f"block {table.block}, offsets: {match.message}"
            suggestion = f"name a session of the season; nearest: {match.near or 'none'}"
            said = Finding(
                "season.toml", "", 0, 0, written, "notice", "offset_without_session", message, suggestion
            )
            desk.findings.add_plain([said])
    return np.asarray(rows["game_id"].map(declared).fillna(0), dtype=np.int64)


def _not_listed(number: int, numbering: str) -> Said:
    what = "defensive snap" if numbering == "snap" else "clip"
    return Said(
        "play_not_listed",
        f"the clip list of this session has no {what} {number}",
        "correct the number, add the play to the clip list, or declare an offset for this file and session",
    )
