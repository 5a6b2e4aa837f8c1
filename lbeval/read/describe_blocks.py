"""Sheets that are written alike, joined to source blocks that cover many files."""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from lbeval.errors import SourceError
from lbeval.read.describe_fields import Around, Guess
from lbeval.read.describe_kinds import as_kind, guess_sheet
from lbeval.read.describe_look import Look, look_at
from lbeval.read.describe_marks import ScaleGuess, guess_scale
from lbeval.read.describe_words import words_of
from lbeval.read.folder import StaffFile, copy_of, covers, named, staff_files
from lbeval.read.sheets import MARKDOWN, Sheet, read_sheets
from lbeval.settings import KINDS
from lbeval.spelling import fold

_ORDER = {kind: place for place, kind in enumerate(("roster", "plays", "roles", *KINDS))}


@dataclass(frozen=True, eq=False)
class Block:
    """A source block as proposed: one line of the table that is shown.

    Attributes
    ----------
    files : patterns, as the settings take them; `covers` the files they stand for today.
    kind : of the settings; empty where it was not recognised.
    source : the block's other keys, without rater, scale and criteria.
    doubts : why it is unsure.
    usable : whether it could stand in the settings.
    """

    files: tuple[str, ...]
    covers: tuple[str, ...]
    sheets: tuple[str, ...]
    kind: str
    source: dict[str, Any] = field(default_factory=dict)
    criteria: tuple[tuple[str, str], ...] = ()
    faults: tuple[str, ...] = ()
    coaches: tuple[str, ...] = ()
    marks: Counter[str] = field(default_factory=Counter)
    scale: ScaleGuess | None = None
    sessions: tuple[str, ...] = ()
    where: str = ""
    n_rows: int = 0
    doubts: tuple[str, ...] = ()
    look: Look | None = None
    n_sheets: int = 1

    @property
    def sure(self) -> bool:
        return not self.doubts

    @property
    def usable(self) -> bool:
        return bool(self.kind) and (self.kind != "grades" or (self.scale is not None and bool(self.criteria)))

    @property
    def many_coaches(self) -> bool:
        return "rater" in self.source.get("columns", {})


def find_blocks(
    folder: Path, already: Sequence[str], progress: Callable[[str, int, int], None]
) -> tuple[Block, ...]:
    """Return what the files of `folder` seem to be, files of the patterns `already` left out."""
    staff = [one for one in staff_files(folder) if one.nature != "lock"]
    new = [one for one in staff if not covers(already, one.file)]
    contents: dict[str, str] = {}
    sheets: dict[str, tuple[Sheet, ...]] = {}
    blocks: list[Block] = []
    for done, one in enumerate(new, 1):
        twin = contents.setdefault(_digest(one), one.file)
        if one.nature != "readable":
            blocks.append(_odd(one.file, "", "it cannot be read; type it into a sheet, a row a mark"))
        elif twin != one.file:
            blocks.append(_odd(one.file, "leave_out", "", where=f"the same as {twin}"))
        elif _is_copy(one, staff):
            blocks.append(_odd(one.file, "leave_out", f"by its name a copy of {copy_of(one.file)}"))
        else:
            found = _read(one)
            if isinstance(found, Block):
                blocks.append(found)
            else:
                sheets[one.file] = found
        progress("Looking at files", done, len(new))
    blocks += _join(_guesses(sheets), sheets, [one.file for one in staff])
    return tuple(sorted(blocks, key=lambda b: (_ORDER.get(b.kind, 99), b.files)))


def _digest(one: StaffFile) -> str:
    """Return what two files with the same content share; for one that cannot be opened, its name."""
    try:
        return hashlib.sha256(one.path.read_bytes()).hexdigest()
    except OSError:
        return one.file


def _odd(file: str, kind: str, doubt: str, *, where: str = "") -> Block:
    return Block((literal(file),), (file,), ("*",), kind, where=where, doubts=(doubt,) if doubt else ())


def _is_copy(one: StaffFile, staff: Iterable[StaffFile]) -> bool:
    name = copy_of(one.file)
    return bool(name) and any(other.file == str(Path(one.file).with_name(name).as_posix()) for other in staff)


def _read(one: StaffFile) -> tuple[Sheet, ...] | Block:
    try:
        return tuple(sheet for sheet in read_sheets(one.path, one.file) if sheet.n_rows)
    except SourceError as error:
        return _odd(one.file, "", str(error))


