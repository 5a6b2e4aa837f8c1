"""The same marks in every shape that staffs keep them in must come out as the same table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from lbeval.tables import Season
from tests.tidy.folders import load, marks, only, reasons, write

WANTED = [
    ("marcus-hale", "game-1-001", "fit", 1.0),
    ("marcus-hale", "game-1-001", "shed", 0.0),
    ("marcus-hale", "game-2-003", "fit", 0.0),
    ("micah-hale", "game-1-002", "fit", 0.0),
    ("micah-hale", "game-1-002", "shed", 1.0),
]


def workbook(path: Path, sheets: Mapping[str, Sequence[Any]], *merged: str) -> None:
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
        for cells in merged:
            sheet.merge_cells(cells)
    path.parent.mkdir(parents=True, exist_ok=True)
    book.save(path)


def block(shape: str, **keys: str) -> str:
    lines = "\n".join(f"{key} = {value}" for key, value in keys.items())
    return f'\n[[sources]]\nkind = "grades"\nrater = "boon"\nscale = "signs"\nshape = "{shape}"\n{lines}\n'


def check(season: Season, wanted: list[tuple[str, str, str, float]]) -> None:
    assert reasons(season) == []
    assert [mark for mark in marks(season) if mark[3] == mark[3]] == wanted


def test_wide_a_sheet_a_game_with_merged_group_headings(tmp_path: Path) -> None:
    head = [["Marks of Coach Boon"], ["Who", "", "Job", ""], ["Player", "Clip", "Fit", "Shed"]]
    sheets = {
        "Game 1": [
            *head,
            ["Marcus Hale", 1.0, "+", "-"],
            ["Micah Hale", 2, "–", "+"],
            [],
            ["Total", "", 1, 1],
        ],
        "Wk 3 vs Lake": [*head, ["Marcus Hale", 3, "-", None], ["Player", "Clip", "Fit", "Shed"]],
    }
    text = block(
        "wide",
        files='["g/*.xlsx"]',
        heading_row="2",
        heading_rows="2",
        take='{game = "sheet"}',
        columns='{player = "Who / Player", play = "Clip"}',
        criteria='{"Job / Fit" = "fit", "Job / Shed" = "shed"}',
        ignore_rows='["total"]',
    )
    folder = write(tmp_path, text)
    workbook(folder / "g" / "boon.xlsx", sheets, "A2:B2", "C2:D2")
    season = load(folder)
    check(season, WANTED)
    ledger = season.ledger[season.ledger["source_file"] == "g/boon.xlsx"].set_index("source_sheet")
    assert ledger["heading"].tolist() == [7, 11]
    assert ledger["left_out"].tolist() == [3, 0]
    assert ledger["not_graded"].tolist() == [0, 1]


@pytest.mark.parametrize("group_blank", ["", "Job"])
def test_wide_csv_with_two_heading_rows(tmp_path: Path, group_blank: str) -> None:
    rows = f"Who;;Job;{group_blank}\nPlayer;Clip;Fit;Shed\nMarcus Hale;1;+;-\n"
    text = block(
        "wide",
        files='["Game 1*.csv"]',
        heading_rows="2",
        delimiter='";"',
        take='{game = "file"}',
        columns='{player = "Player", play = "Who / Clip"}',
        criteria='{"Job / Fit" = "fit", "Shed" = "shed"}',
    )
    season = load(write(tmp_path, text, **{"Game 1 Boon__csv": rows}))
    check(season, WANTED[:2])
    row = season.grades.iloc[1]
    assert (row["source_file"], row["source_row"], row["source_column"]) == ("Game 1 Boon.csv", 3, 4)


def test_players_across_and_packed_cells_with_codes(tmp_path: Path) -> None:
    sheets = {"Game 1": [["Clip", "Hale, Marcus", "#47", "Sum"], [1, "+ - (MA)", "", 1], [2, None, "-+", 1]]}
    text = block(
        "across",
        files='["boon.xlsx"]',
        take='{game = "sheet"}',
        columns='{play = "Clip"}',
        packed='["fit", "shed"]',
        events_in_marks='{MA = "missed_assignment"}',
        ignore_columns='["Sum"]',
    )
    folder = write(tmp_path, text)
    workbook(folder / "boon.xlsx", sheets)
    season = load(folder)
    check(season, [m for m in WANTED if m[1].startswith("game-1")])
    (event,) = season.events.to_dict("records")
    assert (event["player_id"], event["play_id"], event["kind"]) == (
        "marcus-hale",
        "game-1-001",
        "missed_assignment",
    )
    assert (event["scorer"], event["source_row"], event["source_column"]) == ("boon", 2, 2)


def test_players_across_with_criteria_below_them(tmp_path: Path) -> None:
    rows = ",Marcus Hale,,Micah Hale,\nClip,Fit,Shed,Fit,Shed\n1,+,-,,\n2,,,-,+\n"
    text = block(
        "across",
        files='["Game 1.csv"]',
        heading_rows="2",
        take='{game = "file"}',
        columns='{play = "Clip"}',
        criteria='{Fit = "fit", Shed = "shed"}',
    )
    check(
        load(write(tmp_path, text, **{"Game 1__csv": rows})), [m for m in WANTED if m[1].startswith("game-1")]
    )


def test_an_unknown_player_across_takes_only_his_column(tmp_path: Path) -> None:
    rows = "Clip,Marcus Hale,Hail\n1,+,+\n2,-,-\n"
    text = block(
        "across",
        files='["Game 1.csv"]',
        take='{game = "file"}',
        columns='{play = "Clip"}',
        constants='{criterion = "fit"}',
    )
    season = load(write(tmp_path, text, **{"Game 1__csv": rows}))
    assert len(season.grades) == 2
    aside = season.set_aside
    assert aside[["source_row", "source_column", "value"]].to_numpy().tolist() == [
        [2, 3, "Hail"],
        [3, 3, "Hail"],
    ]
    assert season.to_settle["times"].tolist() == [1]
    ledger = season.ledger.set_index("source_file").loc["Game 1.csv"]
    assert (ledger["used"], ledger["set_aside"]) == (4, 2)


def test_a_tab_a_player_the_game_above_the_rows(tmp_path: Path) -> None:
    sheets = {
        "Marcus Hale": [["Clip", "Fit", "Shed"], ["Game 1"], [1, "+", "-"], ["Game 2"], [3, "-", ""]],
        "47 Hale": [["Clip", "Fit", "Shed"], ["Wk 1 vs Ridge Fork"], [2, "-", "+"]],
    }
    text = block(
        "wide",
        files='["boon.xlsx"]',
        sheets='["* *"]',
        take='{player = "sheet", game = "row above"}',
        columns='{play = "Clip"}',
        criteria='{Fit = "fit", Shed = "shed"}',
    )
    folder = write(tmp_path, text)
    workbook(folder / "boon.xlsx", sheets)
    check(load(folder), WANTED)


def test_values_in_cells_above_the_table(tmp_path: Path) -> None:
    rows = "Coach,Boon,,Game 1\n\nPlayer,Clip,Fit,Shed\nMarcus Hale,1,+,-\n"
    text = block(
        "wide",
        files='["a.csv"]',
        heading_row="3",
        take='{game = "cell D1"}',
        columns='{player = "Player", play = "Clip"}',
        criteria='{Fit = "fit", Shed = "shed"}',
    )
    season = load(write(tmp_path, text, a__csv=rows))
    check(season, WANTED[:2])
    assert season.ledger.set_index("source_file").loc["a.csv", "heading"] == 6  # the game's cell is used


def test_an_unknown_game_of_a_whole_sheet_is_one_finding(tmp_path: Path) -> None:
    rows = "Player,Clip,Fit\n" + "".join(f"Marcus Hale,{n},+\n" for n in (1, 2, 5))
    text = block(
        "wide",
        files='["Jamboree.csv"]',
        take='{game = "file"}',
        columns='{player = "Player", play = "Clip"}',
        criteria='{Fit = "fit"}',
    )
    season = load(write(tmp_path, text, Jamboree__csv=rows))
    found = only(season, "unknown_game")
    assert (found["value"], found["source_row"], found["waits"]) == ("Jamboree", 0, True)
    ledger = season.ledger.set_index("source_file").loc["Jamboree.csv"]
    assert (ledger["set_aside"], ledger["heading"]) == (9, 3)


def test_defensive_snaps_and_a_declared_offset(tmp_path: Path) -> None:
    rows = "Player,Game,Snap,Fit\nMarcus Hale,G1,3,+\nMarcus Hale,vs Lake,3,-\n"
    text = block(
        "wide",
        files='["a.csv"]',
        numbering='"snap"',
        offsets='{"Game 2" = -2, "Game 8" = 1}',
        columns='{player = "Player", game = "Game", play = "Snap"}',
        criteria='{Fit = "fit"}',
    )
    season = load(write(tmp_path, text, a__csv=rows))
    assert marks(season) == [
        ("marcus-hale", "game-1-005", "fit", 1.0),
        ("marcus-hale", "game-2-001", "fit", 0.0),
    ]
    assert only(season, "offset_without_session")["value"] == "Game 8"


def test_headings_that_are_missing_doubled_or_not_described(tmp_path: Path) -> None:
    rows = "Player,Clip,Fit,Shed,Shed,Mood,\nMarcus Hale,1,+,-,+,glad,x\n"
    text = block(
        "wide",
        files='["a.csv"]',
        constants='{game = "Game 1"}',
        columns='{player = "Player", play = "Clip", technique = "Tech"}',
        criteria='{Fit = "fit", Shed = "shed"}',
    )
    season = load(write(tmp_path, text, a__csv=rows))
    assert marks(season) == WANTED[:1]
    assert only(season, "heading_missing")["value"] == "Tech"
    assert only(season, "heading_twice")["kind"] == "set_aside"
    undescribed = season.set_aside[season.set_aside["reason"] == "column_not_described"]
    assert undescribed["source_column"].tolist() == [6, 7]
    ledger = season.ledger.set_index("source_file").loc["a.csv"]
    assert (ledger["set_aside"], ledger["forgotten"]) == (2, 2)


def test_a_sheet_without_what_the_block_needs_is_set_aside_whole(tmp_path: Path) -> None:
    text = block(
        "wide",
        files='["a.csv"]',
        constants='{game = "Game 1"}',
        columns='{player = "Player"}',
        criteria='{Fit = "fit"}',
    )
    season = load(write(tmp_path, text, a__csv="Name,Clip,Fit\nMarcus Hale,1,+\n"))
    assert "'player'" in only(season, "sheet_not_as_described")["message"]
    assert only(season, "heading_missing")["value"] == "Player"
    assert season.ledger.set_index("source_file").loc["a.csv", "set_aside"] == 6


def test_two_coaches_in_one_sheet(tmp_path: Path) -> None:
    rows = "Player,Clip,Fit A,Fit B\nMarcus Hale,1,2,+\n"
    common = {
        "files": '["a.csv"]',
        "constants": '{game = "Game 1"}',
        "columns": '{player = "Player", play = "Clip"}',
    }
    first = block("wide", criteria='{"Fit A" = "fit"}', **common)
    first = first.replace('"boon"', '"ames"').replace('"signs"', '"three"')
    season = load(write(tmp_path, first + block("wide", criteria='{"Fit B" = "fit"}', **common), a__csv=rows))
    assert season.grades["rater_id"].tolist() == ["ames", "boon"]
    assert reasons(season) == []
    assert season.ledger.set_index("source_file").loc["a.csv", "used"] == 4
