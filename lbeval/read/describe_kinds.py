"""What kind of file a sheet seems to be: rules on its headings and on what stands under them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import replace
from typing import Any

from lbeval.read.describe_fields import (
    Around,
    Guess,
    criterion_columns,
    faults_in,
    fields_of,
    graders,
    ignored_rows,
    private_columns,
    session_source,
    test_columns,
    values_of,
)
from lbeval.read.describe_look import Look
from lbeval.read.describe_marks import bracketed, mark_share, packed_length, unpacked
from lbeval.read.describe_values import VALUES
from lbeval.read.describe_words import plain_id, test_of, words_of
from lbeval.spelling import fold

_PROSPECT = re.compile(r"prospect|recruit|transfer|portal|signee")
_REPEAT = re.compile(r"\b(repeats?|again|blind|regraded?|second time)\b")
_NUMBERED = re.compile(r"^#?\d+ ")
_SECOND = re.compile(r"\b(second|2nd) look\b")
_COMMA, _POINT = re.compile(r"\d,\d"), re.compile(r"\d\.\d")
_UNIT_IN_HEADING = re.compile(r"\((in|cm|m|lb|lbs|kg|s|sec|ft|ft-in|inches)\.?\)")
_HOW_TIMED = {
    "hand": "hand",
    "h": "hand",
    "fat": "electronic",
    "electronic": "electronic",
    "laser": "electronic",
}
_TIMED = re.compile(r"\b(hand|fat|electronic|laser)\b|\((h)\)")


def guess_sheet(look: Look, around: Around) -> list[Guess]:
    """Return what a sheet seems to hold; a list of people with test results is two things."""
    rules: tuple[Callable[[], list[Guess]], ...] = (
        lambda: _across(look, around),
        lambda: as_kind("tackles", look, around),
        lambda: as_kind("drills", look, around),
        lambda: as_kind("events", look, around),
        lambda: as_kind("grades", look, around),
        lambda: as_kind("plays", look, around),
        lambda: as_kind("roles", look, around),
        lambda: as_kind("remarks", look, around),
        lambda: [*as_kind("roster", look, around), *as_kind("measurables", look, around)],
    )
    for rule in rules:
        found = rule()
        if found:
            return found
    return []


def as_kind(kind: str, look: Look, around: Around) -> list[Guess]:
    """Return how `look` can be read as `kind`; an empty list if it cannot."""
    columns = fields_of(kind, look)
    if kind == "grades":
        return _grades(look, columns, around)
    if kind == "measurables":
        return _measurables(look, columns)
    if not _ENOUGH[kind](columns):
        return []
    if kind == "plays" and ("player" in fields_of("roles", look) or "player" in fields_of("grades", look)):
        return []
    if kind == "remarks" and not _is_prose(look, columns["text"]):
        return []
    source = _base(kind, look, columns)
    doubts: list[str] = []
    sessions: tuple[str, ...] = ()
    where = ""
    if kind == "plays" and "game" not in columns and ({"opponent", "week"} & set(columns)):
        stand_in = "opponent" if "opponent" in columns else "week"
        source["columns"]["game"] = look.headings[columns[stand_in]]
        columns["game"] = columns[stand_in]
    if kind in {"plays", "roles", "events", "tackles"}:
        sessions, where, doubts = _sessions(look, columns, source, around)
    if kind == "roster":
        _status(look, columns, source)
    faults = faults_in(look, columns["faults"]) if kind == "tackles" and "faults" in columns else ()
    if faults:
        source.setdefault("values", {})["faults"] = {f: plain_id(f) for f in faults if fold(f) != plain_id(f)}
    more: dict[str, Any] = {"sessions": sessions, "where": where, "faults": faults}
    return [_finish(kind, look, columns, source, doubts, **more)]


_ENOUGH: dict[str, Callable[[dict[str, int]], bool]] = {
    "tackles": lambda c: (
        {"player", "outcome"} <= set(c)
        and bool({"approach", "faults", "yards_after_contact", "head"} & set(c))
    ),
    "drills": lambda c: "drill" in c and bool({"reps", "minutes", "contact"} & set(c)),
    "events": lambda c: {"player", "kind"} <= set(c),
    "plays": lambda c: (
        "play" in c
        and len({"down", "distance", "hash", "call", "play_type", "nullified", "side"} & set(c)) >= 2
    ),
    "roles": lambda c: (
        {"player", "play"} <= set(c) and bool({"role", "assignment", "at_point", "blocker"} & set(c))
    ),
    "remarks": lambda c: {"player", "text"} <= set(c),
    "roster": lambda c: "name" in c and bool({"jersey", "position", "class_year", "seasons_left"} & set(c)),
}


def _base(kind: str, look: Look, columns: dict[str, int]) -> dict[str, Any]:
    source: dict[str, Any] = {"kind": kind, "shape": "long"}
    if look.row != 1:
        source["heading_row"] = look.row
    if look.rows != 1:
        source["heading_rows"] = look.rows
    source["columns"] = {name: look.headings[column] for name, column in columns.items()}
    if "play" in columns and kind != "plays" and "snap" in words_of(look.leaf(columns["play"])):
        source["numbering"] = "snap"
    starts = ignored_rows(look)
    if starts:
        source["ignore_rows"] = list(starts)
    private = private_columns(look)
    if private:
        source["ignore_columns"] = private
    return source


def _finish(
    kind: str, look: Look, columns: dict[str, int], source: dict[str, Any], doubts: list[str], **more: Any
) -> Guess:
    values, unknown = values_of(kind, look, columns)
    for name, words in values.items():
        source.setdefault("values", {})[name] = words
    return Guess(
        look.sheet.file,
        look.sheet.name,
        kind,
        look,
        source,
        n_rows=len(look.body),
        doubts=(*doubts, *unknown),
        **more,
    )


def _sessions(
    look: Look, columns: dict[str, int], source: dict[str, Any], around: Around
) -> tuple[tuple[str, ...], str, list[str]]:
    """Say in `source` where the session stands; return what is written, words for where, doubts."""
    if "game" in columns:
        written = tuple(text for text in look.counts(columns["game"]) if text)
        return written, f"column {look.headings[columns['game']]}", []
    taken = source.setdefault("take", {})
    here = replace(around, n_sheets=1) if taken.get("player") == "sheet" else around
    found = session_source(look, here)
    if found.take and not (found.take == "sheet" and taken.get("player") == "sheet"):
        taken["game"] = found.take
    return found.written, found.where, [found.doubt] if found.doubt else []


def _status(look: Look, columns: dict[str, int], source: dict[str, Any]) -> None:
    if "status" not in columns:
        said = fold(f"{look.sheet.file} {look.sheet.name}")
        source["constants"] = {"status": "prospect" if _PROSPECT.search(said) else "roster"}


def _is_prose(look: Look, column: int) -> bool:
    texts = [text for text in look.counts(column) if text]
    return bool(texts) and sum(map(len, texts)) / len(texts) > 20


def _grades(look: Look, columns: dict[str, int], around: Around) -> list[Guess]:
    tab = "player" not in columns and _person(look.sheet.name, around.people)
    if "player" not in columns and not tab:
        return []
    if {"criterion", "score"} <= set(columns):
        return _long_grades(look, columns, around)
    taken = {n for name, n in columns.items() if name not in {"score", "criterion"}}
    marked = criterion_columns(look, taken)
    columns = {name: n for name, n in columns.items() if name not in {"score", "criterion"}}
    packed = (
        [n for n in range(len(look.headings)) if n not in taken and packed_length(look.counts(n)) > 1]
        if not marked
        else []
    )
    if "play" not in columns or not (marked or packed):
        return []
    source = _base("grades", look, columns)
    if tab:
        source["take"] = {"player": "sheet"}
    doubts: list[str] = []
    if packed and not marked:
        return [_packed_grades(look, columns, source, packed[0], around)]
    source["shape"] = "wide"
    counts = _added(look.counts(n) for n in marked)
    criteria = tuple((look.headings[n], look.group(n)) for n in marked)
    return [_marked(look, columns, source, doubts, around, counts, criteria)]


def _long_grades(look: Look, columns: dict[str, int], around: Around) -> list[Guess]:
    counts = look.counts(columns["score"])
    if mark_share(counts) < 0.8:
        return []
    source = _base("grades", look, columns)
    criteria = tuple((text, "") for text in _in_order(look, columns["criterion"]))
    return [_marked(look, columns, source, [], around, counts, criteria)]


def _in_order(look: Look, column: int) -> list[str]:
    """Return what stands in a column, in the order of its first appearance: the teaching order, likely."""
    return [str(text) for text in look.body[column].drop_duplicates() if text]


def _packed_grades(
    look: Look, columns: dict[str, int], source: dict[str, Any], column: int, around: Around
) -> Guess:
    counts = look.counts(column)
    length = packed_length(counts)
    source["columns"]["score"] = look.headings[column]
    source["events_in_marks"] = _event_codes(counts)
    names = (
        ("assignment", "technique", "effort")[:length]
        if length <= 3
        else tuple(f"mark_{n}" for n in range(1, length + 1))
    )
    source["packed"] = list(names)
    doubts = [f"{length} marks in a cell of {look.headings[column]!r}: which criteria, in this order?"]
    criteria = tuple((name, "") for name in names)
    return _marked(look, columns, source, doubts, around, _opened(counts), criteria)


def _marked(
    look: Look,
    columns: dict[str, int],
    source: dict[str, Any],
    doubts: list[str],
    around: Around,
    counts: Counter[str],
    criteria: tuple[tuple[str, str], ...],
) -> Guess:
    """Return a guess at marks: sessions, grader, codes behind marks."""
    sessions, where, told = _sessions(look, columns, source, around)
    names = graders(look, columns.get("rater"))
    if "look" not in columns and _again(look, named=bool(names)):
        source["constants"] = {"look": "repeat"}
    codes = _event_codes(counts)
    if codes:
        source["events_in_marks"] = codes
    if any(_COMMA.search(text) for text in counts) and not any(_POINT.search(text) for text in counts):
        source["decimal"] = ","
    told += [f"what does ({code}) behind a mark mean?" for code in bracketed(counts) if code not in codes]
    if not names:
        told.append("who graded?")
    return _finish(
        "grades",
        look,
        columns,
        source,
        [*doubts, *told],
        sessions=sessions,
        where=where,
        marks=counts,
        coaches=names,
        criteria=criteria,
    )


def _again(look: Look, *, named: bool) -> bool:
    """Return whether file, sheet or the lines above say that a coach marked the same plays again.

    A second look of a coach that nothing names may be another coach's first.
    """
    said = " ".join((look.sheet.file, look.sheet.name, *(text for _, text in look.above)))
    said = fold(re.sub(r"[_\-./]", " ", said))
    return bool(_REPEAT.search(said) or (named and _SECOND.search(said)))


def _event_codes(counts: Counter[str]) -> dict[str, str]:
    meaning = {word: ours for ours, words in VALUES["kind"].items() for word in words}
    return {code: meaning[fold(code)] for code in bracketed(counts) if fold(code) in meaning}


def _added(many: Any) -> Counter[str]:
    total: Counter[str] = Counter()
    for counts in many:
        total.update(counts)
    return total


def _measurables(look: Look, columns: dict[str, int]) -> list[Guess]:
    if "player" not in columns:
        return []
    if {"test", "value"} <= set(columns):
        return [_long_measurables(look, columns)]
    tests = test_columns(look)
    if not tests or ("play" in fields_of("grades", look)):
        return []
    plain = {name: n for name, n in columns.items() if name not in {"test", "value"} and n not in tests}
    found = []
    timings = {n: _timing(look.headings[n]) for n in tests}
    for how in sorted(set(timings.values())):
        mine = {n: test for n, test in tests.items() if timings[n] == how}
        source = _base("measurables", look, plain)
        source["shape"] = "wide"
        source["tests"] = {look.headings[n]: test for n, test in mine.items()}
        if how and "timing" not in plain:
            source["constants"] = {"timing": how}
        units = {
            test: unit.group(1)
            for n, test in mine.items()
            if (unit := _UNIT_IN_HEADING.search(fold(look.headings[n])))
        }
        if units:
            source["units"] = units
        found.append(_finish("measurables", look, plain, source, []))
    return found


def _long_measurables(look: Look, columns: dict[str, int]) -> Guess:
    source = _base("measurables", look, columns)
    written = [text for text in look.counts(columns["test"]) if text]
    tests = {text: test for text in sorted(written) if (test := test_of(text))}
    words = {text: test for text, test in tests.items() if plain_id(text) != test}
    if words:
        source["values"] = {"test": words}
    unknown = sorted(set(written) - set(tests))
    doubts = [f"which test is {', '.join(unknown[:4])}?"] if unknown else []
    return _finish("measurables", look, columns, source, doubts)


def _timing(heading: str) -> str:
    found = _TIMED.search(fold(heading))
    return "" if found is None or test_is_length(heading) else _HOW_TIMED[found.group(1) or found.group(2)]


def test_is_length(heading: str) -> bool:
    """Return whether `hand` in a heading is a part of the body."""
    return words_of(heading) in {"hand", "hand size", "hands"}


def _opened(counts: Counter[str]) -> Counter[str]:
    """Return the marks that packed cells hold one by one; what is not packed stays as it is."""
    single: Counter[str] = Counter()
    for text, times in counts.items():
        for mark in unpacked(text) or (text,):
            single[mark] += times
    return single


def _across(look: Look, around: Around) -> list[Guess]:
    """Return a guess at players across and plays down."""
    over = [n for n, parts in enumerate(look.parts) if any(_person(part, around.people) for part in parts)]
    if len(over) < 3 or len(over) < 0.4 * len(look.headings):
        return []
    columns = {name: n for name, n in fields_of("grades", look).items() if name in {"play", "game", "rater"}}
    if "play" not in columns:
        return []
    counts = _added(look.counts(n) for n in over)
    kind = "grades" if mark_share(counts) > 0.8 or packed_length(counts) else "roles"
    source = _base(kind, look, columns)
    source["shape"] = "across"
    inner = tuple(dict.fromkeys(look.leaf(n) for n in over if not _person(look.leaf(n), around.people)))
    rest = [n for n in range(len(look.headings)) if n not in over and n not in columns.values()]
    if rest:
        source["ignore_columns"] = [look.headings[n] for n in rest if look.headings[n]]
    if kind == "roles":
        sessions, where, told = _sessions(look, columns, source, around)
        return [_finish(kind, look, columns, source, told, sessions=sessions, where=where)]
    doubts = [] if inner else ["one mark a player and play: which criterion is it?"]
    length = packed_length(counts)
    if length > 1:
        source["packed"] = [*("assignment", "technique", "effort")[:length]]
        inner = tuple(source["packed"])
        doubts = [f"{length} marks in a cell: which criteria, in this order?"]
        source["events_in_marks"] = _event_codes(counts)
        counts = _opened(counts)
    return [_marked(look, columns, source, doubts, around, counts, tuple((name, "") for name in inner))]


def _person(text: str, people: Collection[str]) -> bool:
    said = fold(text)
    return bool(said) and any(
        one in people for one in (said, said.removeprefix("#"), _NUMBERED.sub("", said))
    )
