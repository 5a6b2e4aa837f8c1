"""Who has graded how much of which session, and who owes some."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lbeval.tables import Season


def coverage(season: Season) -> pd.DataFrame:
    """Return one row a coach and session of the phases he grades, in the order they were held.

    Columns: rater_id, game_id, n_graded (plays with a mark of his, or that he called not gradable), n_plays
    (plays with a linebacker of the roster on the field and not nullified; where no roles are kept, plays
    that anybody graded), owed (whether he graded less than half of the share that is usual for him in
    sessions of this phase: coaches who share the work out owe nothing of each other's).
    """
    marks = season.grades.loc[season.grades["blank"] != "not_graded", ["rater_id", "game_id", "play_id"]]
    marks = marks[marks["play_id"] != ""].drop_duplicates()
    due = _due(season, marks)
    done = marks[marks["play_id"].isin(due["play_id"])]
    order = season.games.set_index("game_id")[["phase", "order"]]
    phases = marks[["rater_id"]].assign(phase=marks["game_id"].map(order["phase"])).drop_duplicates()
    n_plays = due.groupby("game_id").size().rename("n_plays").reset_index()
    n_plays = n_plays.assign(phase=n_plays["game_id"].map(order["phase"]))
    frame = phases.merge(n_plays, on="phase")
    n_graded = done.groupby(["rater_id", "game_id"]).size().rename("n_graded").reset_index()
    frame = frame.merge(n_graded, on=["rater_id", "game_id"], how="left")
    frame["n_graded"] = frame["n_graded"].fillna(0).astype("int64")
    frame["n_plays"] = frame["n_plays"].astype("int64")
    share = frame["n_graded"] / frame["n_plays"]
    started = share.where(frame["n_graded"] > 0)
    usual = started.groupby([frame["rater_id"], frame["phase"]]).transform("median")
    frame["owed"] = share < usual / 2
    frame["order"] = frame["game_id"].map(order["order"])
    frame = frame.sort_values(["rater_id", "order"], ignore_index=True)
    return frame[["rater_id", "game_id", "n_graded", "n_plays", "owed"]]


def _due(season: Season, marks: pd.DataFrame) -> pd.DataFrame:
    """Return game_id and play_id of the plays that are there to be graded."""
    roster = season.players.loc[season.players["status"] == "roster", "player_id"]
    on_field = season.roles.loc[
        season.roles["player_id"].isin(roster), ["game_id", "play_id"]
    ].drop_duplicates()
    graded = marks[["game_id", "play_id"]].drop_duplicates()
    kept = np.isin(graded["game_id"], on_field["game_id"].unique())
    plays = pd.concat([on_field, graded[~kept]], ignore_index=True)
    wiped = season.plays.loc[season.plays["nullified"], "play_id"]
    return plays[~plays["play_id"].isin(wiped)].reset_index(drop=True)
