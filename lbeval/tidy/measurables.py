"""Test results and body measurements as written, to one row a result in the unit of its test."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple, cast

import pandas as pd
from rapidfuzz import process

from lbeval.settings import Range, SeasonSettings
from lbeval.spelling import fold
from lbeval.tables import LINEAGE, TABLES, check_table, empty_table
from lbeval.tidy.days import read_days
from lbeval.tidy.units import (
    INCHES,
    POUNDS,
    REPS,
    SECONDS,
    DateCell,
    LengthKind,
    Reading,
    date_as_length,
    date_parts,
    is_zero,
    plain,
    read_amount,
    read_length,
    unit_of,
)

_TIMING_WORDS = {
    "electronic": ("electronic", "e", "elec", "fat", "laser", "auto", "automatic"),
    "hand": ("hand", "h", "ht", "manual", "stopwatch", "hand held", "hand-held", "hand timed", "hand-timed"),
    "hand_start": ("hand_start", "hand start", "hand-start", "hs"),
    "unknown": ("unknown", "?", "unk"),
}
_STANDING_WORDS = {
    "measured": ("measured", "m", "verified", "in person"),
    "self_reported": ("self_reported", "self reported", "self-reported", "self", "reported", "sr"),
    "listed": ("listed", "list", "program", "website", "roster"),
}
_TIMING = {word: name for name, words in _TIMING_WORDS.items() for word in words}
_STANDING = {"": "", **{word: name for name, words in _STANDING_WORDS.items() for word in words}}
_NO_RESULT = {"-", "--", "n/a", "na", "dnp", "dns", "nt", "none", "did not test", "not tested", "tbd"}
_KNOWN = {"in": INCHES, "lb": POUNDS, "s": SECONDS, "reps": REPS}

MESSAGES: dict[str, tuple[str, str]] = {
    "unknown_test": (
        "is a result of a test that [ranges] does not have",
        "name the test in the source block",
    ),
    "no_result": ("says that there is no result", "nothing to do"),
    "zero_is_missing": ("stands for a test that was not taken; it is not a result", "leave the cell empty"),
    "not_readable": ("is not a value of this test", "correct the cell"),
    "ambiguous_feet": (
        "can be feet and inches, or feet with decimals",
        "write 5'8\" or 68 in, or declare the unit of the column: ft-in or ft",
    ),
    "ambiguous_comma": ("can have a decimal comma, or thousands", "write a point"),
    "ambiguous_date": (
        "was turned into a date and can have been two values",
        "write it again with its marks, as in 6'5\"",
    ),
    "is_a_date": ("is a date where a value belongs", "write the value again, in a cell formatted as text"),
    "inches_over_11": ("has 12 or more inches beside the feet", "correct the cell"),
    "bad_code": ("is not a valid code for this measurement", "correct the code, or write inches"),
    "no_unit_fits": ("is no height in inches, centimetres or metres", "correct the cell"),
    "two_values": ("holds values that disagree", "keep the right one"),
    "unknown_unit": ("has a unit that is not known", "use in, ft-in, ft, cm, m, lb, kg, s or reps"),
    "wrong_unit": ("has a unit that this test cannot have", "correct the unit"),
    "outside_range": (
        "is outside what [ranges] allows for this test",
        "correct the cell, or declare its unit",
    ),
    "not_whole": ("is not a whole number", "correct the cell"),
    "timing_conflict": ("says one way of timing and its row another", "correct the cell or the timing"),
    "unknown_timing": (
        "has a timing word that is not known: kept as unknown",
        "say electronic, hand, hand start",
    ),
    "unknown_standing": (
        "has a standing that is not known: left empty",
        "say measured, self-reported, listed",
    ),
    "unread_date": ("is a date with two readings or none: kept without a date", "write it as 2025-06-03"),
    "splits_out_of_order": ("is not longer than his shorter sprint of that day", "look at both times"),
    "arm_and_wingspan": ("is not more than twice his arm", "look at both measurements"),
}
"""Reason -> what is said of the value, and what to do."""


class _Result(NamedTuple):
    test: str
    value: float
    note: str
    timing: str


def tidy_measurables(
    raw: pd.DataFrame, settings: SeasonSettings, units: Mapping[str, str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read measured values.

    Parameters
    ----------
    raw : one row a cell: `player_id`, the lineage columns, and as text `date`, `test`, `value`, `unit`,
        `timing`, `standing` (empty where not given). `test` is an id of [ranges], in any case and with
        spaces for `_`. Rows with an empty value are passed over.
    settings : its `ranges` say which tests there are, in which unit, and what is possible.
    units : of the source block: test (or `value`, for all) -> unit; one in the row or cell goes first.

    Returns
    -------
    measurables, set_aside : tables as `lbeval.tables` has them. Values are in in, lb, s or reps, exact
        before they become floats: the same measurement in any unit or spelling is the same number. One
        cell with several attempts (`4.68 / 4.71`), or the three splits of a 40, gives several rows. A
        value outside its range is set aside, whole; splits out of order and an arm longer than half the
        wingspan are notices. What is ambiguous is never guessed: see `lbeval.tidy.units`. Hand, hand-start
        and electronic times are never converted. A date in a height column is read back where only one
        reading is possible, or where the other dates of that column tell the order, and noted.
    """
    rows = raw.loc[raw["value"].map(fold) != ""].reset_index(drop=True)
    if rows.empty:
        return empty_table("measurables"), empty_table("set_aside")
    ranges = settings.ranges
    known = {_plain_id(test): test for test in ranges}
    rows["id"] = rows["test"].map(lambda test: known.get(_plain_id(test), ""))
    rows["declared"] = [
        unit if fold(unit) else units.get(test, units.get("value", ""))
        for unit, test in zip(rows["unit"], rows["id"], strict=True)
    ]
    rows["order"] = _date_orders(rows, ranges)
    key = ["id", "value", "declared", "timing", "order"]
    combinations = rows[key].drop_duplicates().itertuples(index=False, name=None)
    read = {case: _read(ranges, *case) for case in combinations}
    outcomes = [read[case] for case in rows[key].itertuples(index=False, name=None)]
    rows["read"] = pd.Series(outcomes, dtype=object)
    rows["day"] = read_days(rows["date"], rows["source_file"] + "\n" + rows["source_sheet"])
    used = rows.loc[[not isinstance(outcome, str) for outcome in rows["read"]]]
    refused = rows.drop(index=used.index)
    table = _table(used, ranges)
    lines = [_lines(part, str(why), "value", "set_aside", ranges) for why, part in refused.groupby("read")]
    lines += [*_word_notices(used, ranges), *_cross_checks(table, ranges)]
    aside = pd.concat([part for part in lines if len(part)] or [empty_table("set_aside")])
    aside = aside.sort_values(["source_file", "source_sheet", "source_row", "source_column", "reason"])
    return check_table("measurables", table), check_table("set_aside", aside.reset_index(drop=True))


