"""The charts: dots with intervals and lines over games; the player in the accent colour, the room in grey."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from lbeval.report import style
from lbeval.report.parts import Text
from lbeval.report.pictures import FigureBlock

ROW_HEIGHT = 0.2
"""Inches that a row of a dot chart takes."""

_SMALL = 7.0
_GAP = (math.nan, math.nan)


class DotRow(NamedTuple):
    """A row of a dot chart, in the units of its axis; missing numbers are not drawn."""

    label: str
    estimate: float
    conf_low: float
    conf_high: float
    raw: float
    room: tuple[float, ...]
    cells: tuple[str, ...]


class NumberColumn(NamedTuple):
    """A column of numbers beside a dot chart, set flush right; `width` in inches."""

    head: str
    width: float


class GamePoint(NamedTuple):
    """A game of the game-by-game chart; missing numbers are not drawn."""

    label: str
    estimate: float
    conf_low: float
    conf_high: float
    raw: float


@dataclass(frozen=True)
class Axis:
    """The axis that grades or rates are drawn on; `show` makes a label of a value and its decimals."""

    show: Callable[[float, int], str]
    low: float
    high: float
    standard: float = math.nan
    standard_label: str = ""


def dot_chart(
    rows: Sequence[DotRow],
    axis: Axis,
    columns: Sequence[NumberColumn],
    *,
    alt: str,
    caption: Text = "",
    legend: str = "",
    width: float = style.TEXT_WIDTH,
    label_width: float,
) -> FigureBlock:
    """Draw a dot with its interval in each row, between its label and its numbers.

    `legend` stands above the labels, where a caption would cost a line.
    """
    top, bottom = 0.2, 0.2
    shown_width = sum(column.width for column in columns) + 0.04
    with style.figure_style():
        figure, axes = style.new_figure(
            width=width,
            height=top + bottom + ROW_HEIGHT * len(rows),
            left=label_width,
            right=shown_width,
            top=top,
            bottom=bottom,
        )
        _frame(axes, axis, len(rows))
        inner = width - label_width - shown_width
        _draw_rows(axes, rows)
        for place, row in enumerate(rows):
            _say(axes, -label_width / inner, place, row.label)
        edge = 1 + 0.04 / inner
        for number, column in enumerate(columns):
            edge += column.width / inner
            _say(axes, edge, -1.0, column.head, ha="right", color=style.MUTED, size=_SMALL)
            for place, row in enumerate(rows):
                color = style.INK if math.isfinite(row.estimate) else style.MUTED
                _say(axes, edge, place, row.cells[number], ha="right", color=color)
        if legend:
            _say(axes, -label_width / inner, -1.0, legend, color=style.MUTED, size=_SMALL)
        return style.figure_block(figure, alt=alt, caption=caption)


def game_chart(
    games: Sequence[GamePoint], axis: Axis, *, season: float, alt: str, caption: Text = ""
) -> FigureBlock:
    """Draw raw marks as light points and the adjusted grade as a line in its band, a game a step."""
    with style.figure_style():
        figure, axes = style.new_figure(height=1.6, left=0.36, right=0.5, top=0.06, bottom=0.34)
        places = list(range(len(games)))
        axes.set_xlim(-0.6, len(games) - 0.4)
        axes.set_ylim(axis.low, axis.high)
        axes.set_yticks(*_ticks(axis))
        axes.tick_params(axis="y", labelcolor=style.MUTED, labelsize=7.5)
        axes.spines["left"].set_visible(False)
        if math.isfinite(axis.standard):
            axes.axhline(axis.standard, color=style.INK, linewidth=0.7, dashes=(4, 2.5))
            axes.text(
                len(games) - 0.34, axis.standard, axis.standard_label.replace(" ", "\n"),
                fontsize=_SMALL, color=style.MUTED, ha="left", va="center", linespacing=0.95,
            )  # fmt: skip
        if math.isfinite(season):
            axes.axhline(season, color=style.RULE, linewidth=0.6)
        _band(axes, games)
        axes.plot(
            places, [game.raw for game in games], linestyle="none", marker="o", markersize=4,
            markerfacecolor="white", markeredgecolor=style.ROOM, markeredgewidth=0.8,
        )  # fmt: skip
        axes.plot(places, [game.estimate for game in games], color=style.ACCENT, marker="o", markersize=3.6)
        letters = _room_for(len(games))
        axes.set_xticks(places, [style.drawable(wrapped(game.label, letters)) for game in games])
        axes.tick_params(axis="x", labelsize=7 if len(games) > 8 else 7.5, labelcolor=style.INK, length=0)
        return style.figure_block(figure, alt=alt, caption=caption)


def wrapped(label: str, width: int) -> str:
    """Break a label into at most two lines of `width` letters; what does not fit ends in an ellipsis."""
    lines = [""]
    for word in label.split():
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= width or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) > 2:
        lines = [lines[0], f"{lines[1]}\N{HORIZONTAL ELLIPSIS}"]
    return "\n".join(
        line if len(line) <= width + 1 else f"{line[:width]}\N{HORIZONTAL ELLIPSIS}" for line in lines
    )


def limits(values: Sequence[float], *, least: float, low: float, high: float) -> tuple[float, float]:
    """Return ends of an axis that hold all finite `values` with a margin, at least `least` apart."""
    known = [value for value in values if math.isfinite(value)] or [(low + high) / 2]
    bottom, top = min(known), max(known)
    margin = max(0.06 * (top - bottom), (least - (top - bottom)) / 2, 0.0)
    return max(low, bottom - margin), min(high, top + margin)


def _frame(axes: Axes, axis: Axis, rows: int) -> None:
    axes.set_xlim(axis.low, axis.high)
    axes.set_ylim(rows - 0.5, -0.5)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xticks(*_ticks(axis))
    across = [part for place in range(rows) for part in ((0.0, place), (1.0, place), _GAP)]
    _lines(axes, across, transform=axes.get_yaxis_transform(), color=style.BAND, linewidth=0.5, zorder=0)
    if math.isfinite(axis.standard):
        axes.axvline(axis.standard, color=style.INK, linewidth=0.7, dashes=(4, 2.5), zorder=1)
        axes.text(
            axis.standard,
            -0.62,
            axis.standard_label,
            fontsize=_SMALL,
            color=style.MUTED,
            ha="center",
            va="bottom",
        )


def _draw_rows(axes: Axes, rows: Sequence[DotRow]) -> None:
    """Draw all rows at once: an artist a kind of mark, not one a mark, which would cost most of the time."""
    known = [(place, row) for place, row in enumerate(rows) if math.isfinite(row.estimate)]
    room = [(value, place) for place, row in enumerate(rows) for value in row.room]
    ranges = [part for y, row in known for part in ((row.conf_low, y), (row.conf_high, y), _GAP)]
    raw = [part for y, row in known for part in ((row.raw, y - 0.3), (row.raw, y + 0.3), _GAP)]
    _dots(axes, room, markersize=4, color=style.ROOM, markeredgewidth=0, alpha=0.55, zorder=2)
    _lines(axes, ranges, color=style.ACCENT, linewidth=1.6, solid_capstyle="butt", zorder=3)
    _dots(
        axes, [(row.estimate, y) for y, row in known], markersize=6, color=style.ACCENT,
        markeredgecolor="white", markeredgewidth=0.7, zorder=4,
    )  # fmt: skip
    _lines(axes, raw, color=style.INK, linewidth=0.9, zorder=5)


def _lines(axes: Axes, points: Sequence[tuple[float, float]], **looks: Any) -> None:
    if points:
        axes.plot(*zip(*points, strict=True), **looks)


def _dots(axes: Axes, points: Sequence[tuple[float, float]], **looks: Any) -> None:
    _lines(axes, points, linestyle="none", marker="o", **looks)


def _say(
    axes: Axes, x: float, y: float, text: str, *, ha: str = "left", color: str = style.INK, size: float = 8.5
) -> None:
    """Write at `x` (a share of the axes' width) in row `y`."""
    axes.text(
        x, y, style.drawable(text), transform=axes.get_yaxis_transform(), ha=ha, va="center", fontsize=size,
        color=color, clip_on=False,
    )  # fmt: skip


def _ticks(axis: Axis) -> tuple[list[float], list[str]]:
    """Return some four round places of the axis, all labelled with the same decimals."""
    places = MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]).tick_values(axis.low, axis.high)
    step = places[1] - places[0]
    inside = [float(one) for one in places if axis.low - step / 1e6 <= one <= axis.high + step / 1e6]
    decimals = next(many for many in range(9) if many == 8 or math.isclose(round(step, many), step))
    return inside, [axis.show(one, decimals) for one in inside]


def _band(axes: Axes, games: Sequence[GamePoint]) -> None:
    """Shade the band, and leave it open where a game has no adjusted grade."""
    known = [math.isfinite(game.estimate) for game in games]
    axes.fill_between(
        range(len(games)), [game.conf_low for game in games], [game.conf_high for game in games],
        where=known, color=style.ACCENT, alpha=0.14, linewidth=0,
    )  # fmt: skip


def _room_for(games: int) -> int:
    """Return how many letters of a label fit under a game."""
    return max(6, min(16, 108 // max(games, 1)))
