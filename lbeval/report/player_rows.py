"""What a player's page may show, picked out of an analysis as typed rows; nothing is computed here.

Rows of team-mates are in `RoomRows`, which a player's own copy does not get.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias, TypeVar

import pandas as pd

from lbeval.analysis import Analysis
from lbeval.errors import ReportError
from lbeval.fit.events import OUTSIDE
from lbeval.fit.ratings import OVERALL, GameRow, GradeRow, RaterRow, RatingsFit
from lbeval.report.words import GradeWords
from lbeval.settings import Criterion, Fault, House
from lbeval.spelling import fold

Copy: TypeAlias = Literal["player", "staff"]


class Person(NamedTuple):
    """A player of the roster."""

    player_id: str
    name: str
    jersey: str
    position: str
    class_year: str


class CriterionRow(NamedTuple):
    """His grade in one criterion."""

    criterion: str
    group: str
    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    n_plays: int
    note: str


class FilmRow(NamedTuple):
    """How much film there is of him."""

    n_snaps: int
    n_plays: int
    n_games: int
    n_raters: int
    n_marks: int
    note: str


class HeadRow(NamedTuple):
    """Contacts with the head down; see `lbeval.fit.tackling.TacklingFit.head`."""

    n_plays: int
    n_log: int
    n_made: int
    n_missed: int
    n_marked: int
    n_judged: int
    n_outside: int
    n_noted: int


class RateRow(NamedTuple):
    """Tackles made of attempts, by approach."""

    approach: str
    denominator: str
    made: int
    missed: int
    n_obs: int
    estimate: float
    conf_low: float
    conf_high: float
    note: str


class FaultRow(NamedTuple):
    """A fault noted on tackle attempts."""

    fault: str
    safety: bool
    attempts: int
    made: int
    missed: int
    n_obs: int
    n_missed: int


class YardsRow(NamedTuple):
    """Yards after first contact, on tackles made or missed."""

    outcome: str
    total: float
    n_obs: int
    estimate: float
    conf_low: float
    conf_high: float
    note: str


class StageRow(NamedTuple):
    """Called take-ons that passed a stage, of those that passed the one before."""

    stage: str
    passed: int
    n_obs: int
    estimate: float
    conf_low: float
    conf_high: float
    note: str


class RepsRow(NamedTuple):
    """His called take-ons."""

    n_reps: int
    n_out_of_order: int
    gap_held: int
    gap_lost: int


class EventRow(NamedTuple):
    """Events of one kind."""

    kind: str
    n_events: int
    n_games: int
    n_obs: int
    base: str
    estimate: float
    conf_low: float
    conf_high: float


class RoleRow(NamedTuple):
    """Plays in a role."""

    role: str
    n_plays: int
    n_at_point: int


class CoachRow(NamedTuple):
    """How much of his film a coach graded."""

    rater_id: str
    n_plays: int
    n_marks: int


class Remark(NamedTuple):
    """A coach's words."""

    section: str
    text: str


@dataclass(frozen=True)
class RoomRows:
    """What only the staff's copy shows."""

    n_ranked: int
    spread: Mapping[str, tuple[float, ...]]
    ahead_of: tuple[str, ...]
    behind: tuple[str, ...]
    coaches: tuple[CoachRow, ...]
    severity: tuple[RaterRow, ...]
    rater_names: Mapping[str, str]
    tackles: tuple[RateRow, ...]
    stages: tuple[StageRow, ...]


