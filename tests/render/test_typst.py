"""Whatever a name or a remark holds, it prints as itself, and the page conforms to PDF/UA-1."""

from __future__ import annotations

import base64
import io
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from lbeval.errors import ReportError
from lbeval.render.typst import Writer, drawable_svg, literal
from lbeval.report.blocks import (
    Alert,
    Block,
    Bullets,
    Columns,
    Document,
    Facts,
    FigureBlock,
    Heading,
    ImageBlock,
    KeepTogether,
    Notice,
    PageBreak,
    Paragraph,
    Quote,
    Rule,
    RuledLines,
    Run,
    SignatureLines,
    SmallPrint,
    Stack,
    Verbatim,
)
from lbeval.report.tables import Cell, Column, DisplayTable
from tests.render.pages import DISARMED, NAME, PRINTED, pdf_of, reader_of, squeezed, tags_of, text_of

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="144" height="36" viewBox="0 0 144 36">'
    "<text x='4' y='20' style=\"font: 9px 'Source Sans Pro', 'DejaVu Sans'\">{}</text></svg>"
)


def everywhere(text: str) -> list[Block]:
    """Every kind of block with the text in every place that takes one."""
    table = DisplayTable(
        [Column(text), Column(text, align="decimal"), Column("c", align="center", width=1.0)],
        [[text, Cell(text, bold=True, marks=text), None], [None, "1.5", Cell(text, muted=True)]],
        caption=text,
        summary=text,
        notes=(text,),
    )
    words: list[Block] = [
        Heading(text),
        Heading(text, 3),
        Paragraph(text),
        Paragraph([Run(text, bold=True, italic=True), Run(text, raised=True)], lead=True),
        Paragraph(Run(text, code=True, muted=True, accent=True)),
        Alert(text, text),
        Facts([(text, text)]),
        Bullets([text, Paragraph(text), Stack([Paragraph(text), Bullets([text], ordered=True)])]),
        Quote([Paragraph(text)]),
        table,
        RuledLines(2, text),
        SignatureLines([text, text, text], note=text),
        SmallPrint([text], title=text),
        Verbatim(text),
        Notice(text, text),
        FigureBlock(SVG.format("x"), alt=text, caption=text),
    ]
    return [*words, KeepTogether(words[:4]), Columns([Stack(words[2:5]), table], widths=(2, 1))]


@pytest.mark.parametrize("text", PRINTED)
def test_hostile_text_prints_as_itself(text: str) -> None:
    pdf = pdf_of([Paragraph(text), DisplayTable(["a"], [[text]], summary="s")], Document(text))

    said = squeezed(text_of(pdf))
    assert said.count(squeezed(text)) == 3
    assert reader_of(pdf).metadata.title == text


@pytest.mark.parametrize("text", [*PRINTED, *DISARMED, NAME * 30, "x" * 10_000])
def test_any_text_may_stand_anywhere(text: str) -> None:
    said = dict.fromkeys(("kicker", "subtitle", "program", "draft_note", "confidential"), text)
    pdf = pdf_of(everywhere(text), Document(text, draft=True, **said))  # type: ignore[arg-type]

    assert pdf.startswith(b"%PDF")


@pytest.mark.parametrize(
    ("given", "printed"),
    [
        ("a\x00b", "a▯b"),
        ("日本 Ana", "▯▯ Ana"),
        ("\ud800x", "▯x"),
        ("user\u202egnp.exe", "usergnp.exe"),
        ("zero\u200bwidth\ufeff", "zerowidth"),
        ("Cafe\u0301", "Café"),
        ("two\u2028lines", "two\nlines"),
    ],
)
def test_what_cannot_be_drawn_is_marked_and_what_acts_unseen_is_dropped(given: str, printed: str) -> None:
    assert squeezed(f"<{printed}>") in squeezed(text_of(pdf_of([Paragraph(f"<{given}>")])))


