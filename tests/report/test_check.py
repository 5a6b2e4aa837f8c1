"""A coach must find the cell that is wrong from the line alone."""

from __future__ import annotations

import dataclasses

import pandas as pd

from lbeval.report import check
from lbeval.tables import empty_table
from lbeval.tables.schema import FATES
from tests.hand_season import season as hand_season

COVERAGE = pd.DataFrame(
    {"rater_id": [], "game_id": [], "n_graded": [], "n_plays": [], "owed": pd.Series([], dtype=bool)}
)


def finding(**values: object) -> dict[str, object]:
    plain: dict[str, object] = {
        "source_file": "grades.xlsx",
        "source_sheet": "Game 3",
        "source_row": 5,
        "source_column": 28,
        "column": "Shed",
        "value": "7",
        "kind": "set_aside",
        "reason": "unknown_mark",
        "message": "'7' is no mark of the scale",
        "suggestion": "correct the file",
        "waits": True,
    }
    return plain | values


def test_a_finding_names_file_sheet_row_column_value_and_remedy() -> None:
    aside = pd.DataFrame([finding()])
    season = dataclasses.replace(hand_season(), set_aside=aside)
    text = "\n".join(check.lines(season, COVERAGE))
    assert (
        "grades.xlsx, sheet Game 3, row 5, column AB 'Shed', value '7': '7' is no mark of the scale" in text
    )
    assert "-> correct the file" in text


def test_rows_with_the_same_fault_share_a_line() -> None:
    aside = pd.DataFrame([finding(source_row=row) for row in (9, 4, 5, 6, 12)])
    season = dataclasses.replace(hand_season(), set_aside=aside)
    text = "\n".join(check.lines(season, COVERAGE))
    assert "rows 4-6, 9, 12, column AB" in text
    assert text.count("'7' is no mark") == 1
    assert "Set aside: 5" in text


def test_what_waits_is_listed_and_what_is_answered_is_not() -> None:
    waiting = pd.DataFrame(
        {
            "what": ["player", "player"],
            "where": ["", "tackles.csv"],
            "written": ["Big Al", "J. Doe"],
            "times": [12, 1],
            "suggestion": ["Alvin Oakes", ""],
            "answer": ["", "john-doe"],
        }
    )
    season = dataclasses.replace(hand_season(), to_settle=waiting)
    text = "\n".join(check.lines(season, COVERAGE))
    assert "player 'Big Al', 12 times; nearest: Alvin Oakes" in text
    assert "J. Doe" not in text


def test_cells_are_summed_over_the_sheets_of_a_file() -> None:
    sheet = {"source_file": "a.xlsx", "kind": "grades", "rows": 3, "cells": 12} | dict.fromkeys(FATES, 0)
    ledger = pd.DataFrame(
        [
            sheet | {"source_sheet": "1", "used": 10, "heading": 2},
            sheet | {"source_sheet": "2", "used": 9, "heading": 2, "blank": 1},
        ]
    )
    season = dataclasses.replace(hand_season(), ledger=ledger)
    text = "\n".join(check.lines(season, COVERAGE))
    assert "a.xlsx  grades: 24 = 19 used, 4 heading, 1 blank" in text


def test_who_owes_is_said_by_name() -> None:
    season = hand_season()
    game = str(season.games["game_id"].iloc[0])
    rater = next(iter(season.settings.raters))
    owed = pd.DataFrame(
        {"rater_id": [rater], "game_id": [game], "n_graded": [3], "n_plays": [60], "owed": [True]}
    )
    text = "\n".join(check.lines(season, owed))
    assert f"{season.settings.raters[rater].name}: 0 of 1 sessions; owes " in text
    assert "3 of 60" in text


def test_letters_of_columns_are_a_spreadsheets() -> None:
    assert [check.column_letters(n) for n in (1, 26, 27, 52, 53, 702, 703)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


def test_data_for_programs_is_plain() -> None:
    season = dataclasses.replace(hand_season(), to_settle=empty_table("to_settle"))
    data = check.as_data(season, COVERAGE)
    assert set(data) == {"files", "set_aside", "to_settle", "coverage"}
