"""What a grade is worth: codes beside the numbers, and sentences about the whole fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lbeval.fit.ratings.design import linked_sets
from lbeval.fit.ratings.marks import OVERALL, Marks
from lbeval.settings import House

SILENT = ("no_film", "not_enough_film", "marks_alike", "not_fitted")
"""Notes under which no estimate is given."""

TERM_WORDS = {
    "player": "differences between players",
    "game": "differences between games",
    "player:rater": "a coach's own view of a player",
    "player:game": "a player's good and bad games",
    "rater:game": "a coach's severity from game to game",
    "player:criterion": "a player's own strengths among the criteria",
    "rater:criterion": "a coach's own severity on a criterion",
    "play": "easy and hard plays",
    "player:play": "a player's good and bad plays",
    "rater:player:play": "a coach's impression of a whole rep",
    "player:play:criterion": "what a player did on one criterion of a rep",
}


@dataclass(frozen=True, eq=False)
class Links:
    """Sets of raters, and with them of players, that nothing connects.

    `of_rater` follows `marks.rater`, `of_player` `marks.player`; `severities` says whether all raters marked
    criteria in common, directly or through others.
    """

    of_rater: np.ndarray
    of_player: np.ndarray
    severities: bool

    @property
    def linked(self) -> bool:
        """Whether all players can be compared."""
        return int(self.of_rater.max()) == 0


def find_links(marks: Marks, rater_set: np.ndarray) -> Links:
    """Raters are linked who graded a player in common, directly or through others.

    A play in common is not enough: with different players on it, a rater's severity and his players' worth
    move its marks alike.
    """
    of_rater = linked_sets(marks.rater, marks.player)
    of_player = np.zeros(marks.player.n, dtype=np.int64)
    of_player[marks.player.codes] = of_rater[marks.rater.codes]
    return Links(of_rater, of_player, int(rater_set.max()) == 0)


def note_grades(
    counts: pd.DataFrame, links: Links, marks: Marks, house: House, *, why_none: str
) -> pd.Series[str]:
    """Say for each row of `counts` (player and group) why there is no estimate or what it is worth."""
    of_all = counts.loc[counts["group"] == OVERALL].set_index("player_id")
    little = counts["player_id"].map(of_all["n_plays"] < house.min_plays)
    floor = np.where(counts["group"] == OVERALL, house.min_plays, house.min_plays_group)
    few = little | (counts["n_plays"] < floor)
    none = {why_none: True} if why_none else {}
    return _first_of(counts, {**none, "not_enough_film": few}, links, marks)


def note_criteria(
    counts: pd.DataFrame, grades: pd.DataFrame, links: Links, marks: Marks, house: House
) -> pd.Series[str]:
    """Say the same for each row of player and criterion."""
    of_all = _note_of_all(counts, grades)
    few = counts["n_plays"] < house.min_plays_group
    return _first_of(counts, {**_inherited(of_all), "not_enough_film": few}, links, marks)


def note_games(counts: pd.DataFrame, grades: pd.DataFrame, links: Links, marks: Marks) -> pd.Series[str]:
    """Say the same for each row of player and game; the floor is the season's."""
    return _first_of(counts, _inherited(_note_of_all(counts, grades)), links, marks)


def _note_of_all(counts: pd.DataFrame, grades: pd.DataFrame) -> pd.Series[str]:
    """Return the note of each row's player over the whole rubric."""
    return counts["player_id"].map(grades.loc[grades["group"] == OVERALL].set_index("player_id")["note"])


def _inherited(of_all: pd.Series[str]) -> dict[str, pd.Series | bool]:
    """Say that what keeps a player without a grade keeps him without its parts."""
    return {note: of_all == note for note in SILENT if note != "no_film"}


def _first_of(
    counts: pd.DataFrame, conditions: Mapping[str, pd.Series | bool], links: Links, marks: Marks
) -> pd.Series[str]:
    unlinked = [] if links.linked else list(marks.player.ids)
    every = {
        "no_film": counts["n_obs"] == 0,
        **conditions,
        "not_linked": counts["player_id"].isin(unlinked),
        "one_rater": (counts["n_raters"] == 1) & (marks.rater.n > 1),
    }
    masks = [np.broadcast_to(np.asarray(mask, dtype=bool), len(counts)) for mask in every.values()]
    return pd.Series(np.select(masks, list(every), default=""), index=counts.index, dtype="str")


def note_raters(links: Links, marks: Marks, rater_set: np.ndarray) -> np.ndarray:
    """Say for each rater whether his severity can be compared with the others'."""
    if marks.rater.n == 1:
        return np.array(["one_rater"], dtype=object)
    means = np.bincount(marks.rater.codes, marks.score) / np.bincount(marks.rater.codes)
    off = np.abs(marks.score - means[marks.rater.codes])
    alike = np.bincount(marks.rater.codes, off) < 1e-9
    shared = (links.of_rater[:, None] == links.of_rater) & (rater_set[:, None] == rater_set)
    found = np.where(shared.all(axis=1), np.where(alike, "marks_alike", ""), "not_linked")
    return found.astype(object)


def write_notes(
    marks: Marks,
    links: Links,
    left_out: Mapping[str, str],
    spread: str,
    names: Mapping[str, str],
    *,
    fitted: bool,
) -> tuple[str, ...]:
    """Write the sentences on what could and could not be told apart; `names` of raters by id."""
    notes = []
    raters = [names.get(one, one) for one in marks.rater.ids]
    if len(raters) == 1:
        notes.append(
            f"All marks are {raters[0]}'s: how severe he is cannot be told, and grades are as he sees it."
        )
    if not links.linked:
        sets = [
            " and ".join(name for name, one in zip(raters, links.of_rater, strict=True) if one == k)
            for k in range(int(links.of_rater.max()) + 1)
        ]
        notes.append(
            f"Nothing links the marks of {'; '.join(sets)}: they graded no player in common, so grades of "
            "one side cannot be held against the other's. Let both grade 30 plays of the same players."
        )
    elif not links.severities:
        notes.append(
            "Some coaches marked no criterion in common: who of them is more severe cannot be told. "
            "Let each mark one criterion of the others on 30 plays."
        )
    if not fitted:
        notes.append("These marks are too few, or too much alike, for a model: only raw means are given.")
        return tuple(notes)
    if len(raters) > 1 and spread:
        notes.append(spread)
    missing = [TERM_WORDS[name] for name in left_out if name != "player" or marks.player.n > 1]
    if missing:
        notes.append(f"Too few marks to tell apart, and therefore not allowed for: {', '.join(missing)}.")
    return tuple(notes)
