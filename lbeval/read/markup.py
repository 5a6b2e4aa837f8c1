"""What calamine does not tell of a workbook: percent formats, colours, strikethrough, notes, hidden rows."""

from __future__ import annotations

import posixpath
import re
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from xml.parsers import expat

from lbeval.errors import SourceError

MAX_UNPACKED = 1_500_000_000
"""Bytes a workbook may unpack to; a real season's is under a hundredth."""

_REFERENCE = re.compile(r"([A-Z]{1,3})(\d{1,7})")
_BUILT_IN_PERCENT = {9, 10}


@dataclass(eq=False)
class Markup:
    """What a sheet shows beside its values; (row, column) count from 1.

    `rows` and `columns` are how far cells with a value reach; `unseen` is the text of cells that a
    reader of values leaves empty: errors (`#REF!`), and formulas without a stored value (`=A1+B1`).
    """

    percent: set[tuple[int, int]] = field(default_factory=set)
    filled: list[tuple[int, int]] = field(default_factory=list)
    struck: list[tuple[int, int]] = field(default_factory=list)
    notes: list[tuple[int, int, str]] = field(default_factory=list)
    unseen: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[int] = field(default_factory=list)
    rows: int = 0
    columns: int = 0


def check_size(archive: zipfile.ZipFile) -> None:
    """Refuse an archive that unpacks to more than any staff's workbook holds.

    Raises
    ------
    SourceError
        With the size it claims.
    """
    size = sum(entry.file_size for entry in archive.infolist())
    if size > MAX_UNPACKED:
        msg = f"it unpacks to {size / 1e6:,.0f} MB, which no sheet of a season does; it was not opened"
        raise SourceError(msg)


def xlsx_markup(archive: zipfile.ZipFile) -> dict[str, Markup]:
    """Return the markup of every sheet of an XLSX or XLSM, by sheet name.

    Raises
    ------
    SourceError
        If the archive is not a whole workbook.
    """
    try:
        styles = _styles(archive)
        return {name: _sheet(archive, path, styles) for name, path in _sheet_paths(archive).items()}
    except (
        KeyError,
        ValueError,
        expat.ExpatError,
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
    ) as error:
        msg = f"it is damaged ({error}); open it in the program that wrote it and save it again"
        raise SourceError(msg) from None


def parse_xml(
    archive: zipfile.ZipFile,
    path: str,
    start: Callable[[str, dict[str, str]], None],
    end: Callable[[str], None] | None = None,
    text: Callable[[str], None] | None = None,
) -> None:
    """Feed a part of an archive through expat; names come without their prefix, entities are refused."""
    parser = expat.ParserCreate()
    parser.buffer_text = True

    def refuse(*_: Any) -> None:
        msg = "it defines entities of its own"
        raise ValueError(msg)

    parser.EntityDeclHandler = refuse
    parser.StartElementHandler = lambda name, attributes: start(name.rpartition(":")[2], attributes)
    if end is not None:
        parser.EndElementHandler = lambda name: end(name.rpartition(":")[2])
    if text is not None:
        parser.CharacterDataHandler = text
    unpacked = 0
    with archive.open(path) as stream:
        while block := stream.read(1 << 20):
            unpacked += len(block)
            if unpacked > MAX_UNPACKED:
                msg = "it unpacks to more than it says"
                raise ValueError(msg)
            parser.Parse(block, False)  # noqa: FBT003
    parser.Parse(b"", True)  # noqa: FBT003


def _relations(archive: zipfile.ZipFile, part: str) -> list[tuple[str, str, str]]:
    """Return (id, kind, path) of what `part` points to."""
    folder, name = posixpath.split(part)
    path = posixpath.join(folder, "_rels", name + ".rels")
    found: list[tuple[str, str, str]] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        if tag == "Relationship":
            target = attributes.get("Target", "")
            whole = target.lstrip("/") if target.startswith("/") else posixpath.join(folder, target)
            kind = attributes.get("Type", "").rpartition("/")[2]
            found.append((attributes.get("Id", ""), kind, posixpath.normpath(whole)))

    if path in archive.namelist():
        parse_xml(archive, path, start)
    return found


def _sheet_paths(archive: zipfile.ZipFile) -> dict[str, str]:
    book = next(
        (path for _, kind, path in _relations(archive, "") if kind == "officeDocument"), "xl/workbook.xml"
    )
    paths = {key: path for key, kind, path in _relations(archive, book) if kind == "worksheet"}
    found: dict[str, str] = {}

    def start(tag: str, attributes: dict[str, str]) -> None:
        if tag == "sheet":
            key = next((v for k, v in attributes.items() if k.rpartition(":")[2] == "id"), "")
            if key in paths:
                found[attributes["name"]] = paths[key]

    parse_xml(archive, book, start)
    return found


@dataclass(eq=False)
class _Styles:
    """Cell formats by number that mean percent, a fill of its own, struck through."""

    percent: set[int] = field(default_factory=set)
    filled: set[int] = field(default_factory=set)
    struck: set[int] = field(default_factory=set)


