"""The nbconvert exporter: `jupyter nbconvert --to lbeval_pdf executed.ipynb`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from nbconvert.exporters.templateexporter import TemplateExporter
from nbformat import NotebookNode
from traitlets import Enum, Integer, default

from lbeval.render.cells import read_cells
from lbeval.render.compile import EPOCH, compile_pdf
from lbeval.render.typst import Writer, template
from lbeval.report.blocks import SmallPrint


@dataclass(frozen=True)
class _Page:
    """What the Jinja template lays out."""

    template: str
    prologue: str
    cells: tuple[str, ...]
    closing: str


class LbevalPDFExporter(TemplateExporter):
    """Executed notebook to a tagged PDF, by way of Typst."""

    export_from_notebook = "PDF (lbeval)"
    output_mimetype = "application/pdf"

    paper = Enum(
        ["", "us-letter", "a4"],
        default_value="",
        help="Size of the page; empty: as the document says.",
    ).tag(config=True)
    timestamp = Integer(
        None,
        allow_none=True,
        help="Seconds since 1970 written into the file; none: the document's date.",
    ).tag(config=True)

    _pictures: dict[str, bytes]
    _stamp: int

    @default("file_extension")
    def _file_extension_default(self) -> str:
        return ".pdf"

    @default("template_name")
    def _template_name_default(self) -> str:
        return "lbeval_pdf"

    @default("template_extension")
    def _template_extension_default(self) -> str:
        return ".typ.j2"

    @default("extra_template_basedirs")
    def _default_extra_template_basedirs(self) -> list[str]:
        return [str(files("lbeval.render").joinpath("templates"))]

    def default_filters(self) -> Iterable[tuple[str, Any]]:
        """Add the filter that reads a notebook into a page."""
        yield from super().default_filters()  # type: ignore[no-untyped-call]
        yield "page", self._page

    def from_notebook_node(  # type: ignore[override]  # as nbconvert's own PDF exporter does
        self, nb: NotebookNode, resources: dict[str, Any] | None = None, **kw: Any,
    ) -> tuple[bytes, dict[str, Any]]:  # fmt: skip
        """Convert an executed notebook.

        Returns
        -------
        tuple
            The PDF and nbconvert's resources.

        Raises
        ------
        ReportError
            If the page cannot be set.
        """
        self._name = str(((resources or {}).get("metadata") or {}).get("name") or "")
        source, resources = super().from_notebook_node(nb, resources, **kw)
        resources["output_extension"] = ".pdf"
        return compile_pdf(source, timestamp=self._stamp, files=self._pictures), resources

    def _page(self, nb: NotebookNode) -> _Page:
        title = str(nb.metadata.get("title") or self._name or "")
        reading = read_cells(nb.cells, title)
        document = reading.document
        writer = Writer()
        cells = tuple("".join(map(writer.block, group)) for group in reading.cells)
        closing = ""
        if reading.left_out:
            said = f"Not printed from the notebook: {'; '.join(reading.left_out)}."
            self.log.warning(said)
            closing = writer.block(SmallPrint([said]))
        self._pictures = writer.files
        self._stamp = self.timestamp if self.timestamp is not None else _seconds(document.date)
        prologue = writer.prologue(document, paper=self.paper or document.paper)
        return _Page(template(), prologue, cells, closing)


def _seconds(date: str) -> int:
    try:
        return int(dt.datetime.fromisoformat(date).replace(tzinfo=dt.UTC).timestamp()) if date else EPOCH
    except ValueError:
        return EPOCH
