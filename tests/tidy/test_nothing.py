"""Empty and broken folders: one clear message each, and a season all the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tidy.folders import BASE, LONG, LONG_HEAD, load, only, reasons, write

EVERY_KIND = """
[[sources]]
files = ["roles.csv"]
kind = "roles"
columns = {game = "Game", play = "Clip", player = "Player", role = "Role"}

[[sources]]
files = ["events.csv"]
kind = "events"
columns = {game = "Game", play = "Clip", player = "Player", kind = "What"}

[[sources]]
files = ["tackles.csv"]
kind = "tackles"
columns = {game = "Game", play = "Clip", player = "Player", outcome = "Result", faults = "Faults"}

[[sources]]
files = ["drills.csv"]
kind = "drills"
columns = {game = "Game", drill = "Drill"}

[[sources]]
files = ["tests.csv"]
kind = "measurables"
columns = {player = "Player", test = "Test", value = "Value"}

[[sources]]
files = ["remarks.csv"]
kind = "remarks"
columns = {player = "Player", text = "Text"}
"""

HEADS = {
    "roles__csv": "Game,Clip,Player,Role\n",
    "events__csv": "Game,Clip,Player,What\n",
    "tackles__csv": "Game,Clip,Player,Result,Faults\n",
    "drills__csv": "Game,Drill\n",
    "tests__csv": "Player,Test,Value\n",
    "remarks__csv": "Player,Text\n",
}


def test_files_with_headings_only_give_empty_tables(tmp_path: Path) -> None:
    season = load(write(tmp_path, LONG + EVERY_KIND, marks__csv=LONG_HEAD, **HEADS))
    assert reasons(season) == []
    for name in ("grades", "roles", "events", "tackles", "drills", "measurables", "remarks"):
        assert getattr(season, name).empty, name


@pytest.mark.parametrize("text", ["", "\n\n", " ; ; \n"])
def test_files_with_nothing_at_all(tmp_path: Path, text: str) -> None:
    files = dict.fromkeys([*HEADS, "marks__csv", "roster__csv", "clips__csv"], text)
    season = load(write(tmp_path, LONG + EVERY_KIND, **files))
    assert season.grades.empty
    assert season.players.empty
    assert set(reasons(season)) == {"empty_sheet", "no_roster"}


def test_a_folder_without_a_single_file_or_block(tmp_path: Path) -> None:
    head = BASE.partition("[[sources]]")[0]
    folder = write(tmp_path)
    for name in ("roster.csv", "clips.csv"):
        (folder / name).unlink()
    (folder / "season.toml").write_text(head, encoding="utf-8")
    season = load(folder)
    assert reasons(season) == ["no_roster"]
    assert season.ledger.empty


def test_a_block_without_its_file_is_said(tmp_path: Path) -> None:
    found = only(load(write(tmp_path)), "no_such_file")
    assert (found["source_file"], found["kind"]) == ("marks.csv", "notice")


def test_without_a_roster_names_are_asked(tmp_path: Path) -> None:
    season = load(
        write(tmp_path, roster__csv="Name,No,From,To\n", marks__csv=LONG_HEAD + "Hale,Game 1,1,fit,2,\n")
    )
    assert reasons(season) == ["unknown_player", "no_roster"]
    assert season.grades.empty


def test_a_broken_file_stops_no_other(tmp_path: Path) -> None:
    rows = LONG_HEAD + "Marcus Hale,Game 1,1,fit,2,\n"
    season = load(
        write(tmp_path, LONG.replace("marks.csv", "*marks*"), marks__csv=rows, marks2__xlsx="PK\x03\x04 no")
    )
    assert len(season.grades) == 1
    found = only(season, "unreadable_file")
    assert found["source_file"] == "marks2.xlsx"
    assert "damaged" in found["message"]


def test_what_is_no_sheet_or_covered_by_no_block_is_said(tmp_path: Path) -> None:
    files = {
        "board__jpg": "x",
        "call sheet__pdf": "x",
        "notes/more__csv": "a,b\n1,2\n",
        "~$marks__csv": "x",
        "lbeval_out/tables__csv": "a\n1\n",
        "Thumbs__db": "x",
        "Copy of marks FINAL2__csv": LONG_HEAD + "Marcus Hale,Game 1,1,fit,2,\n",
        "marks__csv": LONG_HEAD + "Marcus Hale,Game 1,1,fit,2,\n",
    }
    season = load(write(tmp_path, LONG.replace("marks.csv", "*marks*"), **files))
    said = season.set_aside[["source_file", "reason", "kind"]].to_numpy().tolist()
    assert said == [
        ["Copy of marks FINAL2.csv", "copy_of_file", "notice"],
        ["Copy of marks FINAL2.csv", "same_content", "set_aside"],
        ["board.jpg", "unread_file", "set_aside"],
        ["call sheet.pdf", "unread_file", "set_aside"],
        ["notes/more.csv", "undescribed_file", "set_aside"],
        ["~$marks.csv", "lock_file", "notice"],
    ]
    assert len(season.grades) == 1
    ledger = season.ledger.set_index("source_file")
    assert ledger.loc["notes/more.csv", "forgotten"] == 4
    assert ledger.loc["Copy of marks FINAL2.csv", "set_aside"] == 11


def test_a_file_declared_not_wanted_is_quiet_and_counted(tmp_path: Path) -> None:
    block = '\n[[sources]]\nfiles = ["**/*.pdf", "old/*"]\nkind = "leave_out"\n'
    files = {"a/b__pdf": "x", "old/list__csv": "a,b\n1,2\n", "marks__csv": LONG_HEAD}
    season = load(write(tmp_path, LONG + block, **files))
    assert reasons(season) == []
    ledger = season.ledger.set_index("source_file").loc["old/list.csv"]
    assert (ledger["kind"], ledger["left_out"]) == ("leave_out", 4)


def test_text_of_all_sorts_goes_through_unharmed(tmp_path: Path) -> None:
    name = "<b>Bo</b> {x} $y$ #z =cmd" + "!" * 10_000
    season = load(write(tmp_path, roster__csv=f'Name,No,From,To\n"{name}",1,,\n', marks__csv=LONG_HEAD))
    assert season.players["name"].tolist() == [name]
    assert len(season.players["player_id"][0]) <= 90
