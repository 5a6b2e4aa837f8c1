"""Workbooks (XLSX, XLSM, XLS, XLSB, ODS) to grids of cells that say what a person sees."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
import zlib
from dataclasses import dataclass
from typing import NamedTuple
from xml.parsers.expat import ExpatError

import pandas as pd
import python_calamine as calamine

from lbeval.errors import SourceError
from lbeval.read.extent import ods_extents, xlsb_extents
from lbeval.read.markup import Markup, check_size, xlsx_markup
from lbeval.read.text import MAX_CELLS, grid_of

Box = tuple[int, int, int, int]
"""First row, first column, last row, last column of a merged cell."""


class Tab(NamedTuple):
    """One sheet of a workbook; `markup` is None where the format hides it from us."""

    name: str
    cells: pd.DataFrame
    merged: tuple[Box, ...]
    hidden: bool
    markup: Markup | None


@dataclass(frozen=True)
class _Kind:
    """What the first bytes say a workbook is."""

    name: str
    archive: zipfile.ZipFile | None = None


def read_workbook(data: bytes) -> list[Tab]:
    """Return the sheets of a workbook; the format is told by its bytes, not by its name.

    Raises
    ------
    SourceError
        If it is encrypted, damaged, no workbook, or larger than any staff's.
    """
    kind = _kind(data)
    markups: dict[str, Markup] = {}
    if kind.archive is not None:
        check_size(kind.archive)
        markups = xlsx_markup(kind.archive) if kind.name == "xlsx" else {}
        _check_extents(kind, markups)
    try:
        with calamine.CalamineWorkbook.from_filelike(io.BytesIO(data)) as book:
            kept = [m for m in book.sheets_metadata if m.typ == calamine.SheetTypeEnum.WorkSheet]
            return [_tab(book, meta, markups.get(meta.name)) for meta in kept]
    except calamine.PasswordError:
        msg = "it is locked with a password; save a copy without one"
        raise SourceError(msg) from None
    except (calamine.CalamineError, OSError, ValueError) as error:
        msg = f"it is damaged or cut off ({error}); open it in the program that wrote it and save it again"
        raise SourceError(msg) from None


def _kind(data: bytes) -> _Kind:
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        if "EncryptedPackage".encode("utf-16-le") in data:
            msg = "it is locked with a password; save a copy without one"
            raise SourceError(msg)
        return _Kind("xls")
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        names = set(archive.namelist())
    except (zipfile.BadZipFile, ValueError, OSError):
        msg = "it is damaged or cut off; open it in the program that wrote it and save it again"
        raise SourceError(msg) from None
    if "content.xml" in names:
        return _Kind("ods", archive)
    if "xl/workbook.bin" in names:
        return _Kind("xlsb", archive)
    if any(name.startswith("xl/") for name in names):
        return _Kind("xlsx", archive)
    msg = "it is not a workbook, whatever its name says; save it as XLSX or CSV"
    raise SourceError(msg)


def _check_extents(kind: _Kind, markups: dict[str, Markup]) -> None:
    if kind.archive is None:
        return
    try:
        extents = [(m.rows, m.columns) for m in markups.values()]
        if kind.name == "ods":
            extents = ods_extents(kind.archive)
        elif kind.name == "xlsb":
            extents = xlsb_extents(kind.archive)
    except (KeyError, ValueError, ExpatError, zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
        msg = f"it is damaged or cut off ({error}); open it in the program that wrote it and save it again"
        raise SourceError(msg) from None
    for rows, columns in extents:
        if rows * columns > MAX_CELLS:
            msg = (
                f"its cells reach to row {rows:,} and column {columns:,}: a stray cell far outside; "
                "delete the empty rows and columns and save it again"
            )
            raise SourceError(msg)


def _tab(book: calamine.CalamineWorkbook, meta: calamine.SheetMetadata, markup: Markup | None) -> Tab:
    sheet = book.get_sheet_by_name(meta.name)
    rows = [[_shown(value) for value in row] for row in sheet.to_python(skip_empty_area=False)]
    if markup is not None:
        _add_what_is_seen(rows, markup)
    boxes = sheet.merged_cell_ranges or ()
    merged = tuple(sorted((top + 1, left + 1, end + 1, right + 1) for (top, left), (end, right) in boxes))
    hidden = meta.visible != calamine.SheetVisibleEnum.Visible
    return Tab(meta.name, grid_of(rows), merged, hidden, markup)


def _add_what_is_seen(rows: list[list[str]], markup: Markup) -> None:
    """Put percent signs where the format shows them, and what stands where a formula gave no value."""
    for row, column in markup.percent:
        if row <= len(rows) and column <= len(rows[row - 1]):
            rows[row - 1][column - 1] = _percent(rows[row - 1][column - 1])
    for (row, column), shown in markup.unseen.items():
        while len(rows) < row:
            rows.append([])
        cells = rows[row - 1]
        cells.extend([""] * (column - len(cells)))
        cells[column - 1] = cells[column - 1] or shown


def _percent(shown: str) -> str:
    try:
        return f"{float(shown) * 100:.12g}%"
    except ValueError:
        return shown


def _shown(value: object) -> str:
    """Return a value as a person sees it: 40.0 is 40, dates are ISO dates."""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        return f"{value:.15g}"
    if isinstance(value, dt.date | dt.time | dt.timedelta):
        return _shown_time(value)
    return "" if value is None else str(value)


def _shown_time(value: dt.date | dt.time | dt.timedelta) -> str:
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dt.time):
        return f"{value:%H:%M}" if value.second == 0 else f"{value:%H:%M:%S}"
    minutes, seconds = divmod(int(value.total_seconds()), 60)
    return f"{minutes // 60}:{minutes % 60:02d}" + (f":{seconds:02d}" if seconds else "")
