from __future__ import annotations

import math

from lbeval.report.figures import (
    Axis,
    DotRow,
    GamePoint,
    NumberColumn,
    dot_chart,
    game_chart,
    limits,
    wrapped,
)

AXIS = Axis(lambda value, places: f"{value:.{places}f}", 0.0, 2.0, 1.3, "standard 1.3")
NAN = math.nan
COLUMNS = [NumberColumn("grade", 0.5)]
HOSTILE = "<&>\"'$x$ \\frac 漢字 \x07 😀"


def dots() -> list[DotRow]:
    return [
        DotRow("Known", 1.2, 1.0, 1.4, 1.3, (1.1, 1.5), ("1.2",)),
        DotRow("Unknown", NAN, NAN, NAN, NAN, (), ("",)),
    ]


def test_a_chart_is_the_same_bytes_twice() -> None:
    first = dot_chart(dots(), AXIS, COLUMNS, alt="a", label_width=1.5)
    second = dot_chart(dots(), AXIS, COLUMNS, alt="a", label_width=1.5)
    assert first == second
    games = [GamePoint("Dunmere", 1.2, 1.0, 1.4, 1.3), GamePoint("Sable", 1.0, 0.9, 1.1, 0.8)]
    assert game_chart(games, AXIS, season=1.1, alt="a") == game_chart(games, AXIS, season=1.1, alt="a")


def test_what_is_not_known_is_not_drawn() -> None:
    known = dot_chart(dots()[:1], AXIS, COLUMNS, alt="a", label_width=1.5).svg
    unknown = dot_chart(dots()[1:], AXIS, COLUMNS, alt="a", label_width=1.5).svg
    assert known.count("<use") > unknown.count("<use")
    assert "nan" not in unknown.casefold().replace("unknown", "")


def test_all_games_unknown_still_draws_the_frame() -> None:
    games = [GamePoint(name, NAN, NAN, NAN, NAN) for name in ("A", "B")]
    assert ">1.3</" in game_chart(games, AXIS, season=NAN, alt="a").svg


def test_hostile_labels_are_only_labels() -> None:
    row = dots()[0]._replace(label=HOSTILE, cells=(HOSTILE,))
    svg = dot_chart([row], AXIS, COLUMNS, alt="a", label_width=1.5, legend=HOSTILE).svg
    assert "<&>" not in svg
    assert "\x07" not in svg


def test_limits_hold_every_value_inside_the_scale() -> None:
    low, high = limits([0.2, 1.9, NAN], least=0.3, low=0.0, high=2.0)
    assert low <= 0.2
    assert high >= 1.9
    assert limits([2.0, 2.0], least=0.4, low=0.0, high=2.0)[1] == 2.0
    low, high = limits([NAN], least=0.4, low=0.0, high=2.0)
    assert low < high


def test_labels_wrap_to_two_short_lines() -> None:
    assert wrapped("Port Sable", 9) == "Port\nSable"
    assert wrapped("Dunmere", 9) == "Dunmere"
    assert wrapped("", 9) == ""
    assert max(map(len, wrapped("The University of " + "x" * 500, 9).split("\n"))) <= 10
    assert wrapped("a b c d e f g h i j k l", 3).count("\n") == 1