@dataclass(frozen=True)
class PlayerRows:
    """Everything a player's page shows."""

    copy: Copy
    person: Person
    house: House
    grades: GradeWords
    standard: float
    group_labels: Mapping[str, str]
    rubric: Mapping[str, Criterion]
    fault_words: Mapping[str, Fault]
    film: FilmRow
    outside: FilmRow
    overall: GradeRow
    groups: tuple[GradeRow, ...]
    criteria: tuple[CriterionRow, ...]
    games: tuple[GameRow, ...]
    head: HeadRow
    tackles: tuple[RateRow, ...]
    faults: tuple[FaultRow, ...]
    yards: tuple[YardsRow, ...]
    printed: str
    stages: tuple[StageRow, ...]
    reps: RepsRow | None
    roles: tuple[RoleRow, ...]
    events: tuple[EventRow, ...]
    remarks: tuple[Remark, ...]
    remarks_kept_back: int
    log_kept: bool
    events_kept: tuple[str, ...]
    level: float
    room: RoomRows | None


_Row = TypeVar("_Row", bound=tuple)  # type: ignore[type-arg]


def rows_of(kind: type[_Row], frame: pd.DataFrame) -> tuple[_Row, ...]:
    """Return the rows of `frame` as named tuples of `kind`, which names the columns."""
    columns: list[str] = list(kind._fields)  # type: ignore[attr-defined]
    return tuple(kind(*record) for record in frame[columns].itertuples(index=False, name=None))


def player_rows(analysis: Analysis, player_id: str, copy: Copy) -> PlayerRows:
    """Pick out of `analysis` what the page of a player shows.

    Raises
    ------
    ReportError
        If he is not on the roster, or `copy` is neither `player` nor `staff`.
    """
    if copy not in {"player", "staff"}:
        msg = f"copy is {copy!r}; say player or staff"
        raise ReportError(msg)
    season, ratings = analysis.season, analysis.ratings
    roster = season.players[season.players["status"] == "roster"]
    found = rows_of(Person, roster[roster["player_id"] == player_id])
    if not found:
        msg = f"{player_id!r} is not on the roster; it has {', '.join(sorted(roster['player_id']))}"
        raise ReportError(msg)

    def his(frame: pd.DataFrame) -> pd.DataFrame:
        return frame[frame["player_id"] == player_id]

    tackling, takeons, events = analysis.tackling, analysis.takeons, analysis.events
    grades = _grades(ratings, player_id)
    film = his(events.film).set_index("phase", drop=False)
    remarks, kept_back = _remarks(season.remarks, roster, found[0], copy)
    rubric = season.rubric
    return PlayerRows(
        copy=copy,
        person=found[0],
        house=season.settings.house,
        grades=GradeWords.of(season.settings.scales[season.settings.program.grades_on]),
        standard=rubric.standard,
        group_labels={group.id: group.label for group in rubric.groups},
        rubric={criterion.id: criterion for criterion in rubric.criteria},
        fault_words=rubric.faults,
        film=rows_of(FilmRow, film.loc[["game"]])[0],
        outside=rows_of(FilmRow, film.loc[[OUTSIDE]])[0],
        overall=next(row for row in grades if row.group == OVERALL),
        groups=tuple(row for row in grades if row.group != OVERALL),
        criteria=rows_of(CriterionRow, his(ratings.criteria)) if ratings else (),
        games=tuple(ratings.game_rows(player_id)) if ratings else (),
        head=rows_of(HeadRow, his(tackling.head))[0],
        tackles=rows_of(RateRow, his(tackling.rates)),
        faults=rows_of(FaultRow, his(tackling.faults)),
        yards=rows_of(YardsRow, his(tackling.yards)),
        printed=tackling.printed,
        stages=rows_of(StageRow, his(takeons.stages)),
        reps=next(iter(rows_of(RepsRow, his(takeons.reps))), None),
        roles=rows_of(RoleRow, his(events.roles)),
        events=rows_of(EventRow, his(events.events)),
        remarks=remarks,
        remarks_kept_back=kept_back,
        log_kept=not season.tackles.empty,
        events_kept=tuple(sorted(set(season.events["kind"]))),
        level=events.level,
        room=_room(analysis, player_id) if copy == "staff" else None,
    )


