"""A confirmed proposal to `season.toml` and `rubric.toml`; what stands in them already is kept."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal, NamedTuple

from pydantic import ValidationError

from lbeval.errors import SettingsError
from lbeval.files import write_text_atomic
from lbeval.read.describe_blocks import Block
from lbeval.read.describe_marks import ScaleGuess
from lbeval.read.describe_proposal import Proposal, sessions_words
from lbeval.read.describe_toml import (
    SOURCE_WORDS,
    house_text,
    program_text,
    range_text,
    rater_text,
    rubric_text,
    scale_text,
    source_text,
)
from lbeval.read.describe_values import VALUES
from lbeval.read.describe_words import plain_id
from lbeval.settings import SeasonSettings, Source
from lbeval.spelling import fold

PLUS_MINUS = ScaleGuess("plus_minus", "- +", ("-", "+"), (("", "not_graded"),), (), sure=True)
"""Stands in the settings where no marks were found, since a season needs a scale."""


class Answers(NamedTuple):
    """What the user said: graders in the order of `Proposal.graders`, `printed` an id of the scales."""

    program: str
    year: int
    graders: tuple[str, ...]
    printed: str
    standard: float


class Written(NamedTuple):
    """Files written, and the files of the staff that no block covers, with why."""

    paths: tuple[Path, ...]
    uncovered: tuple[str, ...]


def read_answers(proposal: Proposal, given: Mapping[str, str]) -> Answers:
    """Return the answers to `questions`, by key, as values.

    Raises
    ------
    SettingsError
        Saying which answer is not understood, and how to write it.
    """
    program, year = proposal.program, proposal.year
    if "program" in given:
        found = re.fullmatch(r"(.*?)[\s,]*((?:19|20)\d\d)", given["program"].strip())
        if not found or not found.group(1):
            msg = "write the program's name and the year of the season, e.g. Example College 2025"
            raise SettingsError(msg)
        program, year = found.group(1).strip(), int(found.group(2))
    graders = proposal.graders
    if "graders" in given:
        graders = tuple(name.strip() for name in given["graders"].split(",") if name.strip())
        if len(graders) != len(proposal.graders):
            msg = f"{len(proposal.graders)} names are needed, with commas between, in the order shown"
            raise SettingsError(msg)
    scales = proposal.scales or {PLUS_MINUS.id: PLUS_MINUS}
    printed = given.get("printed", next(iter(scales)))
    by_name = {fold(name): one for one, scale in scales.items() for name in (one, scale.shown)}
    if fold(printed) not in by_name:
        msg = f"{printed!r} is none of the scales; one of {', '.join(s.shown for s in scales.values())}"
        raise SettingsError(msg)
    return Answers(program, year, graders, by_name[fold(printed)], _standard(given.get("standard", "70")))


def _standard(said: str) -> float:
    try:
        value = float(said.strip().removesuffix("%").replace(",", "."))
    except ValueError:
        value = 0.0
    value = value / 100 if value > 1 else value
    if not 0 < value < 1:
        msg = f"{said!r}: write a share of the best mark, e.g. 70 for 70 %"
        raise SettingsError(msg)
    return value


def write_settings(folder: Path, proposal: Proposal, answers: Answers) -> Written:
    """Write `season.toml` and `rubric.toml`; what stands there already is kept, and only added to.

    Raises
    ------
    SettingsError
        If what would be written could not be read again.
    ReportError
        If a file cannot be written.
    """
    raters = _rater_ids(proposal, answers)
    scales = _scale_ids(proposal)
    graders = {old: raters[new] for old, new in zip(proposal.graders, answers.graders, strict=True)}
    blocks, uncovered = [], []
    for place, block in enumerate(proposal.blocks):
        source = source_of(proposal, place, graders, scales) if block.usable else None
        if source is None or not _valid(source):
            why = "; ".join(block.doubts) or "not complete enough to be used"
            uncovered.append(f"{', '.join(block.files)}: {why}")
        else:
            blocks.append(source_text(source, _comment(proposal, place)))
    season = (
        "\n".join([*_head(proposal, answers, raters, scales), *(line for b in blocks for line in b)]) + "\n"
    )
    paths = []
    if blocks or proposal.settings is None:
        _check(season, folder)
        paths.append(write_text_atomic(folder / "season.toml", season))
    if proposal.rubric is None and proposal.draft.criteria:
        lines = rubric_text(proposal.draft, answers.standard)
        paths.append(write_text_atomic(folder / "rubric.toml", "\n".join(lines) + "\n"))
    return Written(tuple(paths), tuple(uncovered))


def _head(proposal: Proposal, answers: Answers, raters: dict[str, str], scales: dict[str, str]) -> list[str]:
    """Return what stands before the new blocks: the whole file as it is, or a new one's settings."""
    if proposal.settings is not None:
        old = (proposal.folder / "season.toml").read_text(encoding="utf-8-sig").rstrip("\n").splitlines()
        new_raters = {one: name for name, one in raters.items() if one not in proposal.settings.raters}
        new_scales = {
            scales[n]: s for n, s in proposal.scales.items() if scales[n] not in proposal.settings.scales
        }
        added = [*rater_text(new_raters), *(scale_text(new_scales) if new_scales else [])]
        return [*old, *added]
    measured = any(block.kind == "measurables" for block in proposal.blocks)
    return [
        *program_text(answers.program, answers.year, answers.printed),
        *rater_text({one: name for name, one in raters.items()}),
        *scale_text(proposal.scales or {PLUS_MINUS.id: PLUS_MINUS}),
        *house_text(faults_recorded(proposal.blocks)),
        *(range_text(answers.year) if measured else []),
        *SOURCE_WORDS,
    ]


