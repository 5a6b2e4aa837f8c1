"""Play numbers, also those that a spreadsheet made dates of."""

from __future__ import annotations

import pytest

from lbeval.tidy.numbers import Numbers, play_numbers


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("12", Numbers(12, 12)),
        ("012", Numbers(12, 12)),
        ("12.0", Numbers(12, 12)),
        ("#12", Numbers(12, 12)),
        ("Play 12", Numbers(12, 12)),
        ("12-18", Numbers(12, 18)),
        ("12 – 18", Numbers(12, 18)),
        ("12 to 18", Numbers(12, 18)),
        ("2025-12-18", Numbers(12, 18, from_date=True)),
        ("18-Dec", Numbers(12, 18, from_date=True)),
        ("Dec-18", Numbers(12, 18, from_date=True)),
        ("12/18/2025", Numbers(12, 18, from_date=True)),
        ("2025-06-03", Numbers(3, 6, from_date=True)),
        ("1945-12-01", Numbers(12, 45, from_date=True)),
        ("2025-05-05", None),
        ("18-12", None),
        ("12-12", None),
        ("1-400", None),
        ("twelve", None),
        ("12a", None),
        ("-3", None),
        ("", None),
    ],
)
def test_play_numbers(written: str, read: Numbers | None) -> None:
    assert play_numbers(written, 2025) == read