def test_right_to_left_names_keep_their_letters() -> None:
    said = text_of(pdf_of([Paragraph("שלום"), Paragraph("محمد علي")]))

    assert set("שלום") <= set(said)
    assert "▯" not in said


def test_ten_thousand_letters_lose_none() -> None:
    said = squeezed(text_of(pdf_of([Paragraph("q" * 10_000)])))

    assert said.count("q") == 10_000


def test_a_long_word_stays_inside_its_column() -> None:
    table = DisplayTable(
        [Column("a", width=1), Column("b", width=1)], [["w" * 200, "v" * 200]], summary="s",
    )  # fmt: skip
    right: list[float] = []

    def visit(text: str, cm: list[float], tm: list[float], _font: object, _size: float) -> None:
        if text.strip():
            right.append(cm[4] + tm[4])

    reader_of(pdf_of([table])).pages[0].extract_text(visitor_text=visit)
    assert right
    assert max(right) < 8.5 * 72 - 60


@settings(max_examples=25, deadline=None)
@given(st.text(st.characters(), max_size=60))
def test_no_text_breaks_the_page(text: str) -> None:
    pdf_of([Paragraph(["<", text, ">"]), DisplayTable([text or "a"], [[text]], summary="s"), Bullets([text])])


@settings(max_examples=200, deadline=None)
@given(st.text(st.characters(), max_size=200))
def test_a_literal_holds_no_way_out(text: str) -> None:
    inner = re.sub(r'\\[\\"n]', "", literal(text)[1:-1])

    assert '"' not in inner
    assert "\\" not in inner
    assert "\n" not in inner


def test_the_page_is_tagged_for_a_reader_who_cannot_see_it() -> None:
    table = DisplayTable(["a", "b"], [["1", "2"]], caption="c")
    figure = FigureBlock(SVG.format("x"), alt="Marks by game")
    pdf = pdf_of([Heading("One"), table, figure, Bullets(["x"])])
    tags = tags_of(pdf)

    assert tags.count("/H1") == 1
    assert tags.index("/H1") < tags.index("/H2") < tags.index("/Table")
    assert tags.count("/TH") == 2
    assert tags.count("/TD") == 2
    assert {"/Figure", "/L", "/LI"} <= set(tags)
    catalogue = reader_of(pdf).trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert b"pdfuaid" in catalogue["/Metadata"].get_object().get_data()


def test_heading_levels_are_never_skipped() -> None:
    given = [Heading("deep", 5), Heading("deeper", 6), Heading("up", 2), Heading("", 2), Heading("x", 4)]
    tags = tags_of(pdf_of(given))

    assert [tag for tag in tags if re.fullmatch(r"/H\d", tag)] == ["/H1", "/H2", "/H3", "/H2", "/H3"]


def test_same_blocks_same_bytes() -> None:
    assert pdf_of(everywhere(NAME)) == pdf_of(everywhere(NAME))


@pytest.mark.parametrize(("paper", "size"), [("us-letter", (612, 792)), ("a4", (595.276, 841.89))])
def test_letter_and_a4_set_the_same_lines(paper: str, size: tuple[float, float]) -> None:
    text = Paragraph("He closes on the block before it comes to him, most of the time. " * 8)
    pages = [reader_of(pdf_of([text], Document("t", paper=p))).pages[0] for p in ("us-letter", "a4")]
    box = reader_of(pdf_of([text], Document("t", paper=paper))).pages[0].mediabox  # type: ignore[arg-type]

    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.01)
    assert pages[0].extract_text() == pages[1].extract_text()


def test_a_draft_says_so_on_every_page_and_a_final_copy_nowhere() -> None:
    body = [Paragraph("one"), PageBreak(), Paragraph("two")]
    draft = reader_of(pdf_of(body, Document("t", draft=True, draft_note="3 rows wait", audience="staff")))
    final = text_of(pdf_of(body, Document("t", audience="player")))

    assert [page.extract_text().count("DRAFT") for page in draft.pages] == [1, 1]
    assert all("3 rows wait" in page.extract_text() for page in draft.pages)
    assert all(f"Page {n} of 2" in page.extract_text() for n, page in enumerate(draft.pages, start=1))
    assert "Staff copy" in draft.pages[1].extract_text()
    assert "DRAFT" not in final
    assert "Player copy" in final


