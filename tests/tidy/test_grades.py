"""Marks: what a scale says, what it does not, and marks that stand twice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lbeval.settings import Scale
from lbeval.tidy.scales import Packing, ScaleReader, split_codes
from tests.tidy.folders import LONG, LONG_HEAD, load, marks, only, reasons, write

THREE = Scale(
    marks={"0": 0.0, "½": 0.25, "1": 0.5, "2": 1.0},
    did_not_occur=("-",),
    not_graded=("ng",),
    ungradable=("?",),
)


@pytest.mark.parametrize(
    ("written", "score", "blank"),
    [
        ("2", 1.0, ""),
        ("2.0", 1.0, ""),
        (" 2 ", 1.0, ""),
        ("½", 0.25, ""),
        ("0.50", 0.25, ""),
        ("–", None, "did_not_occur"),
        ("NG", None, "not_graded"),
        ("", None, "not_graded"),
        ("?", None, "ungradable"),
        ("did not occur", None, "did_not_occur"),
    ],
)
def test_a_mark_on_the_scale(written: str, score: float | None, blank: str) -> None:
    mark = ScaleReader(THREE, ".").read(written)
    assert (mark.known, mark.score, mark.blank) == (True, score, blank)


@pytest.mark.parametrize("written", ["3", "1.5", "two", "-1", "+", "2025-01-02", "1 2"])
def test_a_mark_off_the_scale_is_unknown_and_the_scale_is_named(written: str) -> None:
    mark = ScaleReader(THREE, ".").read(written)
    assert not mark.known
    assert mark.near == "0; ½; 1; 2"


@pytest.mark.parametrize(
    ("written", "decimal", "score"),
    [
        ("85.5%", ".", 0.855),
        ("85.5 %", ".", 0.855),
        ("85,5 %", ",", 0.855),
        ("85.5", ".", 0.855),
        ("0", ".", 0.0),
        ("100", ".", 1.0),
        ("0.5%", ".", 0.005),
        ("0.855", ".", None),
        ("1", ".", None),
        ("85,5 %", ".", None),
        ("101", ".", None),
        ("-5", ".", None),
        ("B+", ".", None),
    ],
)
def test_percent(written: str, decimal: str, score: float | None) -> None:
    assert ScaleReader(Scale(percent=True), decimal).read(written).score == score


def test_a_fraction_on_a_percent_scale_offers_both_readings() -> None:
    assert ScaleReader(Scale(percent=True), ".").read("0.855").near == "85.5%; 0.855%"


@pytest.mark.parametrize(
    ("written", "cut"),
    [
        ("++-", ["+", "+", "-"]),
        ("+ + -", ["+", "+", "-"]),
        ("+/+/-", ["+", "+", "-"]),
        ("++–", ["+", "+", "-"]),
        ("+o-", ["+", "o", "-"]),
        ("+dnp-", ["+", "dnp", "-"]),
        ("dnp", ["dnp"] * 3),
        ("", [""] * 3),
        ("++", None),
        ("++++", None),
        ("+x-", None),
    ],
)
def test_packed_cells(written: str, cut: list[str] | None) -> None:
    scale = Scale(marks={"-": 0.0, "+": 1.0}, ungradable=("o",), did_not_occur=("dnp",))
    assert Packing(scale, 3).cut(written) == cut


def test_codes_behind_a_mark() -> None:
    assert split_codes("-(MA)") == ("-", "MA")
    assert split_codes("- [MA, L]") == ("-", "MA, L")
    assert split_codes("(MA)") == ("", "MA")
    assert split_codes("-") == ("-", "")


def test_three_kinds_of_blank_stay_apart(tmp_path: Path) -> None:
    rows = "Marcus Hale,Game 1,1,fit,na,\nMarcus Hale,Game 1,2,fit,?,\nMarcus Hale,Game 1,5,fit,,\n"
    season = load(write(tmp_path, marks__csv=LONG_HEAD + rows))
    assert season.grades["blank"].tolist() == ["did_not_occur", "ungradable", "not_graded"]
    assert season.grades["score"].isna().all()
    ledger = season.ledger.set_index("source_file").loc["marks.csv"]
    assert [ledger[k] for k in ("did_not_occur", "ungradable", "not_graded")] == [1, 1, 1]
    assert reasons(season) == []


def test_the_same_mark_twice_is_used_once_and_two_that_differ_not_at_all(tmp_path: Path) -> None:
    rows = [
        "Marcus Hale,Game 1,1,fit,2,",
        "Marcus Hale,Game 1,1,fit,2,",
        "Marcus Hale,Game 1,2,fit,2,",
        "Marcus Hale,Game 1,2,fit,0,",
        "Marcus Hale,Game 1,5,fit,2,",
        "Marcus Hale,Game 1,5,fit,0,repeat",
        "Marcus Hale,Game 1,6,fit,,",
        "Marcus Hale,Game 1,6,fit,1,",
    ]
    season = load(write(tmp_path, marks__csv=LONG_HEAD + "\n".join(rows)))
    assert marks(season) == [
        ("marcus-hale", "game-1-001", "fit", 1.0),
        ("marcus-hale", "game-1-005", "fit", 1.0),
        ("marcus-hale", "game-1-005", "fit", 0.0),
        ("marcus-hale", "game-1-006", "fit", 0.5),
    ]
    assert reasons(season) == ["duplicate_row", "conflicting_marks", "conflicting_marks"]
    clash = season.set_aside.iloc[1]
    assert (clash["source_row"], clash["column"], clash["value"]) == (4, "Mark", "2")
    assert "marks.csv row 5" in clash["message"]


@pytest.mark.parametrize(
    ("row", "reason", "column", "value"),
    [
        ("Marcus Hale,Game 1,1,fit,7,", "unknown_mark", 5, "7"),
        ("Marcus Hale,Game 1,1,fit,#REF!,", "error_cell", 5, "#REF!"),
        ("Marcus Hale,Game 1,1,fit,=B2,", "formula_without_value", 5, "=B2"),
        ("Marcus Hale,Game 1,1,fit,2025-01-02,", "date_for_value", 5, "2025-01-02"),
        ("Marcus Hale,Game 1,1,gap,2,", "unknown_criterion", 4, "gap"),
        ("Marcus Hale,Game 1,1,,2,", "criterion_missing", 4, ""),
        ("Markus Hale,Game 1,1,fit,2,", "unknown_player", 1, "Markus Hale"),
        (",Game 1,1,fit,2,", "player_missing", 1, ""),
        ("Marcus Hale,Game 9,1,fit,2,", "unknown_game", 2, "Game 9"),
        ("Marcus Hale,,1,fit,2,", "game_missing", 2, ""),
        ("Marcus Hale,Game 1,3,fit,2,", "play_not_listed", 3, "3"),
        ("Marcus Hale,Game 1,one,fit,2,", "play_number_unreadable", 3, "one"),
        ("Marcus Hale,Game 1,,fit,2,", "play_missing", 3, ""),
        ("Marcus Hale,Game 1,1,fit,2,third", "unknown_look", 6, "third"),
    ],
)
def test_one_bad_cell_is_told_with_its_place_and_the_rest_goes_on(
    tmp_path: Path, row: str, reason: str, column: int, value: str
) -> None:
    good = "Micah Hale,Game 1,1,fit,1,\n"
    season = load(write(tmp_path, marks__csv=f"{LONG_HEAD}{good}{row}\n"))
    found = only(season, reason)
    assert (found["source_file"], found["source_row"], found["source_column"]) == ("marks.csv", 3, column)
    assert found["value"] == value
    assert found["message"]
    assert found["suggestion"]
    assert found["kind"] == "set_aside"
    assert marks(season) == [("micah-hale", "game-1-001", "fit", 0.5)]


def test_rows_prepared_but_not_filled_are_no_fault(tmp_path: Path) -> None:
    rows = ",Game 1,1,fit,,\n,,,,,\nMarcus Hale,Game 1,,,,\n"
    season = load(write(tmp_path, marks__csv=LONG_HEAD + rows))
    assert reasons(season) == []
    assert season.ledger.set_index("source_file").loc["marks.csv", "left_out"] == 5


def test_marks_on_a_nullified_play_are_left_out_and_counted(tmp_path: Path) -> None:
    rows = "Marcus Hale,Game 1,4,fit,2,\nMarcus Hale,Game 1,4,shed,0,\nMarcus Hale,Game 1,5,fit,1,\n"
    season = load(write(tmp_path, marks__csv=LONG_HEAD + rows))
    assert marks(season) == [("marcus-hale", "game-1-005", "fit", 0.5)]
    said = only(season, "nullified_play")
    assert said["kind"] == "notice"
    assert "left out: 2 (clips 4)" in said["message"]


def test_a_range_covers_the_plays_of_the_list_in_it(tmp_path: Path) -> None:
    rows = (
        "Marcus Hale,Game 1,1-5,fit,2,\nMicah Hale,Game 1,2025-01-05,fit,1,\nMicah Hale,Game 1,7-9,fit,1,\n"
    )
    season = load(write(tmp_path, marks__csv=LONG_HEAD + rows))
    plays = [play for _, play, _, _ in marks(season)]
    assert plays == ["game-1-001", "game-1-002", "game-1-005"] * 2
    assert "1-5" in only(season, "recovered_from_date")["message"]
    assert only(season, "play_not_listed")["source_row"] == 4


def test_a_coach_in_a_column_and_scales_by_criterion(tmp_path: Path) -> None:
    block = LONG.replace('rater = "ames"\n', 'scales = {effort = "signs"}\n').replace(
        "columns = {", 'columns = {rater = "Coach", '
    )
    rows = "Player,Game,Clip,Item,Mark,Look,Coach\nMicah Hale,Game 1,1,runs to the ball,+,,Coach Boon\n"
    rows += "Micah Hale,Game 1,1,FIT,2,,ames\nMicah Hale,Game 1,2,fit,2,,Cole\nMicah Hale,Game 1,5,fit,2,,\n"
    season = load(write(tmp_path, block, marks__csv=rows))
    got = season.grades[["rater_id", "criterion", "scale", "score"]].to_numpy().tolist()
    assert got == [["ames", "fit", "three", 1.0], ["boon", "effort", "signs", 1.0]]
    assert reasons(season) == ["unknown_rater", "rater_missing"]


def test_a_criterion_without_a_scale_is_set_aside(tmp_path: Path) -> None:
    block = LONG.replace('scale = "three"', 'scales = {fit = "three"}')
    rows = "Micah Hale,Game 1,1,fit,2,\nMicah Hale,Game 1,1,shed,2,\n"
    season = load(write(tmp_path, block, marks__csv=LONG_HEAD + rows))
    assert only(season, "no_scale")["value"] == "shed"
    assert len(season.grades) == 1


def test_every_mark_counted_as_used_is_a_row_of_the_table(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    who = ["Marcus Hale", "Micah Hale", "Nobody", "M. Hale", ""]
    what = ["fit", "shed", "effort", "other"]
    rows = [
        f"{who[rng.integers(5)]},Game {rng.integers(1, 4)},{rng.integers(1, 8)},{what[rng.integers(4)]},{m},"
        for m in rng.choice(["0", "1", "2", "na", "?", "9"], 400)
    ]
    season = load(write(tmp_path, marks__csv=LONG_HEAD + "\n".join(rows) + "\n"))
    ledger = season.ledger.set_index("source_file").loc["marks.csv"]
    for blank in ("did_not_occur", "ungradable"):
        assert ledger[blank] == (season.grades["blank"] == blank).sum()
    # a used row has its four context cells, and its mark if it has one
    scored = int((season.grades["blank"] == "").sum())
    assert ledger["used"] == scored + 4 * season.grades["source_row"].nunique()
    assert ledger["rows"] == 401