def _plain_id(test: str) -> str:
    return re.sub(r"[ _-]+", "_", fold(test))


def _length_kind(test: str) -> LengthKind:
    if "height" in test:
        return "height"
    if "wing" in test:
        return "span"
    return "length" if re.search(r"arm|hand", test) else "jump"


def _limits(limits: Range) -> tuple[str, Fraction, Fraction]:
    """Return our unit of a range (empty if it is none of ours) and its ends in it."""
    unit = unit_of(limits.unit) or ""
    for ours, known in _KNOWN.items():
        if unit in known:
            worth = known[unit]
            return ours, Fraction(repr(limits.low)) * worth, Fraction(repr(limits.high)) * worth
    return "", Fraction(0), Fraction(0)


def _date_orders(rows: pd.DataFrame, ranges: Mapping[str, Range]) -> list[str]:
    """Return for each row the order in which its date is feet and inches; empty where none or unsure."""
    place = ["source_file", "source_sheet", "id"]
    found: dict[tuple[str, ...], DateCell | None] = {}
    told: dict[tuple[str, ...], set[str]] = {}
    for case in rows[[*place, "value"]].drop_duplicates().itertuples(index=False, name=None):
        *where, test, value = case
        cell = None
        if test and (limits := _limits(ranges[test]))[0] == "in" and _length_kind(test) != "length":
            cell = date_as_length(value, float(limits[1]), float(limits[2]))
        found[case] = cell
        if cell and (cell.first is None) != (cell.second is None):
            order = "second" if cell.first is None else "first"
            told.setdefault((*where, test, cell.family), set()).add(order)
    orders = []
    for case in rows[[*place, "value"]].itertuples(index=False, name=None):
        cell = found[case]
        options = {o for o in ("first", "second") if cell and getattr(cell, o) is not None}
        if cell and cell.first == cell.second:
            options &= {"first"}
        elif cell and len(options) == 2:
            options &= told.get((*case[:3], cell.family), set())
            options = options if len(options) == 1 else set()
        orders.append(options.pop() if options else "")
    return orders


