"""The demo's settings files: the text that is written, and the same as objects."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from data_demo.maker.rubric import CRITERIA, FAULTS, GROUPS, SHORT, STANDARD
from lbeval.settings import Rubric, SeasonSettings

TEXTS = Path(__file__).parent / "text"


def source_text(name: str) -> str:
    """Return a text that is copied into a season folder as it is."""
    return (TEXTS / name).read_text(encoding="utf-8")


def season_toml() -> str:
    """Return `season.toml` of the full season."""
    table = "\n".join(["", "[sources.criteria]", *(f'"{h}" = "{c}"' for c, h in wide_headings().items())])
    return source_text("full_season.toml").replace("\n#CRITERIA#", "\n" + table)


def faulty_season_toml() -> str:
    """Return `season.toml` of the faulty season: the full one's, with what a careful staff would add."""
    found = season_toml()
    for before, after in _FAULTY:
        assert before in found
        found = found.replace(before, after)
    return found + source_text("faulty_extra.toml")


_MORE_SCALES = """[scales.plus_minus]
marks = { "-" = 0.0, "+" = 1.0 }
ungradable = ["x"]

[scales.ticks]
marks = { "✗" = 0.0, "½" = 0.5, "✓" = 1.0 }

[scales.percent]
percent = true

[house]
"""
_FAULTY = (
    ('name = "Coach Quell"\n', 'name = "Coach Quell"\n\n[raters.ferro]\nname = "Coach Ferro"\n'),
    ("[house]\n", _MORE_SCALES),
    ('delimiter = ";"\n', 'delimiter = ";"\nignore_rows = ["#", "Total"]\n'),
    ('files = ["film/tally.xlsx"]', 'files = ["film/*tally*.xlsx"]'),
)
"""Texts of the full season's settings, and what stands in their place."""


def wide_headings() -> dict[str, str]:
    """Return criterion -> heading in the workbook with two rows of headings."""
    labels = {id_: label.upper() for id_, label in GROUPS}
    return {c[0]: f"{labels[c[1]]} / {SHORT[c[0]]}" for c in CRITERIA}


@cache
def make_settings() -> SeasonSettings:
    """Return the settings of the full season."""
    return SeasonSettings.model_validate(tomllib.loads(season_toml()))


def rubric_toml() -> str:
    """Return `rubric.toml` of the full season."""
    lines = [
        "# What the staff marks, in the order it is taught. `standard` is the mark expected of a starter.",
        'name = "Linebackers, whole rubric"',
        f"standard = {STANDARD}",
    ]
    for id_, label in GROUPS:
        lines += ["", "[[groups]]", f'id = "{id_}"', f'label = "{label}"']
    for id_, group, weight, label, fault, drill, stage, safety in CRITERIA:
        lines += ["", "[[criteria]]", f'id = "{id_}"', f'group = "{group}"', f"weight = {weight}"]
        lines += [f'label = "{label}"', f'fault = "{fault}"', f'drill = "{drill}"']
        lines += [f'stage = "{stage}"'] if stage else []
        lines += ["safety = true"] if safety else []
    for id_, label, drill, safety in FAULTS:
        lines += ["", f"[faults.{id_}]", f'label = "{label}"', f'drill = "{drill}"']
        lines += ["safety = true"] if safety else []
    return "\n".join(lines) + "\n"


@cache
def make_rubric() -> Rubric:
    """Return the rubric of the full season."""
    return Rubric.model_validate(tomllib.loads(rubric_toml()))
