"""Remarks keep their words and their emphasis; what is not printed is named."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.report.blocks import Bullets, Heading, Paragraph, Quote, Rule, Run, Stack, Verbatim
from lbeval.report.markdown import markdown_blocks
from lbeval.report.parts import plain, runs
from lbeval.report.tables import DisplayTable


def test_blocks_of_every_kind() -> None:
    text = (
        "# One\n\nplain *em* **bold** `code`  \nnext\nsoft\n\n- a\n- b\n\n1. x\n   - y\n\n> said\n\n"
        "```\nraw *x*\n```\n\n---\n\n| h | n |\n|---|--:|\n| a | 1 |\n"
    )
    blocks, lost = markdown_blocks(text)
    heading, paragraph, bullets, ordered, quote, verbatim, rule, table = blocks

    assert lost == ()
    assert heading == Heading("One", 2)
    assert isinstance(paragraph, Paragraph)
    looks = {Run("em", italic=True), Run("bold", bold=True), Run("code", code=True)}
    assert looks <= set(runs(paragraph.text))
    assert plain(paragraph.text) == "plain em bold code\nnext soft"
    assert bullets == Bullets(["a", "b"])
    assert ordered == Bullets([Stack([Paragraph("x"), Bullets(["y"])])], ordered=True)
    assert quote == Quote([Paragraph("said")])
    assert verbatim == Verbatim("raw *x*")
    assert rule == Rule()
    assert isinstance(table, DisplayTable)
    assert [head.align for head in table.heads] == ["left", "right"]


@pytest.mark.parametrize(
    "text",
    ['Ana "#read(1)" O\'Neil-[Şahin] & $x$', "5 < 6 > 4", "a_b_c 2*3*4 ~~x~~", r"\textbf{x} @la", "=cmd|x"],
)
def test_words_are_words(text: str) -> None:
    ((paragraph,), lost) = markdown_blocks(text)

    assert paragraph.plain() == text.replace("2*3*4", "234")
    assert lost == ()


def test_raw_html_and_pictures_are_left_out_and_named() -> None:
    blocks, lost = markdown_blocks(
        "a <b>bold</b> ![chart](http://x/y.png)\n\n<div>gone</div>\n\n&lt;kept&gt;"
    )

    assert [block.plain() for block in blocks] == ["a bold chart", "<kept>"]
    assert lost == ("raw HTML", "a picture linked from the text")


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("[film](https://x.org)", "film (https://x.org)"),
        ("<https://x.org>", "https://x.org"),
        ("[run](javascript:alert)", "run"),
        ("[run](C:/x)", "run"),
    ],
)
def test_a_link_prints_where_it_goes_if_it_goes_to_the_web(text: str, printed: str) -> None:
    ((paragraph,), _) = markdown_blocks(text)

    assert paragraph.plain() == printed


def test_headings_stand_below_the_section_they_are_in() -> None:
    blocks, _ = markdown_blocks("# a\n### b\n###### c", top_level=3)

    assert [block.level for block in blocks if isinstance(block, Heading)] == [3, 5, 6]


@given(st.text(alphabet="#*_`[]()<>!|-+\n \\&;:~>1.ab=\t\"'$@", max_size=80))
def test_no_markdown_stops_it(text: str) -> None:
    for block in markdown_blocks(text)[0]:
        block.to_json()
        block.html()
