"""A table for display, described once: already formatted text, and how it is to be laid out."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, Self, TypeAlias

from lbeval.errors import ReportError
from lbeval.report.parts import TABLE_MIME, Block, Part, Run, Text, html_runs, plain, runs

Align: TypeAlias = Literal["left", "right", "center", "decimal"]

_WHOLE = re.compile(r"\d{1,3}(?:[,\u00a0\u202f]\d{3})+(?!\d)|\d+|(?=\.\d)")
_SHORT = 2
_BORDER = "border-bottom:1px solid #b3b3b3"


@dataclass(frozen=True)
class Column(Part):
    """Heading and layout of a column.

    `width` is a share of the width that is left; without one the column is as wide as what it holds.
    `decimal` puts the first decimal points under one another.
    """

    header: Text
    align: Align = "left"
    width: float | None = None

    def __post_init__(self) -> None:
        self._set("header", runs(self.header))
        self._one_of("align", Align)
        if self.width is not None and not 0 < float(self.width) < math.inf:
            raise ReportError("Column.width is a positive share.")


@dataclass(frozen=True)
class Cell(Part):
    """A cell's text, ready to print; `marks` are the footnote marks set beside it."""

    text: Text = ""
    bold: bool = False
    muted: bool = False
    marks: str = ""

    def __post_init__(self) -> None:
        self._set("text", runs(self.text))
        self._strings("marks")

    @property
    def runs(self) -> tuple[Run, ...]:
        """The text with the cell's own looks applied to every run, and the marks at the end."""
        dressed = tuple(
            dataclasses.replace(run, bold=run.bold or self.bold, muted=run.muted or self.muted)
            for run in runs(self.text)
        )
        return (*dressed, Run(self.marks, raised=True)) if self.marks else dressed


CellLike: TypeAlias = Cell | Text | None


@dataclass(frozen=True)
class DisplayTable(Block):
    """A table ready for display; copied, never changed.

    Parameters
    ----------
    columns : sequence of Column or str
    rows : sequence of rows, each one entry a column: text, a `Cell`, or None for an empty one
    caption : text above the table
    summary : what the table holds, for a reader who cannot see it; needed where there is no caption
    row_headers : whether the first column names the row
    rules_after : row numbers (from 0) that are followed by a hairline
    notes : texts below the table

    Raises
    ------
    ReportError
        If a row has not one entry a column, or neither caption nor summary is given.
    """

    mime: ClassVar[str] = TABLE_MIME

    columns: Sequence[Column | str]
    rows: Sequence[Sequence[CellLike]]
    caption: Text = ""
    summary: str = ""
    row_headers: bool = True
    rules_after: Sequence[int] = ()
    notes: Sequence[Text] = ()

    def __post_init__(self) -> None:
        self._set("columns", tuple(c if isinstance(c, Column) else Column(c) for c in self.columns))
        if not self.columns:
            raise ReportError("A table needs at least one column.")
        self._set("rows", tuple(tuple(_cell(entry) for entry in row) for row in self.rows))
        for number, row in enumerate(self.rows):
            if len(row) != len(self.columns):
                raise ReportError(
                    f"Row {number} of the table has {len(row)} cells for {len(self.columns)} columns.",
                )
        self._runs("caption")
        self._strings("summary")
        if not self.summary.strip() and not plain(self.caption).strip():
            raise ReportError("A table needs a caption or a summary that says what it holds.")
        self._set("rules_after", tuple(int(number) for number in self.rules_after))
        given = (self.notes,) if isinstance(self.notes, str | Run) else self.notes
        self._set("notes", tuple(runs(note) for note in given))

    def replace(self, **changes: Any) -> Self:
        """Return a copy with some fields changed."""
        return dataclasses.replace(self, **changes)

    @property
    def heads(self) -> tuple[Column, ...]:
        """The columns, each as a `Column`."""
        return tuple(c if isinstance(c, Column) else Column(c) for c in self.columns)

    @property
    def cells(self) -> tuple[tuple[Cell, ...], ...]:
        """The rows, each entry as a `Cell`."""
        return tuple(tuple(_cell(entry) for entry in row) for row in self.rows)

    def html(self) -> str:
        sides = tuple("right" if head.align == "decimal" else head.align for head in self.heads)
        heads = "".join(
            f'<th scope="col" style="text-align:{side}">{html_runs(head.header)}</th>'
            for side, head in zip(sides, self.heads, strict=True)
        )
        body = "".join(self._html_row(number, row, sides) for number, row in enumerate(self.cells))
        notes = "".join(f"<p><small>{html_runs(note)}</small></p>" for note in self.notes)
        name = html_runs(self.caption) if plain(self.caption).strip() else html_runs(self.summary)
        caption = f"<caption>{name}</caption>"
        return f"<table>{caption}<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>{notes}"

    def _html_row(self, number: int, row: tuple[Cell, ...], sides: tuple[str, ...]) -> str:
        rule = f";{_BORDER}" if number in self.rules_after else ""
        done = []
        for index, (cell, side) in enumerate(zip(row, sides, strict=True)):
            tag = 'th scope="row"' if index == 0 and self.row_headers else "td"
            done.append(f'<{tag} style="text-align:{side}{rule}">{html_runs(cell.runs)}</{tag[:2]}>')
        return f"<tr>{''.join(done)}</tr>"

    def plain(self) -> str:
        lines = [[plain(head.header) for head in self.heads]]
        lines += [[plain(cell.runs).replace("\n", " ") for cell in row] for row in self.cells]
        widths = [max(len(line[index]) for line in lines) for index in range(len(self.heads))]
        right = [head.align in {"right", "decimal"} for head in self.heads]
        body = [
            "  ".join(
                text.rjust(width) if flush else text.ljust(width)
                for text, width, flush in zip(line, widths, right, strict=True)
            ).rstrip()
            for line in lines
        ]
        return "\n".join([*([plain(self.caption)] if self.caption else []), *body, *map(plain, self.notes)])


def _cell(entry: CellLike) -> Cell:
    if isinstance(entry, Cell):
        return entry
    return Cell() if entry is None else Cell(entry)


def decimal_tail(text: str) -> str | None:
    """Return what follows the whole number in a cell that is aligned on decimals.

    A dash or a blank has an empty tail; words have none and are set flush right without taking part.

    >>> decimal_tail("-3.25"), decimal_tail("1,204"), decimal_tail("12 %"), decimal_tail("too few plays")
    ('.25', '', ' %', None)
    """
    found = _WHOLE.search(text)
    if found is None:
        return "" if len(text.strip()) <= _SHORT else None
    return text[found.end() :]
