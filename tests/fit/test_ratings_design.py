from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lbeval.fit.ratings.design import Design, build_design
from lbeval.fit.ratings.marks import Marks, select_marks
from lbeval.fit.ratings.model import fit_model
from lbeval.fit.ratings.targets import build_targets
from tests.fit.graded_rooms import Plan, Room, simulate

PLAN = Plan(n_games=3, n_plays=16)


def marks_of(room: Room) -> Marks:
    return select_marks(room.grades, room.games, room.players, room.rubric)


def names(design: Design) -> set[str]:
    return {term.name for term in design.terms}


def test_a_fully_double_graded_season_carries_every_term() -> None:
    design = build_design(marks_of(simulate(1, Plan())))
    assert len(design.terms) == 11
    assert not design.left_out


def test_few_doubles_leave_the_finest_terms_out_and_say_so() -> None:
    design = build_design(marks_of(simulate(1, replace(PLAN, coverage=((1.0,) * 6, (0.05,) * 6)))))
    assert {"rater:player:play", "player:play:criterion"} <= set(design.left_out)
    assert "player:play" in names(design)


def test_terms_that_group_the_marks_alike_stand_once() -> None:
    room = simulate(2, replace(PLAN, n_games=6, n_plays=20))
    same = room.grades["player_id"].str[1:] == room.grades["game_id"].str[1:]
    design = build_design(marks_of(replace(room, grades=room.grades.loc[same].reset_index(drop=True))))
    assert "player" in names(design)
    assert {"game", "player:game", "play"} <= set(design.left_out)


def test_raters_sum_to_zero_within_what_can_be_compared() -> None:
    room = simulate(3, replace(PLAN, severity=(0.0, 0.1, 0.2, 0.3)))
    first = room.grades["rater_id"].isin(["r0", "r1"])
    keep = first == (room.grades["criterion"] == "assignment")
    design = build_design(marks_of(replace(room, grades=room.grades.loc[keep].reset_index(drop=True))))
    assert design.rater_set.tolist() == [0, 0, 1, 1]
    assert design.contrasts.shape == (4, 2)
    assert np.abs(design.contrasts[:2].sum(axis=0)).max() == 0
    assert np.abs(design.contrasts[2:].sum(axis=0)).max() == 0
    assert np.linalg.matrix_rank(design.x) == design.x.shape[1]


def test_a_rater_of_few_marks_shares_the_busiest_ones_noise() -> None:
    room = simulate(4, replace(PLAN, severity=(0.0, 0.1, 0.2)))
    little = room.grades.loc[room.grades["rater_id"] == "r1"].head(12)
    rest = room.grades.loc[room.grades["rater_id"] != "r1"]
    mixed = pd.concat([rest, little], ignore_index=True)
    marks = marks_of(replace(room, grades=mixed))
    noise = build_design(marks).noise
    groups = [set(noise[marks.rater.codes == r].tolist()) for r in range(3)]
    assert groups[0] != groups[2]
    assert groups[1] in (groups[0], groups[2])


@pytest.mark.parametrize("n_raters", [1, 2])
def test_targets_at_the_estimates_equal_dense_predictions(n_raters: int) -> None:
    """From the coarse equations at the REML estimates, against N x N algebra (Harville 1976)."""
    marks = marks_of(simulate(5, replace(PLAN, severity=(-0.1, 0.1)[:n_raters])))
    design = build_design(marks)
    targets = build_targets(marks, design)
    model = fit_model(marks.score, replace(design, averaged=frozenset()), targets, np.random.default_rng(1))
    reml = model.reml

    covariance = np.diag(reml.residual[design.noise])
    cross = np.zeros((targets.weights.shape[0], marks.n))
    prior = np.zeros((targets.weights.shape[0],) * 2)
    start = design.x.shape[1]
    for term in design.terms:
        z = np.eye(term.n_levels)[term.codes]
        covariance += reml.components[term.name] * z @ z.T
        if term.name in {t.name for t in design.coarse}:
            weight = targets.weights[:, start : start + term.n_levels]
            cross += reml.components[term.name] * weight @ z.T
            prior += reml.components[term.name] * weight @ weight.T
            start += term.n_levels
    inverse = np.linalg.inv(covariance)
    information = design.x.T @ inverse @ design.x
    beta = np.linalg.solve(information, design.x.T @ inverse @ marks.score)
    fixed = targets.weights[:, : design.x.shape[1]]
    expected = fixed @ beta + cross @ inverse @ (marks.score - design.x @ beta)
    gap = fixed - cross @ inverse @ design.x
    error = prior - cross @ inverse @ cross.T + gap @ np.linalg.solve(information, gap.T)
    assert model.mixture.estimate == pytest.approx(expected, abs=1e-7)
    assert model.mixture.std_error**2 == pytest.approx(np.diag(error), rel=1e-5, abs=1e-9)
    joint = targets.n_joint
    assert model.mixture.covariances[0] == pytest.approx(error[:joint, :joint], rel=1e-4, abs=1e-8)