class _StyleReader:
    def __init__(self) -> None:
        self.styles = _Styles()
        self.percent_formats = set(_BUILT_IN_PERCENT)
        self.struck_fonts: list[bool] = []
        self.solid_fills: list[bool] = []
        self.inside: list[str] = []
        self.formats = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        within = self.inside[-1] if self.inside else ""
        self.inside.append(tag)
        if tag == "numFmt" and "%" in attributes.get("formatCode", ""):
            self.percent_formats.add(int(attributes["numFmtId"]))
        elif tag == "font" and within == "fonts":
            self.struck_fonts.append(False)
        elif tag == "strike" and within == "font" and "fonts" in self.inside:
            self.struck_fonts[-1] = attributes.get("val", "1") not in {"0", "false"}
        elif tag == "fill" and within == "fills":
            self.solid_fills.append(False)
        elif tag == "patternFill" and "fills" in self.inside:
            self.solid_fills[-1] = attributes.get("patternType", "none") not in {"none", "gray125"}
        elif tag == "gradientFill" and "fills" in self.inside:
            self.solid_fills[-1] = True
        elif tag == "fgColor" and "fills" in self.inside and _white(attributes):
            self.solid_fills[-1] = False
        elif tag == "xf" and within == "cellXfs":
            self._format(attributes)

    def _format(self, attributes: dict[str, str]) -> None:
        if int(attributes.get("numFmtId", 0)) in self.percent_formats:
            self.styles.percent.add(self.formats)
        if _at(self.solid_fills, attributes.get("fillId")):
            self.styles.filled.add(self.formats)
        if _at(self.struck_fonts, attributes.get("fontId")):
            self.styles.struck.add(self.formats)
        self.formats += 1

    def end(self, _: str) -> None:
        self.inside.pop()


def _white(color: dict[str, str]) -> bool:
    return color.get("rgb", "").upper() == "FFFFFFFF" or (color.get("theme") == "0" and "tint" not in color)


def _at(flags: list[bool], index: str | None) -> bool:
    number = int(index or 0)
    return number < len(flags) and flags[number]


def _styles(archive: zipfile.ZipFile) -> _Styles:
    reader = _StyleReader()
    if "xl/styles.xml" in archive.namelist():
        parse_xml(archive, "xl/styles.xml", reader.start, reader.end)
    return reader.styles


class _SheetReader:
    """Takes the events of one sheet's XML; hot: called for every cell."""

    def __init__(self, styles: _Styles) -> None:
        self.markup = Markup()
        self.styles = styles
        self.looks = {str(n) for n in styles.percent | styles.filled | styles.struck}
        self.row = 0
        self.column = 0
        self.formula = ""
        self.within = ""
        self.has_value = False
        self.failed = False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == "c":
            self._cell(attributes)
        elif tag == "row":
            self.row = int(attributes.get("r", self.row + 1))
            self.column = 0
            if attributes.get("hidden") in {"1", "true"}:
                self.markup.hidden_rows.append(self.row)
        elif tag in {"f", "v", "t"}:
            self.within = tag
            if tag == "f":
                self.formula = self.formula or "="
        elif tag == "col" and attributes.get("hidden") in {"1", "true"}:
            first, last = int(attributes["min"]), min(int(attributes["max"]), 16_384)
            self.markup.hidden_columns += range(first, last + 1)

    def _cell(self, attributes: dict[str, str]) -> None:
        place = _REFERENCE.fullmatch(attributes.get("r", ""))
        self.column = column_number(place[1]) if place else self.column + 1
        if place:
            self.row = int(place[2])
        self.formula, self.has_value = "", False
        self.failed = attributes.get("t") == "e"
        style = attributes.get("s")
        if style in self.looks:
            number, here = int(style), (self.row, self.column)
            if number in self.styles.percent:
                self.markup.percent.add(here)
            if number in self.styles.filled:
                self.markup.filled.append(here)
            if number in self.styles.struck:
                self.markup.struck.append(here)

    def text(self, data: str) -> None:
        if self.within == "f":
            self.formula += data
        elif self.within:
            self.has_value = True
            if self.failed:
                self.markup.unseen[self.row, self.column] = data

    def end(self, tag: str) -> None:
        if tag in {"f", "v", "t"}:
            self.within = ""
        elif tag == "c" and (self.has_value or self.formula):
            markup = self.markup
            markup.rows, markup.columns = max(markup.rows, self.row), max(markup.columns, self.column)
            if not self.has_value:
                shared = "=(a formula shared with other cells)"
                markup.unseen[self.row, self.column] = shared if self.formula == "=" else self.formula


def column_number(letters: str) -> int:
    """Return the number of a column's letters: A is 1, AA is 27."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def _sheet(archive: zipfile.ZipFile, path: str, styles: _Styles) -> Markup:
    reader = _SheetReader(styles)
    parse_xml(archive, path, reader.start, reader.end, reader.text)
    for _, kind, target in _relations(archive, path):
        if kind in {"comments", "threadedComment"} and target in archive.namelist():
            reader.markup.notes += _notes(archive, target)
    # a threaded note is stored a second time as a plain one: the first text of a cell is kept
    first = {(row, column): text for row, column, text in reversed(reader.markup.notes)}
    reader.markup.notes = sorted((row, column, text) for (row, column), text in first.items())
    return reader.markup


def _notes(archive: zipfile.ZipFile, path: str) -> list[tuple[int, int, str]]:
    found: list[tuple[int, int, str]] = []
    place: list[tuple[int, int]] = []
    words: list[str] = []
    inside: list[str] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        inside.append(tag)
        if tag in {"comment", "threadedComment"}:
            cell = _REFERENCE.fullmatch(attributes.get("ref", ""))
            place[:] = [(int(cell[2]), column_number(cell[1]))] if cell else []
            words.clear()

    def text(data: str) -> None:
        if place and inside and inside[-1] in {"t", "text"}:
            words.append(data)

    def end(tag: str) -> None:
        inside.pop()
        if tag in {"comment", "threadedComment"} and place:
            found.append((*place[0], " ".join("".join(words).split())))
            place.clear()

    parse_xml(archive, path, start, end, text)
    return found
