"""What is in the sheets before any model: raw means and what they stand on."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lbeval.fit.ratings.marks import OVERALL, Marks

COUNTS = ("n_plays", "n_games", "n_raters", "n_obs")
_IDS = {"n_plays": "play_id", "n_games": "game_id", "n_raters": "rater_id"}


def count_groups(marks: Marks, players: list[str]) -> pd.DataFrame:
    """Return raw means and counts, a row for each of `players` and each group, `overall` first."""
    parts = []
    for group in (OVERALL, *marks.groups):
        weight = marks.weights_of(group)
        inside = [
            one for one, g in zip(marks.criterion.ids, marks.group_of, strict=True) if group in (OVERALL, g)
        ]
        rows = marks.frame.loc[marks.frame["criterion"].isin(inside)]
        part = _counts(rows, ["player_id"])
        means = rows.groupby(["player_id", "criterion"], sort=False)["score"].mean()
        part["raw"] = weighted_mean(means, dict(zip(marks.criterion.ids, weight, strict=True)))
        parts.append(_all(part, pd.Index(players, name="player_id")).assign(group=group))
    frame = pd.concat(parts, ignore_index=True)
    order = {one: k for k, one in enumerate(players)}
    frame = frame.sort_values("player_id", key=lambda ids: ids.map(order), kind="stable", ignore_index=True)
    return frame[["player_id", "group", "raw", "raw_simple", *COUNTS]]


def weighted_mean(means: pd.Series[float], weights: dict[str, float]) -> pd.Series[float]:
    """Weight means by the criterion in the last level of their index; NaN where no weight is left."""
    weight = pd.Series(means.index.get_level_values("criterion").map(weights), index=means.index, dtype=float)
    outer = list(means.index.names[:-1])
    total = (means * weight).groupby(level=outer, sort=False).sum()
    below = weight.groupby(level=outer, sort=False).sum()
    return total / below.where(below > 0)


def count_criteria(marks: Marks, players: list[str]) -> pd.DataFrame:
    """Return raw means and counts, a row for each of `players` and each marked criterion."""
    part = _counts(marks.frame, ["player_id", "criterion"]).rename(columns={"raw_simple": "raw"})
    every = pd.MultiIndex.from_product([players, marks.criterion.ids], names=["player_id", "criterion"])
    frame = _all(part, every)
    frame["group"] = np.tile(np.array(marks.group_of, dtype=object), len(players))
    frame["group"] = frame["group"].astype("str")
    return frame[["player_id", "criterion", "group", "raw", *COUNTS]]


def count_games(marks: Marks, games: pd.DataFrame) -> pd.DataFrame:
    """Return raw means and counts, a row for each player and game in which he has a mark."""
    keys = ["player_id", "game_id"]
    part = _counts(marks.frame, keys)
    means = marks.frame.groupby([*keys, "criterion"], sort=False)["score"].mean()
    part["raw"] = weighted_mean(means, dict(zip(marks.criterion.ids, marks.weights, strict=True)))
    places = [(marks.player.ids[p], marks.game.ids[g]) for p, g in marks.played]  # the targets' order
    frame = _all(part, pd.MultiIndex.from_tuples(places, names=keys))
    about = games[["game_id", "order", "opponent", "label"]]
    return frame.merge(about, on="game_id", how="left", validate="many_to_one")


def count_raters(marks: Marks) -> pd.DataFrame:
    """Return each rater's raw mean and counts; `n_shared` are reps that he shares with another rater."""
    frame = marks.frame
    part = _counts(frame, ["rater_id"]).rename(columns={"raw_simple": "raw"})
    part["n_players"] = frame.groupby("rater_id")["player_id"].nunique()
    reps = frame[["player_id", "play_id", "rater_id"]].drop_duplicates()
    several = reps.groupby(["player_id", "play_id"])["rater_id"].transform("size") > 1
    part["n_shared"] = reps.loc[several].groupby("rater_id").size()
    return _all(part, pd.Index(marks.rater.ids, name="rater_id"))


def _counts(rows: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    grouped = rows.groupby(keys, sort=False)
    found = pd.DataFrame({"raw_simple": grouped["score"].mean(), "n_obs": grouped.size()})
    for name, column in _IDS.items():
        if column not in keys:
            found[name] = grouped[column].nunique()
    return found


def _all(part: pd.DataFrame, index: pd.Index) -> pd.DataFrame:
    """Give every place of `index` a row; counts of what is not there are 0."""
    frame = part.reindex(index).reset_index()
    counts = [column for column in frame.columns if column.startswith("n_")]
    frame[counts] = frame[counts].fillna(0).astype("int64")
    return frame
