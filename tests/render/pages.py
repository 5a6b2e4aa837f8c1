"""What the tests of the printed page share: hostile texts, and a look into a PDF."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Sequence
from typing import Any

import pypdf

from lbeval.render.compile import compile_pdf
from lbeval.render.typst import Writer, template
from lbeval.report.blocks import Block, Document

NAME = 'Ana "#read(1)" O\'Neil-[Şahin] & $x$'

# Prints as itself: every character is in the fonts.
PRINTED = (
    NAME,
    '#panic("x") #import "@preview/x:1.0.0"',
    r"\textbf{x} \input{/etc/passwd} 50% ~ ^ _ {}",
    "<b>bold</b> <script>alert(1)</script> &amp; <!-- x -->",
    "*star* _under_ `code` [link](http://x) ![p](q) # head",
    ']]}}))"\'"\\',
    "=cmd|' /C calc'!A0",
    "@label <label> // no comment /* nor this */ -- --- ... ~",
    "1. one - two + three / four",
    "{{ nb }} {% raw %} {# x #}",
    "../../etc/passwd C:\\Users\\x",
    "Łukasz Ümit Ñandú Þór Ǧ ẞ Ω ½ ✓ − –",
)

# Holds something that cannot be drawn or must not act; only has to compile and to show what is left.
DISARMED = (
    "a\x00b\x07c\x1b[31m",
    "user\u202egnp.exe",
    "zero\u200bwidth\ufeff\u2060\u00ad",
    "日本語 名前",
    "family 👨‍👩‍👧 flag 🇩🇪",
    "\ue000 private \uffff \U0010ffff",
    "\ud800 lone",
    "z" + "\u0301" * 400,
    "tag\U000e0041\U000e007f",
    "line\u2028sep\u2029par\x0b\x0c\x85",
)


def pdf_of(blocks: Sequence[Block], document: Document | None = None, **options: Any) -> bytes:
    head = document or Document("Title")
    writer = Writer()
    source = template() + writer.prologue(head, paper=head.paper)
    source += "".join(writer.block(block) for block in (head, *blocks))
    return compile_pdf(source, files=writer.files, **options)


def reader_of(pdf: bytes) -> Any:
    return pypdf.PdfReader(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in reader_of(pdf).pages)


def squeezed(text: str) -> str:
    """Text without spaces, breaks and the places where a long word may break."""
    kept = unicodedata.normalize("NFC", text)
    return "".join(char for char in kept if not char.isspace() and char != "\u200b")


def tags_of(pdf: bytes) -> list[str]:
    """The kinds of the PDF's structure elements, in reading order."""
    found: list[str] = []

    def walk(node: Any) -> None:
        held = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(held, list):
            for item in held:
                walk(item)
        elif isinstance(held, dict):
            if "/S" in held:
                found.append(str(held["/S"]))
            if "/K" in held:
                walk(held["/K"])

    walk(reader_of(pdf).trailer["/Root"]["/StructTreeRoot"])
    return found
