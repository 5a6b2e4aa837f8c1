"""One sheet as `lbeval start` sees it: where its headings are, what stands under them."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field

import pandas as pd

from lbeval.read.describe_words import KNOWN, words_of
from lbeval.read.headings import JOIN, heading_parts
from lbeval.read.sheets import Sheet
from lbeval.spelling import fold

_SEARCHED = 25
"""Headings are looked for in the first so many rows."""
_SAMPLE = 400_000
"""Rows of a sheet that are looked at for what is written under a heading."""
_VALUE = re.compile(r"[\d.,%+\-/: ]*|[a-z]?\d+|[a-f][+-]?|true|false")


@dataclass(frozen=True, eq=False)
class Look:
    """A sheet, its headings and its body.

    Attributes
    ----------
    row, rows : first heading row, from 1, and how many there are.
    headings, parts : of each column, joined as the settings write them, and apart.
    body : cells under the headings, blank rows left out; columns numbered from 0.
    above : (cell such as `B1`, text) of what stands above the headings.
    known : columns counted so far.
    """

    sheet: Sheet
    row: int
    rows: int
    headings: tuple[str, ...]
    parts: tuple[tuple[str, ...], ...]
    body: pd.DataFrame
    above: tuple[tuple[str, str], ...]
    known: dict[int, Counter[str]] = field(default_factory=dict, repr=False)

    def leaf(self, column: int) -> str:
        """Return the lowest part of a column's heading."""
        return next((part for part in reversed(self.parts[column]) if part), "")

    def group(self, column: int) -> str:
        """Return what stands over the lowest part of a column's heading, if anything does."""
        filled = [part for part in self.parts[column] if part]
        return JOIN.join(filled[:-1]) if len(set(filled)) > 1 else ""

    def counts(self, column: int) -> Counter[str]:
        """Return how often each text stands in a column; blank cells count under the empty text."""
        if column not in self.known:
            texts = self.body[column].iloc[:_SAMPLE]
            if len(texts) > 5000:
                found = texts.value_counts()
                self.known[column] = Counter({str(text): int(times) for text, times in found.items()})
            else:
                self.known[column] = Counter(texts.tolist())
        return self.known[column]

    def usable(self, column: int) -> bool:
        """Return whether a column has a heading of its own that no other column has."""
        heading = fold(self.headings[column])
        return bool(heading) and sum(fold(other) == heading for other in self.headings) == 1


def look_at(sheet: Sheet) -> Look | None:
    """Return what is seen of a sheet, or None where no row can be its headings."""
    found = _heading_rows(sheet)
    if found is None:
        return None
    row, rows = found
    parts = tuple(tuple(part) for part in heading_parts(sheet, row, rows))
    joined = tuple(JOIN.join(part for part in one if part) for one in parts)
    body = sheet.cells.iloc[row - 1 + rows :]
    body = body[(body != "").any(axis=1)] if len(body) else body
    above = tuple(
        (f"{_letters(column)}{number}", text)
        for number, cells in enumerate(sheet.rows(1, row - 1) if row > 1 else [], 1)
        for column, text in enumerate(cells)
        if text
    )
    return Look(sheet, row, rows, joined, parts, body, above)


def _heading_rows(sheet: Sheet) -> tuple[int, int] | None:
    """Return the first heading row (from 1) and how many there are."""
    cells = sheet.rows(1, _SEARCHED)
    best, found = 0, 0
    hits = [_hits(row) for row in cells]
    counts = [sum(1 for text in row if text) for row in cells]
    for number, (known, filled) in enumerate(zip(hits, counts, strict=True), 1):
        if known > best and (known >= 2 or filled >= 3):
            best, found = known, number
    if not found:
        return None
    # a row of groups may be made of words of the trade too: the fuller row under it holds the headings
    if found < len(cells) and hits[found] >= 2 and counts[found] > counts[found - 1]:
        found += 1
    boxes = sheet.merged
    if found > 1 and _is_over(cells[found - 2], cells[found - 1], _wide_boxes(boxes, found - 1)):
        return found - 1, 2
    deep = max((bottom for top, _, bottom, _ in boxes if top == found and bottom > found), default=found)
    if deep > found:
        return found, min(deep - found + 1, 4)
    if found < len(cells) and _is_under(cells[found - 1], cells[found]):
        return found, 2
    return found, 1


def _hits(row: list[str]) -> int:
    """Return how many different headings of the vocabulary a row holds."""
    said = {words_of(text) for text in row if text and not text.isdigit()}
    return len(said & KNOWN)


def _wide_boxes(boxes: tuple[tuple[int, int, int, int], ...], row: int) -> int:
    return sum(1 for top, left, _, right in boxes if top == row and right > left > 1)


def _is_over(upper: list[str], lower: list[str], boxes: int) -> bool:
    """Return whether `upper` groups the headings in `lower`: fewer of them, each over one."""
    filled = [n for n, text in enumerate(upper) if text]
    headed = sum(1 for text in lower if text)
    short = all(len(upper[n]) <= 40 and not _VALUE.fullmatch(fold(upper[n])) for n in filled)
    grouping = boxes > 0 or (len(filled) >= 2 and filled[0] > 0)
    return bool(filled) and short and grouping and len(filled) < headed and all(lower[n] for n in filled)


def _is_under(upper: list[str], lower: list[str]) -> bool:
    """Return whether `lower` holds the headings of columns that `upper` leaves open between groups."""
    opened = [n for n, text in enumerate(lower) if text and not upper[n]]
    filled = [text for text in lower if text]
    words = all(not _VALUE.fullmatch(fold(text)) for text in filled)
    closed = any(text and not lower[n] for n, text in enumerate(upper))
    return bool(opened) and words and closed and len(set(filled)) == len(filled)


def _letters(column: int) -> str:
    """Return the spreadsheet name of a column counted from 0."""
    name, number = "", column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        name = chr(65 + rest) + name
    return name
