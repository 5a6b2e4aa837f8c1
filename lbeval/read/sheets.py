"""Any of the staff's files to sheets: cells as text, and what is seen beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.errors import SourceError
from lbeval.read.markup import Markup
from lbeval.read.text import decode, sniff_delimiter, text_grid, trim
from lbeval.read.workbook import Box, Tab, read_workbook

WORKBOOKS = frozenset({".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"})
TEXTS = frozenset({".csv", ".tsv", ".tab", ".txt"})
MARKDOWN = frozenset({".md", ".markdown"})
READABLE = WORKBOOKS | TEXTS | MARKDOWN
"""Extensions of files that can be read."""

_LARGEST = 2_000_000_000


class Remark(NamedTuple):
    """Something about a sheet that its cells do not say; row and column 0 mean all of it."""

    row: int
    column: int
    value: str
    reason: str
    message: str
    suggestion: str


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet of a file.

    Attributes
    ----------
    file : path relative to the season folder, with `/`.
    name : of the sheet; empty for a text file.
    cells : text of every cell, stripped; rows and columns numbered from 0 (row 1 of the file is 0).
    merged : (first row, first column, last row, last column) of merged cells, from 1.
    hidden : whether the sheet is hidden.
    markup : colours, strikethrough, notes, hidden rows; None where the format does not show them to us.
    remarks : how it was read, where that needs a look.
    """

    file: str
    name: str
    cells: pd.DataFrame
    merged: tuple[Box, ...] = ()
    hidden: bool = False
    markup: Markup | None = None
    remarks: tuple[Remark, ...] = ()

    @property
    def n_rows(self) -> int:
        return len(self.cells)

    @property
    def width(self) -> int:
        return self.cells.shape[1]

    @cached_property
    def filled(self) -> NDArray[np.bool_]:
        """Return which cells are not empty, rows x columns."""
        mask = np.zeros(self.cells.shape, dtype=bool)
        for n in range(self.width):
            mask[:, n] = (self.cells[n] != "").to_numpy()
        return mask

    def rows(self, first: int = 1, last: int | None = None) -> list[list[str]]:
        """Return rows `first` to `last` (from 1, both included) as lists of text."""
        part = self.cells.iloc[first - 1 : last]
        return [list(row) for row in zip(*(part[n].tolist() for n in part.columns), strict=True)]


def read_sheets(
    path: Path, file: str, *, encoding: str | None = None, delimiter: str | None = None
) -> tuple[Sheet, ...]:
    """Return the sheets of a file; `file` is how it is named in messages.

    An undeclared delimiter is the one that cuts the first lines most evenly; an undeclared encoding is
    UTF-8, UTF-16 or, with a remark, Windows-1252.

    Raises
    ------
    SourceError
        If it cannot be read, with why and what to do.
    """
    try:
        if path.stat().st_size > _LARGEST:
            msg = "it is larger than 2 GB"
            raise SourceError(msg)
        data = path.read_bytes()
    except OSError as error:
        msg = f"it cannot be opened ({error.strerror}); close it elsewhere, or let it finish synchronising"
        raise SourceError(msg) from None
    suffix = path.suffix.lower()
    if suffix in MARKDOWN:
        return (_lines(data, file, encoding),)
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06", b"\xd0\xcf\x11\xe0")):
        return tuple(_sheet(file, tab) for tab in read_workbook(data))
    if suffix in WORKBOOKS:
        return (_text_in_disguise(data, file, encoding, delimiter),)
    return (_delimited(data, file, encoding, delimiter),)


def _sheet(file: str, tab: Tab) -> Sheet:
    return Sheet(file, tab.name, tab.cells, tab.merged, tab.hidden, tab.markup, ())


def _delimited(data: bytes, file: str, encoding: str | None, delimiter: str | None) -> Sheet:
    decoded = decode(data, encoding)
    text, mark = decoded.text, delimiter
    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep=") and len(first.strip()) == len("sep=;"):
        text, mark = rest, delimiter or first.strip()[-1]
    if mark is None:
        mark = (
            "\t" if Path(file).suffix.lower() in {".tsv", ".tab"} and "\t" in text else sniff_delimiter(text)
        )
    grid = text_grid(text, mark)
    remarks = [*_encoding_remarks(decoded.assumed, text)]
    remarks += [
        Remark(
            row,
            0,
            "",
            "quote_left_open",
            "a quotation mark opens in this row and is not closed",
            "close or delete it; until then the row is cut at every delimiter",
        )
        for row in grid.open_quotes
    ]
    return Sheet(file, "", grid.cells, remarks=tuple(remarks))


def _encoding_remarks(assumed: bool, text: str) -> Iterator[Remark]:
    if not assumed:
        return
    row, word = next(
        (
            (number, word)
            for number, line in enumerate(text.splitlines(), 1)
            if not line.isascii()
            for word in line.replace(",", " ").replace(";", " ").split()
            if not word.isascii()
        ),
        (0, ""),
    )
    yield Remark(
        row,
        0,
        word,
        "encoding_assumed",
        f"the file is not UTF-8 and was read as Windows-1252; its first word with an accent is {word!r}",
        'if that is spelt right, add encoding = "windows-1252" to its block; else name the right encoding',
    )


def _text_in_disguise(data: bytes, file: str, encoding: str | None, delimiter: str | None) -> Sheet:
    """Read what is called a workbook but holds text, as some exports do."""
    start = data[:512].lstrip().lower()
    if not data:
        msg = "it is empty (0 bytes); let it finish synchronising, or export it again"
        raise SourceError(msg)
    if data.startswith(b"PK") or (b"\x00" in data[:512] and not data.startswith((b"\xff\xfe", b"\xfe\xff"))):
        msg = "it is damaged or no workbook; open it in the program that wrote it and save it again"
        raise SourceError(msg)
    if start.startswith((b"<", b"\xef\xbb\xbf<")):
        msg = "it is a web page with a workbook's name; open it in a spreadsheet and save it as XLSX"
        raise SourceError(msg)
    sheet = _delimited(data, file, encoding, delimiter)
    said = Remark(
        0,
        0,
        "",
        "text_named_workbook",
        "it has a workbook's name but holds plain text, and was read as that",
        "nothing to do; a program that refuses to open it needs the ending .csv",
    )
    return Sheet(file, "", sheet.cells, remarks=(said, *sheet.remarks))


def _lines(data: bytes, file: str, encoding: str | None) -> Sheet:
    """Return a text as a sheet with one column, a row a line."""
    decoded = decode(data, encoding)
    lines = pd.DataFrame({0: pd.Series(decoded.text.splitlines(), dtype="str")})
    return Sheet(file, "", trim(lines), remarks=tuple(_encoding_remarks(decoded.assumed, decoded.text)))
