"""The day a test was taken decides which is the latest; two readings are no reading."""

from __future__ import annotations

import pandas as pd
import pytest

from lbeval.tidy.days import read_days


def days(*texts: str, columns: str = "") -> list[str]:
    labels = pd.Series(list(columns) or ["a"] * len(texts))
    return [str(day.date()) if pd.notna(day) else "" for day in read_days(pd.Series(texts), labels)]


@pytest.mark.parametrize(
    "text",
    [
        "2025-03-14", "2025/03/14", "2025-03-14 00:00:00", "2025-03-14T10:30", "14 March 2025", "14-Mar-25",
        "March 14, 2025", "Mar. 14 2025", "March 14th, 2025",
        "3/14/2025", "3/14/25", "14/3/2025", "14.3.2025",
    ],
)  # fmt: skip
def test_one_day_many_spellings(text: str) -> None:
    assert days(text) == ["2025-03-14"]


@pytest.mark.parametrize("text", ["", "soon", "2025", "2025-13-01", "31/31/2025", "2025-02-30", "3/4/2025"])
def test_what_is_not_certain_is_not_read(text: str) -> None:
    assert days(text) == [""]


def test_other_dates_of_the_column_tell_the_order() -> None:
    assert days("3/4/2025", "3/14/2025") == ["2025-03-04", "2025-03-14"]
    assert days("3/4/2025", "14/3/2025") == ["2025-04-03", "2025-03-14"]
    assert days("3/4/2025", "14/3/2025", "3/14/2025")[0] == ""
    assert days("3/4/2025", "3/14/2025", columns="ab") == ["", "2025-03-14"]
    assert days("3/4/2025", "2025-03-14", "3/3/2025") == ["", "2025-03-14", "2025-03-03"]


def test_index_is_kept_and_no_rows_are_no_fault() -> None:
    given = pd.Series(["2025-03-14"], index=[7])
    assert read_days(given, pd.Series(["a"], index=[7])).index.tolist() == [7]
    empty = pd.Series([], dtype="str")
    assert str(read_days(empty, empty).dtype) == "datetime64[us]"
