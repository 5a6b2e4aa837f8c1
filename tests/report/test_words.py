from __future__ import annotations

import doctest
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.report import words
from lbeval.report.words import GradeWords
from lbeval.settings import Scale

POINTS = GradeWords.of(Scale(marks={"0": 0.0, "1": 0.5, "2": 1.0}))
FIVE = GradeWords.of(Scale(marks={"1": 0.0, "2": 0.25, "3": 0.5, "4": 0.75, "5": 1.0}))
SCHOOL = GradeWords.of(Scale(marks={"5": 0.0, "4": 0.25, "3": 0.5, "2": 0.75, "1": 1.0}))
SIGNS = GradeWords.of(Scale(marks={"-": 0.0, "+": 1.0}))


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(words).failed == 0


@pytest.mark.parametrize(
    ("error", "places"),
    [(5.0, 0), (1.0, 0), (0.99, 1), (0.1, 1), (0.099, 2), (0.0, 4), (math.nan, 2)],
)
def test_decimals_follow_the_standard_error(error: float, places: int) -> None:
    assert words.decimals(error) == places


@given(st.floats(1e-4, 10), st.floats(-100, 100))
def test_rounding_never_moves_a_number_by_more_than_half_its_standard_error(
    error: float, value: float
) -> None:
    printed = words.number(value, words.decimals(error)).replace(words.MINUS, "-")
    assert abs(float(printed) - value) <= error / 2 + 1e-9


@pytest.mark.parametrize(
    ("share", "printed"),
    [(0.0, "0%"), (0.001, "<1%"), (0.5, "50%"), (0.9951, ">99%"), (0.994, "99%"), (1.0, "100%")],
)
def test_percent_never_says_all_or_none_for_nearly(share: float, printed: str) -> None:
    assert words.percent(share) == printed


def test_a_number_is_never_minus_zero() -> None:
    assert words.number(-0.04, 1) == "0.0"


@pytest.mark.parametrize(
    ("grades", "grade", "printed"),
    [
        (POINTS, 0.69, "1.38 of 2"),
        (FIVE, 0.5, "3.00 of 5"),
        (SCHOOL, 0.75, "2.00 (1 is best)"),
    ],
)
def test_grades_are_printed_on_the_staffs_own_scale(grades: GradeWords, grade: float, printed: str) -> None:
    assert grades.out_of(grade, 2) == printed


def test_marks_that_are_no_numbers_are_printed_as_percent() -> None:
    assert SIGNS.out_of(0.786, 0) == "79%"
    assert SIGNS.likely(0.7, 0.84, 0) == "likely between 70 and 84%"
    assert GradeWords.of(Scale(percent=True)).out_of(0.5, 1) == "50.0%"


def test_unevenly_spaced_numbers_are_printed_as_percent() -> None:
    uneven = Scale(marks={"0": 0.0, "1": 0.8, "2": 1.0})
    assert GradeWords.of(uneven).percent


def test_the_better_end_of_a_chart_is_right_on_every_scale() -> None:
    for grades in (POINTS, FIVE, SCHOOL, SIGNS):
        assert grades.place(0.0) < grades.place(1.0)
        assert grades.tick(grades.place(1.0), 0) == grades.shown(1.0, 0)


def test_no_grade_is_printed_or_drawn_beyond_the_scale() -> None:
    assert SIGNS.likely(0.87, 1.03, 0) == "likely between 87 and 100%"
    assert POINTS.bare(-0.1, 1) == "0.0"
    assert POINTS.place(1.2) == POINTS.place(1.0)


def test_a_missing_grade_is_a_dash() -> None:
    assert POINTS.bare(math.nan, 2) == words.EN_DASH


def test_columns_take_the_decimals_of_their_surest_number() -> None:
    assert POINTS.column_decimals([0.1, 0.02, math.nan]) == 2
    assert POINTS.column_decimals([math.nan]) == 0


@pytest.mark.parametrize(("place", "printed"), [(1, "1st"), (12, "12th"), (113, "113th"), (103, "103rd")])
def test_ordinals(place: int, printed: str) -> None:
    assert words.ordinal(place) == printed


def test_lists() -> None:
    assert words.listing([]) == ""
    assert words.listing(["a"]) == "a"
    assert words.listing(["a", "b"], "or") == "a or b"
