"""Single texts of cells to numbers and flags, and what is wrong with those that are none."""

from __future__ import annotations

import re
from typing import NamedTuple

from lbeval.raw import ERROR_TEXTS
from lbeval.spelling import fold

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}(?: \d{2}:\d{2})?")
_YES = frozenset({"yes", "y", "x", "1", "true", "✓", "✔"})
_NO = frozenset({"no", "n", "0", "false"})


class Fault(NamedTuple):
    """Why a text cannot be a value at all, and what to do in the file."""

    reason: str
    message: str
    suggestion: str


def fault_of(text: str) -> Fault | None:
    """Return what is wrong with a cell that shows an error, a formula or a date; None if it is plain text."""
    if text.upper() in ERROR_TEXTS:
        return Fault(
            "error_cell", f"the cell shows {text}: its formula failed", "type the value in its place"
        )
    if text.startswith("=") and len(text) > 1:
        return Fault(
            "formula_without_value",
            "a formula stands here, and the file does not say what it gave",
            "open the file in a spreadsheet, save it again, or type the value",
        )
    if _DATE.fullmatch(text):
        return Fault(
            "date_for_value",
            f"a date stands where a value belongs ({text}): the spreadsheet changed what was typed",
            "format the column as text and type the value again",
        )
    return None


def number_of(text: str, decimal: str = ".") -> float | None:
    """Return the number that `text` is in a file with this decimal mark; None if it is none."""
    plain = fold(text).replace(" ", "")
    if decimal == ",":
        plain = plain.replace(".", "").replace(",", ".") if "," in plain else plain
    return float(plain) if _NUMBER.fullmatch(plain) and plain.isascii() else None


def yes_no(text: str) -> str:
    """Return `yes`, `no`, or empty for a text that is neither."""
    plain = fold(text)
    return "yes" if plain in _YES else "no" if plain in _NO else ""