def _guesses(sheets: dict[str, tuple[Sheet, ...]]) -> list[Guess]:
    looks = {(s.file, s.name): look_at(s) for many in sheets.values() for s in many}
    around = Around()
    for look in looks.values():
        around = _learnt(around, look) if look else around
    found: list[Guess] = []
    for many in sheets.values():
        here = replace(around, n_sheets=len(many))
        for sheet in many:
            look = looks[sheet.file, sheet.name]
            if Path(sheet.file).suffix.lower() in MARKDOWN:
                found.append(_markdown(sheet))
                continue
            seen = guess_sheet(look, here) if look else []
            none = Guess(sheet.file, sheet.name, "", look, doubts=("not recognised",), n_rows=sheet.n_rows)
            found += seen or [none]
    return found


def _learnt(around: Around, look: Look) -> Around:
    """Return `around` with the people of a roster, or the sessions of a clip list."""
    people, sessions = set(around.people), set(around.sessions)
    for guess in (*as_kind("roster", look, Around()), *as_kind("plays", look, Around())):
        columns = guess.source.get("columns", {})
        texts = {name: look.counts(look.headings.index(heading)) for name, heading in columns.items()}
        if guess.kind == "roster":
            for name in map(fold, texts["name"]):
                people |= {name, name.split(",")[0], name.split(" ")[-1]}
            people |= set(map(fold, texts.get("jersey", ())))
        elif guess.kind == "plays":
            sessions |= {words_of(text) for name in ("game", "opponent") for text in texts.get(name, ())}
    return Around(1, frozenset(people - {""}), frozenset(sessions - {""}))


def _markdown(sheet: Sheet) -> Guess:
    headings = sum(1 for row in sheet.rows() if row and re.match(r"#\s", row[0]))
    doubts = () if headings else ("no line `# Player` says whom the words are about",)
    return Guess(sheet.file, "", "remarks", None, {"kind": "remarks"}, n_rows=headings, doubts=doubts)


def _join(
    guesses: Sequence[Guess], sheets: dict[str, tuple[Sheet, ...]], files: Sequence[str]
) -> list[Block]:
    groups: dict[str, list[Guess]] = {}
    for guess in _second_looks(guesses):
        groups.setdefault(_likeness(guess), []).append(guess)
    return [_block(group, sheets, files) for group in groups.values()]


def _second_looks(guesses: Sequence[Guess]) -> list[Guess]:
    """Return `guesses`; sheets of a workbook that give a session again under another initial are repeats."""
    first: dict[tuple[str, str], str] = {}
    found = []
    for guess in guesses:
        told = "look" in {**guess.source.get("columns", {}), **guess.source.get("constants", {})}
        initials = re.split(r"[\d ]", guess.sheet)[0]
        key = (guess.file, guess.sessions[0] if len(guess.sessions) == 1 else "")
        taken = guess.source.get("take", {}).get("game", "")
        plain = guess.kind != "grades" or told or not key[1] or not taken.startswith("cell")
        if plain or first.setdefault(key, initials) == initials:
            found.append(guess)
        else:
            constants = {**guess.source.get("constants", {}), "look": "repeat"}
            doubts = (*guess.doubts, "the same sessions again: marks given a second time?")
            found.append(replace(guess, source={**guess.source, "constants": constants}, doubts=doubts))
    return found


def _likeness(guess: Guess) -> str:
    """Return what two sheets must share to be covered by one block."""
    if not guess.kind:
        return f"{guess.file}\n{guess.sheet}"
    keys = (
        "kind",
        "shape",
        "heading_row",
        "heading_rows",
        "columns",
        "take",
        "constants",
        "numbering",
        "tests",
    )
    same: dict[str, Any] = {key: guess.source.get(key) for key in (*keys, "packed", "units")}
    same["suffix"] = Path(guess.file).suffix.lower()
    if guess.look is None:
        same["doubts"] = guess.doubts
    if guess.source.get("shape") == "wide":
        same["criteria"] = guess.criteria
    if "rater" not in guess.source.get("columns", {}):
        same["coaches"] = guess.coaches
    return json.dumps(same, sort_keys=True)


