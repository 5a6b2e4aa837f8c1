"""How two spellings of one word are told to be the same; used wherever staff's text meets ours."""

from __future__ import annotations

import re
import unicodedata

_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d"), "-")
_QUOTES = {ord("\u2018"): "'", ord("\u2019"): "'", ord("\u201c"): '"', ord("\u201d"): '"'}
_WHOLE_FLOAT = re.compile(r"(-?\d+)\.0+")


def fold(text: str) -> str:
    """Return `text` without what a typist does not mean: case, spacing, kinds of dash and quote.

    A whole number that a spreadsheet stored as a float (`40.0`) folds to the number (`40`).
    Letters keep their accents: two people may differ by one.
    """
    plain = unicodedata.normalize("NFKC", text).translate(_DASHES).translate(_QUOTES)
    plain = " ".join(plain.split()).casefold()
    whole = _WHOLE_FLOAT.fullmatch(plain)
    return whole.group(1) if whole else plain


def strip_accents(text: str) -> str:
    """Return `text` with base letters in place of accented ones, for suggestions only."""
    return "".join(c for c in unicodedata.normalize("NFD", text) if not unicodedata.combining(c))
