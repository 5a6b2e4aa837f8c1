"""Where the headings of a sheet are: above them titles and groups, under them marks."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from lbeval.read.describe_look import Look, look_at
from lbeval.read.sheets import Sheet, read_sheets
from tests.read.sheets_made import workbook


def look(rows: list[list[str]], merged: tuple[tuple[int, int, int, int], ...] = ()) -> Look:
    width = max(map(len, rows))
    cells = pd.DataFrame([row + [""] * (width - len(row)) for row in rows], dtype="str")
    found = look_at(Sheet("f.csv", "", cells, merged))
    assert found is not None
    return found


BODY = [["4", "Quist", "1", "2"], ["5", "Marsh", "0", "2"]]


def test_plain_headings() -> None:
    found = look([["Clip", "Player", "Run fit", "Pursuit"], *BODY])
    assert (found.row, found.rows) == (1, 1)
    assert len(found.body) == 2
    assert found.counts(2) == {"1": 1, "0": 1}


def test_title_and_comment_rows_above() -> None:
    found = look([["Linebackers 2025"], [], ["Opponent", "Dunmere"], ["Clip", "Player", "Run fit"], *BODY])
    assert (found.row, found.rows) == (4, 1)
    assert ("B3", "Dunmere") in found.above


def test_groups_over_headings_by_merged_cells() -> None:
    rows = [["SNAP", "", "ASSIGNMENT", ""], ["Clip", "Player", "Run fit", "Pursuit"], *BODY]
    found = look(rows, ((1, 1, 1, 2), (1, 3, 1, 4)))
    assert (found.row, found.rows) == (1, 2)
    assert found.headings[3] == "ASSIGNMENT / Pursuit"
    assert (found.leaf(3), found.group(3)) == ("Pursuit", "ASSIGNMENT")


def test_groups_made_of_words_of_the_trade_are_no_headings() -> None:
    rows = [["SNAP", "", "APPROACH", "TACKLE"], ["Clip", "Player", "Approach", "Wrap"], *BODY]
    found = look(rows, ((1, 1, 1, 2),))
    assert found.row + found.rows == 3


def test_headings_over_two_rows_merged_down() -> None:
    rows = [["Clip", "Player", "ASSIGNMENT", ""], ["", "", "Run fit", "Pursuit"], *BODY]
    found = look(rows, ((1, 1, 2, 1), (1, 2, 2, 2), (1, 3, 1, 4)))
    assert (found.row, found.rows) == (1, 2)
    assert found.leaf(2) == "Run fit"


def test_same_without_merged_cells() -> None:
    found = look([["Clip", "Player", "ASSIGNMENT", ""], ["", "", "Run fit", "Pursuit"], *BODY])
    assert (found.row, found.rows) == (1, 2)


def test_a_first_row_of_marks_is_no_second_row_of_headings() -> None:
    found = look([["Clip", "Player", "Run fit", ""], ["4", "Quist", "1", "2"]])
    assert (found.row, found.rows) == (1, 1)


def test_no_headings_no_look(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", {"S": [[1, 2, 3], [4, 5, 6]]})
    assert look_at(read_sheets(path, "a.xlsx")[0]) is None


@pytest.mark.parametrize("heading", ["", "Clip"])
def test_a_heading_that_is_empty_or_there_twice_is_not_usable(heading: str) -> None:
    found = look([["Clip", "Player", heading], ["4", "Quist", "1"]])
    assert not found.usable(2)
    assert found.usable(1)
