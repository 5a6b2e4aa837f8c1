"""What recruiting staff type, to rows that can be compared; what cannot be told is set aside."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from lbeval.settings import SeasonSettings
from lbeval.tables import check_table
from lbeval.tidy.measurables import sprint_yards, tidy_measurables

LIMITS: dict[str, tuple[float, float, str]] = {
    "height": (60, 84, "in"),
    "weight": (120, 400, "lb"),
    "arm": (27, 38, "in"),
    "hand": (7, 12, "in"),
    "wingspan": (64, 90, "in"),
    "forty": (4.15, 6.8, "s"),
    "twenty": (2.35, 3.7, "s"),
    "ten": (1.4, 2.2, "s"),
    "shuttle": (3.7, 6.2, "s"),
    "broad": (60, 150, "in"),
    "bench": (0, 55, "reps"),
}
SETTINGS = SeasonSettings.model_validate(
    {
        "program": {"name": "Example", "year": 2025, "grades_on": "pm"},
        "scales": {"pm": {"marks": {"-": 0, "+": 1}}},
        "ranges": {
            test: {"low": low, "high": high, "unit": unit, "whole": unit == "reps", "source": "judgement"}
            for test, (low, high, unit) in LIMITS.items()
        },
    }
)


def entry(test: str, value: str, **fields: str) -> dict[str, Any]:
    given = {"player_id": "p1", "date": "2025-03-01", "unit": "", "timing": "", "standing": "measured"}
    return {**given, "test": test, "value": value, **fields}


def tidy(*entries: dict[str, Any], units: dict[str, str] | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
    raw = pd.DataFrame(list(entries))
    raw["source_file"] = "pro_day.csv"
    raw["source_sheet"] = ""
    raw["source_row"] = range(2, len(raw) + 2)
    raw["source_column"] = 4
    kept = raw.copy()
    table, aside = tidy_measurables(raw, SETTINGS, units or {})
    pd.testing.assert_frame_equal(raw, kept)
    return check_table("measurables", table), check_table("set_aside", aside)


def reason(test: str, value: str, **fields: str) -> str:
    table, aside = tidy(entry(test, value, **fields))
    assert table.empty
    assert aside["kind"].tolist() == ["set_aside"]
    assert aside["value"].tolist() == [value]
    return str(aside["reason"].iloc[0])


def test_one_row_a_result_in_the_unit_of_its_test() -> None:
    table, aside = tidy(
        entry("height", "6031"),
        entry("Weight", "245 lbs"),
        entry("arm", "3120"),
        entry("forty", "4.68", timing="Laser", standing="listed"),
        entry("bench", "22"),
        entry("shuttle", ""),
    )
    assert table["value"].tolist() == [75.125, 245.0, 31.25, 4.68, 22.0]
    assert table["unit"].tolist() == ["in", "lb", "in", "s", "reps"]
    assert table["timing"].tolist() == ["", "", "", "electronic", ""]
    assert table["standing"].tolist() == ["measured", "measured", "measured", "listed", "measured"]
    assert table["source_row"].tolist() == [2, 3, 4, 5, 6]
    assert str(table["date"].iloc[0].date()) == "2025-03-01"
    assert aside.empty


def test_other_units_and_spellings_change_no_digit() -> None:
    table, _ = tidy(entry("height", "6031"), entry("weight", "220"), entry("broad", "9'10"))
    other, _ = tidy(
        entry("height", "190.8175"),
        entry("weight", "99.7903214", unit="KG"),
        entry("broad", "2.9972 m"),
        units={"height": "cm"},
    )
    assert table["value"].tolist() == other["value"].tolist()


def test_hand_hand_start_and_electronic_are_kept_apart() -> None:
    table, aside = tidy(
        entry("forty", "4.55h"),
        entry("forty", "4.55 (FAT)"),
        entry("forty", "4.55", timing="hand start"),
        entry("forty", "4.55"),
        entry("forty", "4.55", timing="sundial"),
    )
    assert table["timing"].tolist() == ["hand", "electronic", "hand_start", "unknown", "unknown"]
    assert table["value"].tolist() == [4.55] * 5
    assert aside[["kind", "reason", "value"]].to_numpy().tolist() == [["notice", "unknown_timing", "sundial"]]
    assert reason("forty", "4.55h", timing="electronic") == "timing_conflict"


@pytest.mark.parametrize(
    ("test", "value", "why"),
    [
        ("forty", "0", "zero_is_missing"),
        ("height", "0-0", "zero_is_missing"),
        ("weight", "0.0", "zero_is_missing"),
        ("broad", "0'0", "zero_is_missing"),
        ("forty", "DNP", "no_result"),
        ("forty", "3.98", "outside_range"),
        ("height", "5-11 1/2 or so", "not_readable"),
        ("height", "5,8", "ambiguous_feet"),
        ("height", "3120", "bad_code"),
        ("arm", "191", "bad_code"),
        ("weight", "111", "outside_range"),
        ("weight", "75 in", "wrong_unit"),
        ("bench", "22.5", "not_whole"),
        ("bench", "60", "outside_range"),
        ("hand", "2025-09-04", "is_a_date"),
        ("weight", "2025-09-04", "is_a_date"),
        ("height", "2025-12-31", "is_a_date"),
        ("height", "2025-05-06", "ambiguous_date"),
        ("forty", "4.68/9.99", "two_values"),
        ("throw", "61", "unknown_test"),
    ],
)
def test_what_cannot_be_used_is_set_aside_with_its_reason(test: str, value: str, why: str) -> None:
    assert reason(test, value) == why


def test_no_reps_is_a_result() -> None:
    table, _ = tidy(entry("bench", "0"), entry("bench", "225x22"))
    assert table["value"].tolist() == [0.0, 22.0]


def test_unknown_unit_is_said_not_skipped() -> None:
    assert reason("height", "75", unit="hands") == "unknown_unit"


def test_limits_are_part_of_their_range() -> None:
    table, aside = tidy(entry("forty", "4.15"), entry("forty", "6.80"), entry("height", "7'0"))
    assert len(table) == 3
    assert aside.empty


def test_a_date_is_read_back_and_flagged() -> None:
    table, aside = tidy(entry("height", "2025-06-03"), entry("height", "11-May"), entry("broad", "45912"))
    assert table["value"].tolist() == [75.0, 71.0]
    assert table["note"].tolist() == ["recovered_from_date"] * 2
    assert table["raw_value"].tolist() == ["2025-06-03", "11-May"]
    assert aside["reason"].tolist() == ["is_a_date"]


def test_other_dates_of_the_column_tell_which_number_was_the_feet() -> None:
    table, aside = tidy(entry("height", "2025-05-06"), entry("height", "2025-06-02"))
    assert table["value"].tolist() == [66.0, 74.0]
    assert aside.empty
    table, aside = tidy(entry("height", "2025-05-06"), entry("height", "2025-02-06"))
    assert table["value"].tolist() == [77.0, 74.0]
    table, aside = tidy(
        entry("height", "2025-05-06"), entry("height", "2025-02-06"), entry("height", "2025-06-02")
    )
    assert aside["reason"].tolist() == ["ambiguous_date"]


def test_several_attempts_in_a_cell_are_rows() -> None:
    table, _ = tidy(entry("forty", "4.68 / 4.71"))
    assert table["value"].tolist() == [4.68, 4.71]
    assert table["note"].unique().tolist() == ["several_attempts"]


def test_three_splits_in_a_cell_are_three_tests() -> None:
    table, _ = tidy(entry("forty", "1.62/2.71/4.68", timing="electronic"))
    assert table[["test", "value"]].to_numpy().tolist() == [["ten", 1.62], ["twenty", 2.71], ["forty", 4.68]]
    assert table["timing"].unique().tolist() == ["electronic"]
    assert reason("forty", "4.68/2.71/1.62") == "two_values"


def test_cross_checks_are_notices_and_take_nothing_away() -> None:
    table, aside = tidy(
        entry("ten", "2.15"),
        entry("twenty", "2.36"),
        entry("forty", "4.6"),
        entry("wingspan", "64"),
        entry("arm", "32.5"),
        entry("ten", "2.2", player_id="p2"),
        entry("twenty", "2.40", player_id="p2"),
    )
    assert len(table) == 7
    assert aside["reason"].tolist() == ["arm_and_wingspan"]
    table, aside = tidy(entry("ten", "2.2"), entry("forty", "4.6"))
    assert aside.empty


def test_splits_out_of_order_are_told() -> None:
    ranges = {**SETTINGS.ranges, "ten": SETTINGS.ranges["ten"].model_copy(update={"high": 3.0})}
    loose = SETTINGS.model_copy(update={"ranges": ranges})
    raw = pd.DataFrame([entry("ten", "2.8"), entry("twenty", "2.7")])
    raw = raw.assign(source_file="a.csv", source_sheet="", source_row=[2, 3], source_column=4)
    table, aside = tidy_measurables(raw, loose, {})
    assert len(table) == 2
    assert aside["reason"].tolist() == ["splits_out_of_order"]
    assert aside["source_row"].tolist() == [3]


def test_unsure_words_beside_a_good_value_are_notices() -> None:
    table, aside = tidy(entry("weight", "245", standing="heard", date="3/4/2025"))
    assert table["standing"].tolist() == [""]
    assert table["date"].isna().all()
    assert aside["reason"].tolist() == ["unknown_standing", "unread_date"]
    assert set(aside["kind"]) == {"notice"}


def test_unknown_test_gets_the_nearest_as_a_suggestion_only() -> None:
    _, aside = tidy(entry("shutle", "4.3"))
    assert "shuttle" in aside["suggestion"].iloc[0]


def test_nothing_in_nothing_out() -> None:
    table, aside = tidy(entry("height", " "))
    assert table.empty
    assert aside.empty


def test_row_order_does_not_matter() -> None:
    entries = [entry("height", "2025-05-06"), entry("height", "2025-06-02"), entry("forty", "0")]
    table, aside = tidy(*entries)
    other, set_aside = tidy(*entries[::-1])
    assert sorted(table["value"]) == sorted(other["value"])
    assert sorted(aside["reason"]) == sorted(set_aside["reason"])


@pytest.mark.parametrize(
    ("test", "yards"),
    [
        ("forty", 40),
        ("40yd", 40),
        ("split_10", 10),
        ("twenty", 20),
        ("shuttle_20", 0),
        ("cone", 0),
        ("110m", 0),
    ],
)
def test_sprints_by_name(test: str, yards: int) -> None:
    assert sprint_yards(test) == yards
