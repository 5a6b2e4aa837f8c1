"""`season.toml` and `rubric.toml` as text, each key explained where it stands."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Literal

from lbeval.read.describe_marks import ScaleGuess
from lbeval.read.describe_rubric import Draft
from lbeval.settings import House

RANGES: tuple[tuple[str, float, float, str], ...] = (
    ("height", 60, 84, "in"),
    ("weight", 120, 400, "lb"),
    ("arm", 27, 38, "in"),
    ("hand", 7, 12, "in"),
    ("wingspan", 64, 90, "in"),
    ("ten", 1.40, 2.20, "s"),
    ("twenty", 2.35, 3.70, "s"),
    ("forty", 4.15, 6.80, "s"),
    ("shuttle", 3.70, 6.20, "s"),
    ("three_cone", 6.30, 9.50, "s"),
    ("vertical", 12, 48, "in"),
    ("broad", 60, 150, "in"),
    ("bench", 0, 55, "reps"),
)
"""What a measured value can be, as first written into `season.toml`: judgement, the staff's to change."""

_HOUSE_WORDS = {
    "confidence": "level of every interval on a page",
    "min_plays": 'below so many graded plays a page says "not enough film" instead of a grade',
    "min_plays_group": "the same for one group of criteria",
    "min_tackles": "below so many attempts counts are printed without a rate",
    "min_games": "below so many games nothing is said about change over the season",
    "tackle_made": 'outcomes that count as made: "solo", "assist"',
    "faults_recorded": 'whether a tackle log names faults on "every attempt" or on "misses only"',
    "show_weight": "whether weight is printed on a player's page",
    "show_availability": "whether days available are printed on a player's page",
}
_BARE = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
_TABLES = ("columns", "criteria", "tests", "values")


