"""What a sheet shows beside its values, said so that nobody believes that it was read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from lbeval.raw import Finding
from lbeval.read.sheets import Sheet

_MOST = 40
"""Notes and struck cells listed one by one in a sheet; the rest is counted."""


def sheet_notices(sheet: Sheet, first_row: int) -> Iterator[Finding]:
    """Yield notices on a sheet whose body begins in `first_row`: how it was read, and what was not read."""
    for said in sheet.remarks:
        yield _notice(sheet, (said.row, said.column), said.value, said.reason, said.message, said.suggestion)
    if sheet.hidden:
        message = "the sheet is hidden; it was read like the others"
        yield _notice(
            sheet, (0, 0), "", "hidden_sheet", message, "leave it out with a leave_out block if not meant"
        )
    if sheet.markup is None:
        return
    yield from _hidden(sheet)
    yield from _colours(sheet, first_row)
    struck = [place for place in sheet.markup.struck if _filled(sheet, place)]
    for place in struck[:_MOST]:
        message = "the cell is struck through; its value was used"
        yield _notice(
            sheet, place, _text(sheet, place), "strikethrough", message, "delete the value if not meant"
        )
    for row, column, note in sheet.markup.notes[:_MOST]:
        message = f"the cell has a note, which was not read: {note[:200]}"
        suggestion = "write what matters into a cell, or into the remarks"
        yield _notice(sheet, (row, column), _text(sheet, (row, column)), "cell_note", message, suggestion)
    more = max(len(struck) - _MOST, 0) + max(len(sheet.markup.notes) - _MOST, 0)
    if more:
        message = f"{more} more cells are struck through or have a note"
        yield _notice(sheet, (0, 0), "", "cell_note", message, "look through the sheet")


def _hidden(sheet: Sheet) -> Iterator[Finding]:
    if sheet.markup is None:
        return
    rows = [row for row in sheet.markup.hidden_rows if row <= sheet.n_rows]
    columns = [column for column in sheet.markup.hidden_columns if column <= sheet.width]
    for what, numbers, reason in (("row", rows, "hidden_rows"), ("column", columns, "hidden_columns")):
        if numbers:
            message = f"hidden or filtered out, but read like the others: {what}s {_ranges(numbers)}"
            place = (numbers[0], 0) if what == "row" else (0, numbers[0])
            yield _notice(sheet, place, "", reason, message, "delete them if they are not meant")


def _colours(sheet: Sheet, first_row: int) -> Iterator[Finding]:
    """Say that colours were seen, unless most cells have one, which then can't set a cell apart."""
    if sheet.markup is None:
        return
    cells = [
        (row, column)
        for row, column in sheet.markup.filled
        if first_row <= row <= sheet.n_rows and column <= sheet.width
    ]
    if not cells or len(cells) > (sheet.n_rows - first_row + 1) * sheet.width // 2:
        return
    shown = ", ".join(f"row {row} column {column}" for row, column in cells[:5])
    are = "cell is" if len(cells) == 1 else "cells are"
    message = (
        f"{len(cells)} {are} coloured ({shown}{', ...' if len(cells) > 5 else ''}); colours are not read"
    )
    yield _notice(
        sheet,
        cells[0],
        _text(sheet, cells[0]),
        "fill_colour",
        message,
        "if a colour means something, write it in a column",
    )


def blind_notice(sheets: tuple[Sheet, ...]) -> Iterator[Finding]:
    """Say once for a file that its format hides colours, notes and failed formulas from us."""
    first = next(iter(sheets), None)
    suffix = Path(first.file).suffix.lower() if first else ""
    seen = first is None or not first.name or any(sheet.markup is not None for sheet in sheets)
    if first is None or seen or suffix not in {".xls", ".xlsb", ".ods"}:
        return
    message = f"colours, notes, percent formats and failed formulas of a {suffix} file cannot be seen"
    yield _notice(first, (0, 0), "", "format_hides", message, "if any of them matters, save it as XLSX")


def _notice(
    sheet: Sheet, place: tuple[int, int], value: str, reason: str, message: str, suggestion: str
) -> Finding:
    return Finding(sheet.file, sheet.name, *place, value, "notice", reason, message, suggestion)


def _filled(sheet: Sheet, place: tuple[int, int]) -> bool:
    return _text(sheet, place) != ""


def _text(sheet: Sheet, place: tuple[int, int]) -> str:
    row, column = place
    return str(sheet.cells.iloc[row - 1, column - 1]) if row <= sheet.n_rows and column <= sheet.width else ""


def _ranges(numbers: list[int]) -> str:
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)
