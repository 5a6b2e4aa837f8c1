"""The cells of an executed notebook, read into blocks; whatever cannot be printed is named, never lost."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias
from xml.parsers import expat

from PIL import Image, UnidentifiedImageError

from lbeval.errors import ReportError
from lbeval.report.blocks import Document, Heading, KeepTogether, Notice, PageBreak, Verbatim
from lbeval.report.markdown import markdown_blocks
from lbeval.report.parts import BLOCK_MIME, TABLE_MIME, Block, from_json, plain
from lbeval.report.pictures import FigureBlock, ImageBlock

Node: TypeAlias = Mapping[str, Any]

NO_ALT = "A figure for which the notebook gives no description"
_ANSI = re.compile(r"\x1b\[[0-9;?]*[ -/]*[@-~]|\x1b[@-Z\\-_]")
_MAX_PIXELS = 50_000_000


@dataclass
class Reading:
    """What the cells gave: blocks a cell, the document's head, and what was left out."""

    document: Document
    cells: list[list[Block]] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)


def read_cells(cells: Iterable[Node], name: str) -> Reading:
    """Read the cells of a notebook into blocks.

    Code is not printed, its outputs are. A cell tagged `no-print` is passed over; `page-break` starts a page
    before the cell and `keep-together` keeps it on one.

    Parameters
    ----------
    cells : cells of an executed notebook
    name : what to call a document whose notebook holds neither a `Document` nor a first-level heading
    """
    left_out: list[str] = []
    held = [list(_cell_blocks(cell, number, left_out)) for number, cell in enumerate(cells, start=1)]
    document = _taken_document(held) or Document(_first_heading(held) or name.strip() or "Notebook")
    # The title comes first on the page and in the outline, wherever its cell stands.
    return Reading(document, [[document], *held], list(dict.fromkeys(left_out)))


def _taken_document(held: list[list[Block]]) -> Document | None:
    for group in held:
        for index, block in enumerate(group):
            if isinstance(block, Document):
                del group[index]
                return block
    return None


def _first_heading(held: list[list[Block]]) -> str:
    """Take the heading a notebook begins with out of the text: it is the title."""
    for group in held:
        for index, block in enumerate(group):
            if isinstance(block, Heading) and plain(block.text).strip():
                del group[index]
                return plain(block.text)
            return ""
    return ""


def _cell_blocks(cell: Node, number: int, left_out: list[str]) -> Iterator[Block]:
    metadata = _mapping(cell.get("metadata"))
    tags = metadata.get("tags") or ()
    if "no-print" in tags:
        return
    if "page-break" in tags:
        yield PageBreak()
    blocks = list(_printed(cell, metadata, number, left_out))
    if "keep-together" in tags and blocks:
        yield KeepTogether(blocks)
    else:
        yield from blocks


def _printed(cell: Node, metadata: Node, number: int, left_out: list[str]) -> Iterator[Block]:
    kind = cell.get("cell_type")
    if kind == "markdown":
        blocks, lost = markdown_blocks(_joined(cell.get("source", "")), top_level=1)
        left_out += [f"{what} (cell {number})" for what in lost]
        yield from blocks
    elif kind == "code":
        for output in cell.get("outputs") or ():
            yield from _output(_mapping(output), metadata, number, left_out)
    else:
        left_out.append(f"a raw cell (cell {number})")


def _output(output: Node, metadata: Node, number: int, left_out: list[str]) -> Iterator[Block]:
    kind = output.get("output_type")
    if kind == "error":
        said = f"{output.get('ename', 'Error')}: {output.get('evalue', '')}"
        title = f"This part could not be made: cell {number} stopped with an error."
        yield Notice(title, _ANSI.sub("", said))
    elif kind == "stream":
        text = _ANSI.sub("", _joined(output.get("text", ""))).strip("\n")
        if output.get("name") == "stderr":
            left_out.append(f"messages of the program (cell {number})")
        elif text.strip():
            yield Verbatim(text)
    else:
        own = _mapping(_mapping(output.get("metadata")).get("lbeval"))
        hints = {**own, **_mapping(metadata.get("lbeval"))}
        yield from _display(_mapping(output.get("data")), hints, number, left_out)


def _display(data: Node, hints: Node, number: int, left_out: list[str]) -> Iterator[Block]:
    try:
        yield from _richest(data, hints, number, left_out)
    except ReportError as error:
        yield Notice(f"An output of cell {number} could not be printed.", str(error))


def _richest(data: Node, hints: Node, number: int, left_out: list[str]) -> Iterator[Block]:
    for mime in (TABLE_MIME, BLOCK_MIME):
        if mime in data:
            yield from_json(data[mime])
            return
    if "image/svg+xml" in data:
        svg = _joined(data["image/svg+xml"])
        check_svg(svg)
        yield FigureBlock(svg, **_said(hints, number, left_out))
    elif "image/png" in data:
        picture = ImageBlock(_joined(data["image/png"]), **_said(hints, number, left_out))
        check_png(base64.b64decode(picture.png))
        yield picture
    elif "text/markdown" in data:
        blocks, lost = markdown_blocks(_joined(data["text/markdown"]), top_level=1)
        left_out += [f"{what} (cell {number})" for what in lost]
        yield from blocks
    elif "text/plain" in data:
        text = _ANSI.sub("", _joined(data["text/plain"])).strip("\n")
        if text.strip():
            yield Verbatim(text)
    elif data:
        left_out.append(f"an output of the type {', '.join(sorted(map(str, data)))} (cell {number})")


def _said(hints: Node, number: int, left_out: list[str]) -> dict[str, Any]:
    alt = str(hints.get("alt") or "").strip()
    if not alt:
        left_out.append(f"the description of a figure, which nobody wrote (cell {number})")
    width = hints.get("width")
    return {
        "alt": alt or NO_ALT,
        "caption": str(hints.get("caption") or ""),
        "width": float(width) if isinstance(width, int | float) else None,
    }


def check_svg(svg: str) -> None:
    """Refuse what is not a well-formed SVG, or defines entities.

    Raises
    ------
    ReportError
        With what is wrong.
    """
    roots: list[str] = []

    def started(name: str, _: object) -> None:
        if not roots:
            roots.append(name)

    def declared(*_: object) -> None:
        raise ReportError("The figure defines entities, which are not read.")

    parser = expat.ParserCreate()
    parser.StartElementHandler = started
    parser.EntityDeclHandler = declared
    try:
        parser.Parse(svg.encode("utf-8", "replace"), True)  # noqa: FBT003  the signature is not ours
    except expat.ExpatError as error:
        raise ReportError(f"The figure is not well-formed SVG: {error}.") from error
    if roots[0].rsplit(":", 1)[-1] != "svg":
        raise ReportError("The figure is not SVG.")


def check_png(data: bytes) -> None:
    """Refuse a PNG that is damaged or too large to be set.

    Raises
    ------
    ReportError
        With what is wrong.
    """
    try:
        with Image.open(io.BytesIO(data), formats=["PNG"]) as image:
            if image.width * image.height > _MAX_PIXELS:
                raise ReportError(f"The picture has {image.width} x {image.height} pixels; save it smaller.")
            image.load()
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise ReportError("The picture is damaged.") from error


def _joined(text: object) -> str:
    return "".join(map(str, text)) if isinstance(text, list | tuple) else str(text)


def _mapping(value: object) -> Node:
    return value if isinstance(value, Mapping) else {}
