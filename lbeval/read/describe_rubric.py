"""A rubric drafted from what stands over the marks, and which heading means which of its criteria."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from rapidfuzz import fuzz

from lbeval.read.describe_blocks import Block
from lbeval.read.describe_words import plain_id
from lbeval.read.headings import JOIN
from lbeval.settings import Rubric
from lbeval.spelling import fold

STAGES = ("close", "strike", "extend", "shed")
_HEAD = re.compile(r"\b(head|eyes? up|eyes|face)\b")
_ABBREVIATED = 4
"""Headings whose median length is at most this are abbreviations."""
_ALIKE = 80.0


@dataclass(frozen=True)
class DraftCriterion:
    """A criterion as drafted: `label` as the staff writes it."""

    id: str
    label: str
    group: str
    stage: str = ""
    safety: bool = False


@dataclass(frozen=True)
class Draft:
    """A rubric from headings.

    Attributes
    ----------
    groups : (id, label); empty where a rubric is there already.
    faults : (id, label) of a tackle log.
    meaning : for each block, heading or value as written -> criterion id.
    unsettled : for each block, what is written there and is not certainly one of the rubric's.
    """

    groups: tuple[tuple[str, str], ...]
    criteria: tuple[DraftCriterion, ...]
    faults: tuple[tuple[str, str], ...]
    meaning: tuple[dict[str, str], ...]
    unsettled: tuple[tuple[str, ...], ...]


def draft_rubric(blocks: Sequence[Block], existing: Rubric | None) -> Draft:
    """Return a rubric for `blocks`, or how their headings fit the one that exists.

    A heading is a criterion if it is spelt like it, case, spaces, `_` and `-` aside. One that only looks
    like it, or is an abbreviation, is not equated with anything: it waits in `to_settle.xlsx`.
    """
    known = {} if existing is None else _known(existing)
    groups: dict[str, str] = {}
    made: list[DraftCriterion] = []
    meaning: list[dict[str, str]] = [{} for _ in blocks]
    unsettled: list[list[str]] = [[] for _ in blocks]
    for place in _teaching_order(blocks):
        block = blocks[place]
        before = set(known)
        fixed = existing is not None or (bool(known) and is_abbreviated(block))
        for written, group in block.criteria:
            leaf = written.split(JOIN)[-1]
            one = plain_id(leaf)
            if one in known:
                meaning[place][written] = known[one]
            elif fixed or not one or any(_alike(one, other) for other in before):
                unsettled[place].append(written)
            else:
                section = plain_id(group) or "all"
                groups.setdefault(section, _title(group) if group else "All criteria")
                made.append(DraftCriterion(one, leaf, section, safety=bool(_HEAD.search(fold(leaf)))))
                known[one] = one
                meaning[place][written] = one
    faults = {} if existing is not None else {plain_id(f): f for block in blocks for f in block.faults}
    return Draft(
        tuple(groups.items()),
        _staged(made),
        tuple(sorted(faults.items())),
        tuple(meaning),
        tuple(tuple(one) for one in unsettled),
    )


def is_abbreviated(block: Block) -> bool:
    """Return whether most of a block's criteria are too short to be words."""
    lengths = [len(written.split(JOIN)[-1]) for written, _ in block.criteria]
    return bool(lengths) and median(lengths) <= _ABBREVIATED


def _known(rubric: Rubric) -> dict[str, str]:
    """Return the spellings of a rubric's criteria: id and label."""
    known = {plain_id(one.label): one.id for one in rubric.criteria}
    return {**known, **{plain_id(one.id): one.id for one in rubric.criteria}}


def _teaching_order(blocks: Sequence[Block]) -> list[int]:
    """Return the blocks with marks: those with groups over whole words first, abbreviations last."""
    graded = [n for n, block in enumerate(blocks) if block.kind == "grades" and block.usable]

    def rank(place: int) -> tuple[bool, bool, int, int]:
        block = blocks[place]
        grouped = any(group for _, group in block.criteria)
        return is_abbreviated(block), not grouped, -len(block.criteria), place

    return sorted(graded, key=rank)


def _alike(one: str, other: str) -> bool:
    """Return whether two ids may mean the same: much alike, or one cuts the other short."""
    short, long = sorted((one, other), key=len)
    plain = long.replace("_", "")
    letters = iter(plain)
    cut = len(short) <= 5 and short[:1] == plain[:1] and all(letter in letters for letter in short)
    return cut or fuzz.ratio(one, other) >= _ALIKE or f"_{short}_" in f"_{long}_"


def _staged(criteria: Sequence[DraftCriterion]) -> tuple[DraftCriterion, ...]:
    """Return `criteria`, the four stages of a take-on marked if all four are there under one group."""
    by_id = {one.id: one for one in criteria}
    chain = [by_id[stage] for stage in STAGES if stage in by_id]
    if len(chain) < len(STAGES) or len({one.group for one in chain}) > 1:
        return tuple(criteria)
    return tuple(
        DraftCriterion(one.id, one.label, one.group, one.id if one in chain else "", one.safety)
        for one in criteria
    )


def _title(text: str) -> str:
    """Return a heading in capitals as words."""
    return text.capitalize() if text.isupper() and len(text) > 4 else text
