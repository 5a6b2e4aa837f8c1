"""What `lbeval start` writes is read again as it was meant; what stands there already is kept."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.errors import SettingsError
from lbeval.read.describe_proposal import Proposal, correct, propose
from lbeval.read.describe_toml import toml_key, toml_value
from lbeval.read.describe_write import Answers, read_answers, write_settings
from lbeval.settings import load_rubric, load_settings
from tests.read.sheets_made import CLIPS, ROSTER, long_grades, put, workbook


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    put(tmp_path, "clips.csv", CLIPS)
    put(tmp_path, "roster.csv", ROSTER)
    put(tmp_path, "hale_marks.csv", long_grades(["Run fit", "Pursuit", "Eyes up"], "0120"))
    put(tmp_path, "ruiz_marks.csv", long_grades(["RF", "PU", "EYE"], "12345"))
    put(
        tmp_path,
        "log.csv",
        "Game,Clip,Player,Result,Why missed\nGame 1,1,Quist,solo,\nGame 1,2,Marsh,miss,arms only\n",
    )
    put(tmp_path, "tests.csv", "Name,Date,Height,40 yd\nAda Quist,2025-03-01,6031,4.7\n")
    return tmp_path


ANSWERS = Answers("Example College", 2025, ("Coach Hale", "Coach Ruiz"), "one_to_five", 0.7)


def written(folder: Path, proposal: Proposal | None = None) -> Proposal:
    proposal = proposal or propose(folder)
    write_settings(folder, proposal, ANSWERS)
    return proposal


def test_settings_can_be_read_and_say_what_was_shown(folder: Path) -> None:
    written(folder)
    settings, rubric = load_settings(folder), load_rubric(folder)
    assert (settings.program.name, settings.program.year) == ("Example College", 2025)
    assert settings.program.grades_on == "one_to_five"
    assert {one: rater.name for one, rater in settings.raters.items()} == {
        "hale": "Coach Hale",
        "ruiz": "Coach Ruiz",
    }
    by_file = {source.files[0]: source for source in settings.sources}
    assert by_file["hale_marks.csv"].rater == "hale"
    assert by_file["hale_marks.csv"].scale == "zero_one_two"
    assert by_file["hale_marks.csv"].criteria["Run fit"] == "run_fit"
    assert by_file["ruiz_marks.csv"].criteria == {}
    assert by_file["tests.csv"].tests == {"Height": "height", "40 yd": "forty"}
    assert settings.ranges["forty"].low == 4.15
    assert settings.house.faults_recorded == "misses only"
    assert rubric.standard == 0.7
    assert [c.id for c in rubric.criteria] == ["run_fit", "pursuit", "eyes_up"]
    assert rubric.criteria[2].safety
    assert set(rubric.faults) == {"arms_only"}


def test_every_house_rule_is_written_with_what_it_means(folder: Path) -> None:
    written(folder)
    text = (folder / "season.toml").read_text(encoding="utf-8")
    house = text.partition("[house]\n")[2].partition("\n\n")[0].splitlines()
    assert len(house) == len(load_settings(folder).house.model_dump())
    assert all("  # " in line for line in house)


def test_same_folder_same_bytes(folder: Path) -> None:
    written(folder)
    first = (folder / "season.toml").read_bytes(), (folder / "rubric.toml").read_bytes()
    for name in ("season.toml", "rubric.toml"):
        (folder / name).unlink()
    written(folder)
    assert first == ((folder / "season.toml").read_bytes(), (folder / "rubric.toml").read_bytes())


def test_headings_that_are_not_settled_are_read_but_name_no_criterion_of_the_rubric(folder: Path) -> None:
    rows: list[list[object]] = [["Game", "Clip", "Player", "RF", "PU"], ["Game 1", 1, "Quist", 1, 5]]
    workbook(folder / "vega.xlsx", {"Marks": [*rows, ["Game 1", 2, "Quist", 3, 1]]})
    proposal = propose(folder)
    write_settings(folder, proposal, ANSWERS._replace(graders=("Coach Hale", "Coach Ruiz", "Coach Vega")))
    criteria = next(s.criteria for s in load_settings(folder).sources if s.files == ("vega.xlsx",))
    assert set(criteria) == {"RF", "PU"}
    assert not set(criteria.values()) & {c.id for c in load_rubric(folder).criteria}


def test_a_second_start_keeps_every_letter_and_adds_only_what_is_new(folder: Path) -> None:
    written(folder)
    path = folder / "season.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace("min_plays = 30", "min_plays = 45"), encoding="utf-8"
    )
    before, rubric = path.read_text(encoding="utf-8"), (folder / "rubric.toml").read_bytes()
    put(folder, "ruiz_marks_week_3.csv", long_grades(["Run fit", "Pursuit"], "12345", session="Game 2"))
    proposal = propose(folder)
    assert [block.files for block in proposal.blocks] == [("ruiz_marks_week_3.csv",)]
    write_settings(folder, proposal, ANSWERS._replace(graders=proposal.graders))
    after = path.read_text(encoding="utf-8")
    assert after.startswith(before.rstrip("\n"))
    settings = load_settings(folder)
    assert settings.house.min_plays == 45
    assert len(settings.raters) == 2
    assert set(settings.scales) == {"zero_one_two", "one_to_five"}
    assert settings.sources[-1].rater == "ruiz"
    assert (folder / "rubric.toml").read_bytes() == rubric


def test_nothing_new_changes_nothing(folder: Path) -> None:
    written(folder)
    before = (folder / "season.toml").read_bytes()
    proposal = propose(folder)
    assert proposal.blocks == ()
    write_settings(folder, proposal, ANSWERS._replace(graders=()))
    assert (folder / "season.toml").read_bytes() == before


def test_what_was_not_recognised_is_not_written_and_said(folder: Path) -> None:
    put(folder, "bus.csv", "Date,Hotel,Bus\n2025-09-06,Plaza,8\n")
    proposal = propose(folder)
    said = write_settings(folder, proposal, ANSWERS)
    assert any(line.startswith("bus.csv") for line in said.uncovered)
    assert not any("bus.csv" in source.files for source in load_settings(folder).sources)


def test_a_folder_without_marks_gets_settings_that_can_be_read(tmp_path: Path) -> None:
    put(tmp_path, "roster.csv", ROSTER)
    proposal = propose(tmp_path)
    said = write_settings(tmp_path, proposal, read_answers(proposal, {"program": "Example 2025"}))
    assert [path.name for path in said.paths] == ["season.toml"]
    assert load_settings(tmp_path).scales.keys() == {"plus_minus"}


def test_corrections(folder: Path) -> None:
    proposal = propose(folder)
    line = {block.files[0]: n for n, block in enumerate(proposal.blocks, 1)}
    hale, roster = line["hale_marks.csv"], line["roster.csv"]
    changed = correct(proposal, f"{hale} coach Abel Moss; {roster} leave_out")
    assert "Coach Abel Moss" in changed.graders
    assert "Coach Hale" not in changed.graders
    assert changed.blocks[roster - 1].kind == "leave_out"
    regraded = correct(proposal, f"{hale} scale 0-3").blocks[hale - 1].scale
    assert regraded is not None
    assert regraded.marks == ("0", "1", "2", "3")
    marked = correct(proposal, f"{hale} 0 is ungradable")
    scale = marked.blocks[hale - 1].scale
    assert scale is not None
    assert ("0", "ungradable") in scale.blanks


@pytest.mark.parametrize(
    "answer", ["99 roster", "roster", "1 sandwich", "1 x is lost", "1 drills", "1 scale 9-1"]
)
def test_a_correction_that_makes_no_sense_is_refused(folder: Path, answer: str) -> None:
    with pytest.raises(SettingsError):
        correct(propose(folder), answer)


@pytest.mark.parametrize(
    ("key", "answer"),
    [("program", "Example College"), ("program", "2025"), ("graders", "Coach Hale"), ("printed", "0-9")]
    + [("standard", text) for text in ("", "high", "0", "100", "-3")],
)
def test_an_answer_that_makes_no_sense_is_refused(folder: Path, key: str, answer: str) -> None:
    with pytest.raises(SettingsError):
        read_answers(propose(folder), {key: answer})


@pytest.mark.parametrize(("said", "standard"), [("70", 0.7), ("70 %", 0.7), ("0.65", 0.65), ("62,5", 0.625)])
def test_standard_as_a_coach_writes_it(folder: Path, said: str, standard: float) -> None:
    assert read_answers(propose(folder), {"standard": said}).standard == pytest.approx(standard)


def test_two_graders_who_are_one(folder: Path) -> None:
    write_settings(folder, propose(folder), ANSWERS._replace(graders=("Coach Hale", "Coach Hale")))
    settings = load_settings(folder)
    assert list(settings.raters) == ["hale"]


@given(st.text(max_size=60))
def test_any_text_survives_as_toml(text: str) -> None:
    line = f"{toml_key(text)} = {toml_value([text, {'a': text}])}"
    assert tomllib.loads(line) == {text: [text, {"a": text}]}
