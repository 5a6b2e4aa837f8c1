"""How much film there is of a player, in which roles, and what happened beside the marks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lbeval.fit.tackling import with_wilson
from lbeval.tables import Season

OUTSIDE = "outside_games"
"""Spring, camp, practice and scrimmages together."""


@dataclass(frozen=True, eq=False)
class EventsFit:
    """Counts of plays, roles and events.

    Attributes
    ----------
    level : confidence level of every interval.
    film : player_id, phase (`game`, `outside_games`), n_snaps (plays he was on the field, 0 where no list
        says so), n_plays (plays with a mark), n_games (sessions with a mark), n_raters, n_marks, note.
        Both rows for every player of the roster.
    raters : player_id, rater_id, n_plays, n_marks; games only.
    roles : player_id, role, n_plays, n_at_point; games only.
    events : player_id, kind, n_events, n_games (with one), n_obs (snaps in games, or plays with a mark
        where no list of snaps is kept), base (`snaps`, `graded plays`), estimate (share of n_obs),
        conf_low, conf_high. Special-teams snaps are no share of defensive ones: their estimate is missing.
        Games only.
    """

    level: float
    film: pd.DataFrame
    raters: pd.DataFrame
    roles: pd.DataFrame
    events: pd.DataFrame


def fit_events(season: Season) -> EventsFit:
    """Count plays, roles and events of a season's roster; shares with Wilson (1927) intervals."""
    house = season.settings.house
    players = season.players
    roster = players.loc[players["status"] == "roster", "player_id"].tolist()
    phase = season.games.set_index("game_id")["phase"].map(lambda one: one if one == "game" else OUTSIDE)
    marks = _of(season.grades[season.grades["score"].notna()], roster, phase)
    snaps = _of(season.roles, roster, phase)
    film = _film(marks, snaps, roster, house.min_plays)
    in_games = marks[marks["phase"] == "game"]
    raters = in_games.groupby(["player_id", "rater_id"], as_index=False).agg(
        n_plays=("play_id", "nunique"), n_marks=("play_id", "size")
    )
    played = snaps[(snaps["phase"] == "game") & (snaps["role"] != "")]
    roles = (
        played.assign(at=(played["at_point"] == "yes").astype(int))
        .groupby(["player_id", "role"], as_index=False)
        .agg(n_plays=("play_id", "nunique"), n_at_point=("at", "sum"))
        .sort_values(["player_id", "n_plays", "role"], ascending=[True, False, True])
        .reset_index(drop=True)
    )
    happened = _of(season.events, roster, phase)
    events = _events(happened[happened["phase"] == "game"], film, house.confidence)
    return EventsFit(house.confidence, film, raters, roles, events)


def _of(frame: pd.DataFrame, roster: list[str], phase: pd.Series) -> pd.DataFrame:
    kept = frame[frame["player_id"].isin(roster)]
    return kept.assign(phase=kept["game_id"].map(phase).fillna(OUTSIDE))


def _film(marks: pd.DataFrame, snaps: pd.DataFrame, roster: list[str], floor: int) -> pd.DataFrame:
    keys = ["player_id", "phase"]
    grid = pd.MultiIndex.from_product([roster, ["game", OUTSIDE]], names=keys)
    by_mark, by_snap = marks.groupby(keys), snaps.groupby(keys)
    film = pd.DataFrame(
        {
            "n_snaps": by_snap["play_id"].nunique(),
            "n_plays": by_mark["play_id"].nunique(),
            "n_games": by_mark["game_id"].nunique(),
            "n_raters": by_mark["rater_id"].nunique(),
            "n_marks": by_mark.size(),
        },
        index=grid,
    )
    film = film.fillna(0).astype(int).reset_index()
    film["note"] = np.where(film["n_plays"] < floor, "few_plays", "")
    return film


def _events(happened: pd.DataFrame, film: pd.DataFrame, level: float) -> pd.DataFrame:
    events = happened.groupby(["player_id", "kind"], as_index=False).agg(
        n_events=("kind", "size"), n_games=("game_id", "nunique")
    )
    games = film[film["phase"] == "game"]
    base = games.assign(
        n_obs=games["n_snaps"].where(games["n_snaps"] > 0, games["n_plays"]),
        base=np.where(games["n_snaps"] > 0, "snaps", "graded plays"),
    )
    events = events.merge(base[["player_id", "n_obs", "base"]], on="player_id", how="left")
    # a share needs events on distinct plays of the base: none where there are more events than plays
    share = events["kind"].ne("special_teams_snap") & events["n_events"].le(events["n_obs"])
    counted = with_wilson(events[["n_events", "n_obs"]].where(share, 0), "n_events", level)
    return events.assign(**{name: counted[name] for name in ("estimate", "conf_low", "conf_high")})
