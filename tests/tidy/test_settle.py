"""One answer must settle every place, survive reruns, and never be lost, even where it is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook

from lbeval.tidy.settle_sheet import write_to_settle
from tests.tidy.folders import LONG, LONG_HEAD, load, marks, only, reasons, write

ROWS = LONG_HEAD + "".join(
    f"{who},{game},1,{item},{mark},\n"
    for who, game, item, mark in [
        ("Hale", "Game 1", "fit", "2"),
        ("Hale", "Game 1", "shed", "2"),
        ("Marc", "Game One", "fit", "2"),
        ("Marcus Hale", "Game 1", "effort", "22"),
        ("Total", "Game 1", "fit", "1"),
    ]
)


def season_folder(tmp_path: Path) -> Path:
    return write(tmp_path, marks__csv=ROWS)


def answer(folder: Path, answers: dict[str, str]) -> None:
    """Write answers into the sheet as a person would."""
    path = folder / "to_settle.xlsx"
    book = load_workbook(path)
    sheet = book["To settle"]
    for row in sheet.iter_rows(min_row=3):
        if str(row[2].value) in answers:
            row[5].value = answers[str(row[2].value)]
    book.save(path)


def test_what_waits_is_listed_once_with_how_often_and_the_nearest(tmp_path: Path) -> None:
    season = load(season_folder(tmp_path))
    assert season.draft
    assert season.to_settle.to_dict("records") == [
        {"what": "game", "where": "", "written": "Game One", "times": 1, "suggestion": "Game 1", "answer": ""}
        | {"suggestion": season.to_settle["suggestion"][0]},
        {
            "what": "mark",
            "where": "marks.csv",
            "written": "22",
            "times": 1,
            "suggestion": "0; 1; 2",
            "answer": "",
        },
        {
            "what": "player",
            "where": "",
            "written": "Hale",
            "times": 2,
            "suggestion": "Marcus Hale; Micah Hale",
            "answer": "",
        },
        {"what": "player", "where": "", "written": "Marc", "times": 1, "suggestion": "", "answer": ""}
        | {"suggestion": season.to_settle["suggestion"][3]},
        {"what": "player", "where": "", "written": "Total", "times": 1, "suggestion": "", "answer": ""},
    ]
    assert season.set_aside.loc[season.set_aside["reason"] == "unknown_player", "waits"].all()


def test_answers_settle_every_place_and_are_kept(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    write_to_settle(load(folder))
    answers = {
        "Hale": "Micah Hale",
        "Marc": "marcus-hale",
        "Game One": "Game 1",
        "22": "2",
        "Total": "Leave Out",
    }
    answer(folder, answers)
    season = load(folder)
    assert marks(season) == [
        ("marcus-hale", "game-1-001", "effort", 1.0),
        ("marcus-hale", "game-1-001", "fit", 1.0),
        ("micah-hale", "game-1-001", "fit", 1.0),
        ("micah-hale", "game-1-001", "shed", 1.0),
    ]
    assert reasons(season) == []
    assert not season.draft
    assert dict(zip(season.to_settle["written"], season.to_settle["answer"], strict=True)) == answers
    assert season.ledger.set_index("source_file").loc["marks.csv", "left_out"] == 5
    before = (folder / "to_settle.xlsx").read_bytes()
    write_to_settle(season)
    first = (folder / "to_settle.xlsx").read_bytes()
    write_to_settle(load(folder))
    assert (folder / "to_settle.xlsx").read_bytes() == first != before


def test_an_answer_outlives_the_text_it_was_given_for(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    write_to_settle(load(folder))
    answer(folder, {"Hale": "Micah Hale"})
    (folder / "marks.csv").write_text(LONG_HEAD, encoding="utf-8")
    kept = load(folder).to_settle
    assert kept[["written", "times", "answer"]].to_numpy().tolist() == [["Hale", 0, "Micah Hale"]]


@pytest.mark.parametrize("wrong", ["Hale", "nobody", "44 Smith"])
def test_an_answer_not_understood_is_said_and_still_waits(tmp_path: Path, wrong: str) -> None:
    folder = season_folder(tmp_path)
    write_to_settle(load(folder))
    answer(folder, {"Hale": wrong})
    season = load(folder)
    found = only(season, "answer_not_understood")
    assert (found["source_file"], found["value"]) == ("to_settle.xlsx", wrong)
    assert found["source_row"] > 2
    assert season.draft
    row = season.to_settle.set_index("written").loc["Hale"]
    assert row["answer"] == ""
    assert wrong in row["suggestion"]


def test_two_answers_for_one_text_are_said(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    write_to_settle(load(folder))
    answer(folder, {"Hale": "Micah Hale"})
    path = folder / "to_settle.xlsx"
    book = load_workbook(path)
    book["To settle"].append(["player", "", "hale ", 1, "", "Marcus Hale"])
    book.save(path)
    season = load(folder)
    assert only(season, "answer_twice")["value"] == "Marcus Hale"
    assert "micah-hale" in set(season.grades["player_id"])


def test_a_damaged_sheet_of_answers_is_said(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    (folder / "to_settle.xlsx").write_bytes(b"PK\x03\x04")
    assert "damaged" in only(load(folder), "answers_unreadable")["message"]


def test_the_sheet_tells_what_to_do_and_offers_choices(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    write_to_settle(load(folder))
    book = load_workbook(folder / "to_settle.xlsx")
    sheet = book["To settle"]
    assert "leave out" in str(sheet["A1"].value)
    assert [cell.value for cell in sheet[2]] == [
        "What",
        "Where",
        "As written",
        "How often",
        "Suggestion",
        "Answer",
    ]
    lists = {str(v.sqref): v.formula1 for v in sheet.data_validations.dataValidation}
    assert lists["F5:F6" if "F5:F6" in lists else "F5"].startswith("Choices!$A$1")
    assert [cell.value for cell in book["Choices"]["A"]][:2] == ["leave out", "Ana de la Cruz"]
    assert lists["F4"] == '"0,1,2,leave out"'


def test_a_name_that_is_a_formula_stays_text(tmp_path: Path) -> None:
    folder = write(tmp_path, marks__csv=LONG_HEAD + "+1+cmd|x,Game 1,1,fit,2,\n@SUM(A1),Game 1,1,fit,2,\n")
    season = load(folder)
    write_to_settle(season)
    sheet = load_workbook(folder / "to_settle.xlsx")["To settle"]
    assert {sheet.cell(row, 3).data_type for row in range(3, sheet.max_row + 1)} <= {"s"}


def test_nothing_to_settle_writes_no_sheet(tmp_path: Path) -> None:
    folder = write(tmp_path, marks__csv=LONG_HEAD)
    assert write_to_settle(load(folder)) is None
    assert not (folder / "to_settle.xlsx").exists()


def test_a_code_is_settled_for_its_source_only(tmp_path: Path) -> None:
    other = LONG.replace("marks.csv", "more.csv").replace('"ames"', '"boon"')
    rows = LONG_HEAD + "Marcus Hale,Game 1,1,fit,22,\n"
    folder = write(tmp_path, LONG + other, marks__csv=rows, more__csv=rows.replace("Marcus", "Micah"))
    write_to_settle(load(folder))
    book = load_workbook(folder / "to_settle.xlsx")
    sheet = book["To settle"]
    assert [sheet.cell(row, 2).value for row in (3, 4)] == ["marks.csv", "more.csv"]
    sheet["F3"] = "2"
    book.save(folder / "to_settle.xlsx")
    season = load(folder)
    assert season.grades["rater_id"].tolist() == ["ames"]
    assert only(season, "unknown_mark")["source_file"] == "more.csv"
