"""Numbers and intervals to words; the only place that rounds.

Decimals follow the standard error: a unit of the last digit printed is worth no more than one standard error,
so that rounding moves a number by half of one at most.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lbeval.settings import Scale

MINUS = "\N{MINUS SIGN}"
EN_DASH = "\N{EN DASH}"
MOST_DECIMALS = 4


def decimals(std_error: float, *, most: int = MOST_DECIMALS) -> int:
    """Return how many decimals a number with this standard error is worth; 2 where it has none.

    >>> [decimals(error) for error in (2.0, 0.5, 0.06, 0.006)]
    [0, 1, 2, 3]
    """
    if not math.isfinite(std_error) or std_error < 0:
        return 2
    if std_error == 0:
        return most
    return min(most, max(0, math.ceil(-math.log10(std_error) - 1e-9)))


def interval_decimals(low: float, high: float) -> int:
    """Return the decimals of a number known only by its interval, some four standard errors wide.

    >>> interval_decimals(1.2, 2.9)
    1
    """
    return decimals((high - low) / 4)


def number(value: float, places: int) -> str:
    """Return `value` with `places` decimals, a true minus sign, and never a minus zero.

    >>> number(-1.25, 1), number(-0.01, 1)
    ('−1.2', '0.0')
    """
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    return text.replace("-", MINUS)


def percent(share: float, places: int = 0) -> str:
    """Return a share as percent; nothing short of all is called 100%, nothing above none 0%.

    >>> percent(0.714), percent(0.998), percent(1.0), percent(0.001)
    ('71%', '>99%', '100%', '<1%')
    """
    text = number(100 * share, places)
    unit = number(10.0**-places, places)
    if share < 1 and float(text) >= 100:
        return f">{number(100 - 10.0**-places, places)}%"
    return f"<{unit}%" if share > 0 and float(text) <= 0 else f"{text}%"


def percent_range(low: float, high: float) -> str:
    """Return a range of shares for a table.

    >>> percent_range(0.731, 0.86)
    '73–86%'
    """
    return span(percent(low).removesuffix("%"), percent(high))


def count(many: int, one: str, several: str = "") -> str:
    """Return a count with its noun.

    >>> count(1, "play"), count(12, "play"), count(0, "miss", "misses")
    ('1 play', '12 plays', '0 misses')
    """
    return f"{many:,} {one if many == 1 else several or one + 's'}"


def ordinal(place: int) -> str:
    """Return a place.

    >>> [ordinal(place) for place in (1, 2, 3, 11, 22)]
    ['1st', '2nd', '3rd', '11th', '22nd']
    """
    if place % 100 in {11, 12, 13}:
        return f"{place}th"
    return f"{place}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(place % 10, 'th') }"


def listing(items: Iterable[str], last: str = "and") -> str:
    """Join words as a sentence does.

    >>> listing(["a", "b", "c"])
    'a, b and c'
    """
    held = list(items)
    return held[0] if len(held) == 1 else f"{', '.join(held[:-1])} {last} {held[-1]}" if held else ""


def between(low: str, high: str) -> str:
    """Return a range in words; a range that prints as one number is that number.

    >>> between("1.3", "1.5"), between("1.4", "1.4")
    ('likely between 1.3 and 1.5', 'likely close to 1.4')
    """
    return f"likely close to {low}" if low == high else f"likely between {low} and {high}"


def span(low: str, high: str) -> str:
    """Return a range for a table or chart.

    >>> span("1.3", "1.5")
    '1.3–1.5'
    """
    return f"{low}{EN_DASH}{high}"


def sentence_case(text: str) -> str:
    """Return `text` with a capital first letter and the rest as written."""
    return text[:1].upper() + text[1:]


def rank_band(low: float, high: float, among: int) -> str:
    """Return a band of ranks.

    >>> rank_band(2, 5, 11), rank_band(1, 1, 11)
    ('between 2nd and 5th of 11', '1st of 11')
    """
    first, last = ordinal(int(low)), ordinal(int(high))
    return f"{first} of {among:,}" if first == last else f"between {first} and {last} of {among:,}"


def share_of(many: int, total: int, noun: str = "") -> str:
    """Return `22 of 31`, with a noun if given."""
    return f"{many:,} of {total:,}{f' {noun}' if noun else ''}"


@dataclass(frozen=True)
class GradeWords:
    """Grades (0 to 1) on the scale that a staff prints.

    Its own numbers where its marks are evenly spaced numbers (`worst` and `best`, which may be the lower
    one), percent otherwise.
    """

    worst: float
    best: float
    percent: bool

    @classmethod
    def of(cls, scale: Scale) -> GradeWords:
        """Return the words of a declared scale."""
        ends = scale.ends
        return cls(0.0, 100.0, percent=True) if ends is None else cls(*ends, percent=False)

    @property
    def width(self) -> float:
        """Return the numbers from the worst mark to the best."""
        return abs(self.best - self.worst)

    def place(self, grade: float) -> float:
        """Return where a grade lies on a chart's axis: printed units from the worst mark, the best right."""
        return _on_scale(grade) * self.width

    def tick(self, place: float, places: int) -> str:
        """Return the label of a place on a chart's axis."""
        return self.shown(place / self.width, places)

    def decimals(self, std_error: float) -> int:
        """Return the decimals of a grade whose standard error (0 to 1) is given."""
        return decimals(std_error * self.width, most=1 if self.percent else 3)

    def column_decimals(self, std_errors: Sequence[float]) -> int:
        """Return one number of decimals for a column of grades: that of its surest."""
        known = [error for error in std_errors if math.isfinite(error)]
        return max((self.decimals(error) for error in known), default=0)

    def bare(self, grade: float, places: int) -> str:
        """Return a grade without its unit; a dash where there is none."""
        if not math.isfinite(grade):
            return EN_DASH
        return number(self.worst + _on_scale(grade) * (self.best - self.worst), places)

    def shown(self, grade: float, places: int) -> str:
        """Return a grade with percent sign where the scale is percent."""
        return self.bare(grade, places) + ("%" if self.percent else "")

    def out_of(self, grade: float, places: int) -> str:
        """Return a grade with the best there is: `1.38 of 2`, `78%`."""
        if self.percent:
            return self.shown(grade, places)
        best = f"of {self.best:g}" if self.best > self.worst else f"({self.best:g} is best)"
        return f"{self.bare(grade, places)} {best}"

    def apart(self, difference: float, places: int) -> str:
        """Return the size of a difference of grades, in points where the scale is percent."""
        return number(abs(difference) * self.width, places) + (" points" if self.percent else "")

    def likely(self, low: float, high: float, places: int) -> str:
        """Return an interval of a grade in words, from the worse to the better."""
        return between(self.bare(low, places), self.shown(high, places))

    def range(self, low: float, high: float, places: int) -> str:
        """Return an interval of a grade for a table."""
        return span(self.bare(low, places), self.shown(high, places))


def _on_scale(grade: float) -> float:
    """Return the grade, an end of an interval perhaps, as far as the scale reaches; missing stays missing."""
    return min(1.0, max(0.0, grade)) if math.isfinite(grade) else grade
