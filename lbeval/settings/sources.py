"""How one of the staff's files is to be read: declared once, never inferred when it is loaded."""

from __future__ import annotations

import re
from typing import Literal, Self, get_args

from pydantic import Field, model_validator

from lbeval.settings.base import Identifier, Section, Words

Kind = Literal[
    "grades", "plays", "roles", "events", "tackles", "roster", "measurables", "drills", "remarks", "leave_out"
]

FIELDS: dict[str, tuple[str, ...]] = {
    "grades": (
        "rater",
        "player",
        "game",
        "play",
        "criterion",
        "score",
        "look",
        "technique",
        "gap_held",
    ),
    "plays": (
        "game",
        "play",
        "snap",
        "date",
        "phase",
        "week",
        "opponent",
        "play_type",
        "down",
        "distance",
        "hash",
        "call",
        "side",
        "nullified",
    ),
    "roles": ("game", "play", "player", "role", "assignment", "at_point", "blocker", "block_side"),
    "events": ("game", "play", "player", "kind"),
    "tackles": (
        "game",
        "play",
        "player",
        "outcome",
        "approach",
        "faults",
        "yards_after_contact",
        "head",
        "scorer",
    ),
    "roster": (
        "player",
        "name",
        "jersey",
        "jersey_from",
        "jersey_to",
        "position",
        "class_year",
        "seasons_left",
        "status",
        "birth_month",
        "level",
    ),
    "measurables": ("player", "date", "test", "value", "unit", "timing", "standing"),
    "drills": ("game", "date", "phase", "drill", "reps", "minutes", "contact"),
    "remarks": ("player", "section", "text"),
    "leave_out": (),
}
"""The fields a source of each kind can fill; `player` in a roster is the staff's own id, if they keep one."""

_CELL = re.compile(r"cell [A-Z]{1,3}[1-9]\d{0,6}")


class Source(Section):
    """One block of `[[sources]]`.

    Attributes
    ----------
    files : patterns of file names, relative to the season folder (`grades/Game*.xlsx`).
    kind : what the rows are; `leave_out` says a file is known and not wanted.
    rater : whose marks they are, when no column says it.
    shape : `long` one row a mark; `wide` one row a player and play with a column for each criterion (or
        test); `across` plays down and players across.
    sheets : patterns of sheet names; others are reported as not described.
    heading_row, heading_rows : the row (1 is the first) where headings start, and how many rows they fill.
        Several heading rows are joined by ` / `, a merged cell counting for all columns it covers.
    columns : our field -> heading as written.
    criteria : heading (wide) or value (long) as written -> criterion id of the rubric.
    tests : heading as written -> test (measurables, wide).
    take : field -> where else its value stands: `sheet` (its name), `file` (its name), `cell B1`,
        `row above` (a row with a single filled cell, valid until the next).
    constants : field -> one value for the whole source.
    packed : criteria in the order of the characters of a packed cell (`++-`).
    events_in_marks : code in brackets behind a mark -> event kind (`-(MA)`).
    scale, scales : the scale of all marks; or of one criterion.
    values : field -> as written -> our word.
    units : test or field -> unit.
    numbering : whether play numbers are film clips or defensive snaps of the clip list.
    offsets : game (as written or id) -> what to add to this file's play numbers to get the clip list's.
    separators : characters between several codes in one cell.
    ignore_columns, ignore_rows : headings, and beginnings of a row's first filled cell, declared not
        wanted.
    encoding, delimiter, decimal : for text files, when not UTF-8 (or with a byte order mark), comma and
        point.
    """

    files: tuple[Words, ...] = Field(min_length=1)
    kind: Kind
    rater: Identifier | None = None
    shape: Literal["long", "wide", "across"] = "long"
    sheets: tuple[str, ...] = ("*",)
    heading_row: int = Field(default=1, ge=1)
    heading_rows: int = Field(default=1, ge=1, le=4)
    columns: dict[str, str] = Field(default_factory=dict)
    criteria: dict[str, Identifier] = Field(default_factory=dict)
    tests: dict[str, Identifier] = Field(default_factory=dict)
    take: dict[str, str] = Field(default_factory=dict)
    constants: dict[str, str] = Field(default_factory=dict)
    packed: tuple[Identifier, ...] = ()
    events_in_marks: dict[str, Identifier] = Field(default_factory=dict)
    scale: Identifier | None = None
    scales: dict[Identifier, Identifier] = Field(default_factory=dict)
    values: dict[str, dict[str, str]] = Field(default_factory=dict)
    units: dict[str, str] = Field(default_factory=dict)
    numbering: Literal["clip", "snap"] = "clip"
    offsets: dict[str, int] = Field(default_factory=dict)
    separators: str = ";,/+"
    ignore_columns: tuple[str, ...] = ()
    ignore_rows: tuple[str, ...] = ()
    encoding: str | None = None
    delimiter: str | None = None
    decimal: Literal[".", ","] = "."

    @model_validator(mode="after")
    def _check(self) -> Self:
        known = FIELDS[self.kind]
        for name in ("columns", "take", "constants", "values"):
            for field in getattr(self, name):
                if field not in known:
                    msg = f"{name}.{field}: a source of kind {self.kind} has the fields {', '.join(known)}"
                    raise ValueError(msg)
        twice = [f for f in known if sum(f in d for d in (self.columns, self.take, self.constants)) > 1]
        if twice:
            msg = f"{twice[0]} is given in more than one of columns, take and constants; keep one"
            raise ValueError(msg)
        for field, where in self.take.items():
            if where not in {"sheet", "file", "row above"} and not _CELL.fullmatch(where):
                msg = f"take.{field}: say sheet, file, row above, or a cell such as cell B1"
                raise ValueError(msg)
        self._check_grades()
        return self

    def _check_grades(self) -> None:
        if self.kind != "grades":
            return
        if self.scale is None and not self.scales:
            msg = "a grades source needs scale = the name of a scale of [scales]"
            raise ValueError(msg)
        if self.rater is None and not self.gives("rater"):
            msg = "say whose grades these are: rater = an id of [raters], or a rater column"
            raise ValueError(msg)
        if self.shape == "wide" and not self.criteria and not self.packed:
            msg = "a wide grades source needs criteria = {heading as written = criterion id}"
            raise ValueError(msg)

    def gives(self, field: str) -> bool:
        """Return whether the source says where `field` stands."""
        return field in self.columns or field in self.take or field in self.constants


KINDS: tuple[str, ...] = get_args(Kind)
