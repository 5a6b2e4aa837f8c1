"""The strict, frozen model that every settings section is."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, StringConstraints

Identifier = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_-]{0,39}$")]
"""What our ids look like: lower case letters, digits, `_` and `-`, at most 40."""

Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=300)]
"""Text a person wrote and a page may print."""


class Section(BaseModel):
    """A part of a settings file: unknown keys are errors, values never change after loading."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)
