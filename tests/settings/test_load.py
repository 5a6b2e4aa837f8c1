"""A coach who mistypes a key must be told the file, the key and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from lbeval.errors import SettingsError
from lbeval.settings import Rubric, Scale, SeasonSettings, load_rubric, load_settings

SEASON = """
[program]
name = "Example"
year = 2025
grades_on = "pm"

[raters.hale]
name = "Coach Hale"

[scales.pm]
marks = {"-" = 0.0, "+" = 1.0}
not_graded = [""]

[[sources]]
files = ["*.csv"]
kind = "grades"
rater = "hale"
scale = "pm"
shape = "wide"
columns = {player = "Name", game = "Game", play = "Clip"}
criteria = {"Asg" = "assignment"}
"""

RUBRIC = """
standard = 0.7

[[groups]]
id = "job"
label = "Assignment"

[[criteria]]
id = "assignment"
label = "does his job"
group = "job"
"""


def season(tmp_path: Path, text: str) -> SeasonSettings:
    (tmp_path / "season.toml").write_text(text, encoding="utf-8")
    return load_settings(tmp_path)


def rubric(tmp_path: Path, text: str) -> Rubric:
    (tmp_path / "rubric.toml").write_text(text, encoding="utf-8")
    return load_rubric(tmp_path)


def test_good_files_load(tmp_path: Path) -> None:
    settings = season(tmp_path, SEASON)
    assert settings.sources[0].criteria == {"Asg": "assignment"}
    assert settings.house.confidence == 0.90
    assert rubric(tmp_path, RUBRIC).criteria[0].weight == 1.0


def test_byte_order_mark_of_a_windows_editor_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "season.toml").write_bytes(b"\xef\xbb\xbf" + SEASON.encode())
    assert load_settings(tmp_path).program.name == "Example"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("year = 2025", "yaer = 2025", r"season\.toml: program\.yaer: unknown key; did you mean 'year'"),
        ("year = 2025", "", r"season\.toml: program\.year: missing; add it"),
        ("year = 2025", 'year = "soon"', r"season\.toml: program\.year: .*'soon'"),
        ('grades_on = "pm"', 'grades_on = "letters"', r"grades_on: 'letters' is no scale"),
        ('rater = "hale"', 'rater = "hail"', r"block 1 \(\*\.csv\): rater 'hail' is not in \[raters\]"),
        ('scale = "pm"', "", r"sources\.1: a grades source needs scale"),
        ('player = "Name"', 'plaeyr = "Name"', r"columns\.plaeyr: .* has the fields .*player"),
        ('kind = "grades"', 'kind = "marks"', r"sources\.1\.kind: .*'marks'"),
        ('shape = "wide"', 'shpae = "wide"', r"sources\.1\.shpae: unknown key; did you mean 'shape'"),
        ("[program]", "[program", r"season\.toml: .*mend that line"),
        ('not_graded = [""]', 'not_graded = ["+"]', r"scales\.pm: '\+' stands twice"),
        ('"+" = 1.0', '"+" = 0.9', r"scales\.pm: marks must go from the worst"),
    ],
)
def test_error_names_file_key_and_remedy(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in SEASON
    with pytest.raises(SettingsError, match=said):
        season(tmp_path, SEASON.replace(old, new, 1))


def test_all_errors_are_said_at_once(tmp_path: Path) -> None:
    with pytest.raises(SettingsError) as caught:
        season(tmp_path, SEASON.replace("year", "yaer").replace('kind = "grades"', 'kind = "marks"'))
    assert len(str(caught.value).splitlines()) >= 3


def test_missing_settings_point_to_start(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="lbeval start"):
        load_settings(tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('group = "job"', 'group = "jobs"', r"rubric\.toml: .*group 'jobs' is not in"),
        ("standard = 0.7", "standard = 1.7", r"rubric\.toml: standard: .*less than 1"),
        ('label = "does his job"', 'label = "does his job"\nweight = 0.0', "weight above 0"),
    ],
)
def test_rubric_errors(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(SettingsError, match=said):
        rubric(tmp_path, RUBRIC.replace(old, new, 1))


@pytest.mark.parametrize(
    ("marks", "ends"),
    [
        ({"0": 0, "1": 0.5, "2": 1}, (0.0, 2.0)),
        ({"1": 0, "2": 0.25, "3": 0.5, "4": 0.75, "5": 1}, (1.0, 5.0)),
        ({"-": 0, "+": 1}, None),
        ({"0": 0, "1": 0.2, "3": 1}, None),
        ({"0": 0, "no": 0, "1": 1, "yes": 1}, (0.0, 1.0)),
    ],
)
def test_a_grade_prints_on_a_scale_only_where_its_marks_are_evenly_spaced_numbers(
    marks: dict[str, float], ends: tuple[float, float] | None
) -> None:
    assert Scale(marks=marks).ends == ends
