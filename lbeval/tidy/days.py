"""Days as people write them, to dates; a date that could be two is not read."""

from __future__ import annotations

import datetime as dt
import re

import pandas as pd

from lbeval.spelling import fold

_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_NAMED = "|".join(_MONTHS)
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[t ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?z?)?", re.ASCII)
_DAY_FIRST = re.compile(rf"(\d{{1,2}})[-/. ]+({_NAMED})[a-z]*\.?[-/, ]+(\d{{4}}|\d{{2}})", re.ASCII)
_MONTH_FIRST = re.compile(
    rf"({_NAMED})[a-z]*\.?[-/. ]+(\d{{1,2}})(?:st|nd|rd|th)?[-/, ]+(\d{{4}}|\d{{2}})", re.ASCII
)
_NUMBERS = re.compile(r"(\d{1,2})[-/](\d{1,2})[-/](\d{4}|\d{2})", re.ASCII)
_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4}|\d{2})", re.ASCII)


_CERTAIN = {_ISO: (0, 1, 2), _DAY_FIRST: (2, 1, 0), _MONTH_FIRST: (2, 0, 1), _DOTTED: (2, 1, 0)}
"""Pattern -> which of its groups are year, month and day."""


def read_days(texts: pd.Series, column: pd.Series) -> pd.Series:
    """Return dates (`datetime64[us]`), missing where `texts` is empty or cannot be read for certain.

    Of `6/3/2025` the order is told by another date of the same `column` (any label, one a row) that has
    only one reading, all of them agreeing, or by its two numbers being equal; otherwise it is not read.
    `3.6.2025` is day first; years of two digits are of this century.
    """
    pairs = pd.DataFrame({"text": texts.map(fold).to_numpy(), "column": column.to_numpy()})
    known: dict[tuple[str, object], dt.date | None] = {}
    for label, group in pairs.drop_duplicates().groupby("column", sort=False, dropna=False):
        options = {text: _options(text) for text in group["text"]}
        orders = {next(iter(o)) for o in options.values() if len(o) == 1} - {"certain"}
        for text, option in options.items():
            known[text, label] = _choose(option, orders)
    days = [known[pair] for pair in pairs.itertuples(index=False, name=None)]
    return pd.Series(days, index=texts.index, dtype=object).astype("datetime64[us]")


def _options(text: str) -> dict[str, dt.date]:
    """Return what `text` can be: `certain`, or by order of day and month."""
    for pattern, (y, m, d) in _CERTAIN.items():
        if found := pattern.fullmatch(text):
            said = found.groups()
            month = str(_MONTHS.index(said[m]) + 1) if said[m] in _MONTHS else said[m]
            return _only("certain", said[y], month, said[d])
    if found := _NUMBERS.fullmatch(text):
        left, right, year = found.groups()
        if left == right:
            return _only("certain", year, left, right)
        return _only("month", year, left, right) | _only("day", year, right, left)
    return {}


def _only(order: str, year: str, month: str, day: str) -> dict[str, dt.date]:
    try:
        return {order: dt.date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))}
    except ValueError:
        return {}


def _choose(options: dict[str, dt.date], orders: set[str]) -> dt.date | None:
    if len(options) == 1:
        return next(iter(options.values()))
    told = [order for order in options if order in orders]
    return options[told[0]] if len(orders) == 1 and told else None
