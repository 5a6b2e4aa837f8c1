"""Snaps and who did what on them, before anyone grades: the film as it happened."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from data_demo.maker.effects import Effects, stream
from data_demo.maker.rubric import CRITERION_IDS, INDEX
from data_demo.maker.world import (
    CALLS,
    GAMES,
    INSIDE,
    PLAYERS,
    PRACTICE_SHARE,
    ROUTS,
    SESSIONS,
    SLOTS,
    Session,
)

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Words = npt.NDArray[np.object_]


@dataclass(frozen=True, eq=False)
class Film:
    """All snaps of a season and the reps of our linebackers on them.

    `plays` has one row a snap (session, clip, snap, play_type, down, distance, hash, call, side, nullified);
    `reps` one row a player on a snap (play = row of `plays`, session, player, role, technique, assignment,
    blocker, block_side, at_point, gap_held, outcome, approach); `occurs` is rep x criterion.
    """

    plays: pd.DataFrame
    reps: pd.DataFrame
    occurs: Flags

    def played(self) -> Flags:
        """Return player x game: did he have a rep that counted."""
        counted = self.reps.loc[~self.plays["nullified"].to_numpy()[self.reps["play"].to_numpy()]]
        seen = np.zeros((len(PLAYERS), len(SESSIONS)), dtype=bool)
        seen[counted["player"].to_numpy(), counted["session"].to_numpy()] = True
        return seen[:, list(GAMES)]


def pick(rng: np.random.Generator, choices: tuple[str, ...], shares: tuple[float, ...], n: int) -> Words:
    """Draw `n` of `choices` with these shares."""
    cuts = np.cumsum(shares) / sum(shares)
    found = np.array(choices, dtype=object)[np.searchsorted(cuts, rng.random(n), side="right")]
    return np.asarray(found, dtype=object)


def shoot_film(effects: Effects) -> Film:
    """Draw the snaps and reps of a season."""
    rng = stream(effects.seed, 2)
    plays = pd.concat([_snaps(rng, place, held) for place, held in enumerate(SESSIONS)], ignore_index=True)
    reps = _line_up(rng, plays)
    _jobs(rng, plays, reps)
    return Film(plays, reps, _occurs(rng, plays, reps))


def _snaps(rng: np.random.Generator, place: int, held: Session) -> pd.DataFrame:
    game = held.phase == "game"
    n = held.plays + int(rng.integers(-3, 4)) if game else held.plays
    nullified = rng.random(n) < (0.03 if game else 0.0)
    skips = (rng.random(n) < 0.11) & game  # clips of the kicking game lie between
    down = 1 + (rng.random(n) < 0.62) + (rng.random(n) < 0.35)
    distance = np.where(down == 1, 10, rng.integers(1, 13, n))
    run = rng.random(n) < np.where(distance > 6, 0.50, 0.60)
    return pd.DataFrame(
        {
            "session": place,
            "clip": np.arange(1, n + 1) + np.cumsum(skips),
            "snap": np.where(nullified, np.nan, np.cumsum(~nullified)),
            "play_type": np.where(run, "run", "pass").astype(object),
            "down": down,
            "distance": distance,
            "hash": pick(rng, ("left", "middle", "right"), (0.4, 0.2, 0.4), n),
            "call": pick(rng, CALLS, (4, 3, 3, 2, 3, 1, 1, 1, 0.5), n),
            "side": pick(rng, ("left", "middle", "right"), (0.4, 0.2, 0.4), n),
            "nullified": nullified,
        }
    )


def _line_up(rng: np.random.Generator, plays: pd.DataFrame) -> pd.DataFrame:
    """Choose who is on the field, by series of six snaps; a fourth man on three snaps of five."""
    n = len(plays)
    session = plays["session"].to_numpy()
    game = np.isin(session, GAMES)
    within = np.concatenate([np.arange(k) for k in np.unique(session, return_counts=True)[1]])
    series = within // 6
    late_rout = np.isin(session, [GAMES[g] for g in ROUTS]) & (within >= 42)
    key = np.unique(session * 100 + series, return_inverse=True)[1]
    outside = rng.random(n) < 0.6
    parts = []
    for role, depth, shares in SLOTS:
        luck = rng.random(int(key.max()) + 1)[key]
        chosen = _string(luck, np.where(late_rout[:, None], (0.15, 0.6, 0.25), shares))
        chosen = np.where(game, chosen, _string(luck, np.tile(PRACTICE_SHARE, (n, 1))))
        on = np.flatnonzero(outside) if role == "outside" else np.arange(n)
        parts.append(pd.DataFrame({"play": on, "player": np.array(depth)[chosen][on], "role": role}))
    reps = pd.concat(parts, ignore_index=True)
    reps = reps.drop_duplicates(["play", "player"]).sort_values(["play", "player"], ignore_index=True)
    reps.insert(1, "session", session[reps["play"]])
    return reps


def _string(luck: npt.NDArray[np.float64], shares: npt.NDArray[np.float64]) -> Ints:
    return np.asarray((luck[:, None] > np.cumsum(shares, axis=1)[:, :2]).sum(axis=1), dtype=np.int64)


def _jobs(rng: np.random.Generator, plays: pd.DataFrame, reps: pd.DataFrame) -> None:
    """Add each rep's assignment, block and tackle attempt."""
    n = len(reps)
    run = (plays["play_type"] == "run").to_numpy()[reps["play"]]
    inside = np.isin(reps["player"], INSIDE)
    blocked = run & (rng.random(n) < np.where(inside, 0.46, 0.38))
    how = pick(rng, ("take_on", "slip", "cut"), (0.78, 0.15, 0.07), n)
    reps["technique"] = np.where(blocked, how, "").astype(object)
    gap = pick(rng, ("fit A", "fit B", "fit C", "force", "cutback"), (2, 3, 2, 2, 1), n)
    cover_in = pick(rng, ("hook", "curl", "man back", "man tight end", "blitz"), (5, 3, 2, 1, 1.6), n)
    cover_out = pick(rng, ("flat", "curl", "man tight end", "blitz"), (3, 1.5, 1.5, 4), n)
    reps["assignment"] = np.where(run, gap, np.where(inside, cover_in, cover_out)).astype(object)
    block_in = pick(rng, ("line", "climbing", "puller", "back", "tight_end"), (2, 5, 2, 1.2, 0.8), n)
    block_out = pick(rng, ("tight_end", "puller", "line", "back", "crack"), (4, 2, 2, 1.2, 0.8), n)
    reps["blocker"] = np.where(blocked, np.where(inside, block_in, block_out), "").astype(object)
    side = pick(rng, ("left", "right", "front"), (0.3, 0.3, 0.4), n)
    reps["block_side"] = np.where(blocked, side, "").astype(object)
    reps["at_point"] = np.where(run, np.where(rng.random(n) < 0.34, "yes", "no"), "").astype(object)
    reps["gap_held"] = np.where(blocked, np.where(rng.random(n) < 0.76, "yes", "no"), "").astype(object)
    _attempts(rng, plays, reps, run)


