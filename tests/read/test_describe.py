"""The talk of `lbeval start`: what is shown, what is asked, what an answer does."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from lbeval.errors import SettingsError, SourceError
from lbeval.read.describe import propose, questions, start, table_lines
from lbeval.settings import load_rubric, load_settings
from tests.read.sheets_made import CLIPS, ROSTER, long_grades, put


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    put(tmp_path, "clips.csv", CLIPS)
    put(tmp_path, "roster.csv", ROSTER)
    put(tmp_path, "hale_marks.csv", long_grades(["Run fit", "Pursuit"], "012-"))
    put(tmp_path, "ruiz_marks.csv", long_grades(["RF", "PU"], "12345"))
    return tmp_path


class Talk:
    """Answers in turn; more questions than answers are a fault."""

    def __init__(self, *answers: str) -> None:
        self._answers: Iterator[str] = iter(answers)
        self.asked: list[str] = []
        self.said: list[str] = []

    def ask(self, question: str, default: str) -> str:
        self.asked.append(question)
        return next(self._answers) or default

    def start(self, folder: Path, *, sheet: bool = False) -> None:
        start(folder, sheet=sheet, ask=self.ask, say=self.said.append)


def test_five_answers_make_a_season(folder: Path) -> None:
    talk = Talk("", "Example College 2025", "", "", "")
    talk.start(folder)
    assert len(talk.asked) == 5
    assert load_settings(folder).program.name == "Example College"
    assert load_rubric(folder).standard == 0.7


def test_nothing_is_written_before_the_table_is_confirmed(folder: Path) -> None:
    talk = Talk("stop")
    talk.start(folder)
    assert sorted(path.name for path in folder.iterdir()) == [
        "clips.csv",
        "hale_marks.csv",
        "roster.csv",
        "ruiz_marks.csv",
    ]


def test_all_that_is_guessed_is_shown(folder: Path) -> None:
    shown = "\n".join(table_lines(propose(folder)))
    for text in (
        "hale_marks.csv",
        "Coach Hale",
        "0-1-2",
        "'Session'",
        "Run fit, Pursuit",
        "does '-' mean",
        "PU, RF",
    ):
        assert text in shown


def test_a_correction_shows_the_table_again(folder: Path) -> None:
    talk = Talk("1 coach Moss", "", "Example 2025", "", "", "")
    talk.start(folder)
    assert "moss" in load_settings(folder).raters


def test_an_answer_not_understood_is_asked_again(folder: Path) -> None:
    talk = Talk("7000 roster", "", "no year", "Example 2025", "", "", "")
    talk.start(folder)
    assert any("year" in line for line in talk.said)
    assert load_settings(folder).program.year == 2025


def test_one_grader_one_scale_asks_less(tmp_path: Path) -> None:
    put(tmp_path, "hale_marks.csv", long_grades(["Run fit"], "012"))
    keys = [question.key for question in questions(propose(tmp_path))]
    assert keys == ["program", "graders", "standard"]


def test_year_of_the_season_is_the_year_of_its_dates(folder: Path) -> None:
    assert propose(folder).year == 2025


def test_second_start_has_nothing_to_do(folder: Path) -> None:
    Talk("", "Example 2025", "", "", "").start(folder)
    again = Talk()
    again.start(folder)
    assert again.asked == []
    assert "covers every file" in again.said[0]


def test_no_folder_no_files(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="no folder"):
        Talk().start(tmp_path / "nowhere")
    talk = Talk()
    talk.start(tmp_path)
    assert "no file" in talk.said[0]


def test_settings_that_cannot_be_read_are_not_touched(folder: Path) -> None:
    put(folder, "season.toml", "[program")
    with pytest.raises(SettingsError, match=r"season\.toml"):
        Talk().start(folder)
    assert (folder / "season.toml").read_text(encoding="utf-8") == "[program"


def test_the_sheet_asks_all_and_is_read_back(folder: Path) -> None:
    Talk().start(folder, sheet=True)
    waiting = Talk()
    waiting.start(folder)
    assert "waits" in waiting.said[0]
    assert not (folder / "season.toml").exists()
    book = openpyxl.load_workbook(folder / "start.xlsx")
    files = {row[1].value: row for row in book["Files"].iter_rows(min_row=2)}
    files["ruiz_marks.csv"][2].value = "leave_out"
    files["hale_marks.csv"][3].value = "Coach Moss"
    for row in book["Columns"].iter_rows(min_row=2):
        if row[1].value == "Hash":
            row[2].value = "not wanted"
    for row in book["Marks"].iter_rows(min_row=2):
        row[2].value = "ungradable"
    answers = {row[0].value: row for row in book["Season"].iter_rows(min_row=2)}
    for question, row in answers.items():
        if str(question).startswith("Program"):
            row[1].value = "Example College 2025"
        if str(question).startswith("Mark you"):
            row[1].value = 65
        if str(question).startswith("Is everything"):
            row[1].value = "yes"
    book.save(folder / "start.xlsx")
    talk = Talk()
    talk.start(folder)
    settings = load_settings(folder)
    assert talk.asked == []
    assert [one.name for one in settings.raters.values()] == ["Coach Moss"]
    by_file = {source.files[0]: source for source in settings.sources}
    assert by_file["ruiz_marks.csv"].kind == "leave_out"
    assert "hash" not in by_file["clips.csv"].columns
    assert by_file["clips.csv"].ignore_columns == ("Hash",)
    assert settings.scales["zero_one_two"].ungradable == ("-",)
    assert load_rubric(folder).standard == 0.65


def test_a_sheet_about_other_files_is_refused(folder: Path) -> None:
    Talk().start(folder, sheet=True)
    book = openpyxl.load_workbook(folder / "start.xlsx")
    last = max(row[0].row for row in book["Season"].iter_rows() if row[0].value)
    book["Season"].cell(last, 2).value = "yes"
    book.save(folder / "start.xlsx")
    put(folder, "another.csv", ROSTER)
    with pytest.raises(SourceError, match="other files"):
        Talk().start(folder)
