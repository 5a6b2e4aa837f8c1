"""Play numbers as staffs write them: `12`, `#12`, `12-18`, and a range that became a date."""

from __future__ import annotations

import re
from typing import NamedTuple

from lbeval.spelling import fold

LONGEST_RANGE = 40
"""A range over more plays than this is taken for a slip."""

WHOLE_SESSION = 0
"""The number of the play that stands for a whole session, where marks are given once for all of it."""

_SINGLE = re.compile(r"(?:#|no\.? ?|play ?#?|clip ?#?|snap ?#?)?(\d{1,4})")
_RANGE = re.compile(r"(\d{1,4}) ?(?:-|to|\.\.) ?(\d{1,4})")
_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?: 00:00)?")
_DAY_MONTH = re.compile(r"(\d{1,2})-([a-z]{3})")
_MONTH_OTHER = re.compile(r"([a-z]{3})-(\d{2})")
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


class Numbers(NamedTuple):
    """The plays from `first` to `last` that a text names; `from_date` if a spreadsheet made it a date."""

    first: int
    last: int
    from_date: bool = False


def play_numbers(text: str, year: int) -> Numbers | None:
    """Return the plays that `text` names, or None if it names none.

    A date is read back as the range it was typed as (18 December: 12-18; December 1945: 12-45): in whichever
    order the two numbers rise, since a range never falls. A date of which both readings are open is none.

    Parameters
    ----------
    year : of the season; a first of a month in another year was typed as month and a two-digit number.
    """
    said = fold(text)
    if found := _SINGLE.fullmatch(said):
        return Numbers(int(found[1]), int(found[1]))
    if found := _RANGE.fullmatch(said):
        return _rising(int(found[1]), int(found[2]), from_date=False)
    pair = _typed(said, year)
    return _rising(*sorted(pair), from_date=True) if pair else None


def _rising(first: int, last: int, *, from_date: bool) -> Numbers | None:
    return Numbers(first, last, from_date) if first < last <= first + LONGEST_RANGE else None


def _typed(said: str, year: int) -> tuple[int, int] | None:
    """Return the two numbers that a date was typed as."""
    if found := _ISO.fullmatch(said):
        return _from_parts(int(found[1]), int(found[2]), int(found[3]), year)
    if (found := _DAY_MONTH.fullmatch(said)) and found[2] in _MONTHS:
        return _MONTHS.index(found[2]) + 1, int(found[1])
    if (found := _MONTH_OTHER.fullmatch(said)) and found[1] in _MONTHS:
        return _MONTHS.index(found[1]) + 1, int(found[2])
    if found := _SLASHED.fullmatch(said):
        month, day = int(found[1]), int(found[2])
        return _from_parts(int(found[3]), month, day, year)
    return None


def _from_parts(date_year: int, month: int, day: int, year: int) -> tuple[int, int]:
    if day == 1 and abs(date_year - year) > 1:
        return month, date_year % 100
    return month, day
