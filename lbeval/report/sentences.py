"""Sentences of the player's page, each a function of typed rows and each with an id that stays.

No word goes further than the interval behind it: `above` or `below` the standard only where the whole
interval is; otherwise the film "can't tell".
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from lbeval.fit.ratings import GameRow, GradeRow, RaterRow
from lbeval.report import words
from lbeval.report.player_rows import (
    CriterionRow,
    EventRow,
    FilmRow,
    HeadRow,
    PlayerRows,
    RateRow,
    RepsRow,
    RoomRows,
    StageRow,
    YardsRow,
)
from lbeval.report.words import GradeWords

MOST_NAMES = 2
OUTCOMES = {"solo": "solo tackles", "assist": "assists"}


class Claim(NamedTuple):
    """A sentence or two that stand or fall together; `claim_id` never changes, whatever they say."""

    claim_id: str
    text: str


def against(low: float, high: float, standard: float) -> str:
    """Return `above` or `below` where the interval leaves no doubt, else nothing."""
    return "above" if low > standard else "below" if high < standard else ""


def standing(row: GradeRow, film: FilmRow, standard: float, grades: GradeWords, floor: int) -> Claim:
    """Say where he stands against the rubric's standard."""
    claim = "short.standing"
    if film.n_plays == 0 or row.note == "no_film":
        return Claim(claim, "None of his plays was graded in a game this season, so there is no grade.")
    film_words = f"{words.count(film.n_plays, 'play')} in {words.count(film.n_games, 'game')}"
    if row.note == "marks_alike":
        return Claim(
            claim, f"The marks of {film_words} do not differ, so they give no grade with a likely range."
        )
    if not math.isfinite(row.estimate):
        was = "was" if film.n_plays == 1 else "were"
        return Claim(
            claim,
            f"Only {film_words} {was} graded: not enough film for a grade, which takes {floor:,} plays.",
        )
    return Claim(claim, f"Over {film_words} he grades {_against_standard(row, standard, grades)}.")


def room_band(row: GradeRow, room: RoomRows) -> Claim | None:
    """Say where he stands in the room, as a band; staff only."""
    if not (math.isfinite(row.rank_low) and math.isfinite(row.rank_high)) or room.n_ranked < 2:
        return None
    band = words.rank_band(row.rank_low, row.rank_high, room.n_ranked)
    sides = (("ahead of", room.ahead_of), ("behind", room.behind))
    apart = [f"clearly {word} {_named(names)}" for word, names in sides if names]
    left = room.n_ranked - 1 - len(room.ahead_of) - len(room.behind)
    if not apart:
        return Claim(
            "short.room", f"In the room he is likely {band}; nobody can be clearly separated from him."
        )
    rest = "; the rest cannot be clearly separated from him" if left else ""
    return Claim("short.room", f"In the room he is likely {band}, {' and '.join(apart)}{rest}.")


def _named(names: Sequence[str]) -> str:
    return words.listing(names) if len(names) <= MOST_NAMES else f"{len(names)} of the others"


def raw_beside(row: GradeRow, grades: GradeWords) -> Claim | None:
    """Say the unadjusted averages beside the adjusted grade; staff only."""
    if not (math.isfinite(row.estimate) and math.isfinite(row.raw_simple)):
        return None
    places = grades.decimals(row.std_error)
    weighted = ""
    if grades.shown(row.raw, places) != grades.shown(row.raw_simple, places):
        weighted = f", {grades.shown(row.raw, places)} with the rubric's weights"
    return Claim(
        "staff.raw",
        f"The plain average of his marks is {grades.shown(row.raw_simple, places)}{weighted}; adjusted for "
        f"who graded him it is {grades.shown(row.estimate, places)}.",
    )


def coaches(room: RoomRows, grades: GradeWords) -> Claim | None:
    """Say who graded him, how much, and how each marks beside the staff's average; staff only."""
    held = [
        (room.rater_names.get(coach.rater_id, coach.rater_id), coach)
        for coach in sorted(room.coaches, key=lambda one: -one.n_plays)
    ]
    if not held:
        return None
    marks = {row.rater_id: row for row in room.severity if math.isfinite(row.estimate)}
    if len(marks) < 2:
        said = words.listing(f"{name} on {words.count(coach.n_plays, 'play')}" for name, coach in held)
        return Claim("staff.coaches", f"Graded by {said}.")
    said = words.listing(
        f"{name} ({words.count(coach.n_plays, 'play')}) {_beside(marks.get(coach.rater_id), grades)}"
        for name, coach in held
    )
    return Claim("staff.coaches", f"Beside the staff's average, {said}.")


def _beside(row: RaterRow | None, grades: GradeWords) -> str:
    if row is None:
        return "cannot be compared"
    if row.conf_low <= 0 <= row.conf_high:
        return "marks neither higher nor lower that this film can tell"
    places = words.decimals(row.std_error * grades.width)
    low, high = sorted((abs(row.conf_low) * grades.width, abs(row.conf_high) * grades.width))
    word = "higher" if row.estimate > 0 else "lower"
    ends = words.span(words.number(low, places), words.number(high, places))
    return f"marks {grades.apart(row.estimate, places)} {word} (likely {ends})"


