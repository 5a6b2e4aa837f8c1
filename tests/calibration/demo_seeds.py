"""Seasons of the demo's generator, rated and laid beside what was planted."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import joblib
import numpy as np
import pandas as pd

from data_demo.maker.season import simulate_season
from data_demo.maker.small import PEOPLE, SmallSeason, simulate_small
from lbeval.files import slug
from lbeval.fit.ratings import OVERALL, RatingsFit, fit_ratings
from tests.fit.graded_rooms import Plan, make_rubric, make_settings
from tests.hand_season import table

JOBS: Any = joblib  # it has no types
KEPT = [
    "kind",
    "seed",
    "id",
    "estimate",
    "std_error",
    "conf_low",
    "conf_high",
    "raw",
    "raw_simple",
    "planted",
]


def study_full(seeds: range, n_jobs: int = 2) -> pd.DataFrame:
    """Rate the full season of each seed; one row a grade, group, criterion or severity (`kind`)."""
    return pd.concat(_each(rate_full, seeds, n_jobs), ignore_index=True)


def study_small(seeds: range, n_jobs: int = 2) -> pd.DataFrame:
    """Rate the small season of each seed."""
    return pd.concat(_each(rate_small, seeds, n_jobs), ignore_index=True)


def _each(rate: Callable[[int], pd.DataFrame], seeds: range, n_jobs: int) -> list[pd.DataFrame]:
    return list(JOBS.Parallel(n_jobs=n_jobs)(JOBS.delayed(rate)(seed) for seed in seeds))


def rate_full(seed: int) -> pd.DataFrame:
    season = simulate_season(seed)
    fit = fit_ratings(
        season.grades,
        season.games,
        season.players,
        season.rubric,
        season.settings,
        rng=np.random.default_rng(seed),
    )
    truth = season.truth
    groups = fit.grades.merge(truth.groups, on=["player_id", "group"])
    criteria = fit.criteria.merge(truth.criteria, on=["player_id", "criterion"])
    return pd.concat(
        [
            _overall(fit, truth.grades, seed),
            _kept(groups.assign(id=groups["player_id"] + " " + groups["group"]), "group", seed),
            _kept(criteria.assign(id=criteria["player_id"] + " " + criteria["criterion"]), "criterion", seed),
            _severities(fit, truth.severity, seed),
        ]
    )


def rate_small(seed: int) -> pd.DataFrame:
    season = simulate_small(seed)
    fit = rate_marks(season, seed)
    return pd.concat(
        [_overall(fit, season.grades, seed), _severities(fit, season.severity, seed)], ignore_index=True
    )


def rate_marks(season: SmallSeason, seed: int) -> RatingsFit:
    """Rate the small season from its marks in memory."""
    plan = Plan(criteria=("assignment", "technique", "effort"), weights=(2.0, 1.0, 1.0))
    marks = season.marks.dropna(subset=["score"]).reset_index(drop=True)
    ids = np.array([slug(p[0]) for p in PEOPLE], dtype=object)
    game = ("g" + marks["game"].astype(str)).astype("str")
    usual = table("grades", [{"play_id": "any"}]).loc[[0] * len(marks)].reset_index(drop=True)
    return fit_ratings(
        usual.assign(
            rater_id=marks["rater_id"],
            player_id=pd.Series(ids[marks["player"]], dtype="str"),
            game_id=game,
            play_id=game + "-" + marks["play"].astype(str).str.zfill(3),
            criterion=marks["criterion"],
            score=marks["score"],
        ),
        table("games", [{"game_id": f"g{g}", "label": f"Game {g}", "order": g} for g in range(8)]),
        table("players", [{"player_id": one, "name": one} for one in ids]),
        make_rubric(plan),
        make_settings(plan),
        rng=np.random.default_rng(seed),
    )


def _overall(fit: RatingsFit, planted: pd.DataFrame, seed: int) -> pd.DataFrame:
    rows = fit.grades.loc[fit.grades["group"] == OVERALL].merge(
        planted[["player_id", "grade"]], on="player_id"
    )
    return _kept(rows.assign(id=rows["player_id"]), "overall", seed)


def _severities(fit: RatingsFit, planted: pd.DataFrame, seed: int) -> pd.DataFrame:
    rows = fit.raters.merge(planted, on="rater_id").rename(columns={"severity": "grade"})
    return _kept(rows.assign(id=rows["rater_id"]), "severity", seed)


def _kept(rows: pd.DataFrame, kind: str, seed: int) -> pd.DataFrame:
    """Keep what has an estimate."""
    named = rows.rename(columns={"grade": "planted"}).assign(kind=kind, seed=seed)
    return named.loc[named["estimate"].notna()].reindex(columns=KEPT)


def figure(summary: pd.DataFrame, kind: str, column: str) -> float:
    """Return one number of a summary."""
    return float(summary[column].to_numpy(dtype=np.float64)[list(summary.index).index(kind)])


def summarise(study: pd.DataFrame) -> pd.DataFrame:
    """Return by kind: share of intervals that hold, mean squared errors, and adjusted over raw."""
    miss = study["estimate"] - study["planted"]
    rows = study.assign(
        covered=study["planted"].between(study["conf_low"], study["conf_high"]),
        square=miss**2,
        raw_square=(study["raw"] - study["planted"]) ** 2,
        simple_square=(study["raw_simple"] - study["planted"]) ** 2,
        scaled=(miss / study["std_error"]) ** 2,
        bias=miss,
    )
    found = rows.groupby("kind")[
        ["covered", "square", "raw_square", "simple_square", "scaled", "bias"]
    ].mean()
    found["n"] = rows.groupby("kind").size()
    found["ratio"] = found["square"] / found["raw_square"]
    found["ratio_simple"] = found["square"] / found["simple_square"]
    return found
