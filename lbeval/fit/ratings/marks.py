"""The marks a rating stands on: which rows count, as codes, and what can be counted of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from lbeval.errors import FitError
from lbeval.settings import Rubric

FloatArray: TypeAlias = npt.NDArray[np.float64]
IntArray: TypeAlias = npt.NDArray[np.int64]

OVERALL = "overall"


@dataclass(frozen=True, eq=False)
class Factor:
    """The levels of one id, in the order of the pages, and the (n,) code of each mark."""

    ids: tuple[str, ...]
    codes: IntArray

    @classmethod
    def of(cls, values: pd.Series[str], order: list[str]) -> Factor:
        """Keep the ids of `order` that occur; any other stand behind them, sorted."""
        codes, uniques = pd.factorize(values)
        seen = [str(one) for one in uniques]
        ids = [one for one in order if one in set(seen)]
        ids += sorted(set(seen) - set(ids))
        place = {one: k for k, one in enumerate(ids)}
        return cls(tuple(ids), np.array([place[one] for one in seen], dtype=np.int64)[codes])

    @property
    def n(self) -> int:
        """Levels."""
        return len(self.ids)

    def crossed(self, other: Factor) -> IntArray:
        """(n,) codes of the combination, `other` running fastest."""
        return self.codes * other.n + other.codes


@dataclass(frozen=True, eq=False)
class Marks:
    """Marks that count, in a fixed order whatever the order of the rows.

    Attributes
    ----------
    score
        (n,) worth of each mark, 0 to 1.
    frame
        The rows behind them: the ids and the score.
    weights
        (n_criteria,) rubric weight of each criterion that is marked; they sum to 1.
    groups
        Rubric groups that hold a weighted criterion, marked or not, in rubric order.
    group_of
        (n_criteria,) group of each criterion.
    """

    score: FloatArray
    player: Factor
    rater: Factor
    game: Factor
    play: Factor
    criterion: Factor
    weights: FloatArray
    groups: tuple[str, ...]
    group_of: tuple[str, ...]
    frame: pd.DataFrame = field(repr=False)

    @property
    def n(self) -> int:
        """Marks."""
        return self.score.size

    @property
    def played(self) -> IntArray:
        """(k, 2) player and game of each game in which a player has a mark, in that order."""
        return np.unique(np.stack([self.player.codes, self.game.codes], axis=1), axis=0)

    def weights_of(self, group: str) -> FloatArray:
        """(n_criteria,) weights that sum to 1 over a group, or over the rubric; all 0 if none is marked."""
        inside = np.array([group in (OVERALL, one) for one in self.group_of], dtype=float) * self.weights
        total = inside.sum()
        return inside / total if total > 0 else inside


def select_marks(grades: pd.DataFrame, games: pd.DataFrame, players: pd.DataFrame, rubric: Rubric) -> Marks:
    """Pick the marks of the season's own games and number their ids.

    A mark counts if it has a score, stands for a roster player in a game (phase `game`), and is the rater's
    first look. Blind repeats are the same eyes on the same rep, and marks agreed on in a meeting are one
    opinion of several raters: neither is a further independent grade, so both are left to the study of
    agreement. Where a rater marked the same thing in his sheet and in his notes, the sheet counts.

    Raises
    ------
    FitError
        When no mark with a weight is left.
    """
    played = games.loc[games["phase"] == "game"].sort_values("order")
    roster = players.loc[players["status"] == "roster", "player_id"]
    criteria = {one.id: one for one in rubric.criteria}
    rows = grades.loc[
        grades["score"].notna()
        & (grades["look"] == "first")
        & grades["game_id"].isin(played["game_id"])
        & grades["player_id"].isin(roster)
        & grades["criterion"].isin(list(criteria))
        & (grades["play_id"] != "")
    ]
    keys = ["player_id", "play_id", "criterion", "rater_id"]
    rows = rows.sort_values([*keys, "mode"], ascending=[True] * len(keys) + [False], kind="stable")
    rows = rows.drop_duplicates(keys)[[*keys, "game_id", "scale", "score"]].reset_index(drop=True)
    criterion = Factor.of(rows["criterion"], list(criteria))
    weights = np.array([criteria[one].weight for one in criterion.ids], dtype=float)
    if not weights.sum() > 0:
        msg = (
            "no grade can be computed: there is no first-look mark of a game, for a player of the roster, on "
            "a criterion with a weight; grade a game, or look at what `lbeval check` set aside"
        )
        raise FitError(msg)
    return Marks(
        score=rows["score"].to_numpy(dtype=np.float64),
        player=Factor.of(rows["player_id"], list(roster)),
        rater=Factor.of(rows["rater_id"], []),
        game=Factor.of(rows["game_id"], list(played["game_id"])),
        play=Factor.of(rows["play_id"], []),
        criterion=criterion,
        weights=weights / weights.sum(),
        groups=tuple(
            g.id for g in rubric.groups if any(c.group == g.id and c.weight > 0 for c in rubric.criteria)
        ),
        group_of=tuple(criteria[one].group for one in criterion.ids),
        frame=rows,
    )
