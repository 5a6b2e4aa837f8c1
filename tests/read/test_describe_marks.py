"""Which scale marks can be on; what is unsure is said, and never taken for known."""

from __future__ import annotations

from collections import Counter

import pytest

from lbeval.read.describe_marks import bracketed, guess_scale, is_mark, merge_scales, packed_length


def marks(text: str, times: int = 50) -> Counter[str]:
    return Counter(dict.fromkeys(text.split(), times))


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("0 1", "zero_one"),
        ("0 1 2", "zero_one_two"),
        ("0 1 2 3", "zero_to_three"),
        ("1 2 3 4 5", "one_to_five"),
        ("+ -", "plus_minus"),
        ("+ - 0", "plus_zero_minus"),
        ("A B C D F", "letters"),
        ("✓ x", "check"),
        ("85% 90% 77.5%", "percent"),
        ("61 72 88 95", "percent"),
    ],
)
def test_ladders(text: str, scale: str) -> None:
    found = guess_scale(marks(text))
    assert found is not None
    assert (found.id, found.sure) == (scale, True)


def test_an_end_never_seen_makes_it_unsure() -> None:
    found = guess_scale(marks("2 3 4 5"))
    assert found is not None
    assert (found.id, found.sure) == ("one_to_five", False)


def test_three_kinds_of_missing_are_kept_apart() -> None:
    found = guess_scale(marks("0 1 2 dno ng ug") + Counter({"": 9}))
    assert found is not None
    assert dict(found.blanks) == {
        "": "not_graded",
        "dno": "did_not_occur",
        "ng": "not_graded",
        "ug": "ungradable",
    }
    assert found.sure
    assert found.likely == ()


def test_a_dash_beside_numbers_has_to_be_asked() -> None:
    found = guess_scale(Counter({"0": 10, "1": 20, "2": 20, "-": 200}))
    assert found is not None
    assert found.id == "zero_one_two"
    assert found.likely == ("-",)


def test_a_dash_among_signs_is_a_mark() -> None:
    found = guess_scale(marks("+ -"))
    assert found is not None
    assert found.likely == ()
    assert found.marks == ("-", "+")


def test_a_frequent_stranger_makes_it_unsure_and_a_slip_does_not() -> None:
    frequent = guess_scale(marks("0 1 2") + Counter({"Q": 10}))
    slip = guess_scale(Counter({"0": 5000, "1": 5000, "2": 5000, "11": 1}))
    assert frequent is not None
    assert slip is not None
    assert (frequent.sure, frequent.unknown) == (False, ("Q",))
    assert (slip.sure, slip.unknown) == (True, ("11",))


def test_no_marks_no_scale() -> None:
    assert guess_scale(Counter({"": 10, "ng": 3})) is None
    assert guess_scale(Counter({"Quist": 10, "Marsh": 10})) is None


def test_codes_behind_marks_do_not_hide_the_scale() -> None:
    counts = Counter({"+": 50, "-": 20, "-(MA)": 5, "- (L)": 1})
    found = guess_scale(counts)
    assert found is not None
    assert (found.id, found.sure) == ("plus_minus", True)
    assert bracketed(counts) == ["L", "MA"]


def test_packed_cells() -> None:
    assert packed_length(marks("++- +++ ---")) == 3
    assert packed_length(marks("+ -")) == 0
    assert packed_length(marks("10 11 12")) == 0
    assert packed_length(Counter()) == 0


def test_scales_of_two_coaches_become_one_only_if_they_agree() -> None:
    first, second = guess_scale(marks("0 1 2 na")), guess_scale(marks("0 1 2 ng"))
    other = guess_scale(marks("1 2 3 4 5"))
    assert first is not None
    assert second is not None
    assert other is not None
    both = merge_scales(first, second)
    assert both is not None
    assert dict(both.blanks) == {"na": "did_not_occur", "ng": "not_graded"}
    assert merge_scales(first, other) is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2", True),
        ("+", True),
        ("B-", True),
        ("ng", True),
        ("½", True),
        ("Quist", False),
        ("2025", False),
        ("run", False),
    ],
)
def test_is_mark(text: str, expected: bool) -> None:
    assert is_mark(text) is expected