def _block(group: list[Guess], sheets: dict[str, tuple[Sheet, ...]], files: Sequence[str]) -> Block:
    first = group[0]
    covered = tuple(dict.fromkeys(guess.file for guess in group))
    marks: Counter[str] = Counter()
    for guess in group:
        marks.update(guess.marks)
    scale = guess_scale(marks) if first.kind == "grades" else None
    doubts = list(dict.fromkeys(doubt for guess in group for doubt in guess.doubts))
    return Block(
        file_patterns(covered, files),
        covered,
        _sheet_patterns(group, sheets),
        first.kind,
        _merged([guess.source for guess in group]),
        criteria=tuple(dict.fromkeys(one for guess in group for one in guess.criteria)),
        faults=tuple(sorted({one for guess in group for one in guess.faults})),
        coaches=tuple(dict.fromkeys(one for guess in group for one in guess.coaches)),
        marks=marks,
        scale=scale,
        sessions=tuple(dict.fromkeys(one for guess in group for one in guess.sessions)),
        where=first.where,
        n_rows=sum(guess.n_rows for guess in group),
        doubts=(*doubts, *scale_doubts(first.kind, scale)),
        look=first.look,
        n_sheets=len(sheets[first.file]),
    )


def scale_doubts(kind: str, scale: ScaleGuess | None) -> list[str]:
    """Return what has to be asked about a scale."""
    if kind != "grades":
        return []
    if scale is None:
        return ["what marks are these?"]
    doubts = [f"does {text!r} mean {dict(scale.blanks)[text].replace('_', ' ')}?" for text in scale.likely]
    if not scale.sure:
        odd = f" (also there: {', '.join(scale.unknown[:4])})" if scale.unknown else ""
        doubts.append(f"is {scale.shown} the whole scale?{odd}")
    return doubts


def _merged(sources: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return one block's keys for sheets that are alike: words and rows to ignore are put together."""
    merged = dict(sources[0])
    for source in sources[1:]:
        for field_name, words in source.get("values", {}).items():
            merged["values"] = {**merged.get("values", {})}
            merged["values"][field_name] = {**merged["values"].get(field_name, {}), **words}
        if "events_in_marks" in source:
            merged["events_in_marks"] = {**merged.get("events_in_marks", {}), **source["events_in_marks"]}
        for key in ("ignore_rows", "ignore_columns"):
            if key in source:
                merged[key] = sorted({*merged.get(key, []), *source[key]})
    return merged


def _sheet_patterns(group: list[Guess], sheets: dict[str, tuple[Sheet, ...]]) -> tuple[str, ...]:
    """Return `*` where every sheet of these files is meant, else names, shortened where one pattern fits."""
    mine = {(guess.file, guess.sheet) for guess in group}
    covered = {guess.file for guess in group}
    every = {(s.file, s.name) for file in covered for s in sheets[file]}
    if mine == every:
        return ("*",)
    names = sorted({name for _, name in mine})
    others = {name for _, name in every} - set(names)
    return _shortened(names, lambda pattern: not any(named((pattern,), other) for other in others))


def file_patterns(covered: Collection[str], files: Sequence[str]) -> tuple[str, ...]:
    """Return patterns for `covered` that match no other of `files`: one for each folder and ending."""
    by_place: dict[tuple[str, str], list[str]] = {}
    for file in covered:
        by_place.setdefault((str(Path(file).parent.as_posix()), Path(file).suffix.lower()), []).append(file)
    others = [file for file in files if file not in covered]
    found: list[str] = []
    for place in sorted(by_place):
        found += _shortened(by_place[place], lambda p: not any(covers((p,), other) for other in others))
    return tuple(found)


def _shortened(names: list[str], fits: Callable[[str], bool]) -> tuple[str, ...]:
    """Return a pattern of the beginning and end that `names` share if it fits, else the names."""
    if len(names) > 1:
        start = _common(names).rstrip("0123456789")
        end = _common([name[len(start) :][::-1] for name in names])[::-1].lstrip("0123456789")
        pattern = f"{literal(start)}*{literal(end)}"
        if fits(pattern) and (start.rpartition("/")[2] or end.partition(".")[0]):
            return (pattern,)
    return tuple(sorted(literal(name) for name in names))


def _common(names: Sequence[str]) -> str:
    """Return the beginning that all `names` share."""
    first, last = min(names), max(names)
    length = next(
        (n for n, pair in enumerate(zip(first, last, strict=False)) if pair[0] != pair[1]), len(first)
    )
    return first[:length]


def literal(name: str) -> str:
    """Return a pattern that matches `name` alone."""
    return re.sub(r"([\[*?])", r"[\1]", name)