def by_game(row: GradeRow, games: Sequence[GameRow], grades: GradeWords) -> Claim:
    """Name the games that stand apart from his season, or the range of all."""
    claim = "short.games"
    known = [game for game in games if math.isfinite(game.estimate)]
    if not math.isfinite(row.estimate) or len(known) < 2:
        return Claim(claim, "There are too few graded games to say whether he changed.")
    high = [game for game in known if game.conf_low > row.estimate]
    low = [game for game in known if game.conf_high < row.estimate]
    if not high and not low:
        best = max(known, key=lambda game: game.estimate)
        worst = min(known, key=lambda game: game.estimate)
        if _shown(best, grades) == _shown(worst, grades):
            least, most = min(game.conf_low for game in known), max(game.conf_high for game in known)
            likely = grades.likely(least, most, grades.decimals(best.std_error))
            return Claim(
                claim,
                f"No game stands out from his season: adjusted, all {len(known)} come to about "
                f"{_shown(best, grades)} ({likely}).",
            )
        return Claim(
            claim,
            f"No game stands out from his season: adjusted, {len(known)} games run from "
            f"{_game(worst, grades)} to {_game(best, grades)}.",
        )
    parts = []
    if high:
        parts.append(f"above his season {_games(high, grades)}")
    if low:
        parts.append(f"below it {_games(low, grades)}" if high else f"below his season {_games(low, grades)}")
    rest = len(known) - len(high) - len(low)
    others = "other game" if rest == 1 else f"other {rest} games"
    tail = f"; the {others} cannot be told from it" if rest else ""
    return Claim(claim, f"Adjusted for who graded, he was {' and '.join(parts)}{tail}.")


def work_on(rows: PlayerRows) -> Claim:
    """Name the one thing to work on: the head before all else, then the group furthest below the standard."""
    claim = "short.work_on"
    grades, standard = rows.grades, rows.standard
    known = [group for group in rows.groups if math.isfinite(group.estimate)]
    first = "First of all: the head up and out of contact, on every snap. " if _head_first(rows) else ""
    if not known:
        return Claim(claim, f"{first}What to work on is for his coaches to say.")
    below = [group for group in known if group.conf_high < standard]
    lowest = min(below or known, key=lambda group: group.estimate)
    label = rows.group_labels[lowest.group]
    said = _against_standard(lowest, standard, grades)
    if not below:
        lead = "Nothing is clearly below the standard; the lowest is"
        return Claim(claim, f"{first}{lead} {_quoted(label)}, {said}.")
    also = "After that, most" if first else "Most"
    start = _start_with(lowest.group, rows.criteria, rows)
    return Claim(claim, f"{first}{also} is to be gained in {_quoted(label)}, {said}.{start}")


def _head_first(rows: PlayerRows) -> bool:
    """Return whether the log has his head down at contact, or a head criterion is below the standard."""
    below = (
        one.conf_high < rows.standard
        for one in rows.criteria
        if rows.rubric[one.criterion].safety and math.isfinite(one.estimate)
    )
    return rows.head.n_log > 0 or any(below)


def _start_with(group: str, criteria: Sequence[CriterionRow], rows: PlayerRows) -> str:
    """Name the lowest criterion of a group where it is below the standard beyond doubt, with its drill."""
    below = [
        one
        for one in criteria
        if one.group == group and math.isfinite(one.estimate) and one.conf_high < rows.standard
    ]
    if len([one for one in criteria if one.group == group]) < 2 or not below:
        return ""
    lowest = min(below, key=lambda one: one.estimate)
    criterion = rows.rubric[lowest.criterion]
    places = rows.grades.decimals(lowest.std_error)
    drill = f"; drill: {criterion.drill}" if criterion.drill else ""
    return (
        f" Start with {_quoted(criterion.label)}: {rows.grades.out_of(lowest.estimate, places)}, "
        f"{rows.grades.likely(lowest.conf_low, lowest.conf_high, places)}{drill}."
    )


def head_contact(row: HeadRow) -> Claim | None:
    """Count every contact with the head down, made or missed; nothing where there was none."""
    if row.n_plays == 0:
        return None
    parts = []
    if row.n_log:
        result = ", ".join(
            f"{many:,} {word}" for many, word in ((row.n_made, "made"), (row.n_missed, "missed")) if many
        )
        parts.append(f"head down on {words.count(row.n_log, 'tackle attempt')} ({result})")
    if row.n_marked:
        of = words.share_of(row.n_marked, row.n_judged, "plays" if row.n_judged != 1 else "play")
        parts.append(f"the lowest mark for head position on {of} marked for it")
    if row.n_outside:
        was = "was" if row.n_outside == 1 else "were"
        parts.append(f"{row.n_outside:,} of {words.count(row.n_plays, 'play')} {was} outside games")
    said = words.sentence_case("; ".join(parts))
    return Claim("head.count", f"{said}. Made or missed, this comes first.")


