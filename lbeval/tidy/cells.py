"""Columns of numbers, words and several codes in a cell, read the same way for every kind of row."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pandas as pd

from lbeval.raw import RawTable
from lbeval.spelling import fold
from lbeval.tables import LINEAGE
from lbeval.tidy.desk import Desk, declared_words, word_finder
from lbeval.tidy.findings import Said
from lbeval.tidy.settle import Match
from lbeval.tidy.texts import number_of

YES_NO = {
    **dict.fromkeys(("yes", "y", "x", "1", "true", "✓", "✔"), "yes"),
    **dict.fromkeys(("no", "n", "0", "false"), "no"),
}
"""How yes and no are written."""

_ORDINAL = re.compile(r"(\d)(?:st|nd|rd|th)")


def number_column(
    desk: Desk, table: RawTable, rows: pd.DataFrame, name: str, low: float, high: float
) -> pd.Series:
    """Return a column as numbers; a text that is none, or out of bounds, is set aside alone."""
    declared = declared_words(table.source, name)

    def read(text: str) -> float:
        said = declared.get(fold(text), text)
        ordinal = _ORDINAL.fullmatch(fold(said))
        number = float(ordinal[1]) if ordinal else number_of(said, table.source.decimal)
        return number if number is not None and low <= number <= high else np.nan

    values = rows[name].map({text: read(text) for text in rows[name].unique() if text}).astype("float64")
    bad = rows[(rows[name] != "") & values.isna()]
    texts = bad[name].to_numpy(dtype=object)
    shown = name.replace("_", " ")
    said = [
        Said(f"unreadable_{name}", f"{text!r} is no {shown} from {low:g} to {high:g}", "correct the cell")
        for text in texts
    ]
    desk.findings.add(table, bad, name, texts, said, scope="cell")
    return values


def word_column(
    desk: Desk, table: RawTable, rows: pd.DataFrame, name: str, words: dict[str, str], kind: str = ""
) -> pd.Series:
    """Return a column as our words; an unknown one leaves its own cell empty and waits for an answer."""
    finder = word_finder(words, kind or name.replace("_", " "))
    ids, _ = desk.settle(table, rows, name, finder, scope="cell")
    return pd.Series(ids, index=rows.index, dtype="str")


def exploded(rows: pd.DataFrame, name: str, separators: str, find: Callable[[str], Match]) -> pd.DataFrame:
    """Return a row for each code of a cell with several; `entry` is the position of the row it came from.

    A cell that is a known code as a whole is not cut. `shown` keeps the whole cell.
    """
    cutter = re.compile(f"[{re.escape(separators)}\n]")

    def cut(text: str) -> list[str]:
        if not text or find(text).id:
            return [text]
        return [code.strip() for code in cutter.split(text) if code.strip()] or [text]

    codes = rows[name].map({text: cut(str(text)) for text in rows[name].unique()})
    wide = rows.assign(shown=rows[name], entry=np.arange(len(rows)))
    wide[name] = codes
    return wide.explode(name, ignore_index=True).astype({name: "str"})


def without_repeats(
    desk: Desk, table: RawTable, rows: pd.DataFrame, key: list[str], name: str, said: Said
) -> pd.DataFrame:
    """Return rows with each `key` once, the first in the file; the others are set aside whole."""
    rows = rows.sort_values([*LINEAGE], kind="stable", ignore_index=True)
    twice = rows.duplicated(key)
    desk.findings.add(table, rows[twice], name, "", said, scope="row")
    return rows[~twice].reset_index(drop=True)
