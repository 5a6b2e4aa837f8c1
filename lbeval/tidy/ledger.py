"""The ledger: what became of every cell, told from the tables that came out, not from the way they took.

A cell counts as used only if a row of a tidy table names it (or its row), so whatever is lost on the way
shows up as forgotten.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.raw import Claim, Finding, SheetAccount
from lbeval.tables import LINEAGE, TABLES, empty_table
from lbeval.tables.schema import FATES

_CODE = {fate: np.int8(n) for n, fate in enumerate(FATES)}
_Place = tuple[str, str]


def used_places(tables: Mapping[str, pd.DataFrame], empty: pd.DataFrame) -> pd.DataFrame:
    """Return lineage and fate of everything that stands in a table.

    Parameters
    ----------
    tables : tidy tables with lineage columns.
    empty : lineage and blank of empty cells beside a mark for the same thing.
    """
    parts = [empty.rename(columns={"blank": "fate"})]
    for name, frame in tables.items():
        if name == "grades":
            fates = frame["blank"].where(frame["blank"] != "", "used")
        else:
            fates = pd.Series("used", index=frame.index, dtype="str")
        parts.append(frame[list(LINEAGE)].assign(fate=fates))
    return pd.concat([part for part in parts if len(part)] or [parts[0]], ignore_index=True)


def make_ledger(
    accounts: Sequence[SheetAccount], used: pd.DataFrame, aside: pd.DataFrame
) -> tuple[pd.DataFrame, list[Finding]]:
    """Return the ledger, and a notice for each sheet with cells that a block claims but nothing became of.

    Parameters
    ----------
    used : lineage and fate (`used_places`).
    aside : lineage, scope and fate of what was set aside or left out.
    """
    used_by, aside_by = _by_sheet(used), _by_sheet(aside)
    rows: list[tuple[str | int, ...]] = []
    findings: list[Finding] = []
    for account in accounts:
        place = (account.file, account.sheet)
        fates = _fates(account, used_by.get(place, used.iloc[:0]), aside_by.get(place, aside.iloc[:0]))
        counts = np.bincount(fates.ravel(), minlength=len(FATES))
        rows.append((*place, account.kind, fates.shape[0], fates.size, *map(int, counts)))
        findings += _forgotten(account, fates)
    if not rows:
        return empty_table("ledger"), findings
    frame = pd.DataFrame(rows, columns=list(TABLES["ledger"].columns))
    texts = dict.fromkeys(["source_file", "source_sheet", "kind"], "str")
    return frame.astype(texts).sort_values(["source_file", "source_sheet"], ignore_index=True), findings


def _by_sheet(frame: pd.DataFrame) -> dict[_Place, pd.DataFrame]:
    groups = frame.groupby(["source_file", "source_sheet"], sort=False)
    return {(str(file), str(sheet)): group for (file, sheet), group in groups}


def _fates(account: SheetAccount, used: pd.DataFrame, aside: pd.DataFrame) -> NDArray[np.int8]:
    filled = account.filled
    fates = np.where(filled, _CODE[account.fate], _CODE["blank"]).astype(np.int8)
    if not account.claims:
        return fates
    for claim in account.claims:
        _put_declared(fates, filled, claim)
    for claim in account.claims:
        _put_rows(fates, filled, claim, used, aside)
    _put_cells(
        fates, aside[(aside["scope"] == "cell") & (aside["fate"] == "left_out")], ("left_out",), filled
    )
    _put_cells(
        fates, aside[(aside["scope"] == "cell") & (aside["fate"] == "set_aside")], ("set_aside",), filled
    )
    _put_cells(fates, used, ("not_graded", "did_not_occur", "ungradable", "used"), None)
    return fates


def _put_declared(fates: NDArray[np.int8], filled: NDArray[np.bool_], claim: Claim) -> None:
    """Put headings and what the block leaves out."""
    first = claim.first_row - 1
    fates[:first][filled[:first]] = _CODE["heading"]
    body = np.zeros_like(filled)
    body[first:] = True
    for columns, fate in ((claim.left_columns, "left_out"), (claim.aside_columns, "set_aside")):
        for column in columns:
            fates[:, column - 1][(filled & body)[:, column - 1]] = _CODE[fate]
    for rows, fate in ((claim.left_rows, "left_out"), (claim.heading_rows, "heading")):
        at = np.array(rows, dtype=np.int64) - 1
        fates[at] = np.where(filled[at], _CODE[fate], fates[at])
    for row, column in claim.cells:
        if row <= filled.shape[0] and column <= filled.shape[1] and filled[row - 1, column - 1]:
            fates[row - 1, column - 1] = _CODE["used"]


def _put_rows(
    fates: NDArray[np.int8], filled: NDArray[np.bool_], claim: Claim, used: pd.DataFrame, aside: pd.DataFrame
) -> None:
    """Put the cells that belong to a row as a whole: used if anything of it was, else as it fared."""
    n = filled.shape[0]
    is_used = _rows_of(used, n, claim)
    whole = aside["scope"] == "sheet"
    lost = _rows_of(aside[(aside["scope"] == "row") & (aside["fate"] == "set_aside")], n, claim)
    left = _rows_of(aside[(aside["scope"] == "row") & (aside["fate"] == "left_out")], n, claim)
    if (whole & (aside["fate"] == "set_aside")).any():
        lost |= _body(n, claim) & ~is_used
    if (whole & (aside["fate"] == "left_out")).any():
        left |= _body(n, claim) & ~is_used
    # a row all of whose cells fared badly one by one fared so itself
    single = aside[aside["scope"] == "cell"]
    some_lost = _rows_of(single[single["fate"] == "set_aside"], n, claim)
    some_left = _rows_of(single[single["fate"] == "left_out"], n, claim)
    for columns, steps in (
        (
            tuple(claim.fields.values()),
            (
                (some_left, "left_out"),
                (some_lost, "set_aside"),
                (left, "left_out"),
                (lost, "set_aside"),
                (is_used, "used"),
            ),
        ),
        (claim.marks, ((left, "left_out"), (lost, "set_aside"))),
    ):
        for column in columns:
            for rows, fate in steps:
                here = rows & filled[:, column - 1]
                fates[here, column - 1] = _CODE[fate]


def _rows_of(frame: pd.DataFrame, n: int, claim: Claim) -> NDArray[np.bool_]:
    """Return which rows of the body (of `n`) the rows of `frame` name, or are entries that they begin."""
    flags = np.zeros(n + 1, dtype=bool)
    flags[np.minimum(frame["source_row"].to_numpy(dtype=np.int64), n)] = True
    flags[0] = False
    rows = flags[1:].copy() if not claim.owner else flags[np.array(claim.owner[:n], dtype=np.int64)]
    return rows & _body(n, claim)


def _body(n: int, claim: Claim) -> NDArray[np.bool_]:
    rows = np.ones(n, dtype=bool)
    rows[: claim.first_row - 1] = False
    rows[np.array(claim.heading_rows + claim.left_rows, dtype=np.int64) - 1] = False
    return rows


def _put_cells(
    fates: NDArray[np.int8], frame: pd.DataFrame, order: tuple[str, ...], filled: NDArray[np.bool_] | None
) -> None:
    """Put single cells, a later fate of `order` over an earlier one; only filled ones if told which."""
    rows, columns = (
        frame["source_row"].to_numpy(dtype=np.int64),
        frame["source_column"].to_numpy(dtype=np.int64),
    )
    inside = (rows > 0) & (columns > 0) & (rows <= fates.shape[0]) & (columns <= fates.shape[1])
    for fate in order:
        here = inside & (frame["fate"] == fate).to_numpy()
        at = rows[here] - 1, columns[here] - 1
        fates[at] = _CODE[fate] if filled is None else np.where(filled[at], _CODE[fate], fates[at])


def _forgotten(account: SheetAccount, fates: NDArray[np.int8]) -> Iterator[Finding]:
    """Yield a notice if cells in columns that a block speaks of came to nothing: a slip of this program."""
    columns = sorted({c for claim in account.claims for c in (*claim.fields.values(), *claim.marks)})
    lost = np.argwhere(fates[:, [column - 1 for column in columns]] == _CODE["forgotten"])
    if len(lost):
        row, column = int(lost[0][0]) + 1, columns[int(lost[0][1])]
        message = f"{len(lost)} cells of described columns are in no table and in no list; this is the first"
        yield Finding(
            account.file,
            account.sheet,
            row,
            column,
            "",
            "set_aside",
            "forgotten",
            message,
            "report it, with the file",
        )
