"""The roster and the prospects, and who wore which number when."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from lbeval.files import slug
from lbeval.raw import Finding, RawTable
from lbeval.spelling import fold
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tidy.days import read_days
from lbeval.tidy.desk import Desk, own_words, word_finder
from lbeval.tidy.findings import Said
from lbeval.tidy.identity import jersey_digits, turned
from lbeval.tidy.texts import number_of

_MONTHS = {m: n for n, m in enumerate("jan feb mar apr may jun jul aug sep oct nov dec".split(), 1)}  # noqa: SIM905
_YEAR_MONTH = re.compile(r"(\d{4})[-/.](\d{1,2})(?:[-/.]\d{1,2})?(?: .*)?")
_MONTH_YEAR = re.compile(r"(\d{1,2}|[a-z]{3})[a-z]*\.?[-/. ]+(\d{4})")


class People(NamedTuple):
    """The players and jerseys tables, and the lineage of every row they were drawn from."""

    players: pd.DataFrame
    jerseys: pd.DataFrame
    rows: pd.DataFrame


def make_people(desk: Desk, tables: Sequence[RawTable]) -> People:
    """Return everybody on a roster; rows of one person with different numbers are drawn together."""
    parts = [_entries(desk, table) for table in tables if table.source.kind == "roster" and len(table.frame)]
    if not parts:
        message = "there is no roster, so nobody can be told from a name"
        suggestion = "bring a sheet with a column of names (and jersey numbers), described as kind roster"
        said = Finding("season.toml", "", 0, 0, "", "set_aside", "no_roster", message, suggestion)
        desk.findings.add_plain([said])
        return People(empty_table("players"), empty_table("jerseys"), empty_table("players")[list(LINEAGE)])
    rows = pd.concat([part for part, _ in parts], ignore_index=True)
    rows = rows.sort_values([*LINEAGE], ignore_index=True)
    rows = _one_each(desk, rows, {table.block: table for _, table in parts})
    return People(_players(rows), _jerseys(rows), rows[list(LINEAGE)])


def _entries(desk: Desk, table: RawTable) -> tuple[pd.DataFrame, RawTable]:
    """Return a roster's rows with their values read; rows without a name are set aside."""
    frame = table.frame
    nameless = frame[frame["name"] == ""]
    said = Said("name_missing", "the row has no name", "write the player's name")
    desk.findings.add(table, nameless, "name", "", said)
    frame = frame[frame["name"] != ""].reset_index(drop=True)
    status, _ = desk.settle(
        table, frame, "status", word_finder(own_words(("roster", "prospect")), "status"), scope="cell"
    )
    column = frame["source_file"] + frame["source_sheet"]
    rows = frame[[*LINEAGE, "position", "class_year", "level"]].assign(
        block=table.block,
        own_id=frame["player"],
        name=[turned(" ".join(str(n).split())) for n in frame["name"]],
        jersey=_read(desk, table, frame, "jersey", jersey_digits, "a jersey number has one or two digits"),
        date_from=_days(desk, table, frame, "jersey_from", column),
        date_to=_days(desk, table, frame, "jersey_to", column),
        seasons_left=_seasons(desk, table, frame),
        status=np.where(status == "", "roster", status),
        birth_month=_read(desk, table, frame, "birth_month", _birth_month, "write year and month: 2006-04"),
    )
    return rows, table


def _read(
    desk: Desk, table: RawTable, frame: pd.DataFrame, name: str, read: Callable[[str], str], remedy: str
) -> list[str]:
    """Read a column cell by cell; a text that gives nothing is set aside alone."""
    values = [read(str(text)) if text else "" for text in frame[name]]
    bad = frame[(frame[name] != "") & (pd.Series(values, index=frame.index) == "")]
    texts = bad[name].to_numpy(dtype=object)
    said = [
        Said(f"unreadable_{name}", f"{text!r} cannot be read as {name.replace('_', ' ')}", remedy)
        for text in texts
    ]
    desk.findings.add(table, bad, name, texts, said, scope="cell")
    return values


def _days(desk: Desk, table: RawTable, frame: pd.DataFrame, name: str, column: pd.Series) -> pd.Series:
    days = read_days(frame[name], column)
    bad = frame[(frame[name] != "") & days.isna()]
    texts = bad[name].to_numpy(dtype=object)
    said = [
        Said(
            "unreadable_date",
            f"{text!r} is not a date that can be read for certain",
            "write it as 2025-08-30",
        )
        for text in texts
    ]
    desk.findings.add(table, bad, name, texts, said, scope="cell")
    return days


