"""All files of a season folder to raw tables; a file that cannot be read stops no other."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import pandas as pd

from lbeval.errors import SourceError
from lbeval.raw import Claim, Finding, RawSeason, RawTable, SheetAccount
from lbeval.read.answers import read_answers
from lbeval.read.columns import VALUE, find_layout
from lbeval.read.folder import StaffFile, copy_of, covers, locked_file, named, staff_files
from lbeval.read.notices import blind_notice, sheet_notices
from lbeval.read.remarks import markdown_remarks
from lbeval.read.shapes import claim_of, raw_rows
from lbeval.read.sheets import MARKDOWN, Sheet, read_sheets
from lbeval.settings import FIELDS, Rubric, SeasonSettings, Source
from lbeval.tables import LINEAGE

_CHANCE = 20
"""Fewer marks than this can be the same in two sheets by chance."""

Progress = Callable[[str, int, int], None]


def _silent(_what: str, _done: int, _total: int) -> None:
    """Show nothing."""


@dataclass(eq=False)
class _Reader:
    """Gathers what the files of a folder give."""

    settings: SeasonSettings
    frames: dict[int, list[pd.DataFrame]] = field(default_factory=dict)
    accounts: list[SheetAccount] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    contents: dict[str, str] = field(default_factory=dict)
    grids: dict[tuple[int, int], list[Sheet]] = field(default_factory=dict)

    @property
    def blocks(self) -> list[tuple[int, Source]]:
        return list(enumerate(self.settings.sources, 1))


def read_season_files(
    folder: Path, settings: SeasonSettings, rubric: Rubric, *, progress: Progress = _silent
) -> RawSeason:
    """Read every file of a season folder as its source block describes it, repairing nothing.

    Parameters
    ----------
    folder : the season folder; subfolders are read, `lbeval_out` is not.
    rubric : not looked at; every stage takes the same settings.
    progress : called with (what, done, total) after each file.
    """
    del rubric
    reader = _Reader(settings)
    files = staff_files(folder)
    for done, one in enumerate(files, 1):
        _read_file(reader, one, {f.file for f in files})
        progress("Reading files", done, len(files))
    _say_unmatched_blocks(reader, [one.file for one in files])
    answers, lost = read_answers(folder)
    tables = tuple(_table(number, source, reader.frames.get(number, [])) for number, source in reader.blocks)
    accounts = tuple(sorted(reader.accounts, key=lambda a: (a.file, a.sheet)))
    findings = tuple(sorted({*reader.findings, *lost}))
    return RawSeason(tables, accounts, findings, answers)


def _table(number: int, source: Source, frames: list[pd.DataFrame]) -> RawTable:
    columns = [*LINEAGE, *FIELDS[source.kind]]
    types = {name: "int64" if name in {"source_row", "source_column"} else "str" for name in columns}
    empty = pd.DataFrame(columns=columns).astype(types)
    return RawTable(number, source, pd.concat(frames, ignore_index=True) if frames else empty)


def _read_file(reader: _Reader, one: StaffFile, present: set[str]) -> None:
    if one.nature == "lock":
        message = f"{locked_file(one.file)} is open on some computer; what is not saved there is not in it"
        reader.findings.append(
            _finding(one.file, "notice", "lock_file", message, "save and close it, then run again")
        )
        return
    blocks = [(n, s) for n, s in reader.blocks if covers(s.files, one.file)]
    if any(s.kind == "leave_out" and "*" in s.sheets for _, s in blocks):
        reader.accounts += _left_out(one)
        return
    if one.nature != "readable":
        reader.findings.append(_unread(one))
        return
    try:
        sheets = _sheets(one, blocks)
    except SourceError as error:
        reader.findings.append(
            _finding(
                one.file,
                "set_aside",
                "unreadable_file",
                f"the file was not read: {error}",
                "the other files go on",
            )
        )
        return
    if not any(s.kind != "leave_out" for _, s in blocks):
        reader.findings.append(_undescribed(one.file))
        reader.accounts += [SheetAccount(one.file, sheet.name, sheet.filled) for sheet in sheets]
        return
    reader.findings += _copy_notice(one.file, present)
    reader.findings += blind_notice(sheets)
    twin = _twin(reader, one)
    for sheet in sheets:
        _read_sheet(reader, sheet, blocks, twin)


def _sheets(one: StaffFile, blocks: list[tuple[int, Source]]) -> tuple[Sheet, ...]:
    encoding = next((s.encoding for _, s in blocks if s.encoding), None)
    delimiter = next((s.delimiter for _, s in blocks if s.delimiter), None)
    return read_sheets(one.path, one.file, encoding=encoding, delimiter=delimiter)


def _left_out(one: StaffFile) -> Iterator[SheetAccount]:
    """Count the cells of a file that is declared not wanted, where it can be read."""
    if one.nature != "readable":
        return
    try:
        sheets = read_sheets(one.path, one.file)
    except SourceError:
        return
    for sheet in sheets:
        yield SheetAccount(one.file, sheet.name, sheet.filled, "leave_out", fate="left_out")


def _twin(reader: _Reader, one: StaffFile) -> str:
    """Return the file read before that holds the very same bytes, if any."""
    digest = hashlib.sha256(one.path.read_bytes()).hexdigest()
    return reader.contents.setdefault(digest, one.file) if reader.contents.get(digest) != one.file else ""


def _read_sheet(reader: _Reader, sheet: Sheet, blocks: list[tuple[int, Source]], twin: str) -> None:
    mine = [
        (n, s) for n, s in blocks if named(s.sheets, sheet.name) or (not sheet.name and s.sheets == ("*",))
    ]
    if any(s.kind == "leave_out" for _, s in mine):
        account = SheetAccount(sheet.file, sheet.name, sheet.filled, "leave_out", fate="left_out")
        reader.accounts.append(account)
        return
    if not mine:
        if sheet.n_rows:
            message = "no source block names this sheet; nothing of it was used"
            suggestion = "add it to the sheets of a block, or to a block of kind leave_out"
            reader.findings.append(
                _finding(sheet.file, "set_aside", "undescribed_sheet", message, suggestion, sheet=sheet.name)
            )
        reader.accounts.append(SheetAccount(sheet.file, sheet.name, sheet.filled))
        return
    mine, doubled = _apart(mine)
    for number, first in doubled:
        message = f"blocks {first} and {number} say the same of this file; it was read once"
        reader.findings.append(
            _finding(
                sheet.file, "notice", "block_twice", message, "delete one of the blocks", sheet=sheet.name
            )
        )
    found = [_apply(sheet, number, source) for number, source in mine]
    frames = {number: frame for number, frame, _, _, _ in found if frame is not None}
    same = _same_sheet(reader, sheet, twin, [(s, frames.get(n)) for n, s in mine])
    first_row = min((claim.first_row for _, _, claim, _, _ in found if claim is not None), default=1)
    reader.findings += sheet_notices(sheet, first_row)
    kind = " + ".join(dict.fromkeys(source.kind for _, source in mine))
    headings = next((tuple(h) for _, _, _, h, _ in found if h), ())
    if same:
        reader.findings.append(same)
        account = SheetAccount(sheet.file, sheet.name, sheet.filled, kind, headings, fate="set_aside")
        reader.accounts.append(account)
        return
    for number, frame in frames.items():
        reader.frames.setdefault(number, []).append(frame)
    for _, _, _, _, said in found:
        reader.findings += said
    claims = tuple(claim for _, _, claim, _, _ in found if claim is not None)
    fate: Literal["forgotten", "set_aside"] = "forgotten" if claims else "set_aside"
    account = SheetAccount(sheet.file, sheet.name, sheet.filled, kind, headings, claims, fate)
    reader.findings += _undescribed_columns(account)
    reader.accounts.append(account)


def _apart(
    blocks: list[tuple[int, Source]],
) -> tuple[list[tuple[int, Source]], list[tuple[int, int]]]:
    """Return blocks that say different things, and (number, earlier number) of those that do not."""
    kept: list[tuple[int, Source]] = []
    doubled: list[tuple[int, int]] = []
    for number, source in blocks:
        same = [
            n
            for n, s in kept
            if s.model_copy(update={"files": source.files, "sheets": source.sheets}) == source
        ]
        if same:
            doubled.append((number, same[0]))
        else:
            kept.append((number, source))
    return kept, doubled


_Applied = tuple[int, pd.DataFrame | None, Claim | None, list[str], list[Finding]]


def _apply(sheet: Sheet, number: int, source: Source) -> _Applied:
    """Return what block `number` makes of a sheet: rows, claim, headings, findings."""
    if source.kind == "remarks" and Path(sheet.file).suffix.lower() in MARKDOWN:
        frame, claim = markdown_remarks(sheet, number)
        return number, frame, claim, [], []
    layout = find_layout(sheet, source, number)
    if not layout.usable:
        return number, None, None, layout.headings, layout.findings
    return number, raw_rows(layout), claim_of(layout, number), layout.headings, layout.findings


def _same_sheet(
    reader: _Reader, sheet: Sheet, twin: str, rows: list[tuple[Source, pd.DataFrame | None]]
) -> Finding | None:
    """Return that another sheet holds the same cells, if both hold marks or entries."""
    if not any(_says_something(source, frame) for source, frame in rows):
        return None
    earlier = reader.grids.setdefault((sheet.n_rows, sheet.width), [])
    other = next((e for e in earlier if _same_content(e, sheet)), None)
    if other is None:
        earlier.append(sheet)
        return None
    where = f"{other.file}, sheet {other.name}" if other.name else other.file
    message = f"it holds the same as {where}; it was read once" + (
        "" if twin else ", though the files differ"
    )
    suggestion = "delete one of them, or export the right one again"
    return _finding(sheet.file, "set_aside", "same_content", message, suggestion, sheet=sheet.name)


def _says_something(source: Source, frame: pd.DataFrame | None) -> bool:
    if frame is None or frame.empty:
        return False
    value = VALUE.get(source.kind)
    if value is None:
        return True
    # where the name tells the session or player, a few marks alike can be chance
    least = _CHANCE if {"sheet", "file"} & set(source.take.values()) else 1
    return int((frame[value] != "").sum()) >= least


def _same_content(one: Sheet, other: Sheet) -> bool:
    same_place = one.file == other.file or one.name == other.name
    return same_place and bool(one.cells.equals(other.cells))


def _undescribed_columns(account: SheetAccount) -> Iterator[Finding]:
    claims = account.claims
    if not claims or any(claim.owner for claim in claims):
        return
    first = min(claim.first_row for claim in claims)
    known = {
        column for c in claims for column in (*c.fields.values(), *c.marks, *c.left_columns, *c.aside_columns)
    }
    for column in range(1, account.filled.shape[1] + 1):
        count = int(account.filled[first - 1 :, column - 1].sum())
        if column not in known and count:
            heading = account.headings[column - 1] if column <= len(account.headings) else ""
            yield Finding(
                account.file,
                account.sheet,
                first - 1,
                column,
                heading,
                "notice",
                "column_not_described",
                f"no source block speaks of this column; cells not used: {count}",
                "add its heading to the block, or to ignore_columns",
            )


def _copy_notice(file: str, present: set[str]) -> Iterator[Finding]:
    name = copy_of(file)
    folder = file.rpartition("/")[0]
    original = f"{folder}/{name}" if folder else name
    if name and original in present:
        message = f"by its name it is a copy of {original}; both were read"
        yield _finding(
            file, "notice", "copy_of_file", message, "delete the one that is not meant, or leave it out"
        )


def _unread(one: StaffFile) -> Finding:
    what = "photos and scans" if one.nature == "photo" else f"files ending in {one.path.suffix or 'nothing'}"
    message = f"{what} cannot be read; nothing of it was used"
    suggestion = (
        "type what it holds into a sheet with a row a mark (player, game, play, criterion, mark), "
        "or name it in a block of kind leave_out"
    )
    return _finding(one.file, "set_aside", "unread_file", message, suggestion)


def _undescribed(file: str) -> Finding:
    message = "no source block covers this file; nothing of it was used"
    suggestion = "run `lbeval start` to describe it, or name it in a block of kind leave_out"
    return _finding(file, "set_aside", "undescribed_file", message, suggestion)


def _say_unmatched_blocks(reader: _Reader, files: list[str]) -> None:
    for number, source in reader.blocks:
        for pattern in source.files:
            if not any(covers((pattern,), file) for file in files):
                message = (
                    f"block {number} of season.toml names {pattern!r}, but no such file is in the folder"
                )
                suggestion = "put the file there, or correct the name (subfolders count: grades/*.csv)"
                reader.findings.append(_finding(pattern, "notice", "no_such_file", message, suggestion))


def _finding(
    file: str,
    kind: Literal["set_aside", "notice"],
    reason: str,
    message: str,
    suggestion: str,
    *,
    sheet: str = "",
) -> Finding:
    return Finding(file, sheet, 0, 0, "", kind, reason, message, suggestion)
