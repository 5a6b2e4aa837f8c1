"""What `lbeval check` says: what was read, what was set aside and where, and who owes which games."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

import pandas as pd

from lbeval.tables import Season
from lbeval.tables.schema import FATES

_PLACE = ["source_file", "source_sheet", "source_column", "column", "value"]
_SAME = ["kind", "reason", *_PLACE, "message", "suggestion"]


def as_data(season: Season, coverage: pd.DataFrame) -> dict[str, Any]:
    """Return the whole answer as plain data, a record a row, for programs."""
    return {
        "files": season.ledger.to_dict("records"),
        "set_aside": season.set_aside.to_dict("records"),
        "to_settle": season.to_settle[season.to_settle["answer"] == ""].to_dict("records"),
        "coverage": coverage.to_dict("records"),
    }


def lines(season: Season, coverage: pd.DataFrame) -> list[str]:
    """Return the answer as lines for a terminal, the worst last, where a tired reader looks."""
    notices = season.set_aside[season.set_aside["kind"] == "notice"]
    aside = season.set_aside[season.set_aside["kind"] == "set_aside"]
    return [
        *_files(season.ledger),
        *_owed(season, coverage),
        *_findings("Used, but look at it", notices),
        *_findings("Set aside", aside),
        *_waiting(season.to_settle),
        "",
        _last(aside, season),
    ]


def _files(ledger: pd.DataFrame) -> Iterable[str]:
    yield "What was read (cells)"
    per_file = ledger.groupby(["source_file", "kind"], sort=True)[["rows", "cells", *FATES]].sum()
    width = max((len(str(file)) for file, _ in per_file.index), default=4)
    for row in per_file.reset_index().itertuples(index=False):
        fates = [(fate.replace("_", " "), int(getattr(row, fate))) for fate in FATES]
        said = ", ".join(f"{count:,} {fate}" for fate, count in fates if count)
        kind = str(row.kind).replace("_", " ") or "no source block"
        yield f"  {row.source_file!s:<{width}}  {kind}: {row.cells:,} = {said or 'nothing'}"


def _owed(season: Season, coverage: pd.DataFrame) -> Iterable[str]:
    if coverage.empty:
        return
    yield ""
    yield "Who has graded what (plays graded of plays with a linebacker on the field)"
    labels = season.games.set_index("game_id")["label"]
    names = {rater: settings.name for rater, settings in season.settings.raters.items()}
    for rater, rows in coverage.groupby("rater_id", sort=False):
        missing = rows[rows["owed"]]
        owed = [
            f"{label} {graded} of {plays}"
            for label, graded, plays in zip(
                missing["game_id"].map(labels), missing["n_graded"], missing["n_plays"], strict=True
            )
        ]
        done = int((~rows["owed"]).sum())
        yield f"  {names.get(str(rater), rater)}: {done} of {len(rows)} sessions; " + (
            "owes " + "; ".join(owed) if owed else "nothing owed"
        )


def _findings(title: str, rows: pd.DataFrame) -> Iterable[str]:
    if rows.empty:
        return
    yield ""
    yield f"{title}: {len(rows):,}"
    for _, group in rows.groupby(_SAME, sort=False):
        found = _Finding(*(group[column].iloc[0] for column in _SAME))
        yield f"  {_where(found, group['source_row'])}: {found.message}"
        if found.suggestion:
            yield f"      -> {found.suggestion}"


class _Finding(NamedTuple):
    kind: str
    reason: str
    source_file: str
    source_sheet: str
    source_column: int
    column: str
    value: str
    message: str
    suggestion: str


def _where(found: _Finding, rows: pd.Series[int]) -> str:
    parts = [found.source_file]
    if found.source_sheet:
        parts.append(f"sheet {found.source_sheet}")
    numbers = sorted({int(row) for row in rows if row})
    if numbers:
        parts.append(("row " if len(numbers) == 1 else "rows ") + _ranges(numbers))
    if found.column or found.source_column:
        letter = f"column {column_letters(found.source_column)}" if found.source_column else "column"
        parts.append(f"{letter} {found.column!r}" if found.column else letter)
    if found.value:
        parts.append(f"value {_short(found.value)!r}")
    return ", ".join(parts)


def column_letters(number: int) -> str:
    """Return a spreadsheet's letters for column `number` (1 is A)."""
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _ranges(numbers: list[int]) -> str:
    """Return sorted numbers with runs drawn together: 3-5, 9."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."


def _waiting(to_settle: pd.DataFrame) -> Iterable[str]:
    waiting = to_settle[to_settle["answer"] == ""]
    if waiting.empty:
        return
    yield ""
    yield f"Waiting for your answer in to_settle.xlsx: {len(waiting)}"
    for row in waiting.to_dict("records"):
        near = f"; nearest: {row['suggestion']}" if row["suggestion"] else ""
        place = f" ({row['where']})" if row["where"] else ""
        often = "once" if row["times"] == 1 else f"{row['times']} times"
        yield f"  {row['what']} {_short(row['written'])!r}{place}, {often}{near}"


def _last(aside: pd.DataFrame, season: Season) -> str:
    marks = int(season.grades["score"].notna().sum())
    if aside.empty:
        return f"Everything found its place: {marks:,} marks are ready."
    what = "1 row or cell is" if len(aside) == 1 else f"{len(aside):,} rows or cells are"
    return f"{what} set aside; the other {marks:,} marks are ready. Nothing was changed or guessed."
