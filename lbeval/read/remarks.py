"""A coach's remarks in Markdown: `# Player`, `## section`, then his words."""

from __future__ import annotations

import re

import pandas as pd

from lbeval.raw import Claim
from lbeval.read.sheets import Sheet
from lbeval.tables import LINEAGE

_HEADING = re.compile(r"(#{1,2})\s+(.*?)\s*#*")


def markdown_remarks(sheet: Sheet, block: int) -> tuple[pd.DataFrame, Claim]:
    """Return one row for each stretch of text under its headings, and the claim on the sheet's rows."""
    lines = [row[0] if row else "" for row in sheet.rows()]
    player = section = ""
    entries: list[list[object]] = []
    headings: list[int] = []
    owner = list(range(1, len(lines) + 1))
    words: list[str] = []
    start = 0

    def close() -> None:
        text = "\n".join(words).strip()
        if text:
            entries.append([sheet.file, sheet.name, start, 0, player, section, text])
        words.clear()

    for number, line in enumerate(lines, 1):
        heading = _HEADING.fullmatch(line)
        if heading:
            close()
            headings.append(number)
            if heading[1] == "#":
                player, section = heading[2], ""
            else:
                section = heading[2]
            continue
        if not "".join(words):
            start = number
        words.append(line)
        owner[number - 1] = start
    close()
    frame = pd.DataFrame(entries, columns=[*LINEAGE, "player", "section", "text"])
    texts = dict.fromkeys(["source_file", "source_sheet", "player", "section", "text"], "str")
    frame = frame.astype({**texts, "source_row": "int64", "source_column": "int64"})
    claim = Claim(
        block, "remarks", {"text": 1}, first_row=1, heading_rows=tuple(headings), owner=tuple(owner)
    )
    return frame, claim
