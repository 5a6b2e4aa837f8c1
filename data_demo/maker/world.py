"""The invented program: its people, opponents and calendar. Nobody here exists."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

PROGRAM = "Kestrel Narrows College"
YEAR = 2025
LEVEL = "college"
SEASON_NUMBERS_FROM = dt.date(YEAR, 8, 1)
"""The day the spring numbers were changed."""


@dataclass(frozen=True)
class Athlete:
    """A linebacker of the room; `spring` and `season` are the numbers he wears."""

    player_id: str
    name: str
    spring: str
    season: str
    position: str
    class_year: str
    seasons_left: int
    birth_month: str
    nickname: str = ""

    @property
    def last(self) -> str:
        """Return his surname."""
        return self.name.split(" ", 1)[1]

    @property
    def first(self) -> str:
        """Return his first name."""
        return self.name.split(" ", 1)[0]


PLAYERS: tuple[Athlete, ...] = (
    Athlete("teo-marchetti-vance", "Teo Marchetti-Vance", "44", "44", "ILB", "Sr", 0, "2003-11"),
    Athlete("tavita-lealofi", "Tavita Le'alofi", "52", "52", "ILB", "Jr", 1, "2004-08"),
    Athlete("remy-okonjo-bell", "Rémy Okonjo-Bell", "9", "9", "EDGE", "Sr", 0, "2003-06"),
    Athlete("darnell-achterberg", "Darnell Achterberg", "41", "41", "OLB", "Jr", 1, "2004-12"),
    Athlete("jose-ibarrondo", "José Ibarrondo", "57", "33", "ILB", "So", 2, "2005-09"),
    Athlete("nils-akerholt", "Nils Åkerholt", "48", "48", "ILB", "So", 2, "2006-01"),
    Athlete("malik-trevanion", "Malik Trevanion", "13", "13", "EDGE", "Jr", 1, "2005-03"),
    Athlete("dashiell-achterberg", "Dashiell Achterberg", "33", "47", "OLB", "So", 2, "2006-04", "Dash Ach"),
    Athlete("keoni-palaualelo", "Keoni Palaualelo", "55", "55", "ILB", "Fr", 3, "2007-02", "Kip"),
    Athlete("cormac-odreaghan", "Cormac O'Dreaghan", "60", "36", "ILB", "Fr", 3, "2006-10"),
    Athlete("zbyszek-wrzosek", "Zbyszek Wrzosek", "47", "57", "OLB", "Fr", 3, "2007-05", "Zibby"),
)
INSIDE = (0, 1, 4, 5, 8, 9)

SLOTS: tuple[tuple[str, tuple[int, ...], tuple[float, ...]], ...] = (
    ("inside", (0, 4, 8), (0.78, 0.17, 0.05)),
    ("inside", (1, 5, 9), (0.62, 0.345, 0.035)),
    ("edge", (2, 6, 10), (0.76, 0.20, 0.04)),
    ("outside", (3, 7, 10), (0.78, 0.19, 0.03)),
)
"""Role on the field, who plays it (places in PLAYERS, first string first), and how often in a game."""

PRACTICE_SHARE = (0.40, 0.34, 0.26)

RATERS: tuple[tuple[str, str], ...] = (
    ("rusk", "Coach Halvard Rusk"),
    ("thackray", "Coach Lemuel Thackray"),
    ("quell", "Coach Isandro Quell"),
)

OPPONENTS = (
    "Dunmere",
    "Quillon State",
    "Port Sable",
    "Varrow Tech",
    "Wexcombe",
    "Tallowick",
    "Orrin Lake",
    "Castermoor",
    "Brindle Fork",
    "Ketterdale",
    "Sorrel Plains",
    "Ambervale",
)
BIG_GAMES = (1, 3, 5, 6, 10, 11)
"""Places in OPPONENTS of the games that decide the league."""
ROUTS = (0, 4, 7)
"""Games decided early, where the second string plays the second half."""

CALLS = ("Slate", "Copper", "Flint", "Cedar", "Heron", "Heron Swap", "Slate Fire", "Copper Add", "Goal")


@dataclass(frozen=True)
class Session:
    """A game or a practice, in the order they were held."""

    game_id: str
    label: str
    phase: str
    week: int | None
    opponent: str
    date: dt.date
    plays: int


def _practices() -> list[Session]:
    spring = [
        dt.date(YEAR, 3, 18) + dt.timedelta(days=d) for w in range(5) for d in (7 * w, 7 * w + 2, 7 * w + 4)
    ]
    camp = [dt.date(YEAR, 8, 4) + dt.timedelta(days=d) for d in (0, 1, 2, 4, 5, 7, 8, 9, 11, 12, 14, 15)]
    found = [
        Session(f"spring-{n:02d}", f"Spring {n:02d}", "spring", None, "", day, 50)
        for n, day in enumerate(spring, 1)
    ]
    found += [
        Session(f"camp-{n:02d}", f"Camp {n:02d}", "camp", None, "", day, 52) for n, day in enumerate(camp, 1)
    ]
    return found


def _games() -> list[Session]:
    found = []
    for n, opponent in enumerate(OPPONENTS, 1):
        day = dt.date(YEAR, 8, 30) + dt.timedelta(days=7 * (n - 1) + (7 if n > 6 else 0))
        week = n + (1 if n > 6 else 0)
        midweek = day - dt.timedelta(days=3)
        found.append(Session(f"practice-{n:02d}", f"Practice {n:02d}", "practice", week, "", midweek, 30))
        found.append(Session(f"game-{n:02d}", f"Game {n:02d}", "game", week, opponent, day, 65))
    return found


SESSIONS: tuple[Session, ...] = (*_practices(), *_games())
GAMES: tuple[int, ...] = tuple(i for i, s in enumerate(SESSIONS) if s.phase == "game")
"""Places of the games in SESSIONS."""
