"""The small season: one coach, plus or minus for assignment, technique and effort, eight games."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtr

from data_demo.maker.effects import Array, stream
from data_demo.maker.tables import text
from lbeval.files import slug

PEOPLE: tuple[tuple[str, str, str, str, int, float], ...] = (
    ("Aurelian Kostadine", "50", "MLB", "Sr", 0, 0.92),
    ("Bisi Adewunmi-Clarke", "42", "WLB", "Jr", 1, 0.80),
    ("Caspian Roe-Delacourt", "8", "SLB", "Sr", 0, 0.85),
    ("Dragoș Întorsureanu", "55", "MLB", "So", 2, 0.25),
    ("Emeka O'Shaugh", "31", "WLB", "So", 2, 0.22),
    ("Finnbar Two-Rivers", "46", "SLB", "Fr", 3, 0.18),
    ("Gael Montepardo", "60", "MLB", "Fr", 3, 0.05),
)
"""Name, number, position, class, seasons left, share of the snaps he is on the field for; all invented."""

OPPONENTS = (
    "Vesper Lake",
    "Old Cutler",
    "Mereworth Hall",
    "Saltpan",
    "Hobbins",
    "Tern Rock",
    "Ilmarsh",
    "Cray Down",
)
CRITERIA = ("assignment", "technique", "effort")
WEIGHTS = np.array([2.0, 1.0, 1.0])
RATERS = ("varga", "osei")
SECOND_LOOKS = 0.07
"""Share of the snaps that the second coach marks too."""

LEVEL = np.array([0.72, 0.30, 0.80])
SD = {"p": 0.30, "pc": 0.18, "pg": 0.12, "ps": 0.45, "rps": 0.25, "e": 0.75}
SEVERITY = (-0.10, 0.20)


@dataclass(frozen=True, eq=False)
class SmallSeason:
    """Marks and tackles of the small season, and what a fit should find.

    `marks` : rater_id, game (place), play, player (place), criterion, mark (`+`, `-`, `x`), score.
    `tackles` : game, play, player, outcome, approach, fault, yards, head.
    `grades` : player_id, grade, n_games.
    """

    seed: int
    marks: pd.DataFrame
    tackles: pd.DataFrame
    grades: pd.DataFrame
    severity: pd.DataFrame

    def truth_json(self) -> dict[str, Any]:
        """Return the truth as plain lists and numbers."""
        found: dict[str, Any] = {"seed": self.seed, "planted": {}}
        for name in ("grades", "severity"):
            found[name] = getattr(self, name).round(6).to_dict("records")
        return found


def game_dates() -> list[dt.date]:
    """Return the days of the games."""
    return [dt.date(2025, 9, 6) + dt.timedelta(days=7 * g) for g in range(len(OPPONENTS))]


def simulate_small(seed: int) -> SmallSeason:
    """Play and grade the small season."""
    rng = stream(seed, 20)
    P, C, G = len(PEOPLE), len(CRITERIA), len(OPPONENTS)
    player = rng.normal(0, SD["p"], P) + np.array([0.1 if p[5] > 0.5 else -0.05 for p in PEOPLE])
    quality = player[:, None, None] + rng.normal(0, SD["pc"], (P, C))[:, :, None] + LEVEL[:, None]
    quality = quality + rng.normal(0, SD["pg"], (P, 1, G))
    reps = _reps(rng)
    p, g = reps["player"].to_numpy(), reps["game"].to_numpy()
    seen = quality[p, :, g] + rng.normal(0, SD["ps"], len(reps))[:, None]
    second = rng.random(len(reps)) < SECOND_LOOKS
    parts = [_look(rng, reps, r, seen, second if r else np.ones(len(reps), bool)) for r in range(len(RATERS))]
    return SmallSeason(
        seed=seed,
        marks=pd.concat(parts, ignore_index=True),
        tackles=_tackles(rng, reps, seen),
        grades=_grades(quality, reps),
        severity=_severity(quality),
    )


def _reps(rng: np.random.Generator) -> pd.DataFrame:
    """Return who was on the field: two or three of them on each of about fifty snaps a game."""
    plays = rng.integers(46, 56, len(OPPONENTS))
    game = np.repeat(np.arange(len(OPPONENTS)), plays)
    play = np.concatenate([np.arange(1, n + 1) for n in plays])
    by_place = {pos: [i for i, p in enumerate(PEOPLE) if p[2] == pos] for pos in ("MLB", "WLB", "SLB")}
    parts = []
    for people in by_place.values():
        share = np.array([PEOPLE[i][5] for i in people])
        series = rng.random((len(OPPONENTS), 20))[game, play // 6]
        chosen = np.searchsorted(np.cumsum(share) / share.sum(), series)
        parts.append(pd.DataFrame({"game": game, "play": play, "player": np.array(people)[chosen]}))
    reps = pd.concat(parts, ignore_index=True)
    return reps.sort_values(["game", "play", "player"], ignore_index=True)


def _look(
    rng: np.random.Generator, reps: pd.DataFrame, r: int, seen: Array, which: npt.NDArray[np.bool_]
) -> pd.DataFrame:
    rep = np.flatnonzero(which)
    latent = seen[rep] + SEVERITY[r] + rng.normal(0, SD["rps"], len(rep))[:, None]
    plus = latent + rng.normal(0, SD["e"], latent.shape) > 0
    mark = np.where(plus, "+", "-").astype(object)
    mark[rng.random(len(rep)) < 0.01] = "x"
    index = np.repeat(rep, len(CRITERIA))
    flat = mark.ravel()
    return pd.DataFrame(
        {
            "rater_id": text(np.full(len(index), RATERS[r], dtype=object)),
            "game": reps["game"].to_numpy()[index],
            "play": reps["play"].to_numpy()[index],
            "player": reps["player"].to_numpy()[index],
            "criterion": text(np.tile(np.array(CRITERIA, dtype=object), len(rep))),
            "mark": text(flat),
            "score": np.where(flat == "x", np.nan, (flat == "+").astype(np.float64)),
        }
    )


def _tackles(rng: np.random.Generator, reps: pd.DataFrame, seen: Array) -> pd.DataFrame:
    rep = np.flatnonzero(rng.random(len(reps)) < 0.14)
    once = ~reps.iloc[rep].duplicated(["game", "play"]).to_numpy()
    rep = rep[once]
    technique = seen[rep, 1] - LEVEL[1]
    missed = rng.random(len(rep)) < ndtr(-0.95 - 0.8 * technique)
    credit = np.where(rng.random(len(rep)) < 0.6, "solo", "assist")
    fault = np.array(["arms only", "over-ran", "head down", ""], dtype=object)
    why = fault[np.searchsorted(np.cumsum([0.35, 0.35, 0.12, 0.18]), rng.random(len(rep)))]
    down = np.where(missed, why == "head down", rng.random(len(rep)) < 0.03)
    approach = np.array(["front", "side", "chase"], dtype=object)
    return pd.DataFrame(
        {
            "game": reps["game"].to_numpy()[rep],
            "play": reps["play"].to_numpy()[rep],
            "player": reps["player"].to_numpy()[rep],
            "outcome": np.where(missed, "missed", credit),
            "approach": approach[rng.integers(0, 3, len(rep))],
            "fault": np.where(missed, why, ""),
            "yards": rng.poisson(0.9, len(rep)) + np.where(missed, 2 + rng.geometric(0.25, len(rep)), 0),
            "head": np.where(down, "down", "up"),
        }
    )


def _expected(latent: Array) -> Array:
    spread = np.sqrt(SD["ps"] ** 2 + SD["rps"] ** 2 + SD["e"] ** 2)
    return np.asarray(ndtr(latent / spread), dtype=np.float64)


def _grades(quality: Array, reps: pd.DataFrame) -> pd.DataFrame:
    """Return the expected grade of each player over his games, as the mean of both coaches."""
    marks = np.mean([_expected(quality + s) for s in SEVERITY], axis=0)
    by_game = np.einsum("pcg,c->pg", marks, WEIGHTS / WEIGHTS.sum())
    played = np.zeros(by_game.shape, dtype=bool)
    played[reps["player"], reps["game"]] = True
    share = (played | ~played.any(axis=1, keepdims=True)).astype(np.float64)
    grade = (by_game * share).sum(axis=1) / share.sum(axis=1)
    ids = [slug(p[0]) for p in PEOPLE]
    return pd.DataFrame({"player_id": ids, "grade": grade, "n_games": played.sum(axis=1)})


def _severity(quality: Array) -> pd.DataFrame:
    level = np.array([_expected(quality + s).mean() for s in SEVERITY])
    return pd.DataFrame({"rater_id": RATERS, "severity": level - level.mean()})
