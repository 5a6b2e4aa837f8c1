"""`start.xlsx`: the table of `lbeval start` as a sheet to correct, and back."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import xlsxwriter

from lbeval.errors import SettingsError, SourceError
from lbeval.files import write_bytes_atomic
from lbeval.read.describe_blocks import Block
from lbeval.read.describe_proposal import Proposal, corrected, joined
from lbeval.read.sheets import Sheet, read_sheets
from lbeval.settings import FIELDS, KINDS
from lbeval.spelling import fold

BOOK = "start.xlsx"
_FILES = ("Line", "Files", "What it is", "Coach", "Sessions", "Scale", "Rows", "Unsure")
_COLUMNS = ("Line", "Heading", "Is", "For example")
_MARKS = ("Line", "As written", "Means")
_MISSING = ("did not occur", "not graded", "ungradable")
_SEASON = ("Question", "Answer")
_READY = "Is everything right? Write yes"
_AGAIN = "delete it and run `lbeval start --sheet` again"
_MARK, _NOT_WANTED, _NOTHING = "a mark", "not wanted", ""


def write_book(folder: Path, proposal: Proposal, questions: Sequence[tuple[str, ...]]) -> Path:
    """Write `start.xlsx` into `folder`: files, columns, marks, questions; cells to change are coloured.

    Raises
    ------
    ReportError
        If it is open elsewhere.
    """
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    styles = {
        "head": book.add_format({"bold": True, "bottom": 1}),
        "edit": book.add_format({"bg_color": "#FFF4D6", "border": 1, "border_color": "#D0C090"}),
        "text": book.add_format({"text_wrap": True, "valign": "top"}),
    }
    _files_tab(book, styles, proposal)
    _columns_tab(book, styles, proposal)
    _marks_tab(book, styles, proposal)
    _season_tab(book, styles, questions)
    book.close()
    return write_bytes_atomic(folder / BOOK, buffer.getvalue())


def _tab(book: Any, styles: dict[str, Any], name: str, headings: Sequence[str], widths: Sequence[int]) -> Any:
    tab = book.add_worksheet(name)
    tab.freeze_panes(1, 0)
    for n, (heading, width) in enumerate(zip(headings, widths, strict=True)):
        tab.set_column(n, n, width)
        tab.write_string(0, n, heading, styles["head"])
    return tab


def _files_tab(book: Any, styles: dict[str, Any], proposal: Proposal) -> None:
    tab = _tab(book, styles, "Files", _FILES, (6, 44, 16, 22, 28, 10, 9, 60))
    table = proposal.table
    for n, row in enumerate(table.itertuples(index=False), 1):
        tab.write_number(n, 0, float(str(row.line)))
        tab.write_string(n, 1, str(row.files), styles["text"])
        tab.write_string(n, 2, str(row.kind), styles["edit"])
        tab.write_string(n, 3, str(row.coach), styles["edit"])
        tab.write_string(n, 4, str(row.sessions))
        tab.write_string(n, 5, str(row.scale))
        tab.write_number(n, 6, float(str(row.rows)))
        tab.write_string(n, 7, str(row.why), styles["text"])
    tab.data_validation(
        1, 2, max(len(table), 1), 2, {"validate": "list", "source": [*KINDS, "not recognised"]}
    )


def _columns_tab(book: Any, styles: dict[str, Any], proposal: Proposal) -> None:
    tab = _tab(book, styles, "Columns", _COLUMNS, (6, 40, 22, 50))
    n = 0
    for line, block in enumerate(proposal.blocks, 1):
        if block.look is None or not block.kind or block.kind == "leave_out":
            continue
        choices = [*FIELDS[block.kind], _NOT_WANTED, *([_MARK] if block.kind == "grades" else [])]
        for column, heading in enumerate(block.look.headings):
            if not heading:
                continue
            n += 1
            seen = [text for text in block.look.counts(column) if text][:6]
            tab.write_number(n, 0, line)
            tab.write_string(n, 1, heading, styles["text"])
            tab.write_string(n, 2, _meaning(block, heading), styles["edit"])
            tab.write_string(n, 3, ", ".join(seen)[:200], styles["text"])
            tests = block.source.get("tests", {})
            if heading not in tests:
                tab.data_validation(
                    n, 2, n, 2, {"validate": "list", "source": choices, "error_type": "warning"}
                )


def _meaning(block: Block, heading: str) -> str:
    named = [name for name, one in block.source.get("columns", {}).items() if one == heading]
    if named:
        return str(named[0])
    if heading in block.source.get("tests", {}):
        return f"test {block.source['tests'][heading]}"
    if heading in block.source.get("ignore_columns", []):
        return _NOT_WANTED
    return _MARK if block.source.get("shape") == "wide" and heading in dict(block.criteria) else _NOTHING


def _marks_tab(book: Any, styles: dict[str, Any], proposal: Proposal) -> None:
    tab = _tab(book, styles, "Marks", _MARKS, (6, 20, 22))
    n = 0
    for line, block in enumerate(proposal.blocks, 1):
        blanks = block.scale.blanks if block.scale else ()
        unknown = block.scale.unknown if block.scale else ()
        for text, kind in (*blanks, *((text, "") for text in unknown)):
            if text:
                n += 1
                tab.write_number(n, 0, line)
                tab.write_string(n, 1, text)
                tab.write_string(n, 2, kind.replace("_", " "), styles["edit"])
    tab.data_validation(1, 2, max(n, 1), 2, {"validate": "list", "source": list(_MISSING)})


def _season_tab(book: Any, styles: dict[str, Any], questions: Sequence[tuple[str, ...]]) -> None:
    tab = _tab(book, styles, "Season", _SEASON, (80, 50))
    for n, (_key, text, default) in enumerate(questions, 1):
        tab.write_string(n, 0, text, styles["text"])
        tab.write_string(n, 1, default, styles["edit"])
    last = len(questions) + 1
    tab.write_string(last, 0, _READY)
    tab.write_string(last, 1, "", styles["edit"])
    tab.data_validation(last, 1, last, 1, {"validate": "list", "source": ["yes", "no"]})


def read_book(
    folder: Path, proposal: Proposal, questions: Sequence[tuple[str, ...]]
) -> tuple[Proposal, dict[str, str]] | None:
    """Return the proposal as corrected in `start.xlsx` and the answers; None if it is not marked as right.

    Raises
    ------
    SourceError
        If the file cannot be read, or is of another set of files.
    SettingsError
        If a correction cannot be used, with its line.
    """
    try:
        tabs = {sheet.name: sheet for sheet in read_sheets(folder / BOOK, BOOK)}
    except SourceError as error:
        msg = f"{BOOK}: {error}"
        raise SourceError(msg) from None
    if not {"Files", "Columns", "Marks", "Season"} <= set(tabs):
        msg = f"{BOOK} has lost a sheet; {_AGAIN}"
        raise SourceError(msg)
    given = {fold(row["Question"]): row["Answer"] for row in _rows(tabs["Season"], _SEASON)}
    if fold(given.get(fold(_READY), "")) != "yes":
        return None
    blocks = list(proposal.blocks)
    meanings: dict[int, dict[str, str]] = {}
    for row in _rows(tabs["Columns"], _COLUMNS):
        meanings.setdefault(_number(row["Line"]), {})[row["Heading"]] = fold(row["Is"])
    for row, shown in zip(_rows(tabs["Files"], _FILES), proposal.table.itertuples(index=False), strict=False):
        line = _number(row["Line"])
        if line != shown.line or row["Files"] != shown.files:
            msg = f"{BOOK} is about other files than there are now; {_AGAIN}"
            raise SourceError(msg)
        blocks[line - 1] = _corrected(line, blocks[line - 1], row, str(shown.coach), meanings.get(line, {}))
    for row in _rows(tabs["Marks"], _MARKS):
        line = _number(row["Line"])
        if row["Means"] and 1 <= line <= len(blocks) and blocks[line - 1].scale is not None:
            blocks[line - 1] = corrected(blocks[line - 1], f"{row['As written']} is {row['Means']}")
    answers = {key: given.get(fold(text), "") or default for key, text, default in questions}
    changed = joined(proposal, tuple(blocks))
    if changed.graders != proposal.graders and answers.get("graders") == ", ".join(proposal.graders):
        answers["graders"] = ", ".join(changed.graders)
    return changed, answers


def _corrected(line: int, block: Block, row: dict[str, str], coach: str, meaning: dict[str, str]) -> Block:
    try:
        if row["What it is"] != (block.kind or "not recognised"):
            return corrected(block, row["What it is"])
        if row["Coach"] != coach and row["Coach"]:
            block = corrected(block, f"coach {row['Coach']}")
        return _with_columns(block, meaning)
    except SettingsError as error:
        msg = f"{BOOK}, line {line}: {error}"
        raise SettingsError(msg) from None


def _with_columns(block: Block, meaning: dict[str, str]) -> Block:
    """Return `block` with its columns as the sheet says."""
    if block.look is None or all(_meaning(block, heading) == word for heading, word in meaning.items()):
        return block
    fields = FIELDS[block.kind]
    odd = [word for word in meaning.values() if not _known(word, fields)]
    if odd:
        choices = ", ".join((*fields, _NOT_WANTED))
        msg = f"{odd[0]!r} is nothing a column of {block.kind} can be; one of {choices}"
        raise SettingsError(msg)
    source = dict(block.source)
    source["columns"] = {word: heading for heading, word in meaning.items() if word in fields}
    tests = {h: word.removeprefix("test ") for h, word in meaning.items() if word.startswith("test ")}
    source |= {"tests": tests} if tests else {}
    unwanted = [heading for heading, word in meaning.items() if word == _NOT_WANTED]
    source["ignore_columns"] = unwanted
    groups = {heading: block.look.group(n) for n, heading in enumerate(block.look.headings)}
    marks = tuple((heading, groups[heading]) for heading, word in meaning.items() if word == _MARK)
    return replace(block, source=source, criteria=marks or block.criteria)


def _known(word: str, fields: Sequence[str]) -> bool:
    return word in {*fields, _NOT_WANTED, _MARK, _NOTHING} or word.startswith("test ")


def _rows(sheet: Sheet, headings: Sequence[str]) -> list[dict[str, str]]:
    """Return the rows of a sheet by its headings, wherever they stand; wholly empty rows left out."""
    rows = sheet.rows()
    said = [fold(text) for text in rows[0]] if rows else []
    places = {heading: said.index(fold(heading)) for heading in headings if fold(heading) in said}
    if len(places) < len(headings):
        msg = f"{BOOK}, sheet {sheet.name}: a heading is missing; {_AGAIN}"
        raise SourceError(msg)
    return [{heading: row[n] for heading, n in places.items()} for row in rows[1:] if any(row)]


def _number(text: str) -> int:
    return int(text) if text.isdigit() else 0