def tackle_total(row: RateRow) -> Claim:
    """Say how many attempts he made, with the rate where there are enough for one."""
    claim = "tackling.total"
    if row.n_obs == 0:
        return Claim(claim, "The log holds no tackle attempt of his in a game.")
    made = f"He made {words.share_of(row.made, row.n_obs)} tackle attempts"
    if row.note:
        return Claim(claim, f"{made}: too few for a rate.")
    return Claim(claim, f"{made}, {_rate(row)}.")


def tackle_counted(printed: RateRow, other: RateRow | None, not_noted: RateRow | None) -> Claim:
    """Say what counts as made, and the rate on the other count."""
    counted = " and ".join(OUTCOMES[one] for one in printed.denominator.split("+"))
    said = f"Made counts {counted}."
    if other is not None and other.n_obs and other.n_obs != printed.n_obs:
        also = " and ".join(OUTCOMES[one] for one in other.denominator.split("+"))
        said += f" With {also} only: {words.share_of(other.made, other.n_obs)}."
    if not_noted is not None and not_noted.note:
        said += f" The approach was not noted on {not_noted.n_obs:,}."
    return Claim("tackling.counted", said)


def yards(rows: Sequence[YardsRow]) -> list[Claim]:
    """Sum the yards after first contact, with the average where there are enough attempts."""
    parts = []
    for row in rows:
        noun = "tackle made" if row.outcome == "made" else "miss"
        several = "tackles made" if row.outcome == "made" else "misses"
        said = f"{words.number(row.total, 0)} on {words.count(row.n_obs, noun, several)}"
        if not row.note and math.isfinite(row.conf_low):
            places = words.interval_decimals(row.conf_low, row.conf_high)
            low, high = words.number(row.conf_low, places), words.number(row.conf_high, places)
            said += f" ({words.number(row.estimate, places)} each, {words.between(low, high)})"
        parts.append(said)
    return [Claim("tackling.yards", f"Yards after first contact: {words.listing(parts)}.")] if parts else []


def takeons(stages: Sequence[StageRow], reps: RepsRow) -> Claim:
    """Say how many called take-ons there were and at which stage most were lost, as counted."""
    claim = "takeons.reps"
    said = f"{words.count(reps.n_reps, 'called take-on')} in games"
    if len(stages) > 1 and not stages[0].note:
        lost = [(row.n_obs - row.passed, row) for row in stages]
        most = max(many for many, _ in lost)
        where = [row.stage for many, row in lost if many == most]
        said += f"; most were lost at {words.listing(where)} ({most:,}{' each' if len(where) > 1 else ''})"
    if reps.gap_held + reps.gap_lost:
        said += f". The gap was held on {words.share_of(reps.gap_held, reps.gap_held + reps.gap_lost)}"
    return Claim(claim, f"{said}.")


def event_rate(row: EventRow) -> str:
    """Return how often an event happened, for a table: a hundred plays, with its likely range."""
    if not math.isfinite(row.estimate) or row.n_obs == 0:
        return ""
    places = words.interval_decimals(100 * row.conf_low, 100 * row.conf_high)
    low, high = (words.number(100 * end, places) for end in (row.conf_low, row.conf_high))
    return f"{words.number(100 * row.estimate, places)} ({words.span(low, high)})"


def _rate(row: RateRow | StageRow) -> str:
    low, high = words.percent(row.conf_low), words.percent(row.conf_high)
    return f"{words.percent(row.estimate)}, {words.between(low, high)}"


def _against_standard(row: GradeRow, standard: float, grades: GradeWords) -> str:
    places = grades.decimals(row.std_error)
    grade = f"{grades.out_of(row.estimate, places)}, {grades.likely(row.conf_low, row.conf_high, places)}"
    mark = grades.shown(standard, places)
    word = against(row.conf_low, row.conf_high, standard)
    nearest = row.conf_low if word == "above" else row.conf_high
    if word and grades.shown(nearest, places) != mark:
        return f"{grade}: {word} the standard of {mark}"
    return f"{grade}, which this film can't tell from the standard of {mark}"


def _game(game: GameRow, grades: GradeWords) -> str:
    interval = grades.likely(game.conf_low, game.conf_high, grades.decimals(game.std_error))
    return f"{_shown(game, grades)} {_against(game)} ({interval})"


def _shown(game: GameRow, grades: GradeWords) -> str:
    return grades.shown(game.estimate, grades.decimals(game.std_error))


def _games(games: Sequence[GameRow], grades: GradeWords) -> str:
    if len(games) > 2:
        low, high = min(game.conf_low for game in games), max(game.conf_high for game in games)
        likely = grades.likely(low, high, grades.decimals(games[0].std_error))
        return f"in {len(games)} games ({likely})"
    return words.listing([f"{_against(game)} ({_figures(game, grades)})" for game in games])


def _figures(game: GameRow, grades: GradeWords) -> str:
    interval = grades.likely(game.conf_low, game.conf_high, grades.decimals(game.std_error))
    return f"{_shown(game, grades)}, {interval}"


def _against(game: GameRow) -> str:
    return f"against {game.opponent}" if game.opponent else f"in {game.label}"


def _quoted(label: str) -> str:
    return f"\N{LEFT DOUBLE QUOTATION MARK}{label}\N{RIGHT DOUBLE QUOTATION MARK}"
