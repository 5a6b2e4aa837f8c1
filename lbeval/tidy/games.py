"""Sessions: which there were, and which one a file means by `Wk 3 vs ...` or a sheet's name."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from rapidfuzz import fuzz, process

from lbeval.files import slug
from lbeval.raw import Finding, RawTable
from lbeval.spelling import fold
from lbeval.tables import TABLES, empty_table
from lbeval.tables.schema import PHASES
from lbeval.tidy.days import read_days
from lbeval.tidy.desk import Desk, declared_words, own_words, word_finder
from lbeval.tidy.findings import Said
from lbeval.tidy.settle import Match

_TOKEN = re.compile(r"[^\W\d_]+|\d+")
_GAME = re.compile(r"\b(?:game|gm|g) (\d+)\b")
_WEEK = re.compile(r"\b(?:week|wk) (\d+)\b")
_VERSUS = re.compile(r"(?:^| )(?:vs|versus|v|at) (.+)$")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_TYPED_DAY = re.compile(r"(?<!\d)(\d{1,2})[/.-](\d{1,2})[/.-](\d{4}|\d{2})(?!\d)")


def game_key(text: str) -> str:
    """Return a session's name for comparing: words and numbers, no leading zeros (`Game_03`: game 3)."""
    plain = fold(text).replace("@", " at ").replace("'", "").replace("\u2019", "")
    return " ".join(t.lstrip("0") or "0" if t.isdigit() else t for t in _TOKEN.findall(plain))


class GameBook:
    """The sessions of the season; `find` says which one a text means, if exactly one fits."""

    def __init__(self, games: pd.DataFrame, aliases: dict[str, tuple[str, ...]]) -> None:
        self.games = games
        self.dates = dict(zip(games["game_id"], games["date"], strict=True))
        self._names: dict[str, set[str]] = defaultdict(set)
        self._numbers: dict[str, set[str]] = defaultdict(set)
        self._weeks: dict[str, set[str]] = defaultdict(set)
        self._opponents: dict[str, set[str]] = defaultdict(set)
        self._days: dict[str, set[str]] = defaultdict(set)
        self._labels = dict(zip(games["game_id"], games["label"], strict=True))
        for row in games.itertuples(index=False):
            game = str(row.game_id)
            for name in (game, str(row.label), *aliases.get(game, ())):
                self._names[game_key(name)].add(game)
            if row.opponent:
                self._opponents[game_key(str(row.opponent))].add(game)
        played = games[(games["phase"] == "game") & games["week"].notna()]
        for game, week in zip(played["game_id"], played["week"].astype("int64"), strict=True):
            self._weeks[str(week)].add(str(game))
        dated = games[games["date"].notna()]
        for game, day in zip(dated["game_id"], dated["date"].dt.strftime("%Y-%m-%d"), strict=True):
            self._days[str(day)].add(str(game))
        self._number_games()

    def _number_games(self) -> None:
        """Give games the numbers of their names, or in the order they were held if none has a number."""
        played = self.games[self.games["phase"] == "game"].sort_values("order")
        for game in played["game_id"]:
            for name in (game, self._labels[game]):
                found = _GAME.search(game_key(str(name)))
                if found:
                    self._numbers[found[1]].add(str(game))
        if not self._numbers:
            for number, game in enumerate(played["game_id"], 1):
                self._numbers[str(number)].add(str(game))

    def find(self, text: str) -> Match:
        """Return the session that `text` means, or why there is none and which are near."""
        fitting = self._fitting(text)
        if len(fitting) == 1:
            return Match(next(iter(fitting)))
        labels = "; ".join(sorted(self._labels[game] for game in fitting))
        if fitting:
            return Match("", f"{text!r} can be more than one session", labels)
        return Match("", f"{text!r} is no session of the season", self._near(text))

    def _fitting(self, text: str) -> set[str]:
        key = game_key(text)
        if self._names.get(key):
            return self._names[key]
        held = self._on_day(text)
        if held:
            return held
        parts = [part for part in (self._number(key), self._opponent(key), self._named_within(key)) if part]
        return set.intersection(*parts) if parts else set()

    def _on_day(self, text: str) -> set[str]:
        """Return the sessions of a date; of `9/6/2025` both orders are tried."""
        day, typed = _DAY.search(text), _TYPED_DAY.search(text)
        readings = [day[0]] if day else []
        if typed:
            year = typed[3] if len(typed[3]) == 4 else f"20{typed[3]}"
            readings = [
                f"{year}-{m.zfill(2)}-{d.zfill(2)}" for m, d in ((typed[1], typed[2]), (typed[2], typed[1]))
            ]
        return set().union(*(self._days.get(reading, set()) for reading in readings))

    def _number(self, key: str) -> set[str]:
        game, week = _GAME.search(key), _WEEK.search(key)
        if game and self._numbers.get(game[1]):
            return self._numbers[game[1]]
        return self._weeks.get(week[1], set()) if week else set()

    def _opponent(self, key: str) -> set[str]:
        if self._opponents.get(key):
            return self._opponents[key]
        versus = _VERSUS.search(key)
        if not versus:
            return set()
        words = f" {versus[1]} "
        named = [name for name in self._opponents if f" {name} " in words]
        return self._opponents[max(named, key=len)] if named else set()

    def _named_within(self, key: str) -> set[str]:
        """Return the session whose name with a number stands inside a longer text, such as a file's name."""
        words = f" {key} "
        named = [name for name in self._names if any(c.isdigit() for c in name) and f" {name} " in words]
        return self._names[max(named, key=len)] if named else set()

    def _near(self, text: str) -> str:
        said = game_key(text)
        versus = _VERSUS.search(said)
        opponent = process.extractOne(versus[1] if versus else said, list(self._opponents), score_cutoff=75)
        if opponent:
            return "; ".join(sorted(self._labels[game] for game in self._opponents[opponent[0]]))
        keys = {game: game_key(label) for game, label in self._labels.items()}
        scored = process.extract(said, keys, scorer=fuzz.WRatio, limit=3, score_cutoff=70)
        return "; ".join(self._labels[game] for _, _, game in scored)


