"""Who is meant: names in all their forms and jersey numbers, used only if exactly one person fits."""

from __future__ import annotations

import re
from collections import defaultdict

import pandas as pd
from rapidfuzz import fuzz

from lbeval.spelling import fold, strip_accents
from lbeval.tidy.settle import Match

_SUFFIXES = frozenset({"jr", "sr", "ii", "iii", "iv"})
_TITLES = frozenset({"mr", "coach", "dr"})
_JERSEY = re.compile(r"(?:#|no\.? ?)?(\d{1,2})")
_NUMBER_AND_NAME = re.compile(r"(?:#|no\.? ?)?(\d{1,2})[ .,:-]+(\D.*)|(\D*\D)[ ,(#-]+(\d{1,2})\)?")
_APOSTROPHES = re.compile(r"['\u2019\u02bb\u02bc`\u00b4]")


def jersey_digits(text: str) -> str:
    """Return a jersey number as digits (`#07` is 7, `00` stays), or empty if `text` is none."""
    found = _JERSEY.fullmatch(fold(text))
    if not found:
        return ""
    return found[1] if found[1] in {"0", "00"} else found[1].lstrip("0")


def turned(name: str) -> str:
    """Return `Last, First` as `First Last`; any other name as it is."""
    last, comma, first = name.partition(",")
    if not comma or not first.strip() or set(_words(first)) <= _SUFFIXES:
        return name.strip()
    return f"{first.strip()} {last.strip()}"


class Identity:
    """Finds persons among `players` (player_id, name) and `jerseys` (... jersey, date_from, date_to)."""

    def __init__(self, players: pd.DataFrame, jerseys: pd.DataFrame) -> None:
        self._names = dict(zip(players["player_id"], players["name"], strict=True))
        self._forms: list[dict[str, set[str]]] = [defaultdict(set) for _ in range(4)]
        for player, name in self._names.items():
            for tier, forms in enumerate(_forms(player, name)):
                for form in forms:
                    self._forms[tier][form].add(player)
        self._worn: dict[str, list[tuple[str, pd.Timestamp, pd.Timestamp]]] = defaultdict(list)
        first = jerseys["date_from"].fillna(pd.Timestamp("1700-01-01"))
        last = jerseys["date_to"].fillna(pd.Timestamp("2250-01-01"))
        for player, jersey, *days in zip(jerseys["player_id"], jerseys["jersey"], first, last, strict=True):
            self._worn[str(jersey)].append((str(player), *days))

    def find(self, text: str, day: pd.Timestamp | None = None) -> Match:
        """Return who is meant by `text` on `day`; nobody if no one or more than one person fits."""
        fitting = self._fitting(text, day)
        if len(fitting) == 1:
            return Match(next(iter(fitting)))
        if fitting:
            names = "; ".join(sorted(self._names[one] for one in fitting))
            return Match("", f"{text!r} can be more than one person", names)
        return Match("", self._nobody(text, day), self._near(text))

    def needs_day(self, text: str) -> bool:
        """Return whether who is meant can depend on the day: a number stands in the text."""
        return any(c.isdigit() for c in text)

    def _fitting(self, text: str, day: pd.Timestamp | None) -> set[str]:
        number = jersey_digits(text)
        named = self._named(text)
        if named or not number:
            return named or self._number_and_name(text, day)
        return self._wearing(number, day)

    def _named(self, text: str) -> set[str]:
        candidates = (fold(text), *(" ".join(_words(t)) for t in {turned(text), text}))
        for tier in self._forms:
            for form in candidates:
                if tier.get(form):
                    return tier[form]
        return set()

    def _number_and_name(self, text: str, day: pd.Timestamp | None) -> set[str]:
        found = _NUMBER_AND_NAME.fullmatch(fold(text))
        if not found:
            return set()
        number, name = (found[1], found[2]) if found[1] else (found[4], found[3])
        return self._wearing(jersey_digits(number), day) & self._named(name.strip(" ()"))

    def _wearing(self, number: str, day: pd.Timestamp | None) -> set[str]:
        worn = self._worn.get(number, [])
        if day is None or pd.isna(day):
            return {player for player, _, _ in worn}
        return {player for player, first, last in worn if first <= day <= last}

    def _nobody(self, text: str, day: pd.Timestamp | None) -> str:
        number = jersey_digits(text)
        if number and self._worn.get(number):
            when = "" if day is None or pd.isna(day) else f" on {day:%Y-%m-%d}"
            return f"nobody on the roster wore number {number}{when}"
        return f"{text!r} is nobody on the roster"

    def _near(self, text: str) -> str:
        number = jersey_digits(text)
        if number:
            return "; ".join(sorted({self._names[player] for player, _, _ in self._worn.get(number, [])}))
        said = strip_accents(" ".join(_words(re.sub(r"[#\d]+", " ", turned(text)))))
        scores: dict[str, float] = {}
        for player, name in self._names.items():
            words = _words(strip_accents(name))
            spelled = (" ".join(words), " ".join(words[1:]) or words[0], f"{words[0][:1]} {words[-1]}")
            scores[player] = max(fuzz.ratio(said, form) for form in spelled)
        best = max(scores.values(), default=0)
        near = sorted(
            (p for p, score in scores.items() if score >= max(best - 8, 60)), key=lambda p: -scores[p]
        )
        return "; ".join(self._names[player] for player in near[:3])


def _words(name: str) -> list[str]:
    """Return the words of a name without points, apostrophes, titles and suffixes."""
    plain = _APOSTROPHES.sub("", fold(name)).replace(".", " ").replace(",", " ").replace("-", " ")
    words = [word for word in plain.split() if word not in _TITLES]
    while len(words) > 1 and words[-1] in _SUFFIXES:
        words.pop()
    return words


def _forms(player: str, name: str) -> tuple[set[str], set[str], set[str], set[str]]:
    """Return a person's spellings: as written; as words either way round; with an initial; last alone."""
    words = _words(name)
    exact = {fold(player), fold(name)}
    if len(words) < 2:
        return exact, {" ".join(words)}, set(), set()
    first, *_ = words
    lasts = {" ".join(words[1:]), words[-1]} if len(words) > 2 else {words[-1]}
    # a hyphenated surname counts as one: its last part alone is no name
    folded = fold(name).replace(",", " ").split()
    joined = next((" ".join(_words(w)) for w in reversed(folded) if "-" in w), "")
    if joined:
        lasts = {last for last in lasts if last.endswith(joined) and last != words[-1]} or {joined}
    both = {" ".join(words), *(f"{last} {first}" for last in lasts)}
    initials = {form for last in lasts for form in (f"{first[0]} {last}", f"{last} {first[0]}")}
    return exact, both, initials, lasts
