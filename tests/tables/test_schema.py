"""Tables must be what the glossary says, and the printed dictionary must be the glossary's."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from lbeval.errors import TableError
from lbeval.tables import TABLES, check_table, empty_table
from lbeval.tables.dictionary import dictionary


@pytest.mark.parametrize("name", TABLES)
def test_empty_tables_conform(name: str) -> None:
    frame = check_table(name, empty_table(name))
    assert list(frame.columns) == list(TABLES[name].columns)
    assert all(column.description for column in TABLES[name].columns.values())


def test_a_wrong_table_is_refused_with_table_column_and_value() -> None:
    games = pd.DataFrame(
        {
            "game_id": ["g1"],
            "label": ["Game 1"],
            "phase": ["autumn"],
            "week": [1.0],
            "opponent": [""],
            "date": pd.to_datetime(["2025-09-06"]).astype("datetime64[us]"),
            "order": [0],
        }
    )
    with pytest.raises(TableError, match=r"table games .*phase.*'autumn'"):
        check_table("games", games)


def test_dictionary_in_the_contributors_guide_is_the_glossary() -> None:
    guide = Path(__file__).parents[2] / "DEVELOPERS.md"
    assert guide.read_text(encoding="utf-8").endswith(dictionary())