def make_games(desk: Desk, tables: Sequence[RawTable]) -> GameBook:
    """Return the sessions of [games] and of the clip list; without either, those the sheets name.

    A session takes its phase from the clip list's column, from [games], or from its own label if that
    begins with a phase (`Spring 03`); otherwise it is a game. Practices that only a list of drills knows are
    added if it says their phase.
    """
    settings = desk.settings
    rows: dict[str, dict[str, Any]] = {
        game: {
            "label": one.label,
            "phase": one.phase,
            "week": one.week,
            "opponent": one.opponent or "",
            "date": None if one.date is None else pd.Timestamp(one.date),
        }
        for game, one in settings.games.items()
    }
    aliases = {game: one.aliases for game, one in settings.games.items()}
    lists = [table for table in tables if table.source.kind == "plays" and not table.frame.empty]
    if not lists and not rows:
        _from_sheets(desk, tables, rows)
    for table in lists:
        _from_clip_list(desk, table, rows, aliases)
    for table in tables:
        if table.source.kind == "drills" and not table.frame.empty:
            _from_drills(table, rows, aliases)
    return GameBook(_games_table(rows), aliases)


def _games_table(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    if not rows:
        return empty_table("games")
    frame = pd.DataFrame(
        {
            "game_id": pd.Series(list(rows), dtype="str"),
            "label": pd.Series([r["label"] for r in rows.values()], dtype="str"),
            "phase": pd.Series([r["phase"] for r in rows.values()], dtype="str"),
            "week": pd.Series([r["week"] for r in rows.values()], dtype="float64"),
            "opponent": pd.Series([r["opponent"] for r in rows.values()], dtype="str"),
            "date": pd.Series([r["date"] for r in rows.values()], dtype="datetime64[us]"),
        }
    )
    frame["given"] = np.arange(len(frame))
    frame["kind"] = frame["phase"].map({phase: n for n, phase in enumerate(PHASES)})
    keys = ["date", "week", "given"] if frame["date"].notna().all() else ["given"]
    if frame["date"].isna().any() and frame["week"].notna().all():
        keys = ["week", "given"]
    frame = frame.sort_values(keys, ignore_index=True)
    frame["order"] = np.arange(len(frame))
    return frame[list(TABLES["games"].columns)]


def _from_sheets(desk: Desk, tables: Sequence[RawTable], rows: dict[str, dict[str, Any]]) -> None:
    """Take every name that the grading sheets give a session for one session."""
    texts: dict[str, str] = {}
    for table in tables:
        if table.source.kind == "grades":
            for text in sorted(map(str, table.frame["game"].unique())):
                if text:
                    texts.setdefault(game_key(text), text)
    for key in sorted(
        texts, key=lambda k: [(t.isdigit(), int(t) if t.isdigit() else 0, t) for t in k.split()]
    ):
        rows[_fresh_id(texts[key], rows)] = _blank_game(texts[key])
    if texts:
        names = ", ".join(row["label"] for row in rows.values())
        message = f"no clip list and no [games] name the sessions; the sheets name {len(rows)}: {names[:300]}"
        suggestion = "add [games] with dates and phases if one is missing, stands twice or is no game"
        said = Finding("season.toml", "", 0, 0, "", "notice", "games_from_sheets", message, suggestion)
        desk.findings.add_plain([said])


def _blank_game(label: str) -> dict[str, Any]:
    first = game_key(label).partition(" ")[0]
    phase = first if first in PHASES else "game"
    return {"label": label, "phase": phase, "week": None, "opponent": "", "date": None}


def _fresh_id(label: str, taken: dict[str, dict[str, Any]]) -> str:
    stem = slug(label, fallback="session")
    game, number = stem, 2
    while game in taken:
        game, number = f"{stem}-{number}", number + 1
    return game


def _from_clip_list(
    desk: Desk, table: RawTable, rows: dict[str, dict[str, Any]], aliases: dict[str, tuple[str, ...]]
) -> None:
    """Add the sessions of a clip list; what [games] says of one comes before what the list says."""
    frame = table.frame
    known = GameBook(_games_table(rows), aliases)
    phases, _ = desk.settle(table, frame, "phase", word_finder(own_words(PHASES), "phase"), scope="cell")
    said = {
        "phase": pd.Series(phases, index=frame.index, dtype="str"),
        "week": frame["week"].map({text: _week(text) for text in frame["week"].unique()}),
        "opponent": frame["opponent"],
        "date": read_days(frame["date"], frame["source_file"] + frame["source_sheet"]),
    }
    games = {}
    for label in frame["game"].unique():
        key = game_key(label)
        if key:
            same = next((game for game in rows if game_key(rows[game]["label"]) == key), "")
            games[label] = known.find(label).id or same or _fresh_id(label, rows)
            rows.setdefault(games[label], _blank_game(label))
    of_row = frame["game"].map(games)
    for name, values in said.items():
        _take(desk, table, of_row[of_row.notna()], values, name, rows)


def _from_drills(
    table: RawTable, rows: dict[str, dict[str, Any]], aliases: dict[str, tuple[str, ...]]
) -> None:
    """Add the practices that only a list of drills names, if it or their own name says their phase."""
    frame = table.frame
    known = GameBook(_games_table(rows), aliases)
    find = word_finder(own_words(PHASES) | declared_words(table.source, "phase"), "phase")
    days = read_days(frame["date"], frame["source_file"] + frame["source_sheet"])
    phases = frame["phase"].map({text: find(text).id for text in frame["phase"].unique()})
    new = frame.assign(phase=phases, date=days)[~frame["game"].map(lambda text: bool(known.find(text).id))]
    for label, group in new.groupby("game", sort=False):
        row = _blank_game(str(label))
        row["phase"] = next((str(phase) for phase in group["phase"] if phase), row["phase"])
        row["date"] = next(iter(group["date"].dropna()), None)
        if game_key(str(label)) and (row["phase"] != "game" or (group["phase"] != "").any()):
            rows[_fresh_id(str(label), rows)] = row


def _take(
    desk: Desk,
    table: RawTable,
    games: pd.Series,
    values: pd.Series,
    name: str,
    rows: dict[str, dict[str, Any]],
) -> None:
    """Give each session the one value its rows hold; where they disagree, the first, and say so."""
    given = values.loc[games.index]
    filled = given.notna() & (given != "") if name in {"phase", "opponent"} else given.notna()
    given, games = given[filled], games[filled]
    if given.empty:
        return
    first = given.groupby(games).first()
    declared = {game: one.model_fields_set for game, one in desk.settings.games.items()}
    for game, value in first.items():
        if name not in declared.get(str(game), set()):
            rows[str(game)][name] = value
    other = given.index[(given != games.map(first)).to_numpy()]
    if len(other):
        texts = table.frame.loc[other, name].to_numpy(dtype=object)
        message = f"this row gives its session another {name} than the session's first row, which was taken"
        said = Said("session_disagrees", message, "correct the clip list")
        desk.findings.add(table, table.frame.loc[other], name, texts, said, kind="notice")


def _week(text: str) -> float:
    found = re.search(r"\d+", text)
    return float(found[0]) if found else np.nan
