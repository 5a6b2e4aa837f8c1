"""The staff's files before they are written: rows of cells, so that faults can be planted in them."""

from __future__ import annotations

import csv
import datetime as dt
import io
from dataclasses import dataclass, field
from pathlib import Path

import xlsxwriter

Cell = str | int | float | None
_WRITTEN = dt.datetime(2025, 12, 8, 9, 0)  # noqa: DTZ001 - a workbook's dates have no zone


@dataclass
class Sheet:
    """Rows of cells; places count from 0, (row, column).

    `looks` is `fill`, `strike` or `percent` by place, `formulas` what stands in a cell that has no stored
    value, `dates` cells that a spreadsheet took for a date.
    """

    name: str
    rows: list[list[Cell]]
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden: bool = False
    hidden_rows: list[int] = field(default_factory=list)
    looks: dict[tuple[int, int], str] = field(default_factory=dict)
    notes: dict[tuple[int, int], str] = field(default_factory=dict)
    formulas: dict[tuple[int, int], str] = field(default_factory=dict)
    dates: dict[tuple[int, int], dt.date] = field(default_factory=dict)


@dataclass
class Paper:
    """A file: `sheets` of a workbook, or the one sheet of a text file with its delimiter and encoding."""

    file: str
    sheets: list[Sheet]
    delimiter: str = ","
    encoding: str = "utf-8"
    end: str = "\n"

    @property
    def rows(self) -> list[list[Cell]]:
        """Return the rows of the first sheet."""
        return self.sheets[0].rows


def text_paper(file: str, rows: list[list[Cell]], delimiter: str = ",") -> Paper:
    """Return a text file."""
    return Paper(file, [Sheet("", rows)], delimiter)


def write_paper(folder: Path, paper: Paper) -> None:
    """Write a file into a season folder; the same paper always gives the same bytes."""
    path = folder / paper.file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(_workbook(paper) if path.suffix == ".xlsx" else _text(paper))


def _text(paper: Paper) -> bytes:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=paper.delimiter, lineterminator=paper.end)
    writer.writerows([["" if cell is None else cell for cell in row] for row in paper.rows])
    return stream.getvalue().encode(paper.encoding)


def _workbook(paper: Paper) -> bytes:
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True, "strings_to_formulas": False})
    book.set_properties({"created": _WRITTEN})
    formats = {
        "": book.add_format(),
        "head": book.add_format({"bold": True, "align": "center"}),
        "fill": book.add_format({"bg_color": "#F2C14E"}),
        "strike": book.add_format({"font_strikeout": True}),
        "percent": book.add_format({"num_format": "0.0%"}),
        "date": book.add_format({"num_format": "d-mmm"}),
    }
    for sheet in paper.sheets:
        page = book.add_worksheet(sheet.name)
        _fill(page, sheet, formats)
    book.close()
    return stream.getvalue()


def _fill(
    page: xlsxwriter.worksheet.Worksheet, sheet: Sheet, formats: dict[str, xlsxwriter.format.Format]
) -> None:
    for r, row in enumerate(sheet.rows):
        for c, cell in enumerate(row):
            _put(page, sheet, (r, c), cell, formats)
    for top, left, bottom, right in sheet.merged:
        page.merge_range(top, left, bottom, right, sheet.rows[top][left], formats["head"])
    for r in sheet.hidden_rows:
        page.set_row(r, None, None, {"hidden": True})
    for (r, c), note in sheet.notes.items():
        page.write_comment(r, c, note, {"author": "Thackray"})
    if sheet.hidden:
        page.hide()


def _put(
    page: xlsxwriter.worksheet.Worksheet,
    sheet: Sheet,
    place: tuple[int, int],
    cell: Cell,
    formats: dict[str, xlsxwriter.format.Format],
) -> None:
    look = formats[sheet.looks.get(place, "")]
    if place in sheet.dates:
        page.write_datetime(*place, sheet.dates[place], formats["date"])
    elif place in sheet.formulas:
        page.write_formula(*place, sheet.formulas[place], look, "")
    elif isinstance(cell, str):
        page.write_string(*place, cell, look)
    elif cell is not None:
        page.write_number(*place, cell, look)
