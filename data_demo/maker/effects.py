"""The latent model behind every mark: effects drawn once a seed, with what is planted on top.

A rater sees the latent quality of a rep through his own severity, spread and noise and writes the category
of his scale that it falls in. All effects are on the latent scale; `truth` turns them into expected marks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from data_demo.maker.rubric import CRITERION_IDS, INDEX
from data_demo.maker.world import GAMES, PLAYERS, RATERS, SESSIONS

Array = npt.NDArray[np.float64]

SD = {"p": 0.24, "pc": 0.15, "rc": 0.10, "pr": 0.08, "g": 0.08, "pg": 0.10, "rg": 0.06, "s": 0.15}
SD |= {"ps": 0.45, "psc": 0.40, "phase": 0.15}

REP = (0.30, 0.30, 0.30)
"""Spread of one rater's impression of a whole rep (the same for all criteria), without the planted one."""
NOISE = (0.55, 0.50, 0.65)
"""Noise of a single mark, by rater: unlike on purpose."""
CUTS: tuple[tuple[float, ...], ...] = ((-0.80, 0.80), (-0.68, 0.68), (-0.72, -0.24, 0.24, 0.72))
"""Where each rater's categories meet: 0-1-2, 0-1-2, 1-5."""
SEVERITY = (-0.40, -0.04, 0.44)
DEPTH = (0.05, 0.0, -0.03)
"""What first, second and third string differ by on average."""

STRING = (0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2)

LEVEL = {
    "alignment": 0.82, "communication": 0.62, "run_fit": 0.34, "pursuit": 0.56, "zone_drop": 0.38,
    "man_coverage": 0.22, "blitz": 0.32, "stance": 0.72, "key_read": 0.40, "close": 0.46, "strike": 0.28,
    "extend": 0.22, "shed": 0.08, "cut_block": 0.16, "approach": 0.26, "eyes_up": 0.54,
    "near_shoulder": 0.42, "wrap": 0.44, "leg_drive": 0.40, "finish": 0.50,
}  # fmt: skip
"""Where each criterion lies: what is easy and what is not."""

HABITS: tuple[tuple[str, int, str, float], ...] = (
    ("chain_breaks_at_extend", 0, "extend", -1.0),
    ("head_down", 2, "eyes_up", -0.95),
    ("legs_stall", 5, "leg_drive", -1.0),
)
"""Planted: name, place of the player, criterion, latent effect."""
IMPROVE = {1: 0.75, 4: 0.95}
"""Place of a player and his latent change from the first game to the last."""
LOWER_LATE = {3: -0.80}
"""Place of a player and his latent drop over the last third."""
DRIFT = {0: -0.50}
"""Place of a rater and his latent change from the first game to the last."""
BIAS: tuple[int, int, float] = (2, 6, 0.55)
"""Rater, player, latent effect: he marks this player higher than others do."""
SAME_MARK: tuple[int, float, float] = (1, 0.55, 0.35)
"""Rater, spread of his impression of a whole rep, noise of a mark: the same mark across criteria."""


@dataclass(frozen=True, eq=False)
class Effects:
    """All latent effects of a season; p, r, c, g index PLAYERS, RATERS, CRITERION_IDS, SESSIONS."""

    seed: int
    planted: bool
    level: Array
    player: Array
    player_criterion: Array
    severity: Array
    rater_criterion: Array
    player_rater: Array
    player_session: Array
    change: Array
    rater_session: Array
    drift: Array
    session: Array
    rep: Array
    noise: Array

    def spread(self) -> Array:
        """Return each rater's total latent standard deviation around what `truth` holds fixed."""
        shared = sum(SD[k] ** 2 for k in ("g", "rg", "s", "ps", "psc"))
        return np.asarray(np.sqrt(shared + self.rep**2 + self.noise**2), dtype=np.float64)


def stream(seed: int, part: int) -> np.random.Generator:
    """Return the generator of one part of one season, independent of all others."""
    return np.random.default_rng([seed, part])


def draw_effects(seed: int, *, planted: bool = True) -> Effects:
    """Draw the effects of season `seed`; without `planted` nobody changes, drifts, favours or has a habit."""
    rng = stream(seed, 1)
    P, R, C, G = len(PLAYERS), len(RATERS), len(CRITERION_IDS), len(SESSIONS)
    player = np.array([DEPTH[s] for s in STRING]) + rng.normal(0, SD["p"], P)
    player_criterion = rng.normal(0, SD["pc"], (P, C))
    severity = np.array(SEVERITY) + rng.normal(0, 0.05, R)
    rater_criterion = rng.normal(0, SD["rc"], (R, C))
    player_rater = rng.normal(0, SD["pr"], (P, R))
    player_session = rng.normal(0, SD["pg"], (P, G))
    rater_session = rng.normal(0, SD["rg"], (R, G))
    session = rng.normal(0, SD["g"], G)
    by_phase = {phase: rng.normal(0, SD["phase"], P) for phase in ("spring", "camp", "practice")}
    for g, held in enumerate(SESSIONS):
        if held.phase != "game":
            player_session[:, g] += by_phase[held.phase]
    rep, noise = np.array(REP), np.array(NOISE)
    change, drift = np.zeros((P, G)), np.zeros((R, G))
    if planted:
        for _, p, criterion, effect in HABITS:
            player_criterion[p, INDEX[criterion]] = effect
        _plant_changes(change, drift)
        rater, p, effect = BIAS
        player_rater[p, rater] = effect
        rater, rep[rater], noise[rater] = SAME_MARK
    level = np.array([LEVEL[c] for c in CRITERION_IDS])
    return Effects(
        seed=seed, planted=planted, level=level, player=player, player_criterion=player_criterion,
        severity=severity, rater_criterion=rater_criterion, player_rater=player_rater,
        player_session=player_session, change=change, rater_session=rater_session, drift=drift,
        session=session, rep=rep, noise=noise,
    )  # fmt: skip


def _plant_changes(of_player: Array, drift: Array) -> None:
    """Add the changes over the games, each centred so that the season's mean stays what it was."""
    games = np.array(GAMES)
    line = np.linspace(-0.5, 0.5, len(games))
    late = (np.arange(len(games)) >= len(games) - 4).astype(np.float64)
    for p, change in IMPROVE.items():
        of_player[p, games] += change * line
    for p, change in LOWER_LATE.items():
        of_player[p, games] += change * (late - late.mean())
    for r, change in DRIFT.items():
        drift[r, games] = change * line
