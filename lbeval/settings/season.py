"""`season.toml`: the program, its raters and scales, its house rules and its files."""

from __future__ import annotations

import datetime as dt
from typing import Literal, Self

from pydantic import Field, model_validator

from lbeval.settings.base import Identifier, Section, Words
from lbeval.settings.scales import Scale
from lbeval.settings.sources import Source

Phase = Literal["spring", "camp", "practice", "scrimmage", "game"]


class Program(Section):
    """Whose season it is, and the paper they print on."""

    name: Words
    year: int = Field(ge=1900, le=2200)
    unit: Words = "Linebackers"
    level: Words | None = None
    paper: Literal["letter", "a4"] = "letter"
    grades_on: Identifier
    """The scale that grades are printed on: an id of [scales]."""


class Rater(Section):
    """A coach who grades; pages print `name`."""

    name: Words


class Game(Section):
    """A session the clip list does not name as the files do, or a season without a clip list."""

    label: Words
    phase: Phase = "game"
    week: int | None = None
    opponent: Words | None = None
    date: dt.date | None = None
    aliases: tuple[Words, ...] = ()


class Range(Section):
    """What a measured value can be; outside is an error in the file, not a player."""

    low: float
    high: float
    unit: Words
    whole: bool = False
    source: Words


class PracticeLimit(Section):
    """A limit on contact that the staff has to keep, with who set it and when."""

    what: Words
    limit: float
    per: Literal["week", "day", "phase", "season"]
    contact: tuple[Literal["air", "bag", "control", "thud", "live"], ...]
    unit: Literal["minutes", "sessions", "reps"]
    source: Words
    date: dt.date


class House(Section):
    """House rules: every threshold a page uses, with the staff as its owner."""

    confidence: float = Field(default=0.90, gt=0.5, lt=1.0)
    min_plays: int = Field(default=30, ge=1)
    """Below this many graded plays a page says "not enough film" instead of a grade."""
    min_plays_group: int = Field(default=15, ge=1)
    """The same for one group of criteria."""
    min_tackles: int = Field(default=10, ge=1)
    """Below this many attempts the counts are printed without a rate."""
    min_games: int = Field(default=4, ge=2)
    tackle_made: tuple[Literal["solo", "assist"], ...] = ("solo", "assist")
    """Which outcomes count as made; the rate's denominator is these and the misses."""
    faults_recorded: Literal["every attempt", "misses only"] = "every attempt"
    show_weight: bool = False
    show_availability: bool = False


class SeasonSettings(Section):
    """All of `season.toml`."""

    program: Program
    raters: dict[Identifier, Rater] = Field(default_factory=dict)
    scales: dict[Identifier, Scale] = Field(min_length=1)
    games: dict[Identifier, Game] = Field(default_factory=dict)
    house: House = House()
    ranges: dict[Identifier, Range] = Field(default_factory=dict)
    limits: tuple[PracticeLimit, ...] = ()
    sources: tuple[Source, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.program.grades_on not in self.scales:
            msg = f"program.grades_on: {self.program.grades_on!r} is no scale of [scales]"
            raise ValueError(msg)
        for number, source in enumerate(self.sources, 1):
            where = f"sources block {number} ({', '.join(source.files)})"
            if source.rater is not None and source.rater not in self.raters:
                msg = f"{where}: rater {source.rater!r} is not in [raters]"
                raise ValueError(msg)
            for scale in (source.scale, *source.scales.values()):
                if scale is not None and scale not in self.scales:
                    msg = f"{where}: scale {scale!r} is not in [scales]"
                    raise ValueError(msg)
        return self
