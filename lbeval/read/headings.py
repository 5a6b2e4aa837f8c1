"""Headings of a sheet: several rows joined, merged cells carried right, found as the settings write them."""

from __future__ import annotations

from rapidfuzz import process

from lbeval.read.sheets import Sheet
from lbeval.spelling import fold

JOIN = " / "
"""Between the parts of a heading that fills several rows."""


def joined_headings(sheet: Sheet, heading_row: int, heading_rows: int = 1) -> list[str]:
    """Return one heading a column; a group's heading counts for the columns right of it until the next.

    Parameters
    ----------
    heading_row : first row of headings, from 1.
    heading_rows : how many rows they fill.
    """
    return [
        JOIN.join(part for part in parts if part) for parts in heading_parts(sheet, heading_row, heading_rows)
    ]


def heading_parts(sheet: Sheet, heading_row: int, heading_rows: int = 1) -> list[list[str]]:
    """Return for each column the text of each heading row, top first; empty where there is none."""
    last = heading_row + heading_rows - 1
    rows = [[" ".join(text.split()) for text in row] for row in sheet.rows(heading_row, last)]
    if not rows:
        return [[] for _ in range(sheet.width)]
    covered = _spread_merged(sheet, rows, heading_row)
    for n, row in enumerate(rows[:-1]):
        below = rows[n + 1]
        for column in range(1, len(row)):
            if not row[column] and below[column] and (n, column) not in covered:
                row[column] = row[column - 1]
    return [[row[column] for row in rows] for column in range(sheet.width)]


def _spread_merged(sheet: Sheet, rows: list[list[str]], heading_row: int) -> set[tuple[int, int]]:
    """Write a merged heading over all columns it covers; return the cells that merged cells take up."""
    covered: set[tuple[int, int]] = set()
    for top, left, bottom, right in sheet.merged:
        if not heading_row <= top < heading_row + len(rows):
            continue
        text = rows[top - heading_row][left - 1] if left <= sheet.width else ""
        for column in range(left - 1, min(right, sheet.width)):
            rows[top - heading_row][column] = text
            covered |= {(row - heading_row, column) for row in range(top, bottom + 1)}
    return covered


def find_heading(headings: list[str], wanted: str) -> list[int]:
    """Return the columns (from 0) under heading `wanted`; its last part alone will do where it is unique."""
    said = fold(wanted)
    whole = [n for n, heading in enumerate(headings) if fold(heading) == said]
    if whole:
        return whole
    return [
        n for n, heading in enumerate(headings) if JOIN in heading and fold(heading.split(JOIN)[-1]) == said
    ]


def nearest_heading(headings: list[str], wanted: str) -> str:
    """Return the heading most like `wanted`, for a suggestion; empty if none is like it."""
    known = {fold(heading): heading for heading in headings if heading}
    found = process.extractOne(fold(wanted), list(known), score_cutoff=60)
    return known[found[0]] if found else ""
