"""What was drilled in practice: reps, minutes, contact level."""

from __future__ import annotations

import numpy as np

from data_demo.maker.effects import stream
from data_demo.maker.paper import Cell, Paper, text_paper
from data_demo.maker.rubric import CRITERIA
from data_demo.maker.world import SESSIONS

DRILLS = "practice/drills.csv"
_CONTACT = {
    "assignment": "air", "coverage": "air", "read": "air", "take_on": "bag", "approach": "control",
    "tackle": "control", "finish": "air",
}  # fmt: skip
_LIVE_SPRING = (5, 8, 10, 12, 15)
_FIRST_CONTACT = 3


def practice_paper(seed: int) -> Paper:
    """Return the drill sheet of all practices; the first two of spring are without contact."""
    rng = stream(seed, 8)
    rows: list[list[Cell]] = [["Practice", "Date", "Phase", "Drill", "Reps", "Min", "Contact"]]
    for held in SESSIONS:
        if held.phase == "game":
            continue
        number = int(held.game_id[-2:])
        chosen = np.sort(rng.choice(len(CRITERIA), 5 if held.phase == "practice" else 6, replace=False))
        for c in chosen:
            level = _level(held.phase, number, _CONTACT[CRITERIA[c][1]])
            minutes = int(rng.integers(5, 13))
            when: list[Cell] = [held.label, held.date.isoformat(), held.phase]
            rows.append([*when, CRITERIA[c][5], int(rng.integers(6, 20)), minutes, level])
        if held.phase == "spring" and number in _LIVE_SPRING:
            team: list[Cell] = [held.label, held.date.isoformat(), held.phase]
            rows.append([*team, "Team run, tackling live", 18, 20, "live"])
    return text_paper(DRILLS, rows)


def _level(phase: str, number: int, usual: str) -> str:
    if phase == "spring" and number < _FIRST_CONTACT:
        return "air"
    if phase == "camp" and usual == "bag":
        return "thud"
    return usual
