"""Settings files to settings objects, with errors that name file, key and remedy."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from rapidfuzz import process

from lbeval.errors import SettingsError
from lbeval.settings.base import Section
from lbeval.settings.rubric import Rubric
from lbeval.settings.season import SeasonSettings

_S = TypeVar("_S", bound=Section)


def load_settings(folder: Path) -> SeasonSettings:
    """Read `season.toml` of a season folder.

    Raises
    ------
    SettingsError
        With one line for each key that is wrong: file, key, what is wrong, what to do.
    """
    return _load(folder / "season.toml", SeasonSettings)


def load_rubric(folder: Path) -> Rubric:
    """Read `rubric.toml` of a season folder; raises as `load_settings` does."""
    return _load(folder / "rubric.toml", Rubric)


def _load(path: Path, model: type[_S]) -> _S:
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        msg = f"{path} is not there; `lbeval start {path.parent}` writes it"
        raise SettingsError(msg) from None
    except tomllib.TOMLDecodeError as error:
        msg = f"{path.name}: {error}; mend that line (text needs quotes, lists need commas)"
        raise SettingsError(msg) from None
    except (OSError, UnicodeDecodeError) as error:
        msg = f"{path} cannot be read: {error}; save it as plain text in UTF-8"
        raise SettingsError(msg) from None
    try:
        return model.model_validate(data)
    except ValidationError as error:
        lines = [_line(path.name, model, one) for one in error.errors(include_url=False)]
        raise SettingsError("\n".join(lines)) from None


def _line(file: str, model: type[BaseModel], error: Any) -> str:
    place = list(error["loc"])
    key = ".".join(str(part + 1) if isinstance(part, int) else str(part) for part in place) or "(whole file)"
    if error["type"] == "extra_forbidden":
        nearest = process.extractOne(str(place[-1]), _keys(model, place[:-1]), score_cutoff=60)
        hint = f"did you mean {nearest[0]!r}?" if nearest else "take it out"
        return f"{file}: {key}: unknown key; {hint}"
    if error["type"] == "missing":
        return f"{file}: {key}: missing; add it"
    said = str(error["msg"]).removeprefix("Value error, ")
    given = error.get("input")
    shown = f" (it says {given!r})" if isinstance(given, str | int | float | bool) else ""
    return f"{file}: {key}: {said}{shown}"


def _keys(model: type[BaseModel], place: list[int | str]) -> list[str]:
    """Return the keys allowed at `place`, walking through lists and tables by id."""
    current: type[BaseModel] | None = model
    for part in place:
        if current is None or isinstance(part, int) or part not in current.model_fields:
            continue
        current = _inner(current.model_fields[part].annotation) or current
    return list(current.model_fields) if current else []


def _inner(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _inner(part)
        if found is not None:
            return found
    return None
