"""Called take-ons: the share of reps that get past each stage of the chain, as counted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np
import pandas as pd

from lbeval.fit.tackling import with_wilson
from lbeval.settings import Rubric
from lbeval.settings.rubric import Stage
from lbeval.tables import Season

STAGES: tuple[str, ...] = get_args(Stage)

_REP = ["player_id", "play_id"]


@dataclass(frozen=True, eq=False)
class TakeOnCounts:
    """Shares of called take-ons in games that pass a stage, of those that passed the one before.

    Attributes
    ----------
    level : confidence level of every interval.
    cut : score from which a stage counts as passed.
    stages : player_id, stage, passed, n_obs, estimate, conf_low, conf_high, note.
    room : the same over the roster, without player_id.
    reps : player_id, n_reps, n_out_of_order (a stage passed after a failed one), gap_held, gap_lost.
    """

    level: float
    cut: float
    stages: pd.DataFrame
    room: pd.DataFrame
    reps: pd.DataFrame


def fit_takeons(season: Season) -> TakeOnCounts:
    """Count the chain close, strike, extend, shed on called take-ons in games.

    A stage is passed where the mean of its criteria's scores reaches the rubric's pass mark; a rep is at
    risk at a stage if it passed the one before in the same coach's marks. Where several coaches marked a
    rep, the one who marked the player most counts, so that each rep counts once. Wilson (1927) intervals.
    """
    level, floor = season.settings.house.confidence, season.settings.house.min_plays_group
    cut = season.rubric.pass_mark
    marks = _marks(season)
    chain, out_of_order = _chain(marks, season.rubric, cut)
    noted = marks[marks["gap_held"] != ""].drop_duplicates(_REP)
    reps = pd.DataFrame(
        {
            "n_reps": marks.drop_duplicates(_REP).groupby("player_id").size(),
            "n_out_of_order": out_of_order.groupby("player_id").sum(),
            "gap_held": noted["gap_held"].eq("yes").groupby(noted["player_id"]).sum(),
            "gap_lost": noted["gap_held"].eq("no").groupby(noted["player_id"]).sum(),
        }
    )
    reps = reps.fillna(0).astype(int).rename_axis("player_id").reset_index()
    his, room = (_shares(chain, keys, level, floor) for keys in (["player_id", "stage"], ["stage"]))
    return TakeOnCounts(level, cut, his, room, reps)


def _chain(marks: pd.DataFrame, rubric: Rubric, cut: float) -> tuple[pd.DataFrame, pd.Series]:
    """Return a row a rep and stage (passed, n_obs: 0 or 1), and for every rep whether it is out of order."""
    stage_of = {criterion.id: criterion.stage for criterion in rubric.criteria if criterion.stage is not None}
    stages = [name for name in STAGES if name in stage_of.values()]
    means = marks.assign(stage=marks["criterion"].map(stage_of))
    means = means.groupby([*_REP, "stage"], as_index=False)[["score"]].mean()
    scores = pd.DataFrame(
        {name: means[means["stage"] == name].set_index(_REP)["score"] for name in stages},
        index=means.groupby(_REP).size().index,
    )
    passed = scores.ge(cut).where(scores.notna()).astype(float)
    before = passed.shift(axis=1)
    at_risk = passed.notna() & before.eq(1.0)
    at_risk[stages[:1]] = passed[stages[:1]].notna()
    chain = pd.DataFrame(
        {
            "player_id": np.tile(scores.index.get_level_values("player_id"), len(stages)),
            "stage": np.repeat(np.array(stages, dtype=object), len(scores)),
            "passed": (passed.eq(1.0) & at_risk).to_numpy(int).ravel(order="F"),
            "n_obs": at_risk.to_numpy(int).ravel(order="F"),
        }
    )
    return chain, (passed.eq(1.0) & before.eq(0.0)).any(axis=1)


def _marks(season: Season) -> pd.DataFrame:
    """Return one coach's first-look marks of every called take-on in games."""
    staged = [c.id for c in season.rubric.criteria if c.stage is not None]
    games = season.games.loc[season.games["phase"] == "game", "game_id"]
    roster = season.players.loc[season.players["status"] == "roster", "player_id"]
    grades = season.grades
    marks = grades[
        grades["criterion"].isin(staged)
        & grades["technique"].eq("take_on")
        & grades["look"].eq("first")
        & grades["score"].notna()
        & grades["game_id"].isin(games)
        & grades["player_id"].isin(roster)
    ]
    busiest = marks.groupby(["player_id", "rater_id"])["play_id"].transform("size").rename("busy")
    ordered = marks.assign(busy=busiest).sort_values(
        ["player_id", "play_id", "busy", "rater_id"], ascending=[True, True, False, True]
    )
    chosen = ordered.groupby(["player_id", "play_id"])["rater_id"].transform("first")
    return ordered[ordered["rater_id"] == chosen]


def _shares(long: pd.DataFrame, keys: list[str], level: float, floor: int) -> pd.DataFrame:
    counted = long.groupby(keys, as_index=False)[["passed", "n_obs"]].sum()
    counted = counted[counted["n_obs"] > 0]
    counted = with_wilson(counted.astype({"passed": int, "n_obs": int}), "passed", level)
    counted["note"] = np.where(counted["n_obs"] < floor, "few_plays", "")
    place = counted["stage"].map({name: number for number, name in enumerate(STAGES)})
    by = [key for key in keys if key != "stage"]
    return (
        counted.assign(place=place).sort_values([*by, "place"]).drop(columns="place").reset_index(drop=True)
    )
