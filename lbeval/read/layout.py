"""Where on a sheet a source block's fields stand."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lbeval.raw import Finding
from lbeval.read.sheets import Sheet
from lbeval.settings import Source


@dataclass(eq=False)
class Layout:
    """What a source block finds on a sheet; columns from 0, rows as positions in `sheet.cells`.

    Attributes
    ----------
    headings, parts : joined and apart, one a column.
    fields : field -> column.
    texts : field -> the one text of all rows (sheet or file name, a cell, a constant).
    marks : (column, player as written, heading of criterion or test) of the columns with a mark a cell.
    ignored, doubled : columns not wanted, and those whose heading stands twice.
    sections : fields that a row above gives.
    first : position of the first body row.
    rows : positions of entries; `section` the text of the section each stands in.
    """

    sheet: Sheet
    source: Source
    headings: list[str] = field(default_factory=list)
    parts: list[list[str]] = field(default_factory=list)
    fields: dict[str, int] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    cells: list[tuple[int, int]] = field(default_factory=list)
    marks: list[tuple[int, str, str]] = field(default_factory=list)
    sections: list[str] = field(default_factory=list)
    ignored: list[int] = field(default_factory=list)
    doubled: list[int] = field(default_factory=list)
    first: int = 0
    rows: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    section: NDArray[np.object_] | None = None
    heading_rows: list[int] = field(default_factory=list)
    left_rows: list[int] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    usable: bool = True

    def say(
        self,
        reason: str,
        message: str,
        suggestion: str,
        *,
        kind: Literal["set_aside", "notice"] = "notice",
        place: tuple[int, int] = (0, 0),
        value: str = "",
    ) -> None:
        """Note a finding about this sheet."""
        self.findings.append(
            Finding(self.sheet.file, self.sheet.name, *place, value, kind, reason, message, suggestion)
        )
