"""Lengths, weights, times and counts as people write them, to exact numbers in one unit.

Arithmetic is rational (`fractions.Fraction`), so that 75 1/8, 6031 and 190.8175 cm are the same number to the
last digit. A text that could mean two things is never guessed at; it is returned with a reason:

* a bare number from 3 to 9 in a height column, `5.8` or `5,8` (5 ft 8 or 5.8 ft; a lost zero: 5.1 or 5.10),
  and feet written with decimals (`5.5 ft`): ``ambiguous_feet``. A source that declares the unit `ft` (decimal
  feet) or `ft-in` (feet, point, inches) settles them; `5.1` stays unsettled even then. With a space about
  the point or comma (`5 .11`, `5, 11`) it separates feet from inches.
* a comma before exactly three digits (`75,125`): ``ambiguous_comma``; any other comma between digits is a
  decimal comma, and noted.
* a date that could be 6-5 or 5-6, where no other date of the column tells: ``ambiguous_date``.
* 12 or more inches beside feet (`5'12`): ``inches_over_11``.

A height without a unit is inches from 36 to 96, centimetres from 120 to 250 and metres from 1.2 to 2.5
(with decimals; the bands do not touch, and the last two are noted); four digits are a height code (6031:
feet, inches, eighths) or, for arm, hand and wingspan, a length code (7168: inches, eighths, filler 0 or 8;
948 for a hand whose leading zero a spreadsheet dropped). Any other test without a unit is in the unit of
its range. Codes, feet with inches and dates: common practice, no source.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from fractions import Fraction
from typing import Literal, NamedTuple

LengthKind = Literal["height", "span", "length", "jump"]
"""height; wingspan; arm and hand; a jump. They differ in codes and in what a bare number means."""

UNITS: dict[str, tuple[str, ...]] = {
    "in": ("in", "in.", "inch", "inches", "ins", '"'),
    "ft": ("ft", "ft.", "feet", "foot"),
    "ft-in": ("ft-in", "ft in", "feet-inches", "feet and inches", "feet inches", "ft/in", "ft. in."),
    "cm": ("cm", "cm.", "cms", "centimeter", "centimeters", "centimetre", "centimetres"),
    "mm": ("mm", "millimeter", "millimeters", "millimetre", "millimetres"),
    "m": ("m", "m.", "meter", "meters", "metre", "metres"),
    "code": ("code", "codes"),
    "lb": ("lb", "lb.", "lbs", "lbs.", "#", "pound", "pounds"),
    "kg": ("kg", "kg.", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    "s": ("s", "s.", "sec", "sec.", "secs", "second", "seconds"),
    "reps": ("reps", "rep", "reps.", "x", "repetitions"),
}
_UNIT = {spelling: unit for unit, spellings in UNITS.items() for spelling in spellings}
INCHES = {"in": Fraction(1), "ft": Fraction(12), "cm": 1 / Fraction("2.54")}
INCHES |= {"mm": INCHES["cm"] / 10, "m": INCHES["cm"] * 100}
POUNDS = {"lb": Fraction(1), "kg": 1 / Fraction("0.45359237")}
SECONDS = {"s": Fraction(1)}
REPS = {"reps": Fraction(1)}

_LONGEST = 60
_SINGLE = dict.fromkeys(map(ord, "\u2018\u2019\u201b\u2032\u00b4\u0060\u02b9\u02bc"), "'")
_DOUBLE = dict.fromkeys(map(ord, "\u201c\u201d\u2033\u02ba\u02dd\u3003"), '"')
_DASH = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d"), "-")
_NUMBER_WORDS = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
]
_WORDS = re.compile(rf"\b({'|'.join(_NUMBER_WORDS)})\b")
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]

_MIXED = r"(?:\d+(?:\.\d+)?(?:[ -]+\d{1,2}/\d{1,2})?|\.\d+|\d{1,2}/\d{1,2})"
_FOOT = r"(?:'|ft\.?|feet|foot)"
_INCH = r"(?:\"|'|in\.?|ins|inch|inches)"
_MARKED = re.compile(rf"(\d+) ?{_FOOT}(?:[ ,-]*(?:and )?({_MIXED}) ?{_INCH}?)?")
_DASHED = re.compile(rf"(\d) ?[-*:_ ] ?(\d+(?:\.\d+)?(?:[ -]+\d{{1,2}}/\d{{1,2}})?) ?{_INCH}?")
_SPACED_POINT = re.compile(rf"(\d)(?: +[.,] *| *[.,] +)(\d{{1,2}}) ?{_INCH}?")
_DASHED_CODE = re.compile(r"(\d)[-'](\d{2})(\d)")
_INCHES_ONLY = re.compile(rf"({_MIXED}) ?(?:\"|in\.?|ins|inch|inches)")
_FEET_DECIMALS = re.compile(rf"(\d+\.\d+) ?{_FOOT}(.*)")
_METRE_SPLIT = re.compile(r"(\d) ?m ?(\d{2})(?: ?cm)?")
_WITH_UNIT = re.compile(rf"({_MIXED}) ?([a-z#.\"]+)")
_GROUPED = re.compile(r"\d,\d{3}(?!\d)")
_ISO = re.compile(r"\d{4}-(\d{1,2})-(\d{1,2})(?:[t ]00:00(?::00(?:\.0+)?)?z?)?")
_DAY_MONTH = re.compile(rf"(\d{{1,2}})[-/. ]({'|'.join(_MONTHS)})[a-z]*\.?(?:[-/, ]+\d{{2,4}})?")
_MONTH_DAY = re.compile(rf"({'|'.join(_MONTHS)})[a-z]*\.?[-/. ](\d{{1,2}})(?:[-/, ]+\d{{2,4}})?")
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})(?:/\d{2,4})?")


class Reading(NamedTuple):
    """A text read: the exact value with what was done to read it, or the reason why it was not."""

    value: Fraction | None
    note: str = ""
    reason: str = ""


class DateCell(NamedTuple):
    """Feet and inches that a spreadsheet took for a date; a reading that is not plausible is missing.

    `first` takes the month for the feet (of a slashed date the first number), `second` the other.
    """

    family: Literal["date", "slashed"]
    first: Fraction | None
    second: Fraction | None


def plain(text: str) -> str:
    """Return `text` with one kind of quote, dash, space and fraction, in lower case, without `="..."`."""
    text = re.sub("(?<=\\d)([\u00bc-\u00be\u2150-\u215e])", r" \1", text)
    text = text.translate(_SINGLE).translate(_DOUBLE).translate(_DASH)
    text = unicodedata.normalize("NFKC", text).replace("\u2044", "/")
    text = "".join(c for c in text if unicodedata.category(c) != "Cf")
    text = " ".join(text.replace("''", '"').split()).casefold()
    formula = re.fullmatch(r'="(.*)"', text)
    text = formula.group(1) if formula else text
    return text[1:] if re.match(r"'\d", text) else text


def unit_of(text: str) -> str | None:
    """Return our word for a unit as written; empty for an empty text, None for one not known."""
    said = plain(text)
    return _UNIT.get(said) if said else ""


def is_zero(text: str) -> bool:
    """Return whether `text` is nothing but zeros (`0`, `0.00`, `0-0`), with or without a unit."""
    said = plain(text)
    digits = re.sub(r"[^0-9]", "", said)
    rest = re.sub(r"[\d\s.,'\"-]", "", said)
    return bool(digits) and not digits.strip("0") and (not rest or rest in _UNIT)


def read_length(text: str, kind: LengthKind, unit: str = "") -> Reading:
    """Return a length in inches; `unit` is the declared one (a word of `UNITS`), empty if none is."""
    said = plain(text)
    if len(said) > _LONGEST:
        return Reading(None, reason="not_readable")
    both = re.fullmatch(r"(.+?) ?\((.+)\)", said)
    if both:
        return _agreeing(read_length(both.group(1), kind, unit), read_length(both.group(2), kind, unit))
    if _GROUPED.search(said):
        return Reading(None, reason="ambiguous_comma")
    pointed = re.sub(r"(?<=\d),(?=\d)", ".", _digits(said))
    note = "decimal_comma" if pointed != _digits(said) else ""
    found = _feet_and_inches(pointed, kind, unit) or _with_unit(pointed, INCHES)
    found = found or _code(pointed, kind, unit) or _bare_length(pointed, kind, unit)
    notes = ";".join(sorted({n for n in (note, found.note) if n}))
    return Reading(found.value, notes, found.reason)


def read_amount(text: str, known: dict[str, Fraction], unit: str = "") -> Reading:
    """Return a weight, time or count: the number times what its unit is worth in `known`.

    `unit` is the declared one; without it, and without one in the text, the first of `known` holds.
    """
    said = plain(text)
    if len(said) > _LONGEST:
        return Reading(None, reason="not_readable")
    if _GROUPED.search(said):
        return Reading(None, reason="ambiguous_comma")
    pointed = re.sub(r"(?<=\d),(?=\d)", ".", said)
    note = "decimal_comma" if pointed != said else ""
    found = _with_unit(pointed, known)
    if found is None:
        number = _mixed(pointed)
        if number is None:
            return Reading(None, reason="is_a_date" if date_parts(text) else "not_readable")
        if unit and unit not in known:
            return Reading(None, reason="wrong_unit")
        found = Reading(number * known[unit or next(iter(known))])
    return Reading(found.value, note if found.value is not None else "", found.reason)


def date_parts(text: str) -> tuple[Literal["date", "slashed"], int, int] | None:
    """Return month and day (of a slashed date: first and second number) if `text` is a date, else None.

    Spreadsheet day numbers count from 2000-01-01 to 2049-12-31.
    """
    said = plain(text)
    whole = re.fullmatch(r"(\d{5})(?:\.0+)?", said)
    if whole and 36526 <= int(whole.group(1)) <= 54788:
        day = dt.date(1899, 12, 30) + dt.timedelta(days=int(whole.group(1)))
        return "date", day.month, day.day
    if found := _ISO.fullmatch(said):
        return "date", int(found.group(1)), int(found.group(2))
    if found := _DAY_MONTH.fullmatch(said):
        return "date", _MONTHS.index(found.group(2)) + 1, int(found.group(1))
    if found := _MONTH_DAY.fullmatch(said):
        return "date", _MONTHS.index(found.group(1)) + 1, int(found.group(2))
    if found := _SLASHED.fullmatch(said):
        return "slashed", int(found.group(1)), int(found.group(2))
    return None


def date_as_length(text: str, low: float, high: float) -> DateCell | None:
    """Return what feet and inches a date may have been, within `low` to `high` inches; None if no date."""
    parts = date_parts(text)
    if parts is None:
        return None
    family, left, right = parts

    def plausible(feet: int, inches: int) -> Fraction | None:
        value = Fraction(12 * feet + inches)
        return value if inches < 12 and low <= value <= high else None

    return DateCell(family, plausible(left, right), plausible(right, left))


def _digits(said: str) -> str:
    """Return number words as digits: `five foot eight and a half`."""
    said = _WORDS.sub(lambda m: str(_NUMBER_WORDS.index(m.group(1))), said)
    return re.sub(r" and a half\b", " 1/2", said)


def _mixed(text: str) -> Fraction | None:
    """Return `75`, `75.125`, `75 1/8`, `75-1/8` or `1/2` as a number; fractions as on a tape measure."""
    if not re.fullmatch(_MIXED, text, re.ASCII):
        return None
    *whole, last = re.split(r"[ -]+", text)
    if "/" not in last:
        return Fraction(last)
    top, bottom = map(int, last.split("/"))
    if bottom not in {2, 4, 8, 16} or top >= bottom:
        return None
    return sum(map(Fraction, whole), Fraction(top, bottom))


def _feet_and_inches(text: str, kind: LengthKind, unit: str) -> Reading | None:
    """Return feet with inches, or inches with their mark; None if `text` has neither."""
    if decimals := _FEET_DECIMALS.fullmatch(text):
        if unit == "ft" and not decimals.group(2):
            return Reading(Fraction(decimals.group(1)) * 12)
        return Reading(None, reason="ambiguous_feet")
    if only := _INCHES_ONLY.fullmatch(text):
        number = _mixed(only.group(1))
        return Reading(number, reason="" if number is not None else "not_readable")
    found = _MARKED.fullmatch(text)
    if not found and kind != "length":
        if coded := _DASHED_CODE.fullmatch(text):
            return _height_code("".join(coded.groups()))
        found = _SPACED_POINT.fullmatch(text) or _DASHED.fullmatch(text)
    return _parts(text, found.group(1), found.group(2) or "0") if found else None


def _parts(text: str, feet: str, inches: str) -> Reading:
    # 6'3/4 could be a span of heights; 6' 3/4 and 6'3/4" cannot
    loose = re.fullmatch(r"\d+/\d+", inches) and not re.search(r" \d+/|[\"'a-z.]$", text)
    number = _mixed(inches)
    if number is None or inches.startswith(".") or loose:
        return Reading(None, reason="not_readable")
    if number >= 12:
        return Reading(None, reason="inches_over_11")
    return Reading(Fraction(feet) * 12 + number)


def _with_unit(text: str, known: dict[str, Fraction]) -> Reading | None:
    if "m" in known and (split := _METRE_SPLIT.fullmatch(text)):
        return Reading(Fraction(f"{split.group(1)}.{split.group(2)}") * known["m"])
    found = _WITH_UNIT.fullmatch(text)
    if not found:
        return None
    number, unit = _mixed(found.group(1)), _UNIT.get(found.group(2))
    if number is None or unit is None:
        return None
    if unit not in known:
        return Reading(None, reason="wrong_unit")
    return Reading(number * known[unit])


def _code(text: str, kind: LengthKind, unit: str) -> Reading | None:
    whole = re.fullmatch(r"(\d{3,4})(?:\.0+)?", text, re.ASCII)
    if not whole or unit not in {"", "in", "code"} or kind == "jump":
        return None
    digits = whole.group(1)
    if kind == "height":
        return _height_code(digits) if len(digits) == 4 else None
    eighths, filler = int(digits[-2]), digits[-1]
    if eighths > 7 or filler not in "08":
        return Reading(None, reason="bad_code")
    return Reading(int(digits[:-2]) + Fraction(eighths, 8))


def _height_code(digits: str) -> Reading:
    feet, inches, eighths = int(digits[0]), int(digits[1:3]), int(digits[3])
    if inches > 11 or eighths > 7:
        return Reading(None, reason="bad_code")
    return Reading(12 * feet + inches + Fraction(eighths, 8))


def _bare_length(text: str, kind: LengthKind, unit: str) -> Reading:
    number = _mixed(text)
    if number is None:
        return Reading(None, reason="not_readable")
    if unit == "ft-in":
        return _feet_point_inches(text)
    if unit == "code":
        return Reading(None, reason="bad_code")
    if unit and unit not in INCHES:
        return Reading(None, reason="wrong_unit")
    if unit:
        return Reading(number * INCHES[unit])
    return _bare_height(number) if kind == "height" else Reading(number)


def _bare_height(number: Fraction) -> Reading:
    if 36 <= number <= 96:
        return Reading(number)
    if 3 <= number < 9:
        return Reading(None, reason="ambiguous_feet")
    if 120 <= number <= 250:
        return Reading(number * INCHES["cm"], "read_as_cm")
    if Fraction("1.2") <= number <= Fraction("2.5") and number.denominator > 1:
        return Reading(number * INCHES["m"], "read_as_m")
    return Reading(None, reason="no_unit_fits")


def _feet_point_inches(text: str) -> Reading:
    found = re.fullmatch(r"(\d)(?:\.(\d{1,2}))?", text, re.ASCII)
    if not found:
        return Reading(None, reason="not_readable")
    inches = found.group(2) or "0"
    if inches == "1":
        return Reading(None, reason="ambiguous_feet")
    if int(inches) > 11:
        return Reading(None, reason="inches_over_11")
    return Reading(Fraction(12 * int(found.group(1)) + int(inches)))


def _agreeing(first: Reading, second: Reading) -> Reading:
    """Return the first of two values for one thing if they agree to half a unit and a rounding."""
    if first.value is None or second.value is None:
        return Reading(None, reason="not_readable")
    if abs(first.value - second.value) > Fraction("0.6"):
        return Reading(None, reason="two_values")
    return first
