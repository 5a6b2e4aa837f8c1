"""The charts of a player's page: from his rows to `lbeval.report.figures`."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lbeval.fit.ratings import GradeRow
from lbeval.fit.tackling import NOT_NOTED
from lbeval.fit.takeons import STAGES
from lbeval.report import figures, words
from lbeval.report.figures import Axis, DotRow, GamePoint, NumberColumn
from lbeval.report.pictures import FigureBlock
from lbeval.report.player_rows import PlayerRows, RateRow, StageRow

APPROACHES = {
    "all": "All tackles",
    "straight_on": "Straight on",
    "angle": "From an angle",
    "pursuit": "In pursuit",
    NOT_NOTED: "Approach not noted",
}
NO_GRADE = {"not_enough_film": "not enough film", "no_film": "no film", "marks_alike": "marks all alike"}
WIDE = 3.45
"""Inches of a chart with a table beside it."""


def groups(rows: PlayerRows) -> FigureBlock:
    """Draw the overall grade and that of each group, the standard behind them."""
    grades = rows.grades
    held = (rows.overall, *rows.groups)
    places = grades.column_decimals([row.std_error for row in held])
    spread = rows.room.spread if rows.room else {}
    dots = [_group_row(rows, row, places, spread.get(row.group, ())) for row in held]
    columns = [NumberColumn("plays", 0.5), NumberColumn("grade", 0.5), NumberColumn("likely", 0.85)]
    if rows.room:
        columns.append(NumberColumn("unadjusted", 0.72))
    said = "; ".join(f"{dot.label} {_read_out(columns, dot)}" for dot in dots)
    return figures.dot_chart(
        dots,
        _grade_axis(rows, [value for dot in dots for value in (*dot[1:5], *dot.room)]),
        columns,
        alt=f"Grade with likely range by part of the game, the standard {_standard(rows)} behind it. {said}.",
        legend="dot: grade; tick: unadjusted" + ("; grey: the others" if rows.room else ""),
        label_width=1.85 if not rows.room else 2.1,
    )


def _read_out(columns: Sequence[NumberColumn], dot: DotRow) -> str:
    pairs = zip(columns, dot.cells, strict=True)
    return ", ".join(f"{column.head} {cell}" for column, cell in pairs if cell)


def _group_row(rows: PlayerRows, row: GradeRow, places: int, room: Sequence[float]) -> DotRow:
    grades = rows.grades
    known = math.isfinite(row.estimate)
    cells = [
        f"{row.n_plays:,}",
        grades.shown(row.estimate, places) if known else "",
        grades.range(row.conf_low, row.conf_high, places) if known else NO_GRADE.get(row.note, ""),
    ]
    if rows.room:
        cells.append(grades.shown(row.raw, places) if known else "")
    return DotRow(
        "Overall" if row is rows.overall else rows.group_labels[row.group],
        estimate=grades.place(row.estimate),
        conf_low=grades.place(row.conf_low),
        conf_high=grades.place(row.conf_high),
        raw=grades.place(row.raw),
        room=tuple(grades.place(value) for value in room) if known else (),
        cells=tuple(cells),
    )


def games(rows: PlayerRows) -> FigureBlock:
    """Draw the season game by game."""
    grades = rows.grades
    points = [
        GamePoint(
            game.opponent or game.label,
            estimate=grades.place(game.estimate),
            conf_low=grades.place(game.conf_low),
            conf_high=grades.place(game.conf_high),
            raw=grades.place(game.raw),
        )
        for game in rows.games
    ]
    places = grades.column_decimals([game.std_error for game in rows.games])
    said = "; ".join(
        f"{point.label} {grades.bare(game.estimate, places)}, unadjusted {grades.bare(game.raw, places)}"
        for point, game in zip(points, rows.games, strict=True)
    )
    axis = _grade_axis(rows, [value for point in points for value in point[1:5]])
    return figures.game_chart(
        points,
        axis,
        season=grades.place(rows.overall.estimate),
        alt=f"Grade game by game, adjusted and unadjusted. {said}.",
        caption="Line and band: adjusted grade, likely range. Open points: unadjusted average of the marks.",
    )


def tackles(rows: PlayerRows) -> FigureBlock:
    """Draw the share of tackles made, by approach."""
    his = {row.approach: row for row in rows.tackles if row.denominator == rows.printed}
    room = {
        row.approach: row
        for row in (rows.room.tackles if rows.room else ())
        if row.denominator == rows.printed
    }
    held = [name for name in APPROACHES if name in his and not (name == NOT_NOTED and his[name].note)]
    return _shares(
        [(APPROACHES[name], his[name], his[name].made, room.get(name)) for name in held],
        alt="Tackles made of attempts, with likely range, by approach.",
        head="made",
        label_width=1.2,
        room=rows.room is not None,
    )


def takeons(rows: PlayerRows) -> FigureBlock:
    """Draw the share of called take-ons that passes each stage."""
    his = {row.stage: row for row in rows.stages}
    room = {row.stage: row for row in (rows.room.stages if rows.room else ())}
    held = [name for name in STAGES if name in his]
    return _shares(
        [(words.sentence_case(name), his[name], his[name].passed, room.get(name)) for name in held],
        alt="Called take-ons that passed each stage, of those that passed the one before, with likely range.",
        head="passed",
        label_width=0.9,
        room=rows.room is not None,
    )


def _shares(
    held: Sequence[tuple[str, RateRow | StageRow, int, RateRow | StageRow | None]],
    *,
    alt: str,
    head: str,
    label_width: float,
    room: bool,
) -> FigureBlock:
    dots = [
        DotRow(
            label,
            estimate=math.nan if row.note else 100 * row.estimate,
            conf_low=math.nan if row.note else 100 * row.conf_low,
            conf_high=math.nan if row.note else 100 * row.conf_high,
            raw=math.nan,
            room=() if row.note or whole is None else (100 * whole.estimate,),
            cells=(
                words.share_of(many, row.n_obs),
                "" if row.note else words.percent_range(row.conf_low, row.conf_high),
            ),
        )
        for label, row, many, whole in held
    ]
    said = (f"{dot.label} {', '.join(cell for cell in dot.cells if cell)}" for dot in dots)
    values = [value for dot in dots for value in (dot.conf_low, dot.conf_high, *dot.room)]
    low, high = figures.limits(values, least=40.0, low=0.0, high=100.0)
    return figures.dot_chart(
        dots,
        Axis(lambda value, _: words.percent(value / 100), low, high),
        [NumberColumn(head, 0.62), NumberColumn("likely", 0.6)],
        alt=f"{alt} {'; '.join(said)}.",
        legend="grey: the whole room" if room else "",
        width=WIDE,
        label_width=label_width,
    )


def _standard(rows: PlayerRows) -> str:
    errors = [row.std_error for row in (rows.overall, *rows.groups)]
    return rows.grades.shown(rows.standard, rows.grades.column_decimals(errors))


def _grade_axis(rows: PlayerRows, values: Sequence[float]) -> Axis:
    grades = rows.grades
    standard = grades.place(rows.standard)
    low, high = figures.limits([*values, standard], least=0.15 * grades.width, low=0.0, high=grades.width)
    return Axis(grades.tick, low, high, standard, f"standard {_standard(rows)}")
