"""A list of planted faults, and how one is noted."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from data_demo.maker.paper import Cell, Paper, Sheet

Fate = Literal["set_aside", "notice", "used"]


class Fault(NamedTuple):
    """One line of `planted.csv`.

    `row` and `column` count from 1, 0 where the whole sheet or file is meant; `fate` is what must become of
    it: `set_aside`, `notice` (used, and said), `used` (read right, without a word); `reason` is the code
    of the set-aside table, empty for `used`.
    """

    file: str
    sheet: str
    row: int
    column: int
    value: str
    fate: Fate
    reason: str
    what: str


@dataclass
class Planter:
    """The papers of a season and the faults planted in them so far."""

    papers: dict[str, Paper]
    faults: list[Fault] = field(default_factory=list)

    def note(
        self,
        place: tuple[str, str, int, int],
        value: Cell,
        fate: Fate,
        reason: str,
        what: str,
    ) -> None:
        """Note a fault at (file, sheet, row, column), rows and columns from 1."""
        file, sheet, row, column = place
        self.faults.append(Fault(file, sheet, row, column, str(value), fate, reason, what))

    def sheet(self, file: str, name: str = "") -> Sheet:
        """Return a sheet of a paper."""
        return next(s for s in self.papers[file].sheets if s.name == name)

    def change(
        self, place: tuple[str, str, int, int], value: Cell, fate: Fate, reason: str, what: str
    ) -> None:
        """Write `value` into a cell and note it."""
        file, name, row, column = place
        self.sheet(file, name).rows[row - 1][column - 1] = value
        self.note(place, value, fate, reason, what)

    def append(self, file: str, row: list[Cell], name: str = "") -> int:
        """Add a row at the end of a sheet; return its number."""
        rows = self.sheet(file, name).rows
        rows.append(row)
        return len(rows)