def _attempts(rng: np.random.Generator, plays: pd.DataFrame, reps: pd.DataFrame, run: Flags) -> None:
    """Choose who reaches the ball: one man who tackles alone, or two who share it, and those who miss."""
    n, m = len(reps), len(plays)
    luck = rng.random(n)
    order = np.lexsort((luck, reps["play"]))
    place = np.empty(n, dtype=np.int64)
    starts = np.flatnonzero(np.r_[True, np.diff(reps["play"].to_numpy()[order]) > 0])
    counts = np.diff(np.r_[starts, n])
    place[order] = np.arange(n) - np.repeat(starts, counts)
    by_run = (plays["play_type"] == "run").to_numpy()
    ours = (rng.random(m) < np.where(by_run, 0.56, 0.30))[reps["play"]]
    shared = (rng.random(m) < 0.30)[reps["play"]]
    reaches = ours & ((place == 0) | (shared & (place == 1)))
    tries = ~reaches & (rng.random(n) < np.where(run, 0.026, 0.014))
    reps["credit"] = np.where(reaches, np.where(shared, "assist", "solo"), "").astype(object)
    reps["attempt"] = reaches | tries
    approach = pick(rng, ("straight_on", "angle", "pursuit"), (0.30, 0.42, 0.28), n)
    reps["approach"] = np.where(reps["attempt"], approach, "").astype(object)


def _occurs(rng: np.random.Generator, plays: pd.DataFrame, reps: pd.DataFrame) -> Flags:
    """Return rep x criterion: what there was to mark."""
    n = len(reps)
    run = (plays["play_type"] == "run").to_numpy()[reps["play"]]
    job = reps["assignment"].to_numpy()
    takes_on = (reps["technique"] == "take_on").to_numpy()
    attempt = reps["attempt"].to_numpy()
    found = np.zeros((n, len(CRITERION_IDS)), dtype=bool)
    for name in ("alignment", "communication", "stance", "key_read"):
        found[:, INDEX[name]] = True
    found[:, INDEX["run_fit"]] = run
    found[:, INDEX["pursuit"]] = rng.random(n) < np.where(run, 0.85, 0.60)
    found[:, INDEX["zone_drop"]] = np.isin(job, ["hook", "curl", "flat"])
    found[:, INDEX["man_coverage"]] = np.isin(job, ["man back", "man tight end"])
    found[:, INDEX["blitz"]] = job == "blitz"
    for name in ("close", "strike", "extend", "shed"):
        found[:, INDEX[name]] = takes_on
    found[:, INDEX["cut_block"]] = reps["technique"] == "cut"
    for name in ("approach", "eyes_up", "near_shoulder", "wrap"):
        found[:, INDEX[name]] = attempt
    found[:, INDEX["leg_drive"]] = attempt & (rng.random(n) < 0.92)
    found[:, INDEX["finish"]] = rng.random(n) < 0.025
    return found
