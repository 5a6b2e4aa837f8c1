"""What `fit_ratings` returns: tidy frames, and typed rows for sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd


class GradeRow(NamedTuple):
    """A row of `RatingsFit.grades`."""

    player_id: str
    group: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    raw: float
    raw_simple: float
    n_plays: int
    n_games: int
    n_raters: int
    n_obs: int
    note: str
    rank_low: float
    rank_high: float
    tier: float


class RaterRow(NamedTuple):
    """A row of `RatingsFit.raters`."""

    rater_id: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    spread: float
    noise: float
    raw: float
    n_obs: int
    n_plays: int
    n_players: int
    n_games: int
    n_shared: int
    note: str


class GameRow(NamedTuple):
    """A row of `RatingsFit.games`."""

    player_id: str
    game_id: str
    order: int
    opponent: str
    label: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    raw: float
    raw_simple: float
    n_plays: int
    n_raters: int
    n_obs: int
    note: str


@dataclass(frozen=True, eq=False)
class RatingsFit:
    """Severity-adjusted grades of a season's games, from 0 to 1.

    Attributes
    ----------
    grades
        A row for each roster player and group, `overall` first: the adjusted grade with its interval beside
        the raw means (`raw` with the rubric's weights, `raw_simple` over all marks alike), what it stands
        on, and, overall, the band of his rank and his tier. `note` says why there is no estimate
        (`no_film`, `not_enough_film`, `marks_alike`) or what it is worth (`not_linked`, `one_rater`).
    criteria
        The same for each criterion, with the plain mean as `raw`.
    games
        A row for each player and game in which he has a mark. The estimate is his season's grade with that
        game's own part in place of the mean of his games: against the room that day.
    raters
        Severity: how far a rater's marks lie above (+) or below the staff's average on the same reps; his
        spread (1: as the staff) and the noise of a single mark (standard deviation).
    components
        Variances by REML and their share of the sum; a term these marks cannot carry has no estimate and
        says why in `note`.
    pairs
        Each two players with a grade, the higher first; `ahead` where he is clearly ahead.
    tiers
        Tier and rank band of each player with a grade.
    draws
        Joint draws of the grades: `draw`, `group`, and a column a player with a grade.
    model
        One row on the whole fit.
    level, pairs_level
        Confidence of the intervals and bands, and of all pairs called ahead together.
    terms
        Random terms in the model.
    notes
        Sentences on what could and could not be told apart.
    """

    grades: pd.DataFrame
    criteria: pd.DataFrame
    games: pd.DataFrame
    raters: pd.DataFrame
    components: pd.DataFrame
    pairs: pd.DataFrame
    tiers: pd.DataFrame
    draws: pd.DataFrame
    model: pd.DataFrame
    level: float
    pairs_level: float
    terms: tuple[str, ...]
    notes: tuple[str, ...]

    def tidy(self) -> pd.DataFrame:
        """Return the grades, one row a player and group."""
        return self.grades

    def glance(self) -> pd.DataFrame:
        """Return one row on the whole fit."""
        return self.model

    def rows(self, player_id: str | None = None) -> tuple[GradeRow, ...]:
        """Return the grades as typed rows, of one player or of all."""
        frame = self.grades if player_id is None else self.grades.loc[self.grades["player_id"] == player_id]
        return tuple(GradeRow(*row) for row in frame[list(GradeRow._fields)].itertuples(index=False))

    def rater_rows(self) -> tuple[RaterRow, ...]:
        """Return the raters as typed rows."""
        return tuple(RaterRow(*row) for row in self.raters[list(RaterRow._fields)].itertuples(index=False))

    def game_rows(self, player_id: str) -> tuple[GameRow, ...]:
        """Return one player's games as typed rows, in the order they were played."""
        frame = self.games.loc[self.games["player_id"] == player_id, list(GameRow._fields)]
        return tuple(GameRow(*row) for row in frame.itertuples(index=False))