def _seasons(desk: Desk, table: RawTable, frame: pd.DataFrame) -> list[float]:
    def read(text: str) -> str:
        number = number_of(text, table.source.decimal)
        return str(number) if number is not None and 0 <= number <= 6 else ""

    values = _read(desk, table, frame, "seasons_left", read, "write the number of seasons, 0 to 6")
    return [float(value) if value else np.nan for value in values]


def _birth_month(text: str) -> str:
    """Return year and month of a birth; a day is dropped, never kept."""
    said = fold(text)
    if found := _YEAR_MONTH.fullmatch(said):
        year, month = int(found[1]), int(found[2])
    elif found := _MONTH_YEAR.fullmatch(said):
        year = int(found[2])
        month = int(found[1]) if found[1].isdigit() else _MONTHS.get(found[1], 0)
    else:
        return ""
    return f"{year:04d}-{month:02d}" if 1 <= month <= 12 else ""


def _one_each(desk: Desk, rows: pd.DataFrame, tables: dict[int, RawTable]) -> pd.DataFrame:
    """Give every person an id; set aside rows that stand twice, and names that may be two people."""
    own = rows["own_id"].map(fold)
    names = rows["name"].map(fold)
    person = pd.Series(np.where(own != "", "id " + own, "name " + names), index=rows.index)
    twice = rows.duplicated([name for name in rows.columns if name not in {*LINEAGE, "block"}])
    dated = rows["date_from"].notna() | rows["date_to"].notna()
    first = ~person.duplicated()
    unclear = ~first & ~twice & (own == "") & ~(dated | dated.groupby(person).transform("any"))
    same = Said("duplicate_row", "this row stands on the roster already", "delete one of the two")
    doubt = Said(
        "same_name_twice",
        "this name stands on the roster already; it is not said whether it is one man or two",
        "one man: give the dates of his numbers; two: give each an id in a column of its own",
    )
    for mask, said in ((twice, same), (unclear, doubt)):
        for block, group in rows[mask].groupby("block"):
            table = tables[int(str(block))]
            desk.findings.add(table, group, "name", group["name"].to_numpy(dtype=object), said, scope="row")
    rows = rows[~twice & ~unclear].assign(person=person)
    ids: dict[str, str] = {}
    for row in rows.itertuples(index=False):
        if row.person not in ids:
            stem = slug(str(row.own_id) or str(row.name), fallback="player")
            ids[str(row.person)] = _fresh(stem, str(row.jersey), set(ids.values()))
    return rows.assign(player_id=rows["person"].map(ids)).reset_index(drop=True)


def _fresh(stem: str, jersey: str, taken: set[str]) -> str:
    if stem not in taken:
        return stem
    if jersey and f"{stem}-{jersey}" not in taken:
        return f"{stem}-{jersey}"
    return next(f"{stem}-{n}" for n in range(2, 10_000) if f"{stem}-{n}" not in taken)


def _players(rows: pd.DataFrame) -> pd.DataFrame:
    last = rows.assign(until=rows["date_to"].fillna(pd.Timestamp("2262-01-01")), at=rows.index)
    last = last[last["jersey"] != ""].sort_values(["until", "at"]).drop_duplicates("player_id", keep="last")
    frame = rows.drop_duplicates("player_id").drop(columns="jersey")
    frame = frame.merge(last[["player_id", "jersey"]], on="player_id", how="left")
    texts = ["player_id", "name", "jersey", "position", "class_year", "status", "birth_month", "level"]
    frame = frame.astype(dict.fromkeys(texts, "str")).fillna({"jersey": ""})
    frame["seasons_left"] = frame["seasons_left"].astype("float64")
    return frame[list(TABLES["players"].columns)].sort_values("player_id", ignore_index=True)


def _jerseys(rows: pd.DataFrame) -> pd.DataFrame:
    frame = rows.loc[rows["jersey"] != "", ["player_id", "jersey", "date_from", "date_to"]]
    frame = frame.astype({"player_id": "str", "jersey": "str"}).drop_duplicates()
    return frame.sort_values(["player_id", "date_from", "jersey"], na_position="first", ignore_index=True)
