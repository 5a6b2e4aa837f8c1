"""Which files are the staff's, which pattern covers them, which name is a copy's."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from lbeval.read.folder import copy_of, covers, locked_file, named, staff_files
from lbeval.read.headings import find_heading, joined_headings, nearest_heading
from lbeval.read.sheets import Sheet


@pytest.mark.parametrize(
    ("pattern", "file", "covered"),
    [
        ("grades/Game*.xlsx", "grades/Game 3.xlsx", True),
        ("grades/game*.XLSX", "Grades/Game 3.xlsx", True),
        ("*.csv", "marks.csv", True),
        ("*.csv", "old/marks.csv", False),
        ("**/*.csv", "old/er/marks.csv", True),
        ("**/*.csv", "marks.csv", True),
        ("old\\marks.csv", "old/marks.csv", True),
        ("./marks.csv", "marks.csv", True),
        ("Rémy.csv", "Re\u0301my.csv", True),
        ("Game [12].csv", "Game 3.csv", False),
    ],
)
def test_patterns(pattern: str, file: str, covered: bool) -> None:
    assert covers((pattern,), file) is covered


def test_sheet_patterns_ignore_case_and_spaces() -> None:
    assert named(("game *",), "Game 3 ")
    assert not named(("game *",), "Totals")


@pytest.mark.parametrize(
    ("file", "original"),
    [
        ("Copy of Game 3 FINAL2.csv", "Game 3.csv"),
        ("Game 3 - Copy.xlsx", "Game 3.xlsx"),
        ("Game 3 (1).xlsx", "Game 3.xlsx"),
        ("Game 3_v2.xlsx", "Game 3.xlsx"),
        ("a/marks (Coach's conflicted copy 2025-09-01).csv", "marks.csv"),
        ("Game 3.xlsx", ""),
        ("Finals.csv", ""),
        ("Renew.csv", ""),
        ("copy.csv", ""),
    ],
)
def test_copies_are_told_by_their_names(file: str, original: str) -> None:
    assert copy_of(file) == original


def test_lock_files() -> None:
    assert locked_file("a/~$Game 3.xlsx") == "Game 3.xlsx"
    assert locked_file(".~lock.marks.ods#") == "marks.ods"


def test_ours_and_the_system_s_files_are_not_the_staff_s(tmp_path: Path) -> None:
    names = ["season.toml", "to_settle.xlsx", "Thumbs.db", ".DS_Store", ".git/x.csv", "lbeval_out/a.csv"]
    for name in [*names, "b/to_settle.xlsx", "a.PNG", "c.csv", "c - Copy.csv"]:
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    found = [(one.file, one.nature) for one in staff_files(tmp_path)]
    assert found == [
        ("a.PNG", "photo"),
        ("b/to_settle.xlsx", "readable"),
        ("c.csv", "readable"),
        ("c - Copy.csv", "readable"),
    ]


def sheet(rows: list[list[str]], *merged: tuple[int, int, int, int]) -> Sheet:
    return Sheet("a.xlsx", "s", pd.DataFrame(rows, dtype="str"), merged)


@pytest.mark.parametrize(
    ("rows", "merged", "headings"),
    [
        ([["A", "", "B"], ["a", "b", "c"]], (), ["A / a", "A / b", "B / c"]),
        ([["", "B", ""], ["a", "b", "c"]], (), ["a", "B / b", "B / c"]),
        (
            [["Player", "Job", ""], ["", "Fit", "Shed"]],
            ((1, 1, 2, 1),),
            ["Player", "Job / Fit", "Job / Shed"],
        ),
        ([["A", "", ""], ["a", "b", "Note"]], ((1, 1, 1, 2), (1, 3, 1, 3)), ["A / a", "A / b", "Note"]),
        ([["A\nB", "C"], ["", "d"]], (), ["A B", "C / d"]),
    ],
)
def test_heading_rows_are_joined(
    rows: list[list[str]], merged: tuple[tuple[int, int, int, int], ...], headings: list[str]
) -> None:
    assert joined_headings(sheet(rows, *merged), 1, 2) == headings


def test_a_heading_is_found_whole_or_by_its_last_part() -> None:
    headings = ["Job / Fit", "Run / Fit", "Job / Shed", "Player", ""]
    assert find_heading(headings, "job / FIT") == [0]
    assert find_heading(headings, "Fit") == [0, 1]
    assert find_heading(headings, "Shed") == [2]
    assert find_heading(headings, "Name") == []
    assert nearest_heading(headings, "Players") == "Player"
