"""Marks that stand twice: the same once more, or two that disagree."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from lbeval.raw import RawTable
from lbeval.tables import LINEAGE
from lbeval.tidy.desk import Desk
from lbeval.tidy.findings import Said
from lbeval.tidy.grades import KEY


class Single(NamedTuple):
    """Marks with one row a key, and empty cells beside a mark of the same key (for the ledger)."""

    marks: pd.DataFrame
    empty: pd.DataFrame


def one_each(desk: Desk, marks: pd.DataFrame, tables: Mapping[int, RawTable]) -> Single:
    """Return marks with each key once.

    An empty cell gives way to a mark. The same mark once more is set aside as a duplicate. Marks that
    disagree are all set aside, since nothing says which is meant.
    """
    codes = _codes(marks)
    filled = (marks["blank"] != "not_graded").to_numpy()
    has_mark = pd.Series(filled).groupby(codes).transform("any").to_numpy(dtype=bool)
    place = [marks[name].to_numpy() for name in ("source_column", "source_row")]
    order = np.lexsort([*place, *_ranks(marks), ~filled, codes])
    first = np.zeros(len(marks), dtype=bool)
    first[order[np.unique(codes[order], return_index=True)[1]]] = True
    idle = ~filled & (has_mark | ~first)
    value = pd.factorize(marks["score"].astype("object").where(marks["blank"] == "", marks["blank"]))[0]
    spread = pd.Series(np.where(filled, value, -1))[filled].groupby(codes[filled]).transform("nunique")
    clash = np.zeros(len(marks), dtype=bool)
    clash[np.flatnonzero(filled)] = spread.to_numpy() > 1
    twice = filled & ~clash & ~first
    _say_clashes(desk, marks[clash], tables)
    _say_duplicates(desk, marks, twice, filled, tables)
    return Single(marks[~(idle | clash | twice)].reset_index(drop=True), marks.loc[idle, [*LINEAGE, "blank"]])


def _codes(marks: pd.DataFrame) -> np.ndarray:
    codes = np.zeros(len(marks), dtype=np.int64)
    for name in KEY:
        part, unique = pd.factorize(marks[name])
        codes = np.unique(codes * (len(unique) + 1) + part, return_inverse=True)[1]
    return codes


def _ranks(marks: pd.DataFrame) -> list[np.ndarray]:
    return [pd.factorize(marks[name], sort=True)[0] for name in ("source_sheet", "source_file")]


def _say_clashes(desk: Desk, marks: pd.DataFrame, tables: Mapping[int, RawTable]) -> None:
    if marks.empty:
        return
    shown = marks["raw_score"].where(marks["raw_score"] != "", marks["blank"])
    places = marks["source_sheet"].where(marks["source_sheet"] == "", " sheet " + marks["source_sheet"])
    where = shown + " (" + marks["source_file"] + places + " row " + marks["source_row"].astype(str) + ")"
    together = where.groupby([marks[name] for name in KEY], sort=False).transform(
        lambda texts: ", ".join(sorted(texts))
    )
    for block, group in marks.groupby("block"):
        said = [
            Said(
                "conflicting_marks",
                f"the same coach marked this twice, differently: {text}; neither was used",
                "delete the wrong one, or say in a look column which was a repeat",
            )
            for text in together.loc[group.index]
        ]
        values = group["raw_score"].to_numpy(dtype=object)
        desk.findings.add(tables[int(str(block))], group, "score", values, said, scope="cell")


def _say_duplicates(
    desk: Desk, marks: pd.DataFrame, twice: np.ndarray, filled: np.ndarray, tables: Mapping[int, RawTable]
) -> None:
    """Say once for a row whose marks all stand elsewhere, else for each cell."""
    if not twice.any():
        return
    rows = [marks["block"], marks["source_file"], marks["source_sheet"], marks["source_row"]]
    others = pd.Series(filled & ~twice, index=marks.index).groupby(rows).transform("any").to_numpy(dtype=bool)
    remedy = "delete it, or say in a look column that it is a repeat"
    whole = Said(
        "duplicate_row", "the same coach's same marks of this play stand in the files already", remedy
    )
    single = Said("duplicate_mark", "the same coach's same mark stands in the files already", remedy)
    for block, group in marks[twice & ~others].groupby("block"):
        lines = group.drop_duplicates(["source_file", "source_sheet", "source_row"])
        desk.findings.add(tables[int(str(block))], lines, "play", "", whole, scope="row")
    for block, group in marks[twice & others].groupby("block"):
        values = group["raw_score"].to_numpy(dtype=object)
        desk.findings.add(tables[int(str(block))], group, "score", values, single, scope="cell")
