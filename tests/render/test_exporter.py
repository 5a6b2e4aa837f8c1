"""`jupyter nbconvert --to lbeval_pdf` on an executed notebook."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

import nbformat
import pytest
from traitlets.config import Config

from lbeval.render.exporter import LbevalPDFExporter
from lbeval.report.blocks import Document
from lbeval.report.parts import BLOCK_MIME
from tests.render.notebooks import saved
from tests.render.pages import NAME, reader_of, squeezed, tags_of, text_of

HOSTILE = f"""## Remarks <b>gone</b>

{NAME}

*a* **b** `c` #d

<div>gone</div>

- one
  - two

| h |
|---|
| #x |
"""


def executed(**document: Any) -> Any:
    block = {BLOCK_MIME: Document("Ana", **document).to_json(), "text/plain": "x"}
    cells = [
        {"cell_type": "raw", "metadata": {}, "source": "raw", "id": "a"},
        {"cell_type": "markdown", "metadata": {}, "source": HOSTILE, "id": "b"},
        {
            "cell_type": "code", "metadata": {}, "source": "hidden = 1", "id": "c", "execution_count": 1,
            "outputs": [
                {"output_type": "display_data", "metadata": {}, "data": block},
                {"output_type": "error", "ename": "E", "evalue": "failed #here", "traceback": ["t"]},
            ],
        },
    ]  # fmt: skip
    return nbformat.from_dict(  # type: ignore[no-untyped-call]
        {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells},
    )


def converted(notebook: Any, **traits: Any) -> bytes:
    exporter = LbevalPDFExporter(config=Config(), **traits)  # type: ignore[no-untyped-call]
    pdf, resources = exporter.from_notebook_node(notebook, {"metadata": {"name": "file"}})
    assert resources["output_extension"] == ".pdf"
    return pdf


def test_the_exporter_is_registered() -> None:
    (found,) = entry_points(group="nbconvert.exporters", name="lbeval_pdf")

    assert found.load() is LbevalPDFExporter


def test_text_prints_as_itself_code_stays_hidden_and_losses_are_named() -> None:
    said = squeezed(text_of(converted(executed())))

    assert squeezed(NAME) in said
    assert "failed#here" in said
    assert "hidden" not in said
    assert squeezed("Not printed from the notebook: a raw cell (cell 1); raw HTML (cell 2).") in said


def test_the_document_says_how_the_page_is_and_the_call_may_overrule_it() -> None:
    dated = executed(paper="a4", date="2026-11-25", lang="de")
    a4, letter = reader_of(converted(dated)), reader_of(converted(dated, paper="us-letter", timestamp=0))

    assert round(float(a4.pages[0].mediabox.width)) == 595
    assert round(float(letter.pages[0].mediabox.width)) == 612
    assert a4.metadata["/CreationDate"] == "D:20261125000000Z"
    assert letter.metadata["/CreationDate"] == "D:19700101000000Z"
    assert a4.trailer["/Root"]["/Lang"] == "de"


def test_a_date_that_no_calendar_has_does_not_stop_the_page() -> None:
    assert reader_of(converted(executed(date="2026-99-99"))).metadata["/CreationDate"].startswith("D:2000")


def test_same_notebook_same_bytes_and_the_notebook_is_left_alone() -> None:
    notebook = executed()
    before = nbformat.writes(notebook)  # type: ignore[no-untyped-call]

    assert converted(notebook) == converted(notebook)
    assert nbformat.writes(notebook) == before  # type: ignore[no-untyped-call]


def test_an_empty_notebook_is_a_page_with_its_name() -> None:
    empty = executed()
    empty.cells = []
    pdf = converted(empty)

    assert "file" in text_of(pdf)
    assert tags_of(pdf).count("/H1") == 1


@pytest.mark.parametrize("output", ["page", "other"])
def test_the_command_line_of_jupyter_makes_the_same_pdf(tmp_path: Path, output: str) -> None:
    path = saved(executed(), tmp_path)
    command = [sys.executable, "-m", "nbconvert", "--to", "lbeval_pdf", str(path), "--output", output]
    subprocess.run(command, check=True, capture_output=True, cwd=tmp_path, timeout=120)

    assert (tmp_path / f"{output}.pdf").read_bytes() == converted(executed())
