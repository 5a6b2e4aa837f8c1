"""The compiler sees nothing but the document, and says what is wrong in one sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from lbeval.errors import ReportError
from lbeval.render.compile import _workshop, compile_pdf
from tests.render.pages import reader_of

HEAD = '#set document(title: "t")\n#set text(font: ("Source Sans Pro", "DejaVu Sans"))\n#heading("t")\n'


def test_only_the_shipped_fonts_are_known() -> None:
    pdf = compile_pdf(HEAD + '#text("a")')
    fonts = reader_of(pdf).pages[0]["/Resources"]["/Font"]

    assert all("SourceSansPro" in str(font.get_object()["/BaseFont"]) for font in fonts.values())
    with pytest.raises(ReportError, match="unknown font family"):
        compile_pdf(HEAD + '#text(font: "Libertinus Serif")[x]')


@pytest.mark.parametrize(
    "source",
    [
        '#read("/etc/passwd")',
        '#read("../fonts/DejaVuSans.ttf")',
        '#image("/etc/x.png")',
        '#import "@preview/x:1.0.0": *',
    ],
)
def test_source_reaches_neither_disk_nor_network(source: str) -> None:
    with pytest.raises(ReportError, match="could not be set"):
        compile_pdf(HEAD + source)


def test_files_of_one_document_are_gone_for_the_next() -> None:
    source = HEAD + '#read("note.txt")'

    assert compile_pdf(source, files={"note.txt": b"x"})
    assert not list(_workshop().root.iterdir())
    with pytest.raises(ReportError, match="could not be set"):
        compile_pdf(source)


def test_a_page_that_breaks_the_standard_is_refused() -> None:
    with pytest.raises(ReportError, match="PDF/UA-1"):
        compile_pdf('#set document(title: "t")\n#heading(level: 2, "x")')


def test_the_time_stamp_is_given_not_taken() -> None:
    pdf = compile_pdf(HEAD, timestamp=1_700_000_000)

    assert reader_of(pdf).metadata["/CreationDate"] == "D:20231114221320Z"
    assert pdf == compile_pdf(HEAD, timestamp=1_700_000_000)


def test_fonts_come_from_packages() -> None:
    folder = _workshop().root.parent / "fonts"

    assert {file.name for file in Path(folder).iterdir()} >= {"SourceSansPro-Regular.ttf", "DejaVuSans.ttf"}
