"""Tackles as they were logged: counts, rates with Wilson intervals, faults, yards, and the head first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from lbeval.stats.proportions import wilson
from lbeval.tables import Season

ALL = "all"
"""The row over all approaches."""
NOT_NOTED = "not_noted"


@dataclass(frozen=True, eq=False)
class TacklingFit:
    """Counts and rates of a season's tackle log; games only, but head contact from every session.

    Attributes
    ----------
    level : confidence level of every interval.
    printed : the `denominator` that the house prints.
    faults_recorded : `every attempt` or `misses only`, as the house declares.
    rates : player_id, approach (`all`, one of the log's, `not_noted`), denominator, made, missed, n_obs,
        estimate, conf_low, conf_high, note. `denominator` names the outcomes that count as made; n_obs is
        made + missed. A roster player without an attempt has the row `all` with n_obs 0.
    room : the same over all players of the roster, without player_id.
    faults : player_id, fault, safety, attempts, made, missed (those with the fault), n_obs (his attempts),
        n_missed (his misses).
    yards : player_id, outcome (`made`, `missed`), total, n_obs (attempts with yards noted), estimate (yards
        an attempt), conf_low, conf_high, note. Interval by Student's t.
    head : player_id, n_plays (plays with the head down at contact, from log and marks together), n_log,
        n_made, n_missed, n_marked (plays with the lowest mark for a safety criterion), n_judged (plays
        marked for one), n_outside (of n_plays, outside games), n_noted (attempts where the log notes the
        head or a safety fault).
    head_plays : player_id, game_id, play_id, outcome, in_log, in_marks: one row a contact.
    """

    level: float
    printed: str
    faults_recorded: str
    rates: pd.DataFrame
    room: pd.DataFrame
    faults: pd.DataFrame
    yards: pd.DataFrame
    head: pd.DataFrame
    head_plays: pd.DataFrame


def fit_tackling(season: Season) -> TacklingFit:
    """Count a season's tackles.

    Attempts on plays wiped out by a penalty count for the head and for nothing else. Rates are plain
    proportions with Wilson (1927) intervals, attempts taken as independent.

    Parameters
    ----------
    season
        The tackle log, and the grades of criteria that concern the head.
    """
    house = season.settings.house
    roster = _roster(season)
    log = season.tackles[season.tackles["player_id"].isin(roster)]
    log = log.merge(season.games[["game_id", "phase"]], on="game_id", how="left")
    nullified = season.plays.loc[season.plays["nullified"], "play_id"]
    attempts = log[(log["phase"] == "game") & ~log["play_id"].isin(nullified)]
    printed = "+".join(house.tackle_made)
    denominators = tuple(dict.fromkeys((printed, "solo+assist", "solo")))
    head, head_plays = _head(season, log, roster)
    return TacklingFit(
        level=house.confidence,
        printed=printed,
        faults_recorded=house.faults_recorded,
        rates=_rates(attempts, denominators, house.confidence, house.min_tackles, roster),
        room=_rates(
            attempts.assign(player_id=""), denominators, house.confidence, house.min_tackles, [""]
        ).drop(columns="player_id"),
        faults=_faults(season, attempts),
        yards=_yards(attempts, house.confidence, house.min_tackles),
        head=head,
        head_plays=head_plays,
    )


def _roster(season: Season) -> list[str]:
    players = season.players
    return players.loc[players["status"] == "roster", "player_id"].tolist()


def _rates(
    attempts: pd.DataFrame, denominators: tuple[str, ...], level: float, floor: int, roster: list[str]
) -> pd.DataFrame:
    frame = attempts.assign(approach=attempts["approach"].replace("", NOT_NOTED))
    frame = pd.concat([frame.assign(approach=ALL), frame], ignore_index=True)
    counted = (
        frame.assign(count=1)
        .pivot_table(
            index=["player_id", "approach"], columns="outcome", values="count", aggfunc="sum", fill_value=0
        )
        .reindex(columns=["solo", "assist", "miss"], fill_value=0)
    )
    everyone = pd.MultiIndex.from_product([roster, [ALL]], names=["player_id", "approach"])
    counted = counted.reindex(counted.index.union(everyone), fill_value=0).astype(int)
    parts = []
    for denominator in denominators:
        made = counted[denominator.split("+")].sum(axis=1)
        parts.append(
            pd.DataFrame({"denominator": denominator, "made": made, "missed": counted["miss"]}).reset_index()
        )
    rates = pd.concat(parts, ignore_index=True)
    rates["n_obs"] = rates["made"] + rates["missed"]
    rates = with_wilson(rates, "made", level)
    rates["note"] = np.where(rates["n_obs"] < floor, "few_tackles", "")
    return rates[rates["approach"].eq(ALL) | rates["n_obs"].gt(0)].reset_index(drop=True)


def with_wilson(counts: pd.DataFrame, successes: str, level: float) -> pd.DataFrame:
    """Return `counts` with estimate, conf_low and conf_high of `successes` of `n_obs`; missing where none."""
    low, high = wilson(counts[successes].to_numpy(float), counts["n_obs"].to_numpy(float), level)
    share = counts[successes] / counts["n_obs"].where(counts["n_obs"] > 0)
    return counts.assign(estimate=share.astype(float), conf_low=low, conf_high=high)


def _faults(season: Season, attempts: pd.DataFrame) -> pd.DataFrame:
    safety = {name for name, fault in season.rubric.faults.items() if fault.safety}
    totals = attempts.groupby("player_id").agg(
        n_obs=("outcome", "size"), n_missed=("outcome", lambda outcome: int((outcome == "miss").sum()))
    )
    split = attempts.assign(fault=attempts["faults"].str.split(";").map(lambda one: list(dict.fromkeys(one))))
    long = split.explode("fault")
    long = long[long["fault"].fillna("") != ""]
    counted = (
        long.assign(missed=(long["outcome"] == "miss").astype(int), attempts=1)
        .groupby(["player_id", "fault"], as_index=False)[["attempts", "missed"]]
        .sum()
    )
    counted = counted.merge(totals.reset_index(), on="player_id", how="left")
    counted["made"] = counted["attempts"] - counted["missed"]
    counted["safety"] = counted["fault"].isin(safety)
    columns = ["player_id", "fault", "safety", "attempts", "made", "missed", "n_obs", "n_missed"]
    counted = counted[columns].astype(dict.fromkeys(columns[3:], int))
    order = ["player_id", "missed", "attempts", "fault"]
    return counted.sort_values(order, ascending=[True, False, False, True]).reset_index(drop=True)


def _yards(attempts: pd.DataFrame, level: float, floor: int) -> pd.DataFrame:
    noted = attempts[attempts["yards_after_contact"].notna()]
    grouped = noted.assign(outcome=np.where(noted["outcome"] == "miss", "missed", "made")).groupby(
        ["player_id", "outcome"]
    )["yards_after_contact"]
    yards = grouped.agg(total="sum", n_obs="size", estimate="mean", spread="std").reset_index()
    half = stats.t.ppf((1 + level) / 2, (yards["n_obs"] - 1).clip(lower=1).to_numpy(float)) * (
        yards["spread"] / np.sqrt(yards["n_obs"])
    )
    yards["conf_low"], yards["conf_high"] = yards["estimate"] - half, yards["estimate"] + half
    yards["note"] = np.where(yards["n_obs"] < floor, "few_tackles", "")
    return yards.drop(columns="spread")


def _head(season: Season, log: pd.DataFrame, roster: list[str]) -> tuple[pd.DataFrame, pd.DataFrame]:
    safety_faults = {name for name, fault in season.rubric.faults.items() if fault.safety}
    lapse = np.array([bool(safety_faults & set(text.split(";"))) for text in log["faults"]], dtype=bool)
    noted = log[(log["head"] != "") | lapse]
    down = log[(log["head"] == "down") | lapse]
    logged = down[["player_id", "game_id", "play_id", "outcome", "phase"]].reset_index(drop=True)
    judged = _safety_marks(season, roster)
    lowest = judged[judged["score"] == 0.0].drop_duplicates(["player_id", "play_id"])
    marked = lowest.drop(columns="score").reset_index(drop=True)
    # an entry without a play number cannot be matched with a mark and stands for itself
    own = logged["play_id"].where(logged["play_id"] != "", "log " + logged.index.astype(str))
    logged = logged.assign(key=own, in_log=True)
    both = logged.merge(
        marked.assign(key=marked["play_id"], in_marks=True),
        on=["player_id", "key"],
        how="outer",
        suffixes=("", "_mark"),
    )
    for name in ("game_id", "play_id", "phase"):
        both[name] = both[name].fillna(both[f"{name}_mark"])
    both["outcome"] = both["outcome"].fillna("")
    both["in_log"] = both["in_log"].eq(True)  # noqa: FBT003
    both["in_marks"] = both["in_marks"].eq(True)  # noqa: FBT003
    counts = pd.DataFrame(
        {
            "n_plays": both.groupby("player_id")["key"].nunique(),
            "n_log": logged.groupby("player_id").size(),
            "n_made": logged[logged["outcome"] != "miss"].groupby("player_id").size(),
            "n_missed": logged[logged["outcome"] == "miss"].groupby("player_id").size(),
            "n_marked": marked.groupby("player_id").size(),
            "n_outside": both[both["phase"] != "game"].groupby("player_id")["key"].nunique(),
            "n_judged": judged.groupby("player_id")["play_id"].nunique(),
            "n_noted": noted.groupby("player_id").size(),
        },
        index=pd.Index(roster, name="player_id"),
    )
    head = counts.fillna(0).astype(int).reset_index()
    plays = both[["player_id", "game_id", "play_id", "outcome", "in_log", "in_marks"]]
    return head, plays.sort_values(["player_id", "play_id", "outcome"]).reset_index(drop=True)


def _safety_marks(season: Season, roster: list[str]) -> pd.DataFrame:
    """Return every mark of a criterion that concerns the head, of any look and session."""
    safety = [criterion.id for criterion in season.rubric.criteria if criterion.safety]
    grades = season.grades
    marks = grades[grades["criterion"].isin(safety) & grades["player_id"].isin(roster)]
    marks = marks[marks["score"].notna()]
    marks = marks[["player_id", "game_id", "play_id", "score"]]
    return marks.merge(season.games[["game_id", "phase"]], on="game_id", how="left")