def _read(
    ranges: Mapping[str, Range], test: str, value: str, declared: str, timing: str, order: str
) -> list[_Result] | str:
    """Return the results in a cell, or the reason why it has none."""
    if not test:
        return "unknown_test"
    ours, low, high = _limits(ranges[test])
    unit = unit_of(declared)
    if unit is None or not ours:
        return "unknown_unit"
    if plain(value) in _NO_RESULT:
        return "no_result"
    if ours == "s":
        return _times(ranges, test, value, unit, timing)
    if is_zero(value):
        reading = Reading(Fraction(0))
    elif ours == "in":
        reading = _length(test, value, unit, order, (low, high))
    else:
        said = re.sub(r"^(?:225 ?)?x ?(?=\d)", "", plain(value)) if ours == "reps" else value
        reading = read_amount(said, _KNOWN[ours], unit)
    if reading.value is None:
        return reading.reason
    return _implausible(reading.value, ranges[test]) or [
        _Result(test, float(reading.value), reading.note, "")
    ]


def _implausible(value: Fraction, limits: Range) -> str:
    _, low, high = _limits(limits)
    if value == 0 < low:
        return "zero_is_missing"
    if not low <= value <= high:
        return "outside_range"
    return "not_whole" if limits.whole and value.denominator != 1 else ""


def _length(test: str, value: str, unit: str, order: str, ends: tuple[Fraction, Fraction]) -> Reading:
    kind = _length_kind(test)
    parts = date_parts(value)
    fraction = parts is not None and parts[0] == "slashed" and kind in {"length", "jump"}
    if parts is None or (fraction and not order):
        return read_length(value, kind, unit)
    cell = date_as_length(value, float(ends[0]), float(ends[1]))
    if order and cell is not None:
        return Reading(cast("Fraction", getattr(cell, order)), "recovered_from_date")
    possible = kind != "length" and cell is not None and cell.first is not None
    return Reading(None, reason="ambiguous_date" if possible else "is_a_date")


def _times(ranges: Mapping[str, Range], test: str, value: str, unit: str, timing: str) -> list[_Result] | str:
    said = plain(value)
    written = ""
    if marked := re.fullmatch(r"(.*\d) ?\(?(?:s|sec)?\.? ?\(?([a-z][a-z -]*)\)?", said):
        word = marked.group(2).strip()
        if word in _TIMING:
            said, written = marked.group(1), _TIMING[word]
    column = _TIMING.get(fold(timing), "unknown")
    if written and column not in {"unknown", written}:
        return "timing_conflict"
    how = written or column
    readings = [read_amount(part, SECONDS, unit) for part in re.split(r" ?[/;|] ?|, | (?=\d)", said)]
    reason = next((r.reason for r in readings if r.value is None), "")
    if reason:
        return reason if len(readings) == 1 else "not_readable"
    runs = [r.value for r in readings if r.value]
    note = ";".join(sorted({r.note for r in readings if r.note}))
    return _runs(ranges, test, runs, note, how) if runs else "zero_is_missing"


def _runs(
    ranges: Mapping[str, Range], test: str, runs: list[Fraction], note: str, how: str
) -> list[_Result] | str:
    """Return one or several attempts, or the splits of one 40."""
    reasons = [_implausible(run, ranges[test]) for run in runs]
    if not any(reasons):
        notes = ";".join(sorted({*note.split(";"), "several_attempts" if len(runs) > 1 else ""} - {""}))
        return [_Result(test, float(run), notes, how) for run in runs]
    if len(runs) == 1:
        return reasons[0]
    sprints = {distance: name for name in ranges if (distance := sprint_yards(name))}
    if sprint_yards(test) == 40 and len(runs) == 3 == len(sprints):
        tests = [sprints[distance] for distance in sorted(sprints)]
        fits = not any(_implausible(run, ranges[t]) for run, t in zip(runs, tests, strict=True))
        if fits and runs == sorted(set(runs)):
            notes = ";".join(sorted({*note.split(";"), "from_splits"} - {""}))
            return [_Result(t, float(run), notes, how) for run, t in zip(runs, tests, strict=True)]
    return "two_values"


