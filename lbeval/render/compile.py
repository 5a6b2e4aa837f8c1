"""Typst source to PDF: tagged, checked against PDF/UA-1, the same bytes for the same source."""

from __future__ import annotations

import atexit
import shutil
import tempfile
import threading
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Final

import typst

from lbeval.errors import ReportError
from lbeval.report.glyphs import font_files

STANDARD: Final = "ua-1"
EPOCH = 946_684_800  # 2000-01-01, for a document that names no date

_lock = threading.Lock()


class _Workshop:
    """The one compiler, and the folders it sees: the fonts, and an empty one that is its root."""

    def __init__(self) -> None:
        here = Path(tempfile.mkdtemp(prefix="lbeval-"))
        atexit.register(shutil.rmtree, here, ignore_errors=True)
        self.root = here / "root"
        self.root.mkdir()
        fonts = here / "fonts"
        fonts.mkdir()
        # Copied, because the compiler takes folders, and those of the packages hold fonts we do not want.
        for file in font_files():
            shutil.copy(file, fonts)
        known = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(fonts)])
        nowhere = str(here / "none")
        self.compiler = typst.Compiler(
            root=str(self.root), font_paths=known, package_path=nowhere, package_cache_path=nowhere,
        )  # fmt: skip


@cache
def _workshop() -> _Workshop:
    return _Workshop()


def compile_pdf(source: str, *, timestamp: int = EPOCH, files: Mapping[str, bytes] | None = None) -> bytes:
    """Compile Typst source to a PDF that conforms to PDF/UA-1.

    Parameters
    ----------
    source : the whole document, template included
    timestamp : seconds since 1970 written into the file; fixed, so that bytes are reproducible
    files : pictures the source names, by plain file name; nothing else on disk can be read by it

    Raises
    ------
    ReportError
        If the source does not compile, breaks the standard, or a warning is given.
    """
    with _lock:
        shop = _workshop()
        with tempfile.TemporaryDirectory(dir=shop.root.parent, ignore_cleanup_errors=True) as folder:
            root = Path(folder) if files else shop.root
            for name, data in (files or {}).items():
                (root / Path(name).name).write_bytes(data)
            try:
                pdf, warnings = shop.compiler.compile_with_warnings(
                    input=source.encode("utf-8"),
                    format="pdf",
                    pdf_standards=[STANDARD],
                    root=str(root),
                    timestamp=timestamp,
                )
            except typst.TypstError as error:
                raise ReportError(f"The page could not be set: {_told(error)}") from error
    if warnings:
        raise ReportError(f"The page was set with a warning: {_told(warnings[0])}")
    if not isinstance(pdf, bytes):
        raise ReportError("The page could not be set: the compiler returned no PDF.")
    return pdf


def _told(trouble: typst.TypstError | typst.TypstWarning) -> str:
    return " ".join([trouble.message, *trouble.hints])
