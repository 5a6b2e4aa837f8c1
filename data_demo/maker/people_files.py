"""Roster, test results and prospects, with measurements as people write them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from data_demo.maker.effects import stream
from data_demo.maker.paper import Cell, Paper, Sheet, text_paper
from data_demo.maker.world import PLAYERS, SEASON_NUMBERS_FROM, YEAR

ROSTER, TESTS, PROSPECTS = "roster/roster.csv", "roster/tests.csv", "roster/prospects.xlsx"
TEST_DAYS = (dt.date(YEAR, 3, 10), dt.date(YEAR, 8, 2))


class Prospect(NamedTuple):
    """A prospect; all invented."""

    name: str
    position: str
    class_year: str
    seasons_left: int
    birth_month: str
    level: str
    standing: str
    clock: str


_LARGE, _SMALL = "high school, large schools", "high school, small schools"
PEOPLE: tuple[Prospect, ...] = (
    Prospect("Aurelio Santangiolo", "ILB", "HS 2026", 4, "2008-02", _LARGE, "measured", "electronic"),
    Prospect("Brannoc Fitzhallam", "ILB", "HS 2026", 4, "2007-11", _SMALL, "listed", ""),
    Prospect("Chidubem Eze-Rowntree", "EDGE", "HS 2026", 4, "2008-05", _LARGE, "measured", "electronic"),
    Prospect("Dov Perlmutter-Oakes", "OLB", "HS 2026", 4, "2008-01", _LARGE, "self-reported", "hand"),
    Prospect("Everett N'Dourou", "ILB", "HS 2026", 4, "2007-09", _SMALL, "measured", "hand"),
    Prospect("Fernão Quintascal", "OLB", "HS 2026", 4, "2008-07", _LARGE, "measured", "electronic"),
    Prospect("Gideon Maasdorpe", "EDGE", "HS 2027", 4, "2009-03", _SMALL, "self-reported", "hand"),
    Prospect("Håkon Trøndahl", "ILB", "HS 2026", 4, "2007-12", _SMALL, "measured", "hand"),
    Prospect("Isaia Tuimavavega", "EDGE", "HS 2026", 4, "2008-04", _LARGE, "measured", "electronic"),
    Prospect("Jerrick St. Auberre", "ILB", "HS 2026", 4, "2008-06", _LARGE, "listed", ""),
    Prospect(
        "Kasimir Dobrowolny", "ILB", "Transfer", 2, "2004-10", "college, first tier", "measured", "electronic"
    ),
    Prospect(
        "Lucius Obafemi-Crane", "OLB", "Transfer", 1, "2003-12", "college, second tier", "measured", "hand"
    ),
)


class Body(NamedTuple):
    """Measurements and tests in inches, pounds, seconds and reps."""

    height: float
    weight: float
    arm: float
    hand: float
    wingspan: float
    ten: float
    forty: float
    shuttle: float
    three_cone: float
    vertical: float
    broad: float
    bench: int


def people_papers(seed: int) -> list[Paper]:
    """Return the roster, the room's test results and the prospects' workbook."""
    rng = stream(seed, 7)
    return [_roster(), _tests(rng), _prospects(rng)]


def _roster() -> Paper:
    rows: list[list[Cell]] = [["Name", "No.", "From", "Until", "Pos", "Class", "Seasons left", "Born"]]
    change, before = SEASON_NUMBERS_FROM, SEASON_NUMBERS_FROM - dt.timedelta(days=1)
    for p in PLAYERS:
        rest: list[Cell] = [p.position, p.class_year, p.seasons_left, p.birth_month]
        if p.spring == p.season:
            rows.append([p.name, p.season, "", "", *rest])
        else:
            rows.append([p.name, p.spring, "", before.isoformat(), *rest])
            rows.append([p.name, p.season, change.isoformat(), "", *rest])
    return text_paper(ROSTER, rows)


def draw_body(rng: np.random.Generator, position: str, *, grown: bool) -> Body:
    """Draw an athlete of a position; those still at school are lighter and slower."""
    size = {"ILB": 0.0, "OLB": 0.3, "EDGE": 1.0}[position]
    young = 0.0 if grown else 1.0
    height = round((72.6 + 1.6 * size + rng.normal(0, 1.1)) * 8) / 8
    speed = rng.normal(0, 1)
    forty = 4.74 + 0.05 * size + 0.08 * young - 0.08 * speed
    return Body(
        height=height,
        weight=round(226 + 12 * size - 14 * young + rng.normal(0, 6)),
        arm=round((31.6 + 0.42 * (height - 73) + rng.normal(0, 0.4)) * 8) / 8,
        hand=round((9.5 + rng.normal(0, 0.3)) * 8) / 8,
        wingspan=round((75.5 + 1.05 * (height - 73) + rng.normal(0, 0.8)) * 8) / 8,
        ten=round(forty * 0.35 + rng.normal(0, 0.015), 2),
        forty=round(forty, 2),
        shuttle=round(4.36 + 0.05 * size + 0.08 * young - 0.06 * speed + rng.normal(0, 0.06), 2),
        three_cone=round(7.12 + 0.07 * size + 0.12 * young - 0.08 * speed + rng.normal(0, 0.1), 2),
        vertical=round((33.5 - 2.5 * young + 1.8 * speed + rng.normal(0, 1.2)) * 2) / 2,
        broad=round(117 - 6 * young + 3 * speed + rng.normal(0, 2)),
        bench=int(max(4, round(20 - 7 * young + rng.normal(0, 3)))),
    )


def height_words(inches: float, style: int) -> str:
    """Return a height as one of the ways it is written: 6031, 6'3 1/8", 6-3, 75.125, 190.8 cm."""
    feet, rest = int(inches // 12), inches % 12
    whole, eighths = int(rest), round(rest % 1 * 8)
    if style == 0:
        return f"{feet}{whole:02d}{eighths}"
    if style == 1:
        return (
            f"{feet}'{whole}"
            + (f" {eighths}/8" if eighths % 2 else f" {_lowest(eighths)}" if eighths else "")
            + '"'
        )
    if style == 2:
        return f"{feet}-{round(rest) % 12}" if round(rest) < 12 else f"{feet + 1}-0"
    return f"{inches:g}" if style == 3 else f"{inches * 2.54:.1f} cm"


def _lowest(eighths: int) -> str:
    return {2: "1/4", 4: "1/2", 6: "3/4"}[eighths]


def length_words(inches: float, style: int) -> str:
    """Return an arm, hand or wingspan as a length code (7168), with a fraction, or with decimals."""
    whole, eighths = int(inches), round(inches % 1 * 8)
    if style == 0:
        return f"{whole:02d}{eighths}8" if eighths else f"{whole:02d}00"
    if style == 1:
        fraction = f" {eighths}/8" if eighths % 2 else f" {_lowest(eighths)}" if eighths else ""
        return f'{whole}{fraction}"'
    return f"{inches:g}"


def _tests(rng: np.random.Generator) -> Paper:
    rows: list[list[Cell]] = [["Name", "Date", "Test", "Result", "Timing", "Standing"]]
    for place, player in enumerate(PLAYERS):
        body = draw_body(rng, player.position, grown=True)
        for day, held in enumerate(TEST_DAYS):
            later = body._replace(weight=body.weight + 3 * day, forty=round(body.forty - 0.02 * day, 2))
            for test, result, timed in _results(later, place):
                timing = ("electronic" if day else "hand") if timed else ""
                rows.append([player.name, held.isoformat(), test, result, timing, "measured"])
    return text_paper(TESTS, rows)


def _results(body: Body, style: int) -> list[tuple[str, str, bool]]:
    """Return test, result as written, whether it is timed."""
    length: Callable[[float], str] = lambda value: length_words(value, style % 3)  # noqa: E731
    return [
        ("Height", height_words(body.height, style % 4), False),
        ("Weight", f"{body.weight:g} lb" if style % 3 == 0 else f"{body.weight:g}", False),
        ("Arm", length(body.arm), False),
        ("Hand", length(body.hand), False),
        ("Wingspan", length(body.wingspan), False),
        ("Ten", f"{body.ten:.2f}", True),
        ("Forty", f"{body.forty:.2f}", True),
        ("Shuttle", f"{body.shuttle:.2f}", True),
        ("Three cone", f"{body.three_cone:.2f}", True),
        ("Vertical", f"{body.vertical:g}" if style % 2 else f'{body.vertical:g}"', False),
        ("Broad", height_words(body.broad, 1) if style % 4 == 1 else f"{body.broad:g}", False),
        ("Bench", str(body.bench), False),
    ]


def _prospects(rng: np.random.Generator) -> Paper:
    people: list[list[Cell]] = [["Name", "Pos", "Class", "Seasons left", "Born", "Level"]]
    people += [[*p[:6]] for p in PEOPLE]
    heads: list[Cell] = ["Name", "Date", "Who says", "Clock", "Height", "Weight", "Arm", "Hand", "Wingspan"]
    tests: list[list[Cell]] = [
        [*heads, "10 yd", "40 yd", "Shuttle", "3-cone", "Vertical", "Broad", "Bench 225"]
    ]
    for place, p in enumerate(PEOPLE):
        body = draw_body(rng, p.position, grown=p.class_year == "Transfer")
        results = [text for _, text, _ in _results(body, place)]
        full = p.standing == "measured"
        if not full:  # what a school lists: height and weight, sometimes a 40
            keep = {0, 1, 6} if p.standing == "self-reported" else {0, 1}
            results = [text if n in keep else "" for n, text in enumerate(results)]
        day = dt.date(YEAR, 6, 7) + dt.timedelta(days=place)
        row: list[Cell] = [p.name, day.isoformat(), p.standing, p.clock]
        tests.append([*row, *(text or None for text in results)])
    return Paper(PROSPECTS, [Sheet("Prospects", people), Sheet("Tests", tests)])
