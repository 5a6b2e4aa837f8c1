"""What a page is made of: frozen descriptions of blocks, each with its HTML and plain form.

`lbeval.render` makes the printed page from the JSON that a block carries into the notebook's output.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from lbeval.errors import ReportError
from lbeval.report.parts import Block, Run, Text, html_runs, html_text, plain, runs
from lbeval.report.pictures import FigureBlock, ImageBlock

__all__ = [
    "Alert", "Audience", "Block", "Bullets", "Columns", "Document", "Facts", "FigureBlock", "Heading",
    "ImageBlock", "KeepTogether", "Notice", "PageBreak", "Paper", "Paragraph", "Quote", "Rule", "RuledLines",
    "Run", "SignatureLines", "SmallPrint", "Stack", "Text", "Verbatim", "copy_kind", "plain", "runs",
]  # fmt: skip

Audience: TypeAlias = Literal["", "player", "staff"]
Paper: TypeAlias = Literal["us-letter", "a4"]

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_HAIRLINE = "border-top:1px solid #b3b3b3"


def copy_kind(audience: Audience) -> str:
    """Return whom a copy is for, as it stands in the header."""
    return {"": "", "player": "Player copy", "staff": "Staff copy"}[audience]


@dataclass(frozen=True)
class Document(Block):
    """Head of a document: the level-1 heading, and what stands in header, footer and file properties.

    `date` is an ISO date or empty; it is also the fixed time stamp of the PDF.
    """

    title: str
    kicker: str = ""
    subtitle: str = ""
    program: str = ""
    audience: Audience = ""
    draft: bool = False
    draft_note: str = ""
    confidential: str = "Confidential"
    date: str = ""
    paper: Paper = "us-letter"
    lang: str = "en"

    def __post_init__(self) -> None:
        self._required("title")
        self._strings("kicker", "subtitle", "program", "draft_note", "confidential", "date", "lang")
        self._one_of("audience", Audience)
        self._one_of("paper", Paper)
        if self.date and not _ISO_DATE.fullmatch(self.date):
            raise ReportError(f"Document.date is {self.date!r}; write it as 2026-11-25.")
        if not re.fullmatch("[a-z]{2,3}", self.lang):
            raise ReportError(f"Document.lang is {self.lang!r}; write a language code such as 'en'.")

    @property
    def line(self) -> str:
        """What is said once, small, above the title: program, kind of document, kind of copy, draft."""
        draft = f"DRAFT: {self.draft_note}" if self.draft_note else "DRAFT"
        pieces = (self.program, self.kicker, copy_kind(self.audience), draft if self.draft else "")
        return " · ".join(piece for piece in pieces if piece)

    def html(self) -> str:
        return (
            f"<p>{html_text(self.line)}</p><h1>{html_text(self.title)}</h1><p>{html_text(self.subtitle)}</p>"
        )

    def plain(self) -> str:
        return "\n".join(piece for piece in (self.line, self.title, self.subtitle) if piece)


@dataclass(frozen=True)
class Heading(Block):
    """A heading; 2 is a section, 3 a part of one. Level 1 belongs to the document."""

    text: Text
    level: int = 2

    def __post_init__(self) -> None:
        self._runs("text")
        self._set("level", max(2, min(6, int(self.level))))

    def html(self) -> str:
        return f"<h{self.level}>{html_runs(self.text)}</h{self.level}>"

    def plain(self) -> str:
        return f"{'#' * self.level} {plain(self.text)}"


@dataclass(frozen=True)
class Paragraph(Block):
    """Running text; `lead` sets it slightly larger, for what must be read first."""

    text: Text
    lead: bool = False

    def __post_init__(self) -> None:
        self._runs("text")

    def html(self) -> str:
        size = "115%" if self.lead else "100%"
        return f'<p style="font-size:{size}">{html_runs(self.text)}</p>'

    def plain(self) -> str:
        return plain(self.text)


@dataclass(frozen=True)
class Alert(Block):
    """One line that comes before everything else, between hairlines."""

    label: str
    text: Text

    def __post_init__(self) -> None:
        self._required("label")
        self._runs("text")

    def html(self) -> str:
        return f'<p style="{_HAIRLINE}"><strong>{html_text(self.label)}</strong> {html_runs(self.text)}</p>'

    def plain(self) -> str:
        return f"{self.label}: {plain(self.text)}"


@dataclass(frozen=True)
class Facts(Block):
    """A quiet row of label and value pairs."""

    items: Sequence[tuple[str, str]]

    def __post_init__(self) -> None:
        pairs = tuple(tuple(item) for item in self.items)
        if not all(len(pair) == 2 and all(isinstance(piece, str) for piece in pair) for pair in pairs):
            raise ReportError("Facts.items are pairs of label and value, both text.")
        self._set("items", pairs)

    def html(self) -> str:
        pairs = (f"{html_text(label)} <strong>{html_text(value)}</strong>" for label, value in self.items)
        return f"<p>{' · '.join(pairs)}</p>"

    def plain(self) -> str:
        return " · ".join(f"{label} {value}" for label, value in self.items)


@dataclass(frozen=True)
class Bullets(Block):
    """A list; every item is text or a block."""

    items: Sequence[Text | Block]
    ordered: bool = False

    def __post_init__(self) -> None:
        self._set("items", self.blocks)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """The items as blocks."""
        return tuple(item if isinstance(item, Block) else Paragraph(item) for item in self.items)

    def html(self) -> str:
        tag = "ol" if self.ordered else "ul"
        return f"<{tag}>{''.join(f'<li>{block.html()}</li>' for block in self.blocks)}</{tag}>"

    def plain(self) -> str:
        signs = (f"{number}. " if self.ordered else "- " for number in range(1, len(self.items) + 1))
        return "\n".join(f"{sign}{block.plain()}" for sign, block in zip(signs, self.blocks, strict=True))


@dataclass(frozen=True)
class Stack(Block):
    """Several blocks as one."""

    blocks: Sequence[Block]

    def __post_init__(self) -> None:
        self._blocks("blocks")

    def html(self) -> str:
        return "".join(block.html() for block in self.blocks)

    def plain(self) -> str:
        return "\n\n".join(block.plain() for block in self.blocks)


@dataclass(frozen=True)
class KeepTogether(Stack):
    """Blocks that stay on one page where they fit on one."""


@dataclass(frozen=True)
class Quote(Stack):
    """Someone's own words, set in."""

    def html(self) -> str:
        return f"<blockquote>{super().html()}</blockquote>"


