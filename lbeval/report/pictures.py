"""Pictures on a page: vector figures, and pixels where there is nothing else; each with words for it."""

from __future__ import annotations

import base64
import binascii
import math
from dataclasses import dataclass

from lbeval.errors import ReportError
from lbeval.report.parts import Block, Text, html_runs, html_text, plain, runs


@dataclass(frozen=True)
class FigureBlock(Block):
    """A vector figure; `alt` says in words what it shows, `width` is in inches (None: its own)."""

    svg: str
    alt: str
    caption: Text = ""
    width: float | None = None

    def __post_init__(self) -> None:
        self._required("svg", "alt")
        self._runs("caption")
        _check_width(self.width)

    def html(self) -> str:
        data = base64.b64encode(self.svg.encode("utf-8", "replace")).decode("ascii")
        return _html_picture("image/svg+xml", data, self.alt, self.caption)

    def plain(self) -> str:
        return f"[{plain(self.caption) or 'Figure'}: {self.alt}]"


@dataclass(frozen=True)
class ImageBlock(Block):
    """A PNG picture in base64, for what exists only as pixels."""

    png: str
    alt: str
    caption: Text = ""
    width: float | None = None

    def __post_init__(self) -> None:
        self._required("png", "alt")
        self._runs("caption")
        _check_width(self.width)
        try:
            data = base64.b64decode("".join(self.png.split()), validate=True)
        except (binascii.Error, ValueError) as error:
            raise ReportError("ImageBlock.png is not base64.") from error
        if not data.startswith(b"\x89PNG\r\n\x1a\n"):
            raise ReportError("ImageBlock.png is not a PNG picture.")
        self._set("png", base64.b64encode(data).decode("ascii"))

    def html(self) -> str:
        return _html_picture("image/png", self.png, self.alt, self.caption)

    def plain(self) -> str:
        return f"[{plain(self.caption) or 'Picture'}: {self.alt}]"


def _check_width(width: float | None) -> None:
    if width is not None and not 0 < float(width) < math.inf:
        raise ReportError("The width of a figure is a positive number of inches.")


def _html_picture(mime: str, data: str, alt: str, caption: Text) -> str:
    note = f"<figcaption>{html_runs(caption)}</figcaption>" if runs(caption) else ""
    return f'<figure><img src="data:{mime};base64,{data}" alt="{html_text(alt)}">{note}</figure>'
