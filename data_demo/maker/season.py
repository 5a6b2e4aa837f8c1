"""The full season in memory: as if its files had been read and tidied without a slip."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from data_demo.maker import tables
from data_demo.maker.effects import Effects, draw_effects
from data_demo.maker.logs import log_events, log_tackles
from data_demo.maker.marks import Marks, write_marks
from data_demo.maker.plays import Film, shoot_film
from data_demo.maker.settings import make_rubric, make_settings
from data_demo.maker.truth import Truth, derive_truth
from lbeval.settings import Rubric, SeasonSettings


@dataclass(frozen=True, eq=False)
class SimulatedSeason:
    """A season with its truth; the frames have the columns of `lbeval.tables.TABLES`.

    `effects`, `film`, `marks`, `tackle_log` and `event_log` are what the files are written from.
    """

    seed: int
    truth: Truth
    settings: SeasonSettings
    rubric: Rubric
    effects: Effects
    film: Film
    marks: Marks
    tackle_log: pd.DataFrame
    event_log: pd.DataFrame
    players: pd.DataFrame
    jerseys: pd.DataFrame
    games: pd.DataFrame
    plays: pd.DataFrame
    roles: pd.DataFrame
    grades: pd.DataFrame
    events: pd.DataFrame
    tackles: pd.DataFrame


def make_truth(seed: int, *, planted: bool = True) -> Truth:
    """Return what a fit of season `seed` should find."""
    effects = draw_effects(seed, planted=planted)
    return derive_truth(effects, shoot_film(effects).played())


def simulate_season(seed: int, *, planted: bool = True) -> SimulatedSeason:
    """Play, grade and tabulate season `seed` without writing a file.

    With `planted=False` the same people differ and the same coaches are as severe, but nobody changes over
    the season, no rater drifts, favours a player or gives one mark across criteria, and no habit is planted.
    """
    effects = draw_effects(seed, planted=planted)
    film = shoot_film(effects)
    marks = write_marks(effects, film)
    tackle_log = log_tackles(seed, film, marks)
    event_log = log_events(seed, film, marks, tackle_log)
    return SimulatedSeason(
        seed=seed,
        truth=derive_truth(effects, film.played()),
        settings=make_settings(),
        rubric=make_rubric(),
        effects=effects,
        film=film,
        marks=marks,
        tackle_log=tackle_log,
        event_log=event_log,
        players=tables.players_table(),
        jerseys=tables.jerseys_table(),
        games=tables.games_table(),
        plays=tables.plays_table(film),
        roles=tables.roles_table(film),
        grades=tables.grades_table(film, marks),
        events=tables.events_table(film, event_log),
        tackles=tables.tackles_table(film, tackle_log),
    )
