"""A rater's scale as he declared it: the marks he writes and what they are worth from 0 to 1."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from lbeval.settings.base import Section
from lbeval.spelling import fold


class Scale(Section):
    """Ordered marks with their worth, or percent; and the three kinds of missing, kept apart.

    `marks` maps a mark as written to its worth (0 worst, 1 best), worst first. Several spellings may share
    a worth (`"+"` and `"plus"`). With `percent`, a number from 0 to 100 is divided by 100 instead.
    """

    marks: dict[str, float] = Field(default_factory=dict)
    percent: bool = False
    did_not_occur: tuple[str, ...] = ()
    not_graded: tuple[str, ...] = ()
    ungradable: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.percent == bool(self.marks):
            msg = 'give either marks = {"0" = 0.0, "1" = 0.5, "2" = 1.0} or percent = true'
            raise ValueError(msg)
        worth = list(self.marks.values())
        if worth and (worth != sorted(worth) or worth[0] != 0.0 or worth[-1] != 1.0):
            msg = "marks must go from the worst (0.0) to the best (1.0) in order"
            raise ValueError(msg)
        seen: dict[str, str] = {}
        for text in (*self.marks, *self.did_not_occur, *self.not_graded, *self.ungradable):
            if fold(text) in seen:
                msg = f"{text!r} stands twice; one mark can mean one thing only"
                raise ValueError(msg)
            seen[fold(text)] = text
        return self

    @property
    def worths(self) -> tuple[float, ...]:
        """Return the distinct worths in order; empty for percent."""
        return tuple(sorted(set(self.marks.values())))

    @property
    def ends(self) -> tuple[float, float] | None:
        """Return the numbers of the worst and the best mark, when marks are evenly spaced numbers."""
        numbers: dict[float, float] = {}
        for text, worth in self.marks.items():
            try:
                numbers.setdefault(worth, float(text))
            except ValueError:
                continue
        if set(numbers) != set(self.worths) or not numbers:
            return None
        low, high = numbers[0.0], numbers[1.0]
        even = all(abs(low + worth * (high - low) - number) < 1e-9 for worth, number in numbers.items())
        return (low, high) if even else None
