"""What a fit of the demo should find: expected marks from the latent model, not from the data.

The planted grade of a player is the mark from 0 to 1 to be expected over the rubric with its weights, as the
average of the three raters would have given it, averaged over the games he played. It is computed from the
probability of every category, so nothing is assumed linear.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtr

from data_demo.maker.effects import BIAS, CUTS, DRIFT, HABITS, IMPROVE, LOWER_LATE, SAME_MARK, Effects
from data_demo.maker.rubric import CRITERIA, CRITERION_IDS, GROUPS
from data_demo.maker.world import GAMES, PLAYERS, RATERS, SESSIONS

Array = npt.NDArray[np.float64]

PLAYER_IDS = tuple(p.player_id for p in PLAYERS)
RATER_IDS = tuple(r[0] for r in RATERS)
WEIGHTS = np.array([c[2] for c in CRITERIA])


@dataclass(frozen=True, eq=False)
class Truth:
    """Planted values on the 0-1 metric.

    Attributes
    ----------
    grades : player_id, grade, n_games.
    groups : player_id, group, grade.
    criteria : player_id, criterion, grade.
    severity : rater_id, severity (against the mean of the raters).
    drift : rater_id, change (first game to last).
    bias : player_id, rater_id, bias (what he gives this player beyond his severity, against the raters'
        mean); all pairs.
    change : player_id, change (first game to last, without chance).
    planted : what was planted, by name; empty values where nothing was.
    """

    seed: int
    grades: pd.DataFrame
    groups: pd.DataFrame
    criteria: pd.DataFrame
    severity: pd.DataFrame
    drift: pd.DataFrame
    bias: pd.DataFrame
    change: pd.DataFrame
    planted: dict[str, Any]

    def as_json(self) -> dict[str, Any]:
        """Return the truth as plain lists and numbers."""
        tables = ("grades", "groups", "criteria", "severity", "drift", "bias", "change")
        found: dict[str, Any] = {"seed": self.seed, "planted": self.planted}
        for name in tables:
            found[name] = getattr(self, name).round(6).to_dict("records")
        return found


def expected_mark(latent: Array, spread: float, cuts: tuple[float, ...]) -> Array:
    """Return the expected mark from 0 to 1 of a rater with these cuts, for latent means of any shape."""
    above = [ndtr((latent - cut) / spread) for cut in cuts]
    return np.asarray(np.mean(above, axis=0), dtype=np.float64)


def _marks(effects: Effects, *, pair: bool = True, by_chance: bool = True, drift: bool = False) -> Array:
    """Return expected marks, player x rater x criterion x game."""
    games = np.array(GAMES)
    spread = effects.spread()
    base = (effects.level + effects.player[:, None] + effects.player_criterion)[:, :, None]
    of_game = effects.change + (effects.player_session if by_chance else 0.0)
    base = base + of_game[:, None, games]
    found = []
    for r, cuts in enumerate(CUTS):
        latent = base + effects.severity[r] + effects.rater_criterion[r][None, :, None]
        if pair:
            latent = latent + effects.player_rater[:, r][:, None, None]
        if drift:
            latent = latent + effects.drift[r, games][None, None, :]
        found.append(expected_mark(latent, float(spread[r]), cuts))
    return np.stack(found, axis=1)


def derive_truth(effects: Effects, played: npt.NDArray[np.bool_]) -> Truth:
    """Return the planted values; `played` is player x game, in the order of GAMES."""
    marks = _marks(effects)
    share = (played | ~played.any(axis=1, keepdims=True)).astype(np.float64)
    share /= share.sum(axis=1, keepdims=True)
    by_criterion = np.einsum("prcg,pg->pc", marks, share) / len(CUTS)
    return Truth(
        seed=effects.seed,
        grades=pd.DataFrame(
            {
                "player_id": PLAYER_IDS,
                "grade": by_criterion @ (WEIGHTS / WEIGHTS.sum()),
                "n_games": played.sum(axis=1),
            }
        ),
        groups=_groups(by_criterion),
        criteria=_long(by_criterion, PLAYER_IDS, CRITERION_IDS, ("player_id", "criterion", "grade")),
        severity=_severity(effects),
        drift=_drift(effects),
        bias=_bias(effects, marks),
        change=_change(effects),
        planted=_planted(effects),
    )


def _long(
    values: Array, rows: tuple[str, ...], columns: tuple[str, ...], names: tuple[str, ...]
) -> pd.DataFrame:
    return pd.DataFrame(
        {
            names[0]: np.repeat(rows, len(columns)),
            names[1]: np.tile(columns, len(rows)),
            names[2]: values.ravel(),
        }
    )


def _groups(by_criterion: Array) -> pd.DataFrame:
    member = np.array([[c[1] == group for c in CRITERIA] for group, _ in GROUPS]) * WEIGHTS
    member = member / member.sum(axis=1, keepdims=True)
    ids = tuple(group for group, _ in GROUPS)
    return _long(by_criterion @ member.T, PLAYER_IDS, ids, ("player_id", "group", "grade"))


def _severity(effects: Effects) -> pd.DataFrame:
    level = _marks(effects, pair=False).mean(axis=(0, 2, 3))
    return pd.DataFrame({"rater_id": RATER_IDS, "severity": level - level.mean()})


def _drift(effects: Effects) -> pd.DataFrame:
    by_game = _marks(effects, pair=False, drift=True) - _marks(effects, pair=False)
    mean = by_game.mean(axis=(0, 2))
    return pd.DataFrame({"rater_id": RATER_IDS, "change": mean[:, -1] - mean[:, 0]})


def _bias(effects: Effects, marks: Array) -> pd.DataFrame:
    extra = (marks - _marks(effects, pair=False)).mean(axis=(2, 3))
    extra = extra - extra.mean(axis=1, keepdims=True)
    return _long(extra, PLAYER_IDS, RATER_IDS, ("player_id", "rater_id", "bias"))


def _change(effects: Effects) -> pd.DataFrame:
    marks = _marks(effects, by_chance=False)
    by_game = np.einsum("prcg,c->pg", marks, WEIGHTS / WEIGHTS.sum()) / len(CUTS)
    change = by_game[:, -1] - by_game[:, 0]
    return pd.DataFrame({"player_id": PLAYER_IDS, "change": change})


def _planted(effects: Effects) -> dict[str, Any]:
    if not effects.planted:
        return {}
    named: dict[str, Any] = {name: PLAYER_IDS[p] for name, p, _, _ in HABITS}
    rater, player, _ = BIAS
    named |= {
        "improve": [PLAYER_IDS[p] for p in IMPROVE],
        "lower_late": [PLAYER_IDS[p] for p in LOWER_LATE],
        "drift": [RATER_IDS[r] for r in DRIFT],
        "bias": {"rater_id": RATER_IDS[rater], "player_id": PLAYER_IDS[player]},
        "same_mark": RATER_IDS[SAME_MARK[0]],
        "late_from": SESSIONS[GAMES[-4]].game_id,
    }
    return named
