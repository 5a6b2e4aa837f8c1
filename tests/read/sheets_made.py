"""Small folders of files as staffs keep them, for the tests of `lbeval start`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import openpyxl

ROSTER = (
    "Name,No.,Pos,Class\nAda Quist,44,ILB,Sr\nBo Marsh,52,OLB,Jr\nCy Vance,9,ILB,So\nDee Holt,33,OLB,Fr\n"
)
CLIPS = (
    "Session,Clip,Date,Dn,Dist,Hash,R/P\n"
    "Game 1,1,2025-09-06,1,10,L,R\nGame 1,2,2025-09-06,2,7,M,P\n"
    "Game 2,1,2025-09-13,1,10,R,R\nGame 2,2,2025-09-13,3,4,L,P\n"
)


def put(folder: Path, name: str, text: str) -> Path:
    """Write a text file into `folder`."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def long_grades(criteria: Sequence[str], marks: Sequence[str], *, session: str = "Game 1") -> str:
    """Return marks one a row: two players, every criterion, marks in turn."""
    lines = ["Session,Clip,Player,Criterion,Mark"]
    n = 0
    for clip in (1, 2):
        for player in ("Ada Quist", "Bo Marsh"):
            for criterion in criteria:
                lines.append(f"{session},{clip},{player},{criterion},{marks[n % len(marks)]}")
                n += 1
    return "\n".join(lines) + "\n"


def workbook(path: Path, tabs: dict[str, list[list[object]]], merged: Sequence[str] = ()) -> Path:
    """Write a workbook; `merged` are ranges merged on every sheet."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in tabs.items():
        tab = book.create_sheet(name)
        for row in rows:
            tab.append(row)
        for area in merged:
            tab.merge_cells(area)
    path.parent.mkdir(parents=True, exist_ok=True)
    book.save(path)
    return path
