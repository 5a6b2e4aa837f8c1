"""A mark as written to what it is worth on the rater's declared scale."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from rapidfuzz import process

from lbeval.settings import Scale
from lbeval.spelling import fold
from lbeval.tidy.texts import number_of

_BRACKETS = re.compile(r"(.*?)\s*[(\[]([^()\[\]]*)[)\]]\s*")


class Mark(NamedTuple):
    """What a cell says: a worth from 0 to 1, or a blank of some kind, or neither (`known` is false).

    `near` names the marks of the scale that it may have been.
    """

    known: bool
    score: float | None = None
    blank: str = ""
    near: str = ""
    message: str = ""


class ScaleReader:
    """Reads the marks of one scale in files with one decimal mark."""

    def __init__(self, scale: Scale, decimal: str) -> None:
        self._decimal = decimal
        self._percent = scale.percent
        self._shown = list(scale.marks)
        self._worths = {fold(mark): worth for mark, worth in scale.marks.items()}
        self._numbers: dict[float, float] = {}
        for mark, worth in scale.marks.items():
            number = _value(mark, ".")
            if number is not None:
                self._numbers.setdefault(number, worth)
        self._blanks = {"": "not_graded"}
        for kind in ("did_not_occur", "not_graded", "ungradable"):
            self._blanks.update({fold(text): kind for text in getattr(scale, kind)})
            self._blanks.setdefault(kind, kind)
            self._blanks.setdefault(kind.replace("_", " "), kind)

    def read(self, text: str) -> Mark:
        """Return what `text` means on this scale."""
        said = fold(text)
        if said in self._blanks:
            return Mark(known=True, blank=self._blanks[said])
        if said in self._worths:
            return Mark(known=True, score=self._worths[said])
        number = _value(text.removesuffix("%") if self._percent else text, self._decimal)
        if self._percent:
            return self._percentage(text, number)
        if number is not None and number in self._numbers:
            return Mark(known=True, score=self._numbers[number])
        return Mark(known=False, near=self._near(said), message=f"{text!r} is no mark of the scale")

    def _percentage(self, text: str, number: float | None) -> Mark:
        if number is None or not 0 <= number <= 100:
            comma = '; a decimal comma needs decimal = "," in its block' if "," in text else ""
            return Mark(known=False, message=f"{text!r} is no percentage from 0 to 100{comma}")
        if 0 < number <= 1 and "%" not in text:
            message = f"{text!r} can be {number:g} % or {number * 100:g} %"
            return Mark(known=False, message=message, near=f"{number * 100:g}%; {number:g}%")
        return Mark(known=True, score=number / 100)

    def _near(self, said: str) -> str:
        if len(self._shown) <= 8:
            return "; ".join(self._shown)
        return "; ".join(match[0] for match in process.extract(said, self._shown, limit=3))


def _value(text: str, decimal: str) -> float | None:
    """Return the number a mark is, a single fraction such as a half included."""
    said = text.strip()
    if len(said) == 1 and unicodedata.category(said) == "No":
        return unicodedata.numeric(said)
    return number_of(said, decimal)


def split_codes(text: str) -> tuple[str, str]:
    """Return a mark and what stands in brackets behind it: `-(MA)` is `-` and `MA`."""
    found = _BRACKETS.fullmatch(text)
    return (found[1], found[2]) if found else (text, "")


class Packing:
    """Cuts packed cells (`++-`, `2/1/2`) into the marks of a scale."""

    def __init__(self, scale: Scale, count: int) -> None:
        marks = [*scale.marks, *scale.did_not_occur, *scale.not_graded, *scale.ungradable]
        known = sorted({fold(mark) for mark in marks if mark}, key=lambda mark: (-len(mark), mark))
        gaps = "".join(gap for gap in " /,;|" if gap not in known)
        self._one = re.compile(f"[{re.escape(gaps)}]*({'|'.join(map(re.escape, known))})")
        self._gaps = gaps
        self._count = count
        self._blanks = {fold(m) for m in (*scale.did_not_occur, *scale.not_graded, *scale.ungradable)}

    def cut(self, text: str) -> list[str] | None:
        """Return one mark for each criterion; None if the cell holds another number of marks."""
        said = fold(text)
        if said == "" or said in self._blanks:
            return [text] * self._count
        marks, at = [], 0
        while found := self._one.match(said, at):
            marks.append(found[1])
            at = found.end()
        return marks if len(marks) == self._count and not said[at:].strip(self._gaps) else None
