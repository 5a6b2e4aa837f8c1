"""Which field stands under which heading of a sheet, and how our words are written there."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from lbeval.read.describe_look import Look
from lbeval.read.describe_marks import mark_share
from lbeval.read.describe_values import VALUES
from lbeval.read.describe_words import (
    GAME_LIKE,
    HEADINGS,
    PRIVATE,
    coach_named,
    field_of,
    name_in_file,
    plain_id,
    test_of,
    words_of,
)
from lbeval.settings import FIELDS
from lbeval.spelling import fold

CONTROLLED: dict[str, tuple[str, ...]] = {
    kind: tuple(name for name in fields if name in VALUES and not (name == "kind" and kind != "events"))
    for kind, fields in FIELDS.items()
}
"""Fields of each kind that hold words of ours."""

_CHECKED = {"technique", "gap_held", "look", "outcome", "kind", "head", "approach", "at_point", "blocker"}
"""Fields whose heading means nothing unless the words under it do."""
_TOTALS = re.compile(r"(total|average|avg|sum|mean|team|subtotal)s?\b")
_NO_CRITERION = re.compile(
    r"^(total|totals|avg|average|sum|pct|percent|final|qtr|quarter|series|drive|time|score diff|count|"
    r"grade avg|plus|minus|number of plays|plays|snaps|year|yr|age|rank|stars?)\b"
)
_SEPARATORS = re.compile(r"[;,/+]")


@dataclass(frozen=True, eq=False)
class Guess:
    """What a sheet seems to be.

    Attributes
    ----------
    source : keys of a source block, without files, sheets, rater, scale and criteria.
    criteria : (heading or value as written, group it stands under) of marks.
    faults : names of faults in a tackle log, as written.
    coaches : graders as written; empty where nothing says it.
    marks : how often each mark stands there.
    sessions, where : games and practices as written, and in words where they stand.
    doubts : why it is unsure; none: sure.
    """

    file: str
    sheet: str
    kind: str
    look: Look | None
    source: dict[str, Any] = field(default_factory=dict)
    criteria: tuple[tuple[str, str], ...] = ()
    faults: tuple[str, ...] = ()
    coaches: tuple[str, ...] = ()
    marks: Counter[str] = field(default_factory=Counter)
    sessions: tuple[str, ...] = ()
    where: str = ""
    n_rows: int = 0
    doubts: tuple[str, ...] = ()


def fields_of(kind: str, look: Look) -> dict[str, int]:
    """Return the column of each field of `kind`: of several, the one whose heading is likeliest."""
    found: dict[str, tuple[int, int]] = {}
    for column in range(len(look.headings)):
        named = field_of(kind, look.leaf(column))
        if named is None or not look.usable(column):
            continue
        name, rank = named
        if name in _CHECKED and not _speaks(name, look.counts(column)):
            continue
        if name not in found or rank < found[name][0]:
            found[name] = (rank, column)
    return {name: column for name, (_, column) in found.items()}


def _speaks(name: str, counts: Counter[str]) -> bool:
    filled = {text: times for text, times in counts.items() if text}
    known = {word for words in VALUES[name].values() for word in words}
    hits = sum(times for text, times in filled.items() if words_of(text) in known or fold(text) in known)
    return bool(filled) and hits >= 0.6 * sum(filled.values())


def criterion_columns(look: Look, taken: set[int]) -> list[int]:
    """Return the columns that hold marks and are no field of any kind."""
    found = []
    for column in range(len(look.headings)):
        leaf = words_of(look.leaf(column))
        if column in taken or not look.usable(column) or not leaf or _NO_CRITERION.match(leaf):
            continue
        known = any(field_of(kind, look.leaf(column)) for kind in ("plays", "roster")) or leaf.isdigit()
        other = field_of("grades", look.leaf(column))
        if known or PRIVATE.search(leaf) or (other and other[0] in {"player", "game", "play", "rater"}):
            continue
        counts = look.counts(column)
        distinct = sum(1 for text in counts if text)
        if mark_share(counts) >= 0.75 and distinct <= 110:
            found.append(column)
    return found


def test_columns(look: Look) -> dict[int, str]:
    """Return the columns that hold results of a test we know by name."""
    columns = {n: test_of(look.leaf(n)) for n in range(len(look.headings)) if look.usable(n)}
    return {n: test for n, test in columns.items() if test}


def private_columns(look: Look) -> list[str]:
    """Return the headings of medical, family and school columns, which are never taken."""
    return [h for n, h in enumerate(look.headings) if look.usable(n) and PRIVATE.search(words_of(h))]


def values_of(kind: str, look: Look, columns: dict[str, int]) -> tuple[dict[str, dict[str, str]], list[str]]:
    """Return field -> as written -> our word where they differ, and what words were not known."""
    found: dict[str, dict[str, str]] = {}
    doubts: list[str] = []
    for name in CONTROLLED[kind]:
        if name not in columns:
            continue
        meaning = {word: ours for ours, words in VALUES[name].items() for word in words}
        unknown = []
        for text in sorted(text for text in look.counts(columns[name]) if text):
            ours = meaning.get(fold(text)) or meaning.get(words_of(text))
            if ours is None:
                unknown.append(text)
            elif fold(text) != ours:
                found.setdefault(name, {})[text] = ours
        if unknown:
            doubts.append(f"not known in {look.headings[columns[name]]!r}: {', '.join(unknown[:4])}")
    return found, doubts


def faults_in(look: Look, column: int) -> tuple[str, ...]:
    """Return the faults that a column names, one or several a cell."""
    parts = {
        " ".join(part.split())
        for text in look.counts(column)
        for part in _SEPARATORS.split(text)
        if part.strip()
    }
    by_id = {
        plain_id(part): part for part in sorted(parts) if plain_id(part) not in {"", "none", "no", "n_a"}
    }
    return tuple(by_id[one] for one in sorted(by_id))


def ignored_rows(look: Look) -> tuple[str, ...]:
    """Return how total and comment rows of the body begin."""
    starts = set()
    for cells in (look.body.iloc[:50], look.body.iloc[-50:]):
        for row in cells.itertuples(index=False, name=None):
            filled = [text for text in row if text]
            first = fold(filled[0])
            if found := _TOTALS.match(first):
                starts.add(found.group(1))
            elif len(filled) == 1 and re.match(r"#|//|note\b|\*", first):
                starts.add(re.split(r"\s", filled[0])[0])
    return tuple(sorted(starts))


class Session(NamedTuple):
    """Where a session stands that no column names: `take`, words for it, what is written, a doubt."""

    take: str
    where: str
    written: tuple[str, ...] = ()
    doubt: str = ""


@dataclass(frozen=True)
class Around:
    """What the other sheets tell: how many the file has, names of people and of sessions, folded."""

    n_sheets: int = 1
    people: frozenset[str] = frozenset()
    sessions: frozenset[str] = frozenset()


def session_source(look: Look, around: Around) -> Session:
    """Return where the session stands that no column names."""
    sheet, stem = look.sheet.name, Path(look.sheet.file).stem

    def told(text: str) -> bool:
        said = words_of(text)
        return len(text) < 60 and (said in around.sessions or bool(GAME_LIKE.search(said)))

    for cell, text in look.above:
        if told(text):
            return Session(f"cell {cell}", f"cell {cell}", (text,))
    if sheet and told(sheet):
        return Session("sheet", "a sheet each", (sheet,))
    if sections := _sections(look):
        return Session("row above", "rows between", sections)
    if GAME_LIKE.search(words_of(stem)):
        return Session("file", "a file each", (stem,))
    if sheet and around.n_sheets > 1:
        return Session("sheet", "a sheet each", (sheet,), "is each sheet one session?")
    return Session("", "", (), "no column, sheet or file name says which session")


def _sections(look: Look) -> tuple[str, ...]:
    alone = look.body[(look.body != "").sum(axis=1) == 1]
    texts = [next(text for text in row if text) for row in alone.itertuples(index=False, name=None)]
    return tuple(dict.fromkeys(text for text in texts if GAME_LIKE.search(words_of(text))))


def graders(look: Look, column: int | None) -> tuple[str, ...]:
    """Return who graded: a column's values, a line above, the sheet, the file or its folder."""
    if column is not None:
        return tuple(sorted(text for text in look.counts(column) if text))
    said = [coach_named(text) for _, text in look.above]
    file = Path(look.sheet.file)
    said += [coach_named(look.sheet.name), name_in_file(file.stem), name_in_file(file.parent.name)]
    return tuple(name for name in said if name)[:1]


def named_headings(kind: str) -> list[str]:
    """Return the fields of a kind that a column can hold, for a list to choose from."""
    return list(HEADINGS.get(kind, {}))
