"""Files that are alike become one block, and a pattern never covers a file that is not meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from lbeval.read.describe_blocks import Block, file_patterns, find_blocks, literal
from lbeval.read.folder import covers
from tests.read.sheets_made import CLIPS, ROSTER, long_grades, put, workbook

WIDE: list[list[object]] = [["Clip", "Player", "A", "T"], [1, "Quist", "+", "-"], [2, "Marsh", "-", "+"]]


def blocks(folder: Path, already: tuple[str, ...] = ()) -> list[Block]:
    return list(find_blocks(folder, already, lambda _what, _done, _total: None))


def only(folder: Path, kind: str) -> Block:
    found = [block for block in blocks(folder) if block.kind == kind]
    assert len(found) == 1
    return found[0]


def test_one_block_covers_a_file_a_game(tmp_path: Path) -> None:
    for game in (1, 2, 10):
        marks = long_grades(["Fit", "Shed"], "012", session=f"Game {game}")
        put(tmp_path, f"hale/Game {game}.csv", marks)
    found = only(tmp_path, "grades")
    assert found.files == ("hale/Game *.csv",)
    assert found.coaches == ("Hale",)
    assert found.sessions == ("Game 1", "Game 10", "Game 2")
    assert found.n_rows == 24


def test_two_coaches_alike_are_two_blocks(tmp_path: Path) -> None:
    put(tmp_path, "hale_marks.csv", long_grades(["Fit", "Shed"], "012"))
    put(tmp_path, "ruiz_marks.csv", long_grades(["Fit", "Shed"], "210"))
    found = blocks(tmp_path)
    assert [(block.files, block.coaches) for block in found] == [
        (("hale_marks.csv",), ("Hale",)),
        (("ruiz_marks.csv",), ("Ruiz",)),
    ]


def test_sheets_of_a_workbook(tmp_path: Path) -> None:
    other: list[list[object]] = [["Date", "Bus"], ["x", "y"]]
    tabs = {"Game 1": WIDE, "Game 2": WIDE[::1], "Travel": other}
    workbook(tmp_path / "hale.xlsx", tabs)
    found = blocks(tmp_path)
    assert [(b.kind, b.sheets) for b in found] == [("grades", ("Game *",)), ("", ("Travel",))]


def test_a_blank_sheet_does_not_keep_a_block_from_all_sheets(tmp_path: Path) -> None:
    workbook(tmp_path / "hale.xlsx", {"Game 1": WIDE, "Game 2": WIDE, "Sheet3": []})
    assert only(tmp_path, "grades").sheets == ("*",)


def test_same_sessions_under_another_initial_are_marks_given_again(tmp_path: Path) -> None:
    put(tmp_path, "clips.csv", CLIPS)
    tabs: dict[str, list[list[object]]] = {
        f"{initial}0{n}": [["Session", f"Game {n}"], *WIDE] for initial in "GR" for n in (1, 2)
    }
    workbook(tmp_path / "hale.xlsx", tabs)
    first, again = [block for block in blocks(tmp_path) if block.kind == "grades"]
    assert (first.sheets, again.sheets) == (("G*",), ("R*",))
    assert again.source["constants"] == {"look": "repeat"}
    assert not again.sure


def test_the_same_bytes_twice_are_read_once(tmp_path: Path) -> None:
    put(tmp_path, "hale.csv", long_grades(["Fit", "Shed"], "012"))
    put(tmp_path, "Copy of hale.csv", long_grades(["Fit", "Shed"], "012"))
    found = {block.files[0]: block.kind for block in blocks(tmp_path)}
    assert found == {"hale.csv": "grades", "Copy of hale.csv": "leave_out"}


def test_a_changed_copy_is_asked(tmp_path: Path) -> None:
    put(tmp_path, "hale.csv", long_grades(["Fit", "Shed"], "012"))
    put(tmp_path, "hale FINAL2.csv", long_grades(["Fit", "Shed"], "210"))
    copy = only(tmp_path, "leave_out")
    assert copy.files == ("hale FINAL2.csv",)
    assert not copy.sure


def test_what_cannot_be_read_is_listed_and_stops_nothing(tmp_path: Path) -> None:
    put(tmp_path, "board.jpg", "x")
    put(tmp_path, "broken.xlsx", "")
    put(tmp_path, "roster.csv", ROSTER)
    put(tmp_path, "~$roster.csv", "x")
    found = {block.files[0]: block.kind for block in blocks(tmp_path)}
    assert found == {"board.jpg": "", "broken.xlsx": "", "roster.csv": "roster"}


def test_files_of_the_settings_are_not_looked_at_again(tmp_path: Path) -> None:
    put(tmp_path, "roster.csv", ROSTER)
    put(tmp_path, "clips.csv", CLIPS)
    assert [block.kind for block in blocks(tmp_path, ("roster*",))] == ["plays"]


def test_remarks_in_markdown(tmp_path: Path) -> None:
    put(tmp_path, "remarks.md", "# Ada Quist\nReads well.\n\n# Bo Marsh\nNeeds a summer.\n")
    put(tmp_path, "todo.md", "buy cones\n")
    assert [(b.files[0], b.sure) for b in blocks(tmp_path)] == [("remarks.md", True), ("todo.md", False)]


def test_empty_folder(tmp_path: Path) -> None:
    assert blocks(tmp_path) == []


@pytest.mark.parametrize(
    ("mine", "others", "patterns"),
    [
        (["Game 1.csv", "Game 2.csv"], ["roster.csv"], ("Game *.csv",)),
        (["Game 1.csv", "Game 2.csv"], ["Game plan.csv"], ("Game 1.csv", "Game 2.csv")),
        (["a/G1.csv", "b/G1.csv"], [], ("a/G1.csv", "b/G1.csv")),
        (["wk1 [final].csv"], [], ("wk1 [[]final].csv",)),
        (["x.csv", "y.csv"], [], ("x.csv", "y.csv")),
    ],
)
def test_patterns(mine: list[str], others: list[str], patterns: tuple[str, ...]) -> None:
    found = file_patterns(mine, [*mine, *others])
    assert found == patterns
    assert all(covers(found, file) for file in mine)
    assert not any(covers(found, file) for file in others)


@pytest.mark.parametrize("name", ["a[1].csv", "a*b.csv", "what?.csv", "[x]"])
def test_a_name_with_signs_of_patterns_matches_itself_alone(name: str) -> None:
    assert covers((literal(name),), name)
    assert not covers((literal(name),), name.replace("1", "2").replace("*", "x").replace("?", "x") + "y")
