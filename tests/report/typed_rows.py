"""Rows typed by hand, for sentences and pages."""

from __future__ import annotations

from typing import Any

from lbeval.fit.ratings import GameRow, GradeRow, RaterRow
from lbeval.report.player_rows import (
    CriterionRow,
    FilmRow,
    HeadRow,
    Person,
    PlayerRows,
    RoomRows,
)
from lbeval.report.words import GradeWords
from lbeval.settings import House, Rubric
from tests.hand_season import RUBRIC

POINTS = GradeWords(0.0, 2.0, percent=False)


def grade(estimate: float, half: float = 0.04, group: str = "overall", **more: Any) -> GradeRow:
    """Return a grade with a likely range of `half` to either side."""
    values: dict[str, Any] = {
        "player_id": "ada",
        "group": group,
        "estimate": estimate,
        "std_error": half / 1.645,
        "conf_low": estimate - half,
        "conf_high": estimate + half,
        "raw": estimate,
        "raw_simple": estimate,
        "n_plays": 412,
        "n_games": 12,
        "n_raters": 3,
        "n_obs": 3000,
        "note": "",
        "rank_low": 2.0,
        "rank_high": 5.0,
        "tier": 1.0,
    }
    return GradeRow(**{**values, **more})


def game(label: str, estimate: float, half: float = 0.08, **more: Any) -> GameRow:
    values: dict[str, Any] = {
        "player_id": "ada",
        "game_id": label.lower(),
        "order": 0,
        "opponent": label,
        "label": f"Game of {label}",
        "estimate": estimate,
        "std_error": half / 1.645,
        "conf_low": estimate - half,
        "conf_high": estimate + half,
        "raw": estimate,
        "raw_simple": estimate,
        "n_plays": 40,
        "n_raters": 2,
        "n_obs": 300,
        "note": "",
    }
    return GameRow(**{**values, **more})


def rater(rater_id: str, estimate: float, half: float = 0.02) -> RaterRow:
    values: dict[str, Any] = dict.fromkeys(RaterRow._fields, 0)
    values |= {
        "rater_id": rater_id,
        "estimate": estimate,
        "std_error": half / 1.645,
        "conf_low": estimate - half,
        "conf_high": estimate + half,
        "note": "",
    }
    return RaterRow(**values)


def criterion(name: str, group: str, estimate: float, half: float = 0.04) -> CriterionRow:
    return CriterionRow(name, group, estimate, half / 1.645, estimate - half, estimate + half, 100, "")


NO_HEAD = HeadRow(0, 0, 0, 0, 0, 0, 0, 0)
FILM = FilmRow(430, 412, 12, 3, 3000, "")


def room(**more: Any) -> RoomRows:
    values: dict[str, Any] = {
        "n_ranked": 11,
        "spread": {},
        "ahead_of": (),
        "behind": (),
        "coaches": (),
        "severity": (),
        "rater_names": {},
        "tackles": (),
        "stages": (),
    }
    return RoomRows(**{**values, **more})


def player(**more: Any) -> PlayerRows:
    rubric = Rubric.model_validate(RUBRIC)
    values: dict[str, Any] = {
        "copy": "player",
        "person": Person("ada", "Ada Quist", "54", "ILB", "Jr"),
        "house": House(),
        "grades": POINTS,
        "standard": 0.7,
        "group_labels": {one.id: one.label for one in rubric.groups},
        "rubric": {one.id: one for one in rubric.criteria},
        "fault_words": rubric.faults,
        "film": FILM,
        "outside": FilmRow(0, 0, 0, 0, 0, ""),
        "overall": grade(0.72),
        "groups": (grade(0.6, group="blocks"), grade(0.8, group="tackle")),
        "criteria": (),
        "games": (),
        "head": NO_HEAD,
        "tackles": (),
        "faults": (),
        "yards": (),
        "printed": "solo+assist",
        "stages": (),
        "reps": None,
        "roles": (),
        "events": (),
        "remarks": (),
        "remarks_kept_back": 0,
        "log_kept": False,
        "events_kept": (),
        "level": 0.9,
        "room": None,
    }
    return PlayerRows(**{**values, **more})
