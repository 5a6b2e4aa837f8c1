"""From raw files and no settings to DRAFT pages: five answers at the prompt and one settled sheet."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import openpyxl
import pytest

from lbeval.read.describe import propose
from lbeval.read.folder import OURS
from lbeval.resources import resource
from lbeval.settings import load_settings

ANSWERS = ("", "Kestrel Narrows College 2025", "", "", "65")
QUESTIONS = ("Enter if all", "Program, and year", "Graders as", "Scale that", "Mark you expect")


def command(*words: str, answers: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
    """Run the real command with answers typed ahead."""
    return subprocess.run(
        [sys.executable, "-m", "lbeval", *words],
        input="".join(f"{answer}\n" for answer in answers),
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=300,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", "OPENBLAS_NUM_THREADS": "1"},
    )


def raw_files(season: str, folder: Path) -> Path:
    """Copy a demo season without any file of the program's."""
    shutil.copytree(
        resource(f"data_demo/{season}"), folder, ignore=shutil.ignore_patterns(*OURS, "lbeval_out")
    )
    return folder


@pytest.fixture(scope="module")
def started(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = raw_files("full", tmp_path_factory.mktemp("start") / "season")
    done = command("start", str(folder), answers=ANSWERS)
    assert done.returncode == 0, done.stderr
    assert [done.stdout.count(question) for question in QUESTIONS] == [1] * 5
    return folder


def truth() -> dict[str, str]:
    """Return what the demo's staff would answer: codes of the third coach, nicknames of players."""
    shipped = resource("data_demo/full")
    settings = tomllib.loads((shipped / "season.toml").read_text(encoding="utf-8"))
    quell = next(source for source in settings["sources"] if source.get("rater") == "quell")
    answers = dict(quell["criteria"])
    book = openpyxl.load_workbook(shipped / "to_settle.xlsx")
    rows = book.worksheets[0].iter_rows(values_only=True)
    heading = next(row for row in rows if "As written" in row)
    written, answer = heading.index("As written"), heading.index("Answer")
    return answers | {str(row[written]): str(row[answer]) for row in rows if row[answer]}


def settle(path: Path, *, but: str) -> int:
    """Answer everything in `to_settle.xlsx` except `but`; return how much was asked."""
    known = truth()
    book = openpyxl.load_workbook(path)
    asked, place = 0, {"As written": -1, "Answer": -1}
    for row in book.worksheets[0].iter_rows():
        texts = [str(cell.value or "") for cell in row]
        if "As written" in texts:
            place = {name: texts.index(name) for name in place}
        elif place["Answer"] >= 0 and (written := texts[place["As written"]]):
            asked += 1
            if written != but:
                row[place["Answer"]].value = known[written]
    book.save(path)
    return asked


def test_what_was_guessed_is_what_the_demo_declares(started: Path) -> None:
    found, shipped = load_settings(started), load_settings(resource("data_demo/full"))
    assert set(found.raters) == set(shipped.raters)
    assert found.scales == shipped.scales
    assert len(found.sources) == len(shipped.sources)
    for source in found.sources:
        same = [one for one in shipped.sources if (one.files, one.columns) == (source.files, source.columns)]
        other = next(one for one in same if source.sheets in {("*",), one.sheets})
        assert (source.kind, source.rater, source.scale) == (other.kind, other.rater, other.scale)
        assert source.numbering == other.numbering
        assert (source.tests, source.take) == (other.tests, other.take)
        if source.rater != "quell":
            assert source.criteria == other.criteria


def test_abbreviations_of_the_third_coach_are_left_to_the_staff(started: Path) -> None:
    quell = next(source for source in load_settings(started).sources if source.rater == "quell")
    assert quell.criteria == {}


@pytest.mark.slow
def test_from_raw_files_to_draft_pages(started: Path) -> None:
    checked = command("check", str(started), "--quiet")
    assert checked.returncode == 1, checked.stderr
    asked = settle(started / "to_settle.xlsx", but="R. Okonjo-Bel")
    assert asked >= 20
    name = "Tavita Le'alofi"
    printed = command("evaluate", str(started), "--player", name, "--copy", "staff")
    assert printed.returncode == 0, printed.stderr
    assert "DRAFT" in printed.stdout
    assert "1 names or codes wait" in printed.stdout
    pages = list((started / "lbeval_out").rglob("*.pdf"))
    assert len(pages) == 1
    assert pages[0].read_bytes().startswith(b"%PDF")


@pytest.mark.slow
def test_starting_again_asks_nothing(started: Path) -> None:
    before = (started / "season.toml").read_bytes()
    again = command("start", str(started))
    assert again.returncode == 0, again.stderr
    assert "covers every file" in again.stdout
    assert (started / "season.toml").read_bytes() == before


def test_no_answers_nothing_written(tmp_path: Path) -> None:
    folder = raw_files("small", tmp_path / "season")
    stopped = command("start", str(folder))
    assert stopped.returncode != 0
    assert "Traceback" not in stopped.stderr
    assert not (folder / "season.toml").exists()


@pytest.mark.slow
def test_the_small_season_needs_its_graders_named(tmp_path: Path) -> None:
    folder = raw_files("small", tmp_path / "season")
    proposal = propose(folder)
    assert proposal.graders == ("Coach 1", "Coach 2")
    done = command("start", str(folder), answers=("", "Tarn Hollow 2025", "Coach Varga, Coach Osei", "70"))
    assert done.returncode == 0, done.stderr
    settings = load_settings(folder)
    assert set(settings.raters) == {"varga", "osei"}
    assert settings.house.faults_recorded == "misses only"
    checked = command("check", str(folder), "--quiet")
    assert checked.returncode in {0, 1}, checked.stderr


def test_a_missing_folder_is_one_line(tmp_path: Path) -> None:
    missing = command("start", str(tmp_path / "nowhere"))
    assert missing.returncode != 0
    assert len(missing.stderr.strip().splitlines()) == 1
