from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from data_demo.maker import SimulatedSeason, make_truth, simulate_season
from data_demo.maker.effects import CUTS, draw_effects
from data_demo.maker.truth import PLAYER_IDS, WEIGHTS, expected_mark
from lbeval.tables import check_table

SEEDS = range(2025, 2031)
TABLES = ("players", "jerseys", "games", "plays", "roles", "grades", "events", "tackles")


@pytest.fixture(scope="module")
def season() -> SimulatedSeason:
    return simulate_season(2025)


def test_frames_are_what_the_glossary_says(season: SimulatedSeason) -> None:
    for name in TABLES:
        check_table(name, getattr(season, name))


def test_same_seed_same_season(season: SimulatedSeason) -> None:
    again = simulate_season(2025)
    for name in TABLES:
        pd.testing.assert_frame_equal(getattr(season, name), getattr(again, name))
    assert again.truth.as_json() == season.truth.as_json() == make_truth(2025).as_json()
    assert not simulate_season(2026).grades["score"].equals(season.grades["score"])


def test_it_is_as_large_as_a_program_season(season: SimulatedSeason) -> None:
    scored = season.grades[season.grades["score"].notna()]
    assert 90_000 <= len(scored) <= 115_000
    games = season.plays[season.plays["game_id"].str.startswith("game-")]
    assert games["game_id"].nunique() == 12
    assert 60 <= len(games) / 12 <= 70
    assert len(season.players) == 11
    assert games["nullified"].any()
    phases = season.games["phase"].value_counts()
    assert phases["spring"] == 15
    graded = scored[scored["game_id"].str.startswith("game-")]
    reps = graded.drop_duplicates(["rater_id", "player_id", "play_id", "look"])["look"].value_counts()
    assert 0.03 < reps["repeat"] / reps["first"] < 0.07
    assert set(season.grades["blank"]) == {"", "did_not_occur", "not_graded", "ungradable"}


def test_coverage_is_not_random(season: SimulatedSeason) -> None:
    graded = season.grades[
        season.grades["game_id"].str.startswith("game-") & (season.grades["look"] == "first")
    ]
    reps = graded.drop_duplicates(["rater_id", "player_id", "play_id"])
    share = pd.crosstab(reps["player_id"], reps["rater_id"])
    share = share.div(share["rusk"], axis=0)
    starters, others = share.loc[list(PLAYER_IDS[:4])], share.loc[list(PLAYER_IDS[4:])]
    assert (starters["quell"] < 0.2).all()
    assert (others["quell"] > 0.7).all()
    assert (starters["thackray"] > 0.5).all()
    assert (others["thackray"] < 0.35).all()


def test_nothing_on_a_nullified_play(season: SimulatedSeason) -> None:
    wiped = season.plays.loc[season.plays["nullified"], "play_id"]
    for name in ("grades", "events", "tackles"):
        assert not getattr(season, name)["play_id"].isin(wiped).any()


def test_marks_only_on_what_happened(season: SimulatedSeason) -> None:
    scored = season.grades[season.grades["score"].notna()]
    blocks = season.roles.loc[season.roles["blocker"] != "", ["player_id", "play_id"]]
    chain = scored[scored["criterion"].isin(["close", "strike", "extend", "shed"])]
    assert len(chain.merge(blocks, on=["player_id", "play_id"])) == len(chain)
    tries = season.tackles[["player_id", "play_id"]]
    games = scored[scored["game_id"].str.startswith("game-")]
    tackling = games[games["criterion"] == "eyes_up"]
    assert len(tackling.merge(tries, on=["player_id", "play_id"])) == len(tackling)


def test_a_play_carries_one_solo_or_two_assists(season: SimulatedSeason) -> None:
    made = season.tackles[season.tackles["outcome"] != "miss"]
    for _, play in made.groupby("play_id"):
        kinds = sorted(play["outcome"])
        assert kinds in (["solo"], ["assist"], ["assist", "assist"])


