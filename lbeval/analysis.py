"""A season with everything that was fitted to it, kept in a folder so that notebooks only load and show."""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pandas as pd
from pydantic import BaseModel

from lbeval.errors import ReportError
from lbeval.files import write_bytes_atomic, write_text_atomic
from lbeval.fit.events import EventsFit
from lbeval.fit.ratings import RatingsFit
from lbeval.fit.tackling import TacklingFit
from lbeval.fit.takeons import TakeOnCounts
from lbeval.tables import Season

FORMAT = 1
"""Raised whenever an older folder could be misread."""

_INDEX = "analysis.json"
_T = TypeVar("_T")


@dataclass(frozen=True, eq=False)
class Analysis:
    """A season and its fits; without a usable mark of a game there are no ratings, and `unrated` says why."""

    season: Season
    ratings: RatingsFit | None
    tackling: TacklingFit
    events: EventsFit
    takeons: TakeOnCounts
    unrated: str = ""

    @property
    def digest(self) -> str:
        """SHA-256 of the content: the same for the same settings, tables and results, wherever they lie."""
        whole = hashlib.sha256()
        for name, value in _leaves("", self):
            whole.update(f"{name}\0{_digest(value)}\n".encode())
        return whole.hexdigest()


def save_analysis(analysis: Analysis, folder: Path) -> None:
    """Write `analysis` into `folder`: a Parquet file a frame, the rest and the digest as JSON, JSON last."""
    folder.mkdir(parents=True, exist_ok=True)
    index: dict[str, Any] = {"format": FORMAT, "digest": analysis.digest, "files": {}, "values": {}}
    kept = set()
    for name, value in _leaves("", analysis):
        if isinstance(value, pd.DataFrame | np.ndarray):
            content, suffix = _encoded(value)
            file = f"{name}.{suffix}"
            write_bytes_atomic(folder / file, content)
            index["files"][name] = file
            kept.add(file)
        else:
            index["values"][name] = _plain(value)
    write_text_atomic(folder / _INDEX, json.dumps(index, indent=1, ensure_ascii=False) + "\n")
    for old in [*folder.glob("*.parquet"), *folder.glob("*.npy")]:
        if old.name not in kept:
            old.unlink()


def load_analysis(folder: Path | str) -> Analysis:
    """Read what `save_analysis` wrote.

    Raises
    ------
    ReportError
        If the folder holds no analysis, or one of another version.
    """
    where = Path(folder)
    try:
        index = json.loads((where / _INDEX).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        msg = f"{where} holds no saved analysis ({error}); run `lbeval evaluate` on the season folder first"
        raise ReportError(msg) from None
    if index.get("format") != FORMAT:
        msg = f"{where} was written by another version of lbeval; run `lbeval evaluate` on the season again"
        raise ReportError(msg)
    try:
        return _built(Analysis, "", index, where)
    except (KeyError, OSError, ValueError, TypeError) as error:
        msg = f"{where}: the saved analysis is damaged ({error}); run `lbeval evaluate` on the season again"
        raise ReportError(msg) from None


def _leaves(name: str, value: Any) -> Iterator[tuple[str, Any]]:
    """Yield name and value of every frame, array and plain value below a dataclass, in field order."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            below = f"{name}.{field.name}" if name else field.name
            yield from _leaves(below, getattr(value, field.name))
    elif not isinstance(value, Path):
        yield name, value


def _encoded(value: pd.DataFrame | np.ndarray[Any, Any]) -> tuple[bytes, str]:
    buffer = io.BytesIO()
    if isinstance(value, pd.DataFrame):
        value.to_parquet(buffer, index=False)
        return buffer.getvalue(), "parquet"
    np.save(buffer, value, allow_pickle=False)
    return buffer.getvalue(), "npy"


def _plain(value: Any) -> Any:
    return value.model_dump(mode="json", exclude_defaults=True) if isinstance(value, BaseModel) else value


def _digest(value: Any) -> str:
    if isinstance(value, pd.DataFrame):
        content = hashlib.sha256(json.dumps([list(value.columns), len(value)]).encode())
        for column in value.columns:
            content.update(pd.util.hash_pandas_object(value[column], index=False).to_numpy().tobytes())
        return content.hexdigest()
    if isinstance(value, np.ndarray):
        return hashlib.sha256(str(value.shape).encode() + np.ascontiguousarray(value).tobytes()).hexdigest()
    return hashlib.sha256(json.dumps(_plain(value), sort_keys=True).encode()).hexdigest()


def _built(kind: type[_T], name: str, index: dict[str, Any], folder: Path) -> _T:
    hints = typing.get_type_hints(kind)
    values = {}
    for field in dataclasses.fields(kind):  # type: ignore[arg-type]
        below = f"{name}.{field.name}" if name else field.name
        values[field.name] = _read(hints[field.name], below, index, folder)
    return kind(**values)


def _read(hint: Any, name: str, index: dict[str, Any], folder: Path) -> Any:
    if name in index["files"]:
        file = folder / index["files"][name]
        return pd.read_parquet(file) if file.suffix == ".parquet" else np.load(file, allow_pickle=False)
    if hint is Path:
        return folder
    if name in index["values"]:
        return _typed(hint, index["values"][name])
    held = next((one for one in typing.get_args(hint) or (hint,) if dataclasses.is_dataclass(one)), None)
    if held is None:
        raise KeyError(name)
    return _built(typing.cast("type[Any]", held), name, index, folder)


def _typed(hint: Any, value: Any) -> Any:
    if isinstance(hint, type) and issubclass(hint, BaseModel):
        return hint.model_validate(value)
    return _tuples(value) if isinstance(value, list) else value


def _tuples(value: Any) -> Any:
    return tuple(_tuples(one) for one in value) if isinstance(value, list) else value