def test_numbers_stand_with_their_points_under_one_another() -> None:
    rows: list[list[str | Cell]] = [
        ["a", "1.25"], ["b", "12.5"], ["c", "130"], ["d", Cell("7.125", marks="a")], ["e", "–"],
    ]  # fmt: skip
    table = DisplayTable([Column("n"), Column("v", align="decimal")], rows, summary="s")
    ends: dict[str, float] = {}

    def visit(text: str, cm: list[float], tm: list[float], _font: object, _size: float) -> None:
        ends[text.strip()] = cm[4] + tm[4]

    reader_of(pdf_of([table])).pages[0].extract_text(visitor_text=visit)
    digit = ends["12.5"] - ends["130"]
    assert digit > 0  # 130 has one whole digit more, so it begins further left
    assert ends["1.25"] - ends["12.5"] == pytest.approx(digit, abs=0.02)
    assert ends["7.125"] == pytest.approx(ends["1.25"], abs=0.02)


def test_a_block_too_tall_for_a_page_is_broken_not_cut() -> None:
    pdf = pdf_of([KeepTogether([Paragraph(f"line {n}") for n in range(120)])])

    assert len(reader_of(pdf).pages) > 1
    assert "line 119" in text_of(pdf)


def test_a_short_block_is_kept_on_one_page() -> None:
    filler = [Paragraph(f"filler {n}") for n in range(38)]
    pages = reader_of(pdf_of([*filler, KeepTogether([Paragraph(f"kept {n}") for n in range(12)])])).pages
    holding = [page for page in pages if "kept" in page.extract_text()]

    assert len(pages) == 2
    assert len(holding) == 1


def test_a_picture_of_pixels_is_set_from_the_documents_own_folder() -> None:
    held = io.BytesIO()
    Image.new("RGB", (4, 4), "red").save(held, "PNG")
    block = ImageBlock(base64.b64encode(held.getvalue()).decode(), alt="A red square", width=1.0)

    assert "/Figure" in tags_of(pdf_of([block]))


def test_figures_may_not_reach_the_disk() -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        ' width="9" height="9"><image xlink:href="file:///etc/hostname" width="9" height="9"/>'
        '<image href="../fonts/x.ttf"/></svg>'
    )
    try:
        pdf = pdf_of([FigureBlock(svg, alt="x")])
    except ReportError:
        return
    assert b"/Subtype/Image" not in pdf.replace(b" ", b"")


def test_characters_in_figures_are_checked_too() -> None:
    assert drawable_svg("<text>日 &#26085; &#x65e5; &#65; &amp;</text>") == "<text>▯ ▯ ▯ &#65; &amp;</text>"
    pdf_of([FigureBlock(SVG.format("日本 &#x1F468;&#8205; 😀"), alt="x")])


def test_blocks_that_hold_nothing_print_nothing() -> None:
    empty: list[Block] = [
        Stack([]), KeepTogether([]), Quote([]), Bullets([]), Facts([]), Columns([Stack([]), Paragraph("")]),
        RuledLines(0), SmallPrint([]), SignatureLines([]), Verbatim(""), Heading(" "), Paragraph([Run("")]),
        DisplayTable(["a"], [], summary="s"),
    ]  # fmt: skip

    assert len(reader_of(pdf_of(empty)).pages) == 1


def test_every_kind_of_block_can_be_printed() -> None:
    families: list[type[Block]] = [Block]
    for family in families:
        families += family.__subclasses__()
    kinds = {kind for kind in families[1:] if kind.__module__.startswith("lbeval.")}

    assert kinds == set(Writer()._kinds)
    pdf_of([Rule()])
