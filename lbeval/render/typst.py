"""Blocks written as Typst: calls of the template's functions, with all data in escaped string literals."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable, Iterable
from functools import cache
from importlib.resources import files
from typing import Any

from lbeval.report import blocks as b
from lbeval.report.glyphs import MISSING, covered, printable
from lbeval.report.parts import Block, Text, plain, runs
from lbeval.report.tables import Cell, DisplayTable, decimal_tail

_LOOKS = ("bold", "italic", "muted", "accent", "raised", "code")
_LONG_WORD = re.compile(r"\S{24,}")
_BREAK_EVERY = 8
_RUNNING_TITLE = 48
_FILE_TITLE = 200
_CHAR_REFERENCE = re.compile(r"&#(?:x([0-9a-fA-F]{1,8})|([0-9]{1,8}));")
TEXT_WIDTH = 6.5
_CHARS_PER_INCH = 16
_WIDE_CELL = 40
_LONG_HEADER = 120


def literal(text: str) -> str:
    """Write a string as a Typst string literal that prints as itself.

    What the fonts lack becomes a visible box, and words too long for a line get places to break.
    """
    return _quoted(_LONG_WORD.sub(_softened, printable(text)))


def _softened(word: re.Match[str]) -> str:
    held = word.group()
    return "\u200b".join(held[start : start + _BREAK_EVERY] for start in range(0, len(held), _BREAK_EVERY))


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def _one_line(text: str, limit: int) -> str:
    held = " ".join(printable(text).split())
    return _quoted(held if len(held) <= limit else held[: limit - 1] + "…")


def _run(run: b.Run) -> str:
    looks = "".join(f", {look}: true" for look in _LOOKS if getattr(run, look))
    return f"lb-run({literal(run.text)}{looks})" if looks else literal(run.text)


def _text(text: Text) -> str:
    return f"lb-text({', '.join(_run(run) for run in runs(text))})"


def _array(items: Iterable[str]) -> str:
    held = list(items)
    return f"({', '.join(held)},)" if held else "()"


@cache
def template() -> str:
    """Return the template that stands before every document."""
    return files("lbeval.render").joinpath("template.typ").read_text(encoding="utf-8")


def drawable_svg(svg: str) -> str:
    """Return SVG in which every character has a glyph; characters written by number are looked at too."""

    def checked(found: re.Match[str]) -> str:
        code = int(found.group(1), 16) if found.group(1) else int(found.group(2))
        return found.group() if code in covered() or code in {9, 10, 13} else MISSING

    return _CHAR_REFERENCE.sub(checked, printable(svg))


class Writer:
    """Writes the blocks of one document, in order.

    Keeps what a block must know of those around it, the heading level (none may be skipped) and the width
    there is, and gathers the pictures that go with the source as files.
    """

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}
        self._level = 1
        self._room = TEXT_WIDTH
        self._kinds: dict[type[Block], Callable[[Any], str]] = {
            b.Document: self._document,
            b.Heading: self._heading,
            b.Paragraph: self._paragraph,
            b.Alert: lambda x: f"lb-alert({literal(x.label)}, {_text(x.text)})",
            b.Facts: self._facts,
            b.Bullets: self._bullets,
            b.Stack: lambda x: self._joined(x.blocks),
            b.KeepTogether: lambda x: f"lb-keep({self._joined(x.blocks)})",
            b.Quote: lambda x: f"lb-quote({self._joined(x.blocks)})",
            b.Columns: self._columns,
            b.FigureBlock: self._figure,
            b.ImageBlock: self._image,
            b.RuledLines: lambda x: f"lb-ruled({x.n}, {_text(x.label)})",
            b.PageBreak: lambda _: "pagebreak(weak: true)",
            b.Rule: lambda _: "lb-rule()",
            b.SmallPrint: lambda x: f"lb-small({', '.join([_text(x.title), *map(_text, x.texts)])})",
            b.SignatureLines: self._signatures,
            b.Verbatim: lambda x: f"lb-verbatim({literal(x.text)})",
            b.Notice: lambda x: f"lb-notice({literal(x.title)}, {_text(x.text)})",
            DisplayTable: self._table,
        }

    def block(self, block: Block) -> str:
        """Return the block as one line of Typst markup."""
        return f"#{self._expression(block)}\n"

    @staticmethod
    def prologue(document: b.Document, *, paper: str) -> str:
        """Return what comes before the first block: page, fonts, header, footer and file properties."""
        name = " · ".join(piece for piece in (document.title, document.kicker) if piece)
        fields = {
            "name": _one_line(name, _FILE_TITLE),
            "title": _one_line(document.title, _RUNNING_TITLE),
            "kicker": _one_line(document.kicker, _RUNNING_TITLE),
            "program": _one_line(document.program, _RUNNING_TITLE),
            "copy": _quoted(b.copy_kind(document.audience)),
            "draft": _one_line(document.draft_note, _RUNNING_TITLE) if document.draft else "none",
            "confidential": _one_line(document.confidential, _RUNNING_TITLE),
            "date": _quoted(document.date),
            "paper": _quoted(paper),
            "lang": _quoted(document.lang),
        }
        return f"#show: lb-document.with({', '.join(f'{name}: {value}' for name, value in fields.items())})\n"

    def _expression(self, block: Block) -> str:
        return self._kinds[type(block)](block)

    def _joined(self, held: Iterable[Block]) -> str:
        return f"{{ {'; '.join(self._expression(block) for block in held)} }}"

    def _document(self, block: b.Document) -> str:
        self._level = 1
        return f"lb-title({literal(block.title)}, {_text(block.subtitle)})"

    def _heading(self, block: b.Heading) -> str:
        if not plain(block.text).strip():
            return "[]"
        self._level = min(block.level, self._level + 1)
        return f"heading(level: {self._level}, {_text(block.text)})"

    @staticmethod
    def _paragraph(block: b.Paragraph) -> str:
        return f"lb-paragraph({_text(block.text)}{', lead: true' if block.lead else ''})"

    @staticmethod
    def _facts(block: b.Facts) -> str:
        pairs = (f"({literal(label)}, {literal(value)})" for label, value in block.items)
        return f"lb-facts({', '.join(pairs)})"

    def _bullets(self, block: b.Bullets) -> str:
        items = ", ".join(
            _text(item.text) if isinstance(item, b.Paragraph) else f"[#{self._expression(item)}]"
            for item in block.blocks
        )
        return f"{'enum' if block.ordered else 'list'}({items})" if items else "[]"

    def _columns(self, block: b.Columns) -> str:
        shares = list(block.widths or [1.0] * len(block.cells))
        room = self._room
        cells = []
        for share, cell in zip(shares, block.cells, strict=True):
            self._room = room * share / sum(shares)
            cells.append(f"[#{self._expression(cell)}]")
        self._room = room
        return f"lb-columns({_array(f'{share:.6f}' for share in shares)}, {', '.join(cells)})"

    @staticmethod
    def _figure(block: b.FigureBlock) -> str:
        picture = (
            f'image(bytes({_quoted(drawable_svg(block.svg))}), format: "svg", alt: {_alt(block.alt)}, '
            f"width: {_width(block.width)})"
        )
        return f"lb-figure({picture}, {_text(block.caption)})"

    def _image(self, block: b.ImageBlock) -> str:
        data = base64.b64decode(block.png)
        name = f"{hashlib.sha256(data).hexdigest()[:16]}.png"
        self.files[name] = data
        picture = f'image("{name}", format: "png", alt: {_alt(block.alt)}, width: {_width(block.width)})'
        return f"lb-figure({picture}, {_text(block.caption)})"

    @staticmethod
    def _signatures(block: b.SignatureLines) -> str:
        return f"lb-signatures({', '.join([_text(block.note), *map(literal, block.names)])})"

    def _table(self, block: DisplayTable) -> str:
        heads, cells = block.heads, block.cells
        sides = ["right" if head.align == "decimal" else head.align for head in heads]
        tails = _array(
            _array(_tail(row[index]) for row in cells) if head.align == "decimal" else "()"
            for index, head in enumerate(heads)
        )
        fields = {
            "columns": _array(_column_widths(block, self._room)),
            "repeat": "true" if max(len(plain(head.header)) for head in heads) < _LONG_HEADER else "false",
            "align": _array(sides),
            "header": _array(_text(head.header) for head in heads),
            "rows": _array(
                _array(_cell(cell, side) for cell, side in zip(row, sides, strict=True)) for row in cells
            ),
            "tails": tails,
            "rules": _array(map(str, block.rules_after)),
            "caption": _text(block.caption),
            "notes": _array(map(_text, block.notes)),
        }
        return f"lb-table({', '.join(f'{name}: {value}' for name, value in fields.items())})"


def _column_widths(block: DisplayTable, room: float) -> list[str]:
    """Return the widths of the columns: as wide as what they hold, unless that would starve a column."""
    longest = [
        max(len(plain(head.header)), *(len(plain(row[index].runs)) for row in block.cells), 1)
        for index, head in enumerate(block.heads)
    ]
    own = sum(size + 3 for size, head in zip(longest, block.heads, strict=True) if head.width is None)
    shared = 10 * sum(head.width is not None for head in block.heads)
    if own + shared <= room * _CHARS_PER_INCH:
        return ["auto" if head.width is None else f"{head.width:.6f}fr" for head in block.heads]
    return [f"{min(size, _WIDE_CELL) + 3}fr" for size in longest]


def _cell(cell: Cell, side: str) -> str:
    if not cell.marks or side == "left":
        return _text(cell.runs)
    body = _text(cell.runs[:-1])
    # A mark hangs into the gap between columns, so that it does not push the number out of line.
    return f"({body} + box(width: 0pt, align(left, {_run(cell.runs[-1])})))"


def _tail(cell: Cell) -> str:
    tail = decimal_tail(plain(cell.text))
    if tail is None:
        return "none"
    bold = bool(cell.runs) and cell.runs[0].bold
    return _text(b.Run(tail, bold=bold)) if tail else "[]"


def _alt(text: str) -> str:
    return _quoted(" ".join(printable(text).split()))


def _width(width: float | None) -> str:
    return "auto" if width is None else f"{min(float(width), TEXT_WIDTH):.4f}in"