def toml_value(value: object) -> str:
    """Return a text, number, flag, list or mapping as TOML on one line."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        inner = ", ".join(f"{toml_key(key)} = {toml_value(one)}" for key, one in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, Iterable):
        return "[" + ", ".join(toml_value(one) for one in value) + "]"
    return repr(value)


def toml_key(key: object) -> str:
    """Return a key, in quotes where TOML needs them."""
    text = str(key)
    return text if _BARE.fullmatch(text) else toml_value(text)


def program_text(name: str, year: int, printed: str) -> list[str]:
    """Return the head of `season.toml`."""
    return [
        "# A season as `lbeval` reads it. Change anything; `lbeval check` says what it does not understand.",
        "",
        "[program]",
        f"name = {toml_value(name)}",
        f"year = {year}",
        'unit = "Linebackers"',
        'paper = "letter"  # or "a4"',
        f"grades_on = {toml_value(printed)}  # the scale that grades are printed on: one of [scales]",
    ]


def rater_text(raters: Mapping[str, str]) -> list[str]:
    """Return a table for each coach who grades."""
    lines = ["", "# Who grades; pages print the name."] if raters else []
    for one, name in raters.items():
        lines += ["", f"[raters.{toml_key(one)}]", f"name = {toml_value(name)}"]
    return lines


def scale_text(scales: Mapping[str, ScaleGuess]) -> list[str]:
    """Return a table for each scale: marks with their worth, and the three kinds of missing."""
    lines = [
        "",
        "# What each mark is worth, from 0 (worst) to 1 (best), worst first; and what stands for: it did not",
        "# occur, it was not graded, it could not be seen. The three are never mixed, and none counts as 0.",
    ]
    for one, scale in scales.items():
        lines += ["", f"[scales.{toml_key(one)}]"]
        if scale.percent:
            lines.append("percent = true")
        else:
            last = len(scale.marks) - 1
            lines.append(f"marks = {toml_value({mark: n / last for n, mark in enumerate(scale.marks)})}")
        for kind in ("did_not_occur", "not_graded", "ungradable"):
            lines.append(f"{kind} = {toml_value([text for text, why in scale.blanks if why == kind])}")
        if scale.unknown:
            odd = ", ".join(toml_value(text) for text in scale.unknown[:8])
            lines.append(f"# also seen, and set aside until it stands above: {odd}")
    return lines


def house_text(faults_recorded: Literal["every attempt", "misses only"]) -> list[str]:
    """Return the house rules with their defaults, and how the tackle log names faults."""
    lines = ["", "# House rules: yours to set.", "[house]"]
    for key, value in House(faults_recorded=faults_recorded).model_dump().items():
        said = _HOUSE_WORDS.get(key)
        lines.append(f"{key} = {toml_value(value)}" + (f"  # {said}" if said else ""))
    return lines


def range_text(year: int) -> list[str]:
    """Return what measured values can be."""
    lines = [
        "",
        "# What a measured value can be; one outside is set aside as a slip. Put your own limits here.",
        "[ranges]",
    ]
    for test, low, high, unit in RANGES:
        limits: dict[str, Any] = {"low": low, "high": high, "unit": unit}
        limits |= {"whole": True} if unit == "reps" else {}
        limits["source"] = f"judgement, {year}; to be set by the staff"
        lines.append(f"{test} = {toml_value(limits)}")
    return lines


SOURCE_WORDS = (
    "",
    "# How each file is to be read. `columns`: our field = the heading as it stands in the file (two rows of",
    "# headings are joined by ` / `). `criteria`: heading or code = id in rubric.toml; what is not there",
    "# waits in to_settle.xlsx. `take`: what stands in a name or a cell. `values`: words as written = ours.",
    '# A file that is not wanted goes into a block with kind = "leave_out".',
)


def source_text(source: Mapping[str, Any], comment: Sequence[str]) -> list[str]:
    """Return one `[[sources]]` block under its comment."""
    lines = ["", *(f"# {line}" for line in comment), "[[sources]]"]
    lines += [f"{key} = {toml_value(value)}" for key, value in source.items() if key not in _TABLES]
    for key in _TABLES:
        if source.get(key):
            lines += ["", f"[sources.{key}]"]
            lines += [f"{toml_key(name)} = {toml_value(value)}" for name, value in source[key].items()]
    return lines


def rubric_text(draft: Draft, standard: float) -> list[str]:
    """Return `rubric.toml`."""
    lines = [
        "# What is graded, in the order it is taught; drafted from the headings of your sheets.",
        "# Rewrite every label as the right way to do it, in your own words; the id must stay.",
        'name = "Rubric"',
        f"standard = {standard!r}  # the mark, from 0 to 1, that you expect of a starter",
        "",
        "# Groups get a line of their own on a page.",
    ]
    for one, label in draft.groups:
        lines += ["", "[[groups]]", f"id = {toml_value(one)}", f"label = {toml_value(label)}"]
    lines += [
        "",
        "# weight: how much it counts in the grade. stage: its place when taking on a block (close, strike,",
        "# extend, shed). safety = true: it is about the head, and comes before everything else. You may add",
        '# fault = "the wrong way", drill = "what trains it", valid_from and valid_to.',
    ]
    for criterion in draft.criteria:
        lines += [
            "",
            "[[criteria]]",
            f"id = {toml_value(criterion.id)}",
            f"label = {toml_value(criterion.label)}",
        ]
        lines += [f"group = {toml_value(criterion.group)}", "weight = 1.0"]
        lines += [f"stage = {toml_value(criterion.stage)}"] if criterion.stage else []
        lines += ["safety = true"] if criterion.safety else []
    if draft.faults:
        lines += [
            "",
            "# Faults of the tackle log; a drill may stand beside each, safety = true for the head.",
        ]
    for one, label in draft.faults:
        lines += ["", f"[faults.{one}]", f"label = {toml_value(label)}"]
        lines += ["safety = true"] if re.search(r"\bhead\b", label.casefold()) else []
    return lines