def _grades(ratings: RatingsFit | None, player_id: str) -> tuple[GradeRow, ...]:
    if ratings is not None:
        return ratings.rows(player_id)
    unknown = math.nan
    return (
        GradeRow(
            player_id, OVERALL, unknown, unknown, unknown, unknown, unknown, unknown, 0, 0, 0, 0, "no_film",
            unknown, unknown, unknown,
        ),
    )  # fmt: skip


def _room(analysis: Analysis, player_id: str) -> RoomRows:
    season, ratings = analysis.season, analysis.ratings
    names = dict(zip(season.players["player_id"], season.players["name"], strict=True))
    spread, ahead_of, behind = {}, (), ()
    if ratings is not None:
        others = ratings.grades[
            ratings.grades["estimate"].notna() & (ratings.grades["player_id"] != player_id)
        ]
        spread = {str(group): tuple(part["estimate"]) for group, part in others.groupby("group")}
        ahead = ratings.pairs[ratings.pairs["ahead"]]
        ahead_of = tuple(names[one] for one in ahead.loc[ahead["player_id"] == player_id, "other_id"])
        behind = tuple(names[one] for one in ahead.loc[ahead["other_id"] == player_id, "player_id"])
    tackling, takeons = analysis.tackling, analysis.takeons
    coaches = analysis.events.raters
    return RoomRows(
        n_ranked=len(ratings.tiers) if ratings else 0,
        spread=spread,
        ahead_of=ahead_of,
        behind=behind,
        coaches=rows_of(CoachRow, coaches[coaches["player_id"] == player_id]),
        severity=ratings.rater_rows() if ratings else (),
        rater_names={key: rater.name for key, rater in season.settings.raters.items()},
        tackles=rows_of(RateRow, tackling.room),
        stages=rows_of(StageRow, takeons.room),
    )


def _remarks(
    remarks: pd.DataFrame, roster: pd.DataFrame, person: Person, copy: Copy
) -> tuple[tuple[Remark, ...], int]:
    """Return his remarks, and how many paragraphs name a team-mate and stay off the player's own copy."""
    held = rows_of(Remark, remarks[remarks["player_id"] == person.player_id])
    if copy == "staff":
        return held, 0
    mates = roster.loc[roster["player_id"] != person.player_id, "name"].tolist()
    own = _name_words(person.name)
    last = {word for name in mates for word in _name_words(name)[1:]} - set(own)
    first = {_name_words(name)[0] for name in mates if _name_words(name)} - set(own)
    shown, kept_back = [], 0
    for remark in held:
        paragraphs = _BLANK_LINES.split(remark.text)
        allowed = [one for one in paragraphs if not _names_someone(one, first, last)]
        kept_back += len(paragraphs) - len(allowed)
        if allowed:
            shown.append(Remark(remark.section, "\n\n".join(allowed)))
    return tuple(shown), kept_back


def _name_words(name: str) -> list[str]:
    """Return the words of a name, the first name first, a double name also by its halves."""
    last, comma, first = name.partition(",")
    words = _CAPITALS.findall(f"{first} {last}" if comma else name)
    halves = [half for word in words[1:] for half in word.split("-") if "-" in word]
    return [fold(word) for word in (*words, *halves) if fold(word) not in _SUFFIXES]


def _names_someone(text: str, first: set[str], last: set[str]) -> bool:
    """Return whether `text` holds a last name, or a first name that does not merely begin a sentence.

    Names may also be everyday words, so only words written with a capital count.
    """
    plain = text.replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    for found in _CAPITALS.finditer(plain):
        word = fold(found.group().removesuffix("'s"))
        if word in last or set(word.split("-")) & last:
            return True
        if word in first and _INSIDE.search(plain[: found.start()]):
            return True
    return False


_CAPITALS = re.compile(r"(?<![^\W_])[^\W\d_a-z][\w'-]*")
_INSIDE = re.compile(r"[\w,;:)] +[*_]*$")
_BLANK_LINES = re.compile(r"\n\s*\n")
_SUFFIXES = frozenset({"jr", "sr", "ii", "iii", "iv"})
