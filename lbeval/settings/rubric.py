"""`rubric.toml`: what is graded, in teaching order, with its fault, drill and weight."""

from __future__ import annotations

import datetime as dt
from typing import Literal, Self

from pydantic import Field, model_validator

from lbeval.settings.base import Identifier, Section, Words

Stage = Literal["close", "strike", "extend", "shed"]


class Group(Section):
    """A group of criteria that gets a line of its own on a page."""

    id: Identifier
    label: Words


class Criterion(Section):
    """One thing that is marked on a play.

    `label` is the right way as a coach says it, `fault` the wrong way; `drill` trains it. `stage` places it
    in the chain of a take-on. `safety` marks what concerns the head: it comes before anything else.
    `valid_from` and `valid_to` let a rubric change between seasons without trends running across.
    """

    id: Identifier
    label: Words
    group: Identifier
    weight: float = Field(default=1.0, ge=0.0)
    fault: Words | None = None
    drill: Words | None = None
    stage: Stage | None = None
    safety: bool = False
    definition: Words | None = None
    valid_from: dt.date | None = None
    valid_to: dt.date | None = None


class Fault(Section):
    """A fault that a tackle log names, with the drill that trains it away."""

    label: Words
    drill: Words | None = None
    safety: bool = False


class Rubric(Section):
    """All of `rubric.toml`; `standard` is the mark (0 to 1) that the staff expects of a starter."""

    name: Words = "Rubric"
    standard: float = Field(gt=0.0, lt=1.0)
    pass_mark: float = Field(default=0.5, gt=0.0, le=1.0)
    """The mark (0 to 1) from which a stage of a take-on counts as passed."""
    groups: tuple[Group, ...] = Field(min_length=1)
    criteria: tuple[Criterion, ...] = Field(min_length=1)
    faults: dict[Identifier, Fault] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _check(self) -> Self:
        named = {"groups": [g.id for g in self.groups], "criteria": [c.id for c in self.criteria]}
        for name, ids in named.items():
            for one in ids:
                if ids.count(one) > 1:
                    msg = f"{name}: the id {one!r} stands twice"
                    raise ValueError(msg)
        known = {g.id for g in self.groups}
        for criterion in self.criteria:
            if criterion.group not in known:
                msg = f"criteria.{criterion.id}: group {criterion.group!r} is not in [[groups]]"
                raise ValueError(msg)
        if not any(c.weight > 0 for c in self.criteria):
            msg = "at least one criterion needs a weight above 0"
            raise ValueError(msg)
        return self