def sprint_yards(test: str) -> int:
    """Return 10, 20 or 40 if `test` names that sprint or split (`forty`, `10yd`, `split_20`), else 0."""
    if re.search(r"shuttle|cone|agil|short", test):
        return 0
    found = re.search(r"(?<!\d)(10|20|40)(?!\d)|ten|twenty|forty", test)
    named = {"ten": 10, "twenty": 20, "forty": 40}
    return 0 if found is None else named.get(found.group(0)) or int(found.group(0))


def _table(used: pd.DataFrame, ranges: Mapping[str, Range]) -> pd.DataFrame:
    rows = used.explode("read", ignore_index=True)
    results: list[_Result] = rows["read"].tolist()
    if not results:
        return empty_table("measurables")
    unit = {test: _limits(limits)[0] for test, limits in ranges.items()}
    return pd.DataFrame(
        {
            "player_id": rows["player_id"].astype("str"),
            "date": rows["day"],
            "test": pd.Series([r.test for r in results], dtype="str"),
            "value": pd.Series([r.value for r in results], dtype=float),
            "unit": pd.Series([unit[r.test] for r in results], dtype="str"),
            "raw_value": rows["value"].astype("str"),
            "timing": pd.Series([r.timing for r in results], dtype="str"),
            "standing": rows["standing"].map(lambda word: _STANDING.get(fold(word), "")).astype("str"),
            "note": pd.Series([r.note for r in results], dtype="str"),
            **{name: rows[name] for name in LINEAGE},
        }
    )


def _lines(
    rows: pd.DataFrame, reason: str, value: str, kind: str, ranges: Mapping[str, Range]
) -> pd.DataFrame:
    """Return lines of `set_aside` for `rows`; `value` is the column that holds what is said to be wrong."""
    said, remedy = MESSAGES[reason]
    remedies = [remedy] * len(rows)
    if reason == "unknown_test":
        nearest = [process.extractOne(test, list(ranges)) for test in rows["test"]]
        remedies = [f"{remedy}; the nearest is {near[0]}" if near else remedy for near in nearest]
    lines = pd.DataFrame(
        {
            **{name: rows[name].to_numpy() for name in LINEAGE},
            "column": rows["test"].to_numpy(),
            "value": rows[value].to_numpy(),
            "kind": kind,
            "reason": reason,
            "message": [f"{t}: {v!r} {said}" for t, v in zip(rows["test"], rows[value], strict=True)],
            "suggestion": remedies,
            "waits": False,
        }
    )
    text = [name for name, column in TABLES["set_aside"].columns.items() if str(column.dtype) == "str"]
    return lines.astype(dict.fromkeys(text, "str"))


def _word_notices(used: pd.DataFrame, ranges: Mapping[str, Range]) -> list[pd.DataFrame]:
    """Return notices on words and dates of `used` that could not be read beside a value that could."""
    timed = used["id"].map(lambda test: _limits(ranges[test])[0] == "s").astype(bool)
    timing = used["timing"].map(fold)
    unclear = {
        "unknown_timing": (timed & (timing != "") & ~timing.isin(list(_TIMING)), "timing"),
        "unknown_standing": (~used["standing"].map(fold).isin(list(_STANDING)), "standing"),
        "unread_date": (used["day"].isna() & (used["date"].map(fold) != ""), "date"),
    }
    return [_lines(used.loc[rows], why, value, "notice", ranges) for why, (rows, value) in unclear.items()]


def _cross_checks(table: pd.DataFrame, ranges: Mapping[str, Range]) -> list[pd.DataFrame]:
    """Return notices on results of one person on one day that cannot all be right."""
    runs = sorted((yards, test) for test in ranges if (yards := sprint_yards(test)))
    pairs = [(short, long, 1.0, "splits_out_of_order") for a, short in runs for b, long in runs if a < b]
    spans = [test for test in ranges if _length_kind(test) == "span"]
    pairs += [(arm, span, 2.0, "arm_and_wingspan") for arm in ranges if "arm" in arm for span in spans]
    found = []
    day = ["player_id", "date", "timing"]
    for shorter, longer, times, reason in pairs:
        by_day = table.loc[table["test"] == shorter].groupby(day, dropna=False)["value"]
        small = (by_day.min() if times == 1.0 else by_day.max()).rename("small")
        large = table.loc[table["test"] == longer].merge(small.reset_index(), on=day)
        wrong = large.loc[large["value"] <= times * large["small"]]
        found.append(_lines(wrong, reason, "raw_value", "notice", ranges))
    return found
