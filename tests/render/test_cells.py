"""Every kind of cell and output is printed or named; none is lost and none stops the document."""

from __future__ import annotations

import base64
import io
from typing import Any

import pytest
from PIL import Image

from lbeval.render.cells import NO_ALT, check_svg, read_cells
from lbeval.report.blocks import Document, Heading, KeepTogether, Notice, PageBreak, Paragraph, Verbatim
from lbeval.report.parts import BLOCK_MIME, Block, plain
from lbeval.report.pictures import FigureBlock, ImageBlock
from lbeval.report.tables import DisplayTable

SVG = '<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'


def code(*outputs: dict[str, Any], tags: tuple[str, ...] = (), **lbeval: Any) -> dict[str, Any]:
    metadata = {"tags": list(tags), "lbeval": lbeval}
    return {"cell_type": "code", "metadata": metadata, "source": "secret", "outputs": list(outputs)}


def shown(data: dict[str, Any]) -> dict[str, Any]:
    return {"output_type": "display_data", "data": data, "metadata": {}}


def markdown(source: str) -> dict[str, Any]:
    return {"cell_type": "markdown", "metadata": {}, "source": source}


def png() -> str:
    held = io.BytesIO()
    Image.new("RGB", (2, 2)).save(held, "PNG")
    return base64.b64encode(held.getvalue()).decode()


def blocks_of(*cells: dict[str, Any]) -> list[Block]:
    return [block for group in read_cells(cells, "name").cells for block in group][1:]


def test_the_title_comes_first_wherever_its_cell_stands() -> None:
    document = Document("Ana")
    reading = read_cells([markdown("before"), code(shown({BLOCK_MIME: document.to_json()}))], "name")

    assert reading.document == document
    assert reading.cells[0] == [document]
    assert sum(block == document for group in reading.cells for block in group) == 1


@pytest.mark.parametrize(
    ("cells", "title", "rest"),
    [
        ([markdown("# Season\ntext")], "Season", 1),
        ([markdown("## Season")], "Season", 0),
        ([markdown("text\n# Season")], "name", 2),
        ([], "name", 0),
    ],
)
def test_a_notebook_without_a_document_is_titled_by_its_first_heading(
    cells: list[dict[str, Any]], title: str, rest: int,
) -> None:  # fmt: skip
    assert read_cells(cells, "name").document.title == title
    assert len(blocks_of(*cells)) == rest


def test_a_block_comes_back_as_it_was_and_code_stays_hidden() -> None:
    table = DisplayTable(["a"], [["<b>"]], summary="s")

    assert blocks_of(code(shown(table._repr_mimebundle_()))) == [table]


def test_a_damaged_block_is_said_and_the_rest_goes_on() -> None:
    wrong = ({"type": "Paragraph", "text": 5}, {"type": "os.system"}, {"type": "Run", "text": "x"})
    bad: list[Any] = [None, 3, *wrong]
    found = blocks_of(*(code(shown({BLOCK_MIME: data})) for data in bad), markdown("after"))

    assert [type(block) for block in found] == [Notice] * len(bad) + [Paragraph]


def test_an_error_is_said_in_its_place() -> None:
    said = "\x1b[31mno film\x1b[0m"
    error = {"output_type": "error", "ename": "ValueError", "evalue": said, "traceback": []}
    (notice,) = blocks_of(code(error))

    assert isinstance(notice, Notice)
    assert "cell 1" in notice.title
    assert notice.text == "ValueError: no film"


def test_frames_print_as_text_and_never_as_their_html() -> None:
    found = blocks_of(code(shown({"text/html": "<table><td>x", "text/plain": ["a  b\n", "1  2"]})))

    assert found == [Verbatim("a  b\n1  2")]


def test_streams_print_and_messages_of_the_program_are_named() -> None:
    out = {"output_type": "stream", "name": "stdout", "text": "said\n"}
    err = {"output_type": "stream", "name": "stderr", "text": "Warning"}
    reading = read_cells([code(out, err)], "n")

    assert reading.cells[1] == [Verbatim("said")]
    assert reading.left_out == ["messages of the program (cell 1)"]


def test_pictures_take_their_words_from_the_cell() -> None:
    cell = code(shown({"image/svg+xml": SVG}), shown({"image/png": png()}), alt="Marks", caption="c", width=3)
    figure, image = blocks_of(cell)

    assert isinstance(figure, FigureBlock)
    assert isinstance(image, ImageBlock)
    assert (figure.alt, plain(figure.caption), figure.width) == ("Marks", "c", 3.0)
    assert image.alt == "Marks"


def test_a_picture_without_words_is_printed_and_named() -> None:
    reading = read_cells([code(shown({"image/png": png()}))], "n")
    (image,) = reading.cells[1]

    assert isinstance(image, ImageBlock)
    assert image.alt == NO_ALT
    assert "cell 1" in reading.left_out[0]


@pytest.mark.parametrize(
    "data",
    [
        {"image/svg+xml": "<svg"},
        {"image/svg+xml": "<html/>"},
        {"image/svg+xml": ""},
        {"image/svg+xml": '<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg>&a;</svg>'},
        {"image/png": "!!"},
        {"image/png": base64.b64encode(b"\x89PNG\r\n\x1a\nbroken").decode()},
        {"image/png": base64.b64encode(b"GIF89a").decode()},
    ],
)
def test_a_damaged_picture_is_said(data: dict[str, Any]) -> None:
    assert [type(block) for block in blocks_of(code(shown(data), alt="x"))] == [Notice]


def test_matplotlibs_own_svg_is_accepted() -> None:
    check_svg(
        '<?xml version="1.0" encoding="utf-8" standalone="no"?>\n'
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN"\n'
        '  "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n' + SVG.split("?>")[1],
    )


def test_what_cannot_be_printed_is_named() -> None:
    cells = [
        {"cell_type": "raw", "metadata": {}, "source": "x"},
        markdown("<div>gone</div>\n\nkept ![p](attachment:x.png)"),
        code(shown({"application/vnd.other": {}})),
    ]

    assert read_cells(cells, "n").left_out == [
        "a raw cell (cell 1)",
        "raw HTML (cell 2)",
        "a picture linked from the text (cell 2)",
        "an output of the type application/vnd.other (cell 3)",
    ]


def test_tags_lay_out() -> None:
    text = shown({"text/markdown": "a"})
    assert blocks_of(code(text, tags=("no-print",))) == []
    assert blocks_of(code(text, tags=("page-break",))) == [PageBreak(), Paragraph("a")]
    assert blocks_of(code(text, text, tags=("keep-together",))) == [KeepTogether([Paragraph("a")] * 2)]


def test_markdown_headings_begin_below_the_title() -> None:
    title = code(shown({BLOCK_MIME: Document("t").to_json()}))
    found = blocks_of(title, markdown("# a\n## b\n### c"))

    assert [block.level for block in found if isinstance(block, Heading)] == [2, 2, 3]
