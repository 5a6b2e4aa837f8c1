"""A season written by hand: a few rows where a test needs them, empty tables elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from lbeval.settings import Rubric, SeasonSettings
from lbeval.tables import LINEAGE, TABLES, Season, check_table, empty_table

Row = Mapping[str, Any]

_FILLED: dict[str, Any] = {
    "source_file": "typed by hand",
    "source_row": 2,
    "source_column": 0,
    "status": "roster",
    "look": "first",
    "mode": "sheet",
    "outcome": "solo",
    "phase": "game",
    "nullified": False,
}

SETTINGS: dict[str, Any] = {
    "program": {"name": "Hollin Ford", "year": 2025, "grades_on": "points"},
    "raters": {"a": {"name": "Coach Abel"}, "b": {"name": "Coach Bode"}},
    "scales": {"points": {"marks": {"0": 0.0, "1": 0.5, "2": 1.0}}},
}
RUBRIC: dict[str, Any] = {
    "standard": 0.7,
    "pass_mark": 0.7,
    "groups": [{"id": "blocks", "label": "Taking on blocks"}, {"id": "tackle", "label": "Tackle"}],
    "criteria": [
        {"id": "close", "label": "Closes", "group": "blocks", "stage": "close"},
        {"id": "strike", "label": "Strikes", "group": "blocks", "stage": "strike"},
        {"id": "shed", "label": "Sheds", "group": "blocks", "stage": "shed", "drill": "Rolling ball"},
        {"id": "eyes", "label": "Eyes up", "group": "tackle", "safety": True},
        {"id": "wrap", "label": "Wraps", "group": "tackle"},
    ],
    "faults": {
        "head_down": {"label": "head down", "safety": True},
        "arms_only": {"label": "arms only"},
    },
}


def table(name: str, rows: Sequence[Row]) -> pd.DataFrame:
    """Return table `name` with these rows; columns that a row leaves out are empty, missing or usual."""
    blank = empty_table(name)
    if not rows:
        return blank
    columns = {
        column: pd.Series([row.get(column, _usual(column, dtype)) for row in rows], dtype=dtype)
        for column, dtype in zip(map(str, blank.columns), blank.dtypes, strict=True)
    }
    return check_table(name, pd.DataFrame(columns))


def season(
    *,
    settings: Mapping[str, Any] | None = None,
    rubric: Mapping[str, Any] | None = None,
    **rows: Sequence[Row],
) -> Season:
    """Return a season with the given rows of each table; two players, two games and a practice by default."""
    given: dict[str, Sequence[Row]] = {
        "players": [{"player_id": "ada", "name": "Ada Quist"}, {"player_id": "bo", "name": "Bo Renner"}],
        "games": [
            {"game_id": "g1", "label": "Game 1", "opponent": "Dunmere", "order": 0},
            {"game_id": "g2", "label": "Game 2", "opponent": "Wexcombe", "order": 1},
            {"game_id": "p1", "label": "Practice 1", "phase": "practice", "order": 2},
        ],
        **rows,
    }
    tables = {name: table(name, given.get(name, ())) for name in TABLES}
    return Season(
        folder=Path(),
        settings=SeasonSettings.model_validate({**SETTINGS, **(settings or {})}),
        rubric=Rubric.model_validate({**RUBRIC, **(rubric or {})}),
        **tables,
    )


def _usual(column: str, dtype: Any) -> Any:
    if column in _FILLED:
        return _FILLED[column]
    if column in LINEAGE or pd.api.types.is_string_dtype(dtype):
        return ""
    return 0 if pd.api.types.is_integer_dtype(dtype) else float("nan")
