"""Rooms graded by simulated coaches, as tidy tables, with the grade each player should get."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd

from lbeval.fit.ratings import RatingsFit, fit_ratings
from lbeval.settings import Rubric, SeasonSettings
from tests.hand_season import table

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Room:
    """Tables and settings as `fit_ratings` takes them, with the planted grades and severities."""

    grades: pd.DataFrame
    games: pd.DataFrame
    players: pd.DataFrame
    rubric: Rubric
    settings: SeasonSettings
    truth: Floats
    severity: Floats


@dataclass(frozen=True)
class Plan:
    """A season: how many of each, standard deviations of the effects, and who grades how much of whom.

    `coverage` is rater x player: the share of his plays that a rater grades. `steps` rounds marks to a scale
    of that many steps; 0 leaves them as they fall.
    """

    n_players: int = 6
    n_games: int = 5
    n_plays: int = 30
    criteria: tuple[str, ...] = ("assignment", "technique", "effort")
    weights: tuple[float, ...] = (1.0, 1.0, 1.0)
    severity: tuple[float, ...] = (-0.08, 0.08)
    slopes: tuple[float, ...] = ()
    coverage: Sequence[Sequence[float]] = ()
    steps: int = 0
    house: Mapping[str, float] = field(default_factory=dict)
    sd: Mapping[str, float] = field(
        default_factory=lambda: {"p": 0.06, "pc": 0.03, "pr": 0.02, "pg": 0.03, "ps": 0.10, "e": 0.20}
    )


def simulate(seed: int, plan: Plan) -> Room:
    """Draw a room: on each play half of the players are on the field, never fewer than one."""
    rng = np.random.default_rng(seed)
    P, R, C, G = plan.n_players, len(plan.severity), len(plan.criteria), plan.n_games
    player = rng.normal(0, plan.sd["p"], P)
    own = rng.normal(0, plan.sd["pc"], (P, C))
    view = rng.normal(0, plan.sd["pr"], (P, R))
    day = rng.normal(0, plan.sd["pg"], (P, G))
    level = 0.55 + np.linspace(-0.08, 0.08, C) if C > 1 else np.array([0.55])
    coverage = np.array(plan.coverage) if len(plan.coverage) else np.ones((R, P))
    slopes = np.array(plan.slopes) if plan.slopes else np.ones(R)
    rows = []
    for g in range(G):
        for s in range(plan.n_plays):
            on = rng.permutation(P)[: max(1, P // 2)]
            watches = rng.random(R)
            for p in on:
                quality = level + player[p] + own[p] + day[p, g] + rng.normal(0, plan.sd["ps"])
                for r in np.flatnonzero(watches < coverage[:, p]):
                    mark = 0.55 + slopes[r] * (quality - 0.55) + plan.severity[r] + view[p, r]
                    rows += [
                        (int(p), int(r), g, s, c, mark[c] + rng.normal(0, plan.sd["e"])) for c in range(C)
                    ]
    weights = np.array(plan.weights) / np.sum(plan.weights)
    severity = np.array(plan.severity)
    grade = 0.55 + slopes.mean() * (player + (level + own) @ weights + day.mean(axis=1) - 0.55)
    return Room(
        grades=grades_table(rows, plan),
        games=table("games", [{"game_id": f"g{g}", "label": f"Game {g}", "order": g} for g in range(G)]),
        players=table("players", [{"player_id": f"p{p}", "name": f"Player {p}"} for p in range(P)]),
        rubric=make_rubric(plan),
        settings=make_settings(plan),
        truth=grade + view.mean(axis=1) + severity.mean(),
        severity=severity - severity.mean() + view.mean(axis=0) - view.mean(),
    )


def rate(room: Room, *, seed: int = 1, n_draws: int = 2000) -> RatingsFit:
    """Rate a room."""
    return fit_ratings(
        room.grades,
        room.games,
        room.players,
        room.rubric,
        room.settings,
        rng=np.random.default_rng(seed),
        n_draws=n_draws,
    )


def grades_table(rows: Sequence[tuple[float, ...]], plan: Plan) -> pd.DataFrame:
    """Return marks as the table `grades`: (player, rater, game, play, criterion, mark)."""
    frame = pd.DataFrame(rows, columns=["p", "r", "g", "s", "c", "score"])
    score = frame["score"].clip(0.0, 1.0)
    if plan.steps:
        score = (score * plan.steps).round() / plan.steps
    game = "g" + frame["g"].astype(str)
    usual = table("grades", [{"play_id": "any"}]).loc[[0] * len(frame)].reset_index(drop=True)
    return usual.assign(
        rater_id=pd.Series("r" + frame["r"].astype(str), dtype="str"),
        player_id=pd.Series("p" + frame["p"].astype(str), dtype="str"),
        game_id=pd.Series(game, dtype="str"),
        play_id=pd.Series(game + "-" + frame["s"].astype(str).str.zfill(3), dtype="str"),
        criterion=pd.Series(np.array(plan.criteria, dtype=object)[frame["c"]], dtype="str"),
        score=score,
    )


def make_rubric(plan: Plan) -> Rubric:
    """Return a rubric in which the first criterion is a group of its own and the others are another."""
    groups = ["first"] + ["rest"] * (len(plan.criteria) - 1)
    return Rubric.model_validate(
        {
            "standard": 0.6,
            "groups": [{"id": one, "label": one} for one in dict.fromkeys(groups)],
            "criteria": [
                {"id": name, "label": name, "group": group, "weight": weight}
                for name, group, weight in zip(plan.criteria, groups, plan.weights, strict=True)
            ],
        }
    )


def make_settings(plan: Plan) -> SeasonSettings:
    """Return settings with coaches r0, r1, ... and the plan's house rules."""
    return SeasonSettings.model_validate(
        {
            "program": {"name": "Hollin Ford", "year": 2025, "grades_on": "share"},
            "raters": {f"r{r}": {"name": f"Coach {r}"} for r in range(len(plan.severity))},
            "scales": {"share": {"percent": True}},
            "house": dict(plan.house),
        }
    )
