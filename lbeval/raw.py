"""What `read` hands to `tidy`: text as the staff wrote it, where it stood, and what was seen on the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.settings import Source


class Finding(NamedTuple):
    """Something to tell the staff about a file, sheet, row or cell; rows and columns count from 1, 0: all.

    `kind` is `set_aside` where something was not used, `notice` where it was used and needs a look.
    """

    file: str
    sheet: str
    row: int
    column: int
    value: str
    kind: Literal["set_aside", "notice"]
    reason: str
    message: str
    suggestion: str


@dataclass(frozen=True, eq=False)
class Claim:
    """What one source block says about the cells of one sheet.

    Attributes
    ----------
    block : number of the block in `season.toml`, the first is 1.
    fields : our field -> column it stands in.
    marks : columns with one mark or value a cell (wide and across shapes).
    cells : (row, column) of single cells that give a value to the whole sheet.
    whole : fields that one text gives to the whole sheet.
    first_row : first row of the body; what stands above it is heading.
    heading_rows : rows of the body that are headings again, or sections.
    left_rows, left_columns : declared not wanted.
    aside_columns : columns whose headings do not tell them apart.
    owner : for each row the row its entry starts in, where an entry spans rows; empty: each its own.
    """

    block: int
    kind: str
    fields: dict[str, int]
    marks: tuple[int, ...] = ()
    cells: tuple[tuple[int, int], ...] = ()
    whole: tuple[str, ...] = ()
    first_row: int = 2
    heading_rows: tuple[int, ...] = ()
    left_rows: tuple[int, ...] = ()
    left_columns: tuple[int, ...] = ()
    aside_columns: tuple[int, ...] = ()
    owner: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class SheetAccount:
    """One sheet for the ledger: which cells are filled, and who claims them.

    `filled` is rows x columns; `kind` is what its blocks say it is; `fate` is what becomes of cells that no
    claim speaks of, or of all of them (`left_out`, `set_aside`) when the sheet was not read into a table.
    """

    file: str
    sheet: str
    filled: NDArray[np.bool_]
    kind: str = ""
    headings: tuple[str, ...] = ()
    claims: tuple[Claim, ...] = ()
    fate: Literal["forgotten", "left_out", "set_aside"] = "forgotten"


@dataclass(frozen=True, eq=False)
class RawTable:
    """All rows that one source block gave, as text.

    `frame` has the lineage columns and one text column for each field of the block's kind; empty where
    blank or not given. For marks `source_column` is the mark's, elsewhere 0.
    """

    block: int
    source: Source
    frame: pd.DataFrame


class Answer(NamedTuple):
    """A row of `to_settle.xlsx` as the coach left it; `row` is where it stands."""

    row: int
    what: str
    where: str
    written: str
    suggestion: str
    answer: str


ERROR_TEXTS = ("#REF!", "#N/A", "#NAME?", "#VALUE!", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!", "#CALC!")
"""What a spreadsheet shows where a formula failed."""

SETTLE_HEADINGS = ("What", "Where", "As written", "How often", "Suggestion", "Answer")
"""Headings of `to_settle.xlsx`, which tidy writes and read reads."""


@dataclass(frozen=True, eq=False)
class RawSeason:
    """Everything read from a season folder."""

    tables: tuple[RawTable, ...]
    accounts: tuple[SheetAccount, ...]
    findings: tuple[Finding, ...]
    answers: tuple[Answer, ...] = ()