def _rater_ids(proposal: Proposal, answers: Answers) -> dict[str, str]:
    """Return name as answered -> id, one that the settings have already where the name fits it."""
    there = proposal.settings.raters if proposal.settings else {}
    ids: dict[str, str] = {}
    for number, name in enumerate(dict.fromkeys(answers.graders), 1):
        last = plain_id(name.split()[-1]) or f"coach_{number}"
        same = [one for one, rater in there.items() if fold(rater.name) == fold(name) or one == last]
        one, count = (same[0] if same else last), 1
        while one in ids.values() and not same:
            count += 1
            one = f"{last}_{count}"
        ids[name] = one
    return ids


def _scale_ids(proposal: Proposal) -> dict[str, str]:
    """Return our scale id -> the id it gets in the settings, where one with the same marks is there."""
    there = proposal.settings.scales if proposal.settings else {}
    ids = {}
    for one, scale in proposal.scales.items():
        same = [name for name, old in there.items() if tuple(old.marks) == scale.marks]
        name = same[0] if same else one
        while name in there and not same:
            name += "_new"
        ids[one] = name
    return ids


def faults_recorded(blocks: Sequence[Block]) -> Literal["every attempt", "misses only"]:
    """Return whether any tackle that was made has a fault in the logs; where there is no log, the default."""
    found = False
    for block in blocks:
        columns = block.source.get("columns", {})
        if block.kind != "tackles" or block.look is None or not {"outcome", "faults"} <= set(columns):
            continue
        places = [block.look.headings.index(columns[name]) for name in ("outcome", "faults")]
        outcome, faults = (block.look.body[place] for place in places)
        misses = list(VALUES["outcome"]["miss"])
        with_fault = outcome[~faults.map(fold).isin(["", "-", "none", "no"])].map(fold)
        if (~with_fault.isin(misses)).any():
            return "every attempt"
        found = found or len(with_fault) > 0
    return "misses only" if found else "every attempt"


def source_of(
    proposal: Proposal, place: int, graders: Mapping[str, str], scales: Mapping[str, str]
) -> dict[str, Any]:
    """Return a line of the table as a source block of the settings.

    Parameters
    ----------
    graders, scales : a grader's name and a scale's id as proposed -> id in the settings.
    """
    block = proposal.blocks[place]
    source: dict[str, Any] = {"files": list(block.files), "kind": block.kind}
    if block.kind == "leave_out":
        return source
    if block.sheets != ("*",):
        source["sheets"] = list(block.sheets)
    if proposal.grader_of[place]:
        source["rater"] = graders[proposal.grader_of[place]]
    source |= {
        key: value for key, value in block.source.items() if value and (key, value) != ("shape", "long")
    }
    if proposal.scale_of[place]:
        source["scale"] = scales[proposal.scale_of[place]]
    if block.kind == "grades":
        source["criteria"] = _criteria(proposal, place)
        if "packed" in source:
            source["packed"] = [source["criteria"].get(name, name) for name in source["packed"]]
            del source["criteria"]
    return _with_rater_words(block, source, {fold(name): one for name, one in graders.items()})


def _criteria(proposal: Proposal, place: int) -> dict[str, str]:
    """Return heading or code -> id; a heading that is not settled gets an id that the rubric has not."""
    block, draft = proposal.blocks[place], proposal.draft
    found = dict(draft.meaning[place])
    if block.source.get("shape") == "long":
        return found
    known = {one.id for one in draft.criteria} | (
        {c.id for c in proposal.rubric.criteria} if proposal.rubric else set()
    )
    for number, written in enumerate(draft.unsettled[place], 1):
        one = plain_id(written) or f"heading_{number}"
        found[written] = f"{one[:30]}_unsettled" if one in known else one
    return found


def _with_rater_words(block: Block, source: dict[str, Any], ids: Mapping[str, str]) -> dict[str, Any]:
    """Return `source` with the coaches of a column as ids of ours, where they are coaches who grade."""
    name = "rater" if block.kind == "grades" else "scorer"
    heading = source.get("columns", {}).get(name)
    if not heading or block.look is None:
        return source
    words = {}
    for written in sorted(block.look.counts(block.look.headings.index(heading))):
        said = fold(written)
        full = next(
            (one for full, one in ids.items() if said and (full == said or full.split()[-1] == said)), None
        )
        full = full or next((one for full, one in ids.items() if said and full == f"coach {said}"), None)
        if full is not None and full != written:
            words[written] = full
    return {**source, "values": {**source.get("values", {}), name: words}} if words else source


def _comment(proposal: Proposal, place: int) -> list[str]:
    block = proposal.blocks[place]
    who = f" of {proposal.grader_of[place]}" if proposal.grader_of[place] else ""
    where = f"; sessions: {sessions_words(block)}" if block.where and block.kind != "leave_out" else ""
    lines = [f"{block.kind.replace('_', ' ').capitalize()}{who}{where}."]
    if block.kind == "leave_out" and block.where:
        lines = [f"Left out: {block.where}."]
    if block.doubts:
        lines.append(f"Was unsure: {'; '.join(block.doubts)}")
    return [" ".join(line.split()) for line in lines]


def _valid(source: dict[str, Any]) -> bool:
    try:
        Source.model_validate(source)
    except ValidationError:
        return False
    return True


def _check(season: str, folder: Path) -> None:
    """Refuse to write what could not be read again."""
    try:
        SeasonSettings.model_validate(tomllib.loads(season))
    except (ValidationError, tomllib.TOMLDecodeError) as error:
        msg = f"{folder / 'season.toml'} was not written, since it could not be read again: {error}"
        raise SettingsError(msg) from None
