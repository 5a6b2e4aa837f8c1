"""From latent quality to marks on paper: who grades what, how severely, on which scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from data_demo.maker.effects import CUTS, SD, STRING, Array, Effects, stream
from data_demo.maker.plays import Film, Flags
from data_demo.maker.rubric import INDEX
from data_demo.maker.world import BIG_GAMES, GAMES, RATERS

SCALES = ("zero_one_two", "zero_one_two", "one_to_five")
WRITTEN: tuple[tuple[str, ...], ...] = (("0", "1", "2"), ("0", "1", "2"), ("1", "2", "3", "4", "5"))
BLANK_WRITTEN: tuple[dict[str, str], ...] = (
    {"did_not_occur": "-", "not_graded": "ng", "ungradable": "u"},
    {"did_not_occur": "-", "not_graded": "ng", "ungradable": "u"},
    {"did_not_occur": "na", "not_graded": "skip", "ungradable": "?"},
)
AGAIN = 0.05
"""Share of graded game reps that a rater marks again, blind, weeks later."""


@dataclass(frozen=True, eq=False)
class Marks:
    """Marks as written, one row each: rater, rep, criterion (places), look, code, score, blank.

    `code` is the place on the rater's scale, -1 where there is no score; `quality` is the latent quality,
    rep x criterion, and `level` where each criterion lies.
    """

    frame: pd.DataFrame
    quality: Array
    level: Array


def true_quality(effects: Effects, film: Film) -> Array:
    """Return the latent quality of every rep and criterion before any rater sees it."""
    rng = stream(effects.seed, 3)
    reps = film.reps
    p, g, s = reps["player"].to_numpy(), reps["session"].to_numpy(), reps["play"].to_numpy()
    n, C = film.occurs.shape
    of_play = rng.normal(0, SD["s"], len(film.plays))
    of_rep = rng.normal(0, SD["ps"], n)
    by_rep = effects.player[p] + effects.player_session[p, g] + effects.change[p, g] + effects.session[g]
    by_rep = by_rep + of_play[s] + of_rep
    quality = by_rep[:, None] + effects.level + effects.player_criterion[p]
    return np.asarray(quality + rng.normal(0, SD["psc"], (n, C)), dtype=np.float64)


def write_marks(effects: Effects, film: Film) -> Marks:
    """Grade the film as the three coaches did."""
    quality = true_quality(effects, film)
    rng = stream(effects.seed, 4)
    seen = coverage(rng, film)
    parts = []
    for r in range(len(RATERS)):
        impression = rng.normal(0, effects.rep[r], len(film.reps))
        again = seen[:, r] & np.isin(film.reps["session"], GAMES) & (rng.random(len(film.reps)) < AGAIN)
        for look, which in (("first", seen[:, r]), ("repeat", again)):
            parts.append(_look(rng, effects, film, r, look, which, quality + impression[:, None]))
    return Marks(pd.concat(parts, ignore_index=True), quality, effects.level)


def coverage(rng: np.random.Generator, film: Film) -> Flags:
    """Return rep x rater: who grades which rep; a nullified snap is graded by nobody."""
    reps = film.reps
    session = reps["session"].to_numpy()
    string = np.array(STRING)[reps["player"].to_numpy()]
    game = np.isin(session, GAMES)
    big = np.isin(session, [GAMES[g] for g in BIG_GAMES])
    first = string == 0
    n = len(reps)
    harsh = np.ones(n)
    middle = np.where(game, np.where(big, np.where(first, 0.98, 0.15), np.where(first, 0.45, 0.06)), 0.0)
    lenient = np.where(game, np.where(first, 0.05, 0.92), np.where(first, 0.30, 0.62))
    chance = np.stack([harsh, middle, lenient], axis=1)
    by_snap = rng.random((len(film.plays), 3))[reps["play"]]
    luck = np.where(game[:, None], by_snap, rng.random((n, 3)))
    nullified = film.plays["nullified"].to_numpy()[reps["play"]]
    return np.asarray((luck < chance) & ~nullified[:, None], dtype=bool)


def _look(
    rng: np.random.Generator, effects: Effects, film: Film, r: int, look: str, which: Flags, quality: Array
) -> pd.DataFrame:
    """Return the marks of one rater's one look at the reps in `which`."""
    rep, criterion = np.nonzero((film.occurs | _noted_absent(film, r)) & which[:, None])
    p = film.reps["player"].to_numpy()[rep]
    g = film.reps["session"].to_numpy()[rep]
    latent = quality[rep, criterion] + effects.severity[r] + effects.rater_criterion[r, criterion]
    latent += effects.player_rater[p, r] + effects.rater_session[r, g] + effects.drift[r, g]
    latent += rng.normal(0, effects.noise[r], len(rep))
    code = np.searchsorted(np.array(CUTS[r]), latent)
    blank = _blanks(rng, film, rep, criterion)
    blank[~film.occurs[rep, criterion]] = "did_not_occur"
    score = np.where(blank == "", code / len(CUTS[r]), np.nan)
    return pd.DataFrame(
        {
            "rater": r,
            "rep": rep,
            "criterion": criterion,
            "look": look,
            "code": np.where(blank == "", code, -1),
            "score": score,
            "blank": blank,
        }
    )


def _noted_absent(film: Film, r: int) -> Flags:
    """Return rep x criterion: where a rater writes that there was nothing to mark.

    In a sheet with a column a criterion every cell is filled; elsewhere only what others would look for.
    """
    if r == 1:
        return np.ones(film.occurs.shape, dtype=bool)
    found = np.zeros(film.occurs.shape, dtype=bool)
    found[:, INDEX["leg_drive"]] = film.reps["attempt"]
    if r == 0:
        for stage in ("close", "strike", "extend", "shed"):
            found[:, INDEX[stage]] = film.reps["technique"].isin(["slip", "cut"])
    return found


def _blanks(
    rng: np.random.Generator, film: Film, rep: npt.NDArray[np.intp], criterion: npt.NDArray[np.intp]
) -> npt.NDArray[np.object_]:
    """Return why a mark is missing: the rep cannot be seen on film, or the coach passed over it."""
    hidden = rng.random(len(film.reps)) < 0.012
    blank = np.where(hidden[rep], "ungradable", "").astype(object)
    skipped = (rng.random(len(rep)) < 0.012) & (criterion != INDEX["eyes_up"])
    blank[skipped & ~hidden[rep]] = "not_graded"
    return blank
