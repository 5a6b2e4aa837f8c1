"""Blocks hold data, travel as JSON, and refuse what could not be printed."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from typing import Any

import pytest

from lbeval.errors import ReportError
from lbeval.report import blocks as b
from lbeval.report.parts import BLOCK_MIME, Block, from_json, runs
from lbeval.report.tables import DisplayTable

HOSTILE = "<img src=x onerror=alert(1)> & \"'\x00\u202e #read"
PNG = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
SVG = '<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"><script>alert(1)</script></svg>'

EVERY = (
    b.Document(HOSTILE, kicker=HOSTILE, draft=True, draft_note=HOSTILE, audience="staff", paper="a4"),
    b.Heading(HOSTILE, 3),
    b.Paragraph([HOSTILE, b.Run(HOSTILE, bold=True, raised=True)], lead=True),
    b.Alert(HOSTILE, HOSTILE),
    b.Facts([(HOSTILE, "1")]),
    b.Bullets([HOSTILE, b.Stack([b.Paragraph("a")])], ordered=True),
    b.Stack([b.Paragraph(HOSTILE)]),
    b.KeepTogether([b.Paragraph(HOSTILE)]),
    b.Quote([b.Paragraph(HOSTILE)]),
    b.Columns([b.Paragraph("a"), DisplayTable(["h"], [[HOSTILE]], summary="s")], widths=(1, 2)),
    b.FigureBlock(SVG, alt=HOSTILE, caption=HOSTILE, width=2.0),
    b.ImageBlock(PNG, alt=HOSTILE, caption=HOSTILE),
    b.RuledLines(3, HOSTILE),
    b.PageBreak(),
    b.Rule(),
    b.SmallPrint([HOSTILE, "b"], title="t"),
    b.SignatureLines([HOSTILE], note=HOSTILE),
    b.Verbatim(HOSTILE),
    b.Notice("t", HOSTILE),
)


loose: Any = b  # for values no type checker would let through


def name(block: Block) -> str:
    return type(block).__name__


@pytest.mark.parametrize("block", EVERY, ids=name)
def test_a_block_comes_back_from_its_json(block: Block) -> None:
    shown = block._repr_mimebundle_()
    back = from_json(json.loads(json.dumps(shown[BLOCK_MIME])))

    assert back == block
    assert type(back) is type(block)


@pytest.mark.parametrize("block", EVERY, ids=name)
def test_html_and_plain_text_hold_no_markup_of_the_data(block: Block) -> None:
    html = block.html()

    assert "<img src=x" not in html
    assert "<script" not in html
    assert "\x00" not in html
    assert "\u202e" not in html
    assert isinstance(block.plain(), str)


@pytest.mark.parametrize("block", EVERY, ids=name)
def test_blocks_are_frozen_and_hold_no_lists(block: Block) -> None:
    hash(block)
    for field in dataclasses.fields(block):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(block, field.name, None)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: loose.Document(" "), "title is empty"),
        (lambda: loose.Document("t", paper="a5"), "'us-letter', 'a4'"),
        (lambda: loose.Document("t", audience="press"), "'player', 'staff'"),
        (lambda: loose.Document("t", date="25.11.2026"), "2026-11-25"),
        (lambda: loose.Document("t", lang='en"'), "language code"),
        (lambda: loose.Document(3), "must be text"),
        (lambda: loose.FigureBlock(SVG, alt=""), "alt is empty"),
        (lambda: loose.FigureBlock(SVG, alt="x", width=0), "positive number of inches"),
        (lambda: loose.ImageBlock("???", alt="x"), "not base64"),
        (lambda: loose.ImageBlock("R0lGODlh", alt="x"), "not a PNG"),
        (lambda: loose.Columns([]), "at least one cell"),
        (lambda: loose.Columns([b.Rule()], widths=(1, 2)), "one positive share"),
        (lambda: loose.Stack(["text"]), "not a block"),
        (lambda: loose.Facts([("a", 1)]), "pairs of label and value"),
        (lambda: loose.Alert("", "x"), "label is empty"),
        (lambda: loose.Paragraph(5), "Text is a string"),
        (lambda: loose.Paragraph(["a", 5]), "Text is a string"),
        (lambda: loose.SignatureLines([1]), "names are texts"),
    ],
)
def test_what_could_not_be_printed_is_refused(make: Callable[[], Any], message: str) -> None:
    with pytest.raises(ReportError, match=message):
        make()


@pytest.mark.parametrize(
    "data",
    [
        None,
        [],
        "Paragraph",
        {},
        {"type": "Paragraph"},
        {"type": "Paragraph", "text": "a", "size": 3},
        {"type": "Block"},
        {"type": "Cell", "text": "a"},
        {"type": "RuledLines", "n": "many"},
        {"type": "RuledLines", "n": 1e999},
        {"type": "Facts", "items": 3},
        {"type": "Stack", "blocks": None},
    ],
)
def test_json_of_something_else_is_refused(data: object) -> None:
    with pytest.raises(ReportError):
        from_json(data)


def test_a_block_nested_without_end_is_refused() -> None:
    data: dict[str, Any] = {"type": "Rule"}
    for _ in range(200):
        data = {"type": "Stack", "blocks": [data]}
    with pytest.raises(ReportError, match="nested too deeply"):
        from_json(data)


def test_levels_and_counts_are_kept_in_range() -> None:
    assert [b.Heading("x", level).level for level in (-1, 1, 2, 6, 99)] == [2, 2, 2, 6, 6]
    assert [b.RuledLines(n).n for n in (-5, 8, 10**9)] == [0, 8, 60]


def test_text_in_any_form_is_runs() -> None:
    assert runs("") == ()
    assert runs("a") == runs(["a"]) == runs(b.Run("a")) == (b.Run("a"),)


def test_a_string_or_a_block_is_not_taken_for_a_sequence_of_them() -> None:
    assert b.SmallPrint("abc").texts == ((b.Run("abc"),),)
    assert b.SignatureLines("Ana").names == ("Ana",)
    assert b.Stack(b.Rule()).blocks == (b.Rule(),)  # type: ignore[arg-type]