@dataclass(frozen=True)
class Columns(Block):
    """Blocks side by side; `widths` are shares of the text column, equal if empty."""

    cells: Sequence[Block]
    widths: Sequence[float] = ()

    def __post_init__(self) -> None:
        self._blocks("cells")
        widths = tuple(float(width) for width in self.widths)
        if not self.cells:
            raise ReportError("Columns needs at least one cell.")
        if widths and (len(widths) != len(self.cells) or not all(0 < w < math.inf for w in widths)):
            raise ReportError("Columns.widths needs one positive share for every cell.")
        self._set("widths", widths)

    def html(self) -> str:
        shares = self.widths or (1.0,) * len(self.cells)
        cells = (
            f'<div style="flex:{share:g}">{cell.html()}</div>'
            for share, cell in zip(shares, self.cells, strict=True)
        )
        return f'<div style="display:flex;gap:2em">{"".join(cells)}</div>'

    def plain(self) -> str:
        return "\n\n".join(cell.plain() for cell in self.cells)


@dataclass(frozen=True)
class RuledLines(Block):
    """Empty lines to write on by hand."""

    n: int
    label: str = ""

    def __post_init__(self) -> None:
        self._strings("label")
        self._set("n", max(0, min(60, int(self.n))))

    def html(self) -> str:
        line = '<div style="height:2em;border-bottom:1px solid #b3b3b3"></div>'
        return f"<p>{html_text(self.label)}</p>{line * self.n}"

    def plain(self) -> str:
        return f"{self.label}\n" + "____\n" * self.n


@dataclass(frozen=True)
class PageBreak(Block):
    """What follows starts on a new page."""

    def html(self) -> str:
        return "<hr>"

    def plain(self) -> str:
        return "----"


@dataclass(frozen=True)
class Rule(PageBreak):
    """A hairline."""


@dataclass(frozen=True)
class SmallPrint(Block):
    """Method and cautions: last and small."""

    texts: Sequence[Text]
    title: str = ""

    def __post_init__(self) -> None:
        self._strings("title")
        given = (self.texts,) if isinstance(self.texts, str | Run) else self.texts
        self._set("texts", tuple(runs(text) for text in given))

    def html(self) -> str:
        body = "<br>".join(html_runs(text) for text in self.texts)
        return f"<p><small><strong>{html_text(self.title)}</strong> {body}</small></p>"

    def plain(self) -> str:
        return "\n".join([self.title, *(plain(text) for text in self.texts)]).strip()


@dataclass(frozen=True)
class SignatureLines(Block):
    """A line for each name, with one for the date; `note` says what a signature means."""

    names: Sequence[str]
    note: Text = ""

    def __post_init__(self) -> None:
        names = (self.names,) if isinstance(self.names, str) else tuple(self.names)
        if not all(isinstance(name, str) for name in names):
            raise ReportError("SignatureLines.names are texts.")
        self._set("names", names)
        self._runs("note")

    def html(self) -> str:
        names = "".join(f'<p style="{_HAIRLINE}">{html_text(name)} · Date</p>' for name in self.names)
        return f"{names}<p><small>{html_runs(self.note)}</small></p>"

    def plain(self) -> str:
        return "\n".join([*(f"{name} ____ Date ____" for name in self.names), plain(self.note)]).strip()


@dataclass(frozen=True)
class Verbatim(Block):
    """Text as a program printed it, in fixed width."""

    text: str

    def __post_init__(self) -> None:
        self._strings("text")

    def html(self) -> str:
        return f"<pre>{html_text(self.text)}</pre>"

    def plain(self) -> str:
        return self.text


@dataclass(frozen=True)
class Notice(Block):
    """Something about the making of the page that its reader must know, such as a cell that failed."""

    title: str
    text: str = ""

    def __post_init__(self) -> None:
        self._required("title")
        self._strings("text")

    def html(self) -> str:
        return f"<p><strong>{html_text(self.title)}</strong> {html_text(self.text)}</p>"

    def plain(self) -> str:
        return f"{self.title} {self.text}".strip()
