"""A small analysed season with everything a page can meet: much film, little film and none."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from lbeval.analysis import Analysis
from lbeval.fit.events import fit_events
from lbeval.fit.ratings import fit_ratings
from lbeval.fit.tackling import fit_tackling
from lbeval.fit.takeons import fit_takeons
from lbeval.tables import Season
from tests.hand_season import season

HOSTILE = 'Ana "#read(1)" O\'Neil-[Şahin] & $x$'
NAMES = {
    "ana": HOSTILE,
    "bo": "Bo Renner",
    "cy": "Cyrus Whitlock",
    "di": "Dee Vantongeren",
    "eli": "Eli Marsh",
}
GAMES = ("Dunmere", "Wexcombe", "Port Sable", "Tallowick")
MUCH, LITTLE = ("ana", "bo", "eli"), "cy"
MARKED = ("close", "strike", "shed", "eyes", "wrap")

SMALL_RUBRIC: dict[str, Any] = {
    "standard": 0.7,
    "groups": [{"id": name, "label": name.capitalize()} for name in ("assignment", "technique", "effort")],
    "criteria": [
        {"id": name, "label": name.capitalize(), "group": name}
        for name in ("assignment", "technique", "effort")
    ],
}


def analyse_by_hand(held: Season) -> Analysis:
    """Fit everything a page shows."""
    ratings = fit_ratings(
        held.grades,
        held.games,
        held.players,
        held.rubric,
        held.settings,
        rng=np.random.default_rng(7),
    )
    return Analysis(held, ratings, fit_tackling(held), fit_events(held), fit_takeons(held))


@cache
def full_analysis() -> Analysis:
    """Return a season with two coaches, tackles, events and remarks; Cyrus has nine plays, Dee none."""
    rng = np.random.default_rng(3)
    plays = [(f"g{game}", f"g{game}-{snap:03d}") for game in range(1, 5) for snap in range(1, 26)]
    grades = [mark for one in MUCH for mark in _marks(rng, one, plays, MARKED)]
    grades += _marks(rng, LITTLE, plays[:9], MARKED)
    tackles = [
        {
            "player_id": player,
            "game_id": game,
            "play_id": play,
            "outcome": ("solo", "assist", "solo", "miss")[number % 4],
            "approach": ("straight_on", "angle", "pursuit")[number % 3],
            "faults": "arms_only" if number % 4 == 3 else "",
            "head": "down" if player == "bo" and number % 20 == 0 else "up",
            "yards_after_contact": float(number % 5),
        }
        for player in MUCH
        for number, (game, play) in enumerate(plays[::2])
    ]
    events = [
        {"player_id": player, "game_id": game, "play_id": play, "kind": "missed_assignment"}
        for player in ("ana", "cy")
        for game, play in plays[:4]
    ]
    remarks = [
        {
            "player_id": "bo",
            "text": "Led the room.\n\nHe learned much from Whitlock.\n\n- *early*\n- every day",
        },
        {"player_id": "eli", "section": "spring", "text": "<b>Strong</b> # not a heading"},
    ]
    return analyse_by_hand(
        season(
            players=_roster(), games=_games(), grades=grades, tackles=tackles, events=events, remarks=remarks
        )
    )


@cache
def small_analysis() -> Analysis:
    """Return a season of one coach who marks assignment, technique and effort, and nothing else."""
    rng = np.random.default_rng(4)
    plays = [(f"g{game}", f"g{game}-{snap:03d}") for game in range(1, 5) for snap in range(1, 26)]
    marked = ("assignment", "technique", "effort")
    grades = [mark for one in MUCH for mark in _marks(rng, one, plays, marked, raters=("a",))]
    games = [{**game, "opponent": ""} for game in _games()]
    return analyse_by_hand(season(rubric=SMALL_RUBRIC, players=_roster(), games=games, grades=grades))


def _roster() -> list[dict[str, Any]]:
    return [
        {"player_id": one, "name": name, "jersey": str(40 + number), "position": "ILB", "class_year": "Jr"}
        for number, (one, name) in enumerate(NAMES.items())
    ]


def _games() -> list[dict[str, Any]]:
    return [
        {"game_id": f"g{number}", "label": f"Game {number}", "opponent": name, "order": number}
        for number, name in enumerate(GAMES, start=1)
    ]


def _marks(
    rng: np.random.Generator,
    player: str,
    plays: list[tuple[str, str]],
    criteria: tuple[str, ...],
    raters: tuple[str, ...] = ("a", "b"),
) -> list[dict[str, Any]]:
    skill = {"ana": 0.75, "bo": 0.55, "eli": 0.65, "cy": 0.6}[player]
    return [
        {
            "rater_id": rater,
            "player_id": player,
            "game_id": game,
            "play_id": play,
            "criterion": criterion,
            "score": float(rng.binomial(2, skill)) / 2,
            "scale": "points",
            "technique": "take_on" if criterion in {"close", "strike", "shed"} else "",
        }
        for number, (game, play) in enumerate(plays)
        for rater in raters
        if rater == "a" or number % 3 == 0
        for criterion in criteria
    ]