def test_expected_mark_is_what_marks_average_to() -> None:
    rng = np.random.default_rng(3)
    for cuts, worth in zip(CUTS, (2, 2, 4), strict=True):
        latent = rng.normal(0.2, 0.9, 400_000)
        marks = np.searchsorted(np.array(cuts), latent) / worth
        assert marks.mean() == pytest.approx(float(expected_mark(np.array(0.2), 0.9, cuts)), abs=0.002)


def test_truths_agree_with_each_other(season: SimulatedSeason) -> None:
    truth = season.truth
    criteria = truth.criteria.pivot_table(index="player_id", columns="criterion", values="grade")
    ids = [c.id for c in season.rubric.criteria]
    whole = criteria[ids].to_numpy() @ (WEIGHTS / WEIGHTS.sum())
    order = [list(criteria.index).index(player) for player in truth.grades["player_id"]]
    np.testing.assert_allclose(truth.grades["grade"], whole[order])
    assert [c.weight for c in season.rubric.criteria] == list(WEIGHTS)
    assert truth.severity["severity"].sum() == pytest.approx(0, abs=1e-12)
    assert (truth.bias.groupby("player_id")["bias"].sum().abs() < 1e-12).all()
    severity = truth.severity.set_index("rater_id")["severity"]
    assert severity["rusk"] < severity["thackray"] < severity["quell"]


def test_what_is_planted_is_there_and_goes_away(season: SimulatedSeason) -> None:
    planted = season.truth.planted
    change = season.truth.change.set_index("player_id")["change"]
    assert (change[planted["improve"]] > 0.1).all()
    assert (change[planted["lower_late"]] < -0.1).all()
    assert (change.drop([*planted["improve"], *planted["lower_late"]]) == 0).all()
    plain = make_truth(2025, planted=False)
    assert plain.planted == {}
    assert (plain.change["change"] == 0).all()
    assert (plain.drift["change"] == 0).all()
    assert not draw_effects(2025, planted=False).drift.any()
    low = season.truth.criteria.pivot_table(index="player_id", columns="criterion", values="grade")
    for habit, criterion in (
        ("chain_breaks_at_extend", "extend"),
        ("head_down", "eyes_up"),
        ("legs_stall", "leg_drive"),
    ):
        assert low[criterion].idxmin() == planted[habit]


def over_the_rubric(marks: pd.DataFrame, scores: pd.Series, season: SimulatedSeason) -> pd.Series:
    """Return each player's mean over the rubric; a criterion he was never marked on counts as the room's."""
    table = marks.assign(score=scores).pivot_table(index="player_id", columns="criterion", values="score")
    table = table[[c.id for c in season.rubric.criteria]].fillna(table.mean())
    whole: pd.Series = (table * WEIGHTS).sum(axis=1) / WEIGHTS.sum()
    return whole


@pytest.mark.slow
def test_raw_averages_mislead() -> None:
    """Taking no more than the planted severities off the marks already mends much of what is wrong."""
    raw, fairer, order = [], [], []
    for seed in SEEDS:
        season = simulate_season(seed)
        grades = season.grades
        marks = grades[
            grades["score"].notna() & (grades["look"] == "first") & grades["game_id"].str.startswith("game-")
        ]
        severity = season.truth.severity.set_index("rater_id")["severity"]
        truth = season.truth.grades.set_index("player_id")["grade"]
        plain = over_the_rubric(marks, marks["score"], season)
        mild = over_the_rubric(marks, marks["score"] - marks["rater_id"].map(severity), season)
        raw.append(((plain - truth) ** 2).mean())
        fairer.append(((mild - truth) ** 2).mean())
        order.append(plain.rank().corr(truth.loc[plain.index].rank()))
    assert np.mean(fairer) < 0.7 * np.mean(raw)
    assert np.mean(order) < 0.9
