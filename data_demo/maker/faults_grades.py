"""Faults planted in the graders' files."""

from __future__ import annotations

import datetime as dt

from data_demo.maker.grade_files import QUELL, RUSK, THACKRAY, initial_last, number_last
from data_demo.maker.paper import Cell, Sheet
from data_demo.maker.planting import Planter
from data_demo.maker.season import SimulatedSeason
from data_demo.maker.world import PLAYERS, SESSIONS

SHIFTED = "vs Ketterdale"
"""The game at which the third coach counted one snap too many, undeclared."""


def plant_in_rusk(planter: Planter) -> None:
    """Plant faults in the long CSV: names, clips, marks, doubles, comments, totals."""
    rows = planter.sheet(RUSK).rows
    planter.papers[RUSK].encoding, planter.papers[RUSK].end = "utf-8-sig", "\r\n"
    rows.insert(400, ["# exported again after the staff meeting"])
    planter.note((RUSK, "", 401, 1), rows[400][0], "used", "", "comment row, declared")
    planter.note((RUSK, "", 0, 0), "", "used", "", "byte order mark and Windows line ends")
    first = _first_game_row(rows)
    spots = iter(range(first + 3, first + 4000, 97))
    _change(planter, next(spots), 3, "Marchetti Vancee, Teo", "unknown_player", "misspelt name")
    _change(planter, next(spots), 3, "D. Achterberg", "unknown_player", "initial of two brothers")
    _change(planter, next(spots), 1, "Game 31", "unknown_game", "game that was not played")
    _change(planter, next(spots), 2, "199", "play_not_listed", "clip that is not in the list")
    _change(planter, next(spots), 2, "twelve", "play_number_unreadable", "clip in words")
    _change(planter, next(spots), 4, "Pad level", "unknown_criterion", "criterion not in the rubric")
    _change(planter, next(spots), 5, "3", "unknown_mark", "mark that is not on the scale")
    _change(planter, next(spots), 5, "1.5", "unknown_mark", "mark between two of the scale")
    _change(planter, next(spots), 3, "", "player_missing", "no name")
    _change(planter, next(spots), 1, "", "game_missing", "no session")
    _change(planter, next(spots), 4, "", "criterion_missing", "no criterion")
    row = next(spots)
    planter.change((RUSK, "", row + 1, 5), "2.0", "used", "", "mark stored as a float")
    row = next(n for n in range(first + 2000, len(rows)) if rows[n][2] == "Marchetti-Vance, Teo")
    planter.change((RUSK, "", row + 1, 3), "TEO MARCHETTI–VANCE", "used", "", "capitals and an en dash")
    row = next(spots)
    planter.change(
        (RUSK, "", row + 1, 3), "Coach's note: see film", "set_aside", "unknown_player", "words for a name"
    )
    _doubles(planter, first)
    number = planter.append(RUSK, ["Total", "", "", "", "31240", "", "", ""])
    planter.note((RUSK, "", number, 1), "Total", "used", "", "totals at the bottom, declared")


def _first_game_row(rows: list[list[Cell]]) -> int:
    return next(n for n, row in enumerate(rows) if row[0] == "Game 01")


def _change(planter: Planter, index: int, column: int, value: str, reason: str, what: str) -> None:
    planter.change((RUSK, "", index + 1, column), value, "set_aside", reason, what)


def _doubles(planter: Planter, first: int) -> None:
    """Plant the same row twice, and two rows that disagree."""
    rows = planter.sheet(RUSK).rows
    marked = [
        n for n in range(first + 4200, first + 4400) if rows[n][4] in {"0", "1", "2"} and not rows[n][7]
    ]
    same, other = marked[0], marked[40]
    number = planter.append(RUSK, list(rows[same]))
    planter.note((RUSK, "", number, 2), "", "set_aside", "duplicate_row", "the same row again")
    clash = list(rows[other])
    clash[4] = "0" if clash[4] != "0" else "2"
    number = planter.append(RUSK, clash)
    planter.note(
        (RUSK, "", number, 5), clash[4], "set_aside", "conflicting_marks", "the same play marked otherwise"
    )
    planter.note(
        (RUSK, "", other + 1, 5), rows[other][4], "set_aside", "conflicting_marks", "and its other half"
    )


def plant_on_nullified(planter: Planter, clip: int, label: str, player: str) -> None:
    """Plant a mark on a play that was wiped out by a penalty."""
    number = planter.append(RUSK, [label, clip, player, "Alignment", "2", "", "", ""])
    planter.note((RUSK, "", number, 2), clip, "notice", "nullified_play", "mark on a nullified play")


def plant_off_field(planter: Planter, label: str, clip: int, player: str, player_id: str) -> None:
    """Plant a mark for a player who was not on the field."""
    number = planter.append(RUSK, [label, clip, player, "Stance", "1", "", "", ""])
    planter.note((RUSK, "", number, 3), player_id, "notice", "not_on_field", "player was not on the field")


def plant_in_thackray(planter: Planter) -> None:
    """Plant what spreadsheets do: colours, notes, hidden rows and sheets, dates, errors, formulas."""
    book = planter.papers[THACKRAY]
    one, two, three, four = (
        s for s in book.sheets if s.name[0] == "G" and s.name[1:3] in {"01", "02", "03", "04"}
    )
    for column, value, reason, what in (
        (2, "#REF!", "error_cell", "cell that shows an error"),
        (3, "=C4+D4", "formula_without_value", "formula whose result was never stored"),
    ):
        one.rows[9][column] = value if reason == "error_cell" else None
        if reason == "formula_without_value":
            one.formulas[9, column] = value
        planter.note((THACKRAY, one.name, 10, column + 1), value, "set_aside", reason, what)
    one.dates[10, 4] = dt.date(2025, 1, 2)
    one.rows[10][4] = 0
    planter.note(
        (THACKRAY, one.name, 11, 5), "2025-01-02", "set_aside", "date_for_value", "1-2 typed, a date stored"
    )
    one.looks[12, 6] = "fill"
    planter.note((THACKRAY, one.name, 13, 7), one.rows[12][6], "notice", "fill_colour", "meaning in a colour")
    one.looks[13, 7] = "strike"
    planter.note(
        (THACKRAY, one.name, 14, 8), one.rows[13][7], "notice", "strikethrough", "mark struck through"
    )
    one.notes[14, 8] = "look at this with Rusk"
    planter.note((THACKRAY, one.name, 15, 9), one.rows[14][8], "notice", "cell_note", "note in a cell")
    two.hidden_rows = [20, 21]
    planter.note((THACKRAY, two.name, 21, 0), "", "notice", "hidden_rows", "rows filtered out")
    two.rows[2].append("OTHER")
    two.rows[3].append("Mood")
    two.rows[6] += [None] * (len(two.rows[3]) - 1 - len(two.rows[6])) + ["good"]
    planter.note(
        (THACKRAY, two.name, 4, 23),
        "OTHER / Mood",
        "notice",
        "column_not_described",
        "column nobody described",
    )
    three.hidden = True
    planter.note((THACKRAY, three.name, 0, 0), "", "notice", "hidden_sheet", "hidden sheet")
    four.rows[0][1] = "Wk 4 vs Varrow Tech"
    planter.note(
        (THACKRAY, four.name, 1, 2), "Wk 4 vs Varrow Tech", "used", "", "week and opponent in one cell"
    )
    number = len(four.rows) + 1
    four.rows.append([None, "AVERAGE", *[1.2] * 20])
    _say_average(planter, four.name, number)
    _more_sheets(planter)


def plant_play_range(planter: Planter, season: SimulatedSeason) -> None:
    """Plant a range of two plays that the spreadsheet took for a day."""
    sheet = next(s for s in planter.papers[THACKRAY].sheets if s.name.startswith("G05"))
    session = next(n for n, s in enumerate(SESSIONS) if s.game_id == "game-05")
    reps = season.film.reps[season.film.reps["session"] == session]
    clips = season.film.plays["clip"].to_numpy()[reps["play"]]
    on = set(zip(clips, reps["player"], strict=True))
    marked = {(row[0], row[1]) for row in sheet.rows[4:]}
    first, player = next(
        (clip, p)
        for clip, p in sorted(on)
        if clip <= 11
        and (clip + 1, p) in on
        and not {(int(c), number_last(PLAYERS[p])) for c in (clip, clip + 1)} & marked
    )
    sheet.rows.append([0, number_last(PLAYERS[player]), 1, 1, *["-"] * 18])
    number = len(sheet.rows)
    day = dt.date(2025, int(first), int(first) + 1)
    sheet.dates[number - 1, 0] = day
    place = (THACKRAY, sheet.name, number, 1)
    planter.note(place, day.isoformat(), "notice", "recovered_from_date", "a range typed, a date stored")


def _say_average(planter: Planter, name: str, number: int) -> None:
    place = (THACKRAY, name, number)
    planter.note((*place, 2), "AVERAGE", "set_aside", "unknown_player", "averages at the bottom")
    planter.note((*place, 1), "", "set_aside", "play_missing", "and no clip beside them")


def _more_sheets(planter: Planter) -> None:
    book = planter.papers[THACKRAY]
    book.sheets.append(Sheet("Depth chart", [["Mike", "Marchetti-Vance"], ["Will", "Le'alofi"]]))
    planter.note(
        (THACKRAY, "Depth chart", 0, 0), "", "set_aside", "undescribed_sheet", "sheet nobody described"
    )
    last = next(s for s in book.sheets if s.name.startswith("G12"))
    twin = Sheet("G13 copy", [list(row) for row in last.rows], list(last.merged))
    book.sheets.append(twin)
    planter.note((THACKRAY, "G13 copy", 0, 0), "", "set_aside", "same_content", "the same sheet twice")


def plant_in_quell(planter: Planter, season: SimulatedSeason) -> None:
    """Plant an undeclared shift of the numbers, nicknames, an abbreviation nobody knows, UTF-16."""
    paper = planter.papers[QUELL]
    paper.encoding = "utf-16"
    planter.note((QUELL, "", 0, 0), "", "used", "", "UTF-16 with a byte order mark")
    moved = _shift(planter, season)
    spot = moved - 300
    what = "abbreviation nobody knows"
    planter.change((QUELL, "", spot + 1, 4), "ZZT", "set_aside", "unknown_criterion", what)
    planter.change(
        (QUELL, "", spot + 32, 3), "Big Teo", "set_aside", "unknown_player", "nickname nobody settled"
    )
    planter.change((QUELL, "", spot + 63, 5), "6", "set_aside", "unknown_mark", "mark beyond the scale")
    planter.change((QUELL, "", spot + 94, 1), "vs Wexcomb", "set_aside", "unknown_game", "opponent misspelt")
    planter.change((QUELL, "", spot + 125, 6), "9", "set_aside", "unknown_look", "look that is none")


def _shift(planter: Planter, season: SimulatedSeason) -> int:
    """Add one to every snap of a game; return its first row. It is said at the first mark off the field."""
    rows = planter.papers[QUELL].rows
    session = next(n for n, s in enumerate(SESSIONS) if f"vs {s.opponent}" == SHIFTED)
    reps, plays = season.film.reps, season.film.plays
    here = reps[reps["session"] == session]
    on = set(zip(plays["snap"].to_numpy()[here["play"]], here["player"], strict=True))
    last = plays.loc[plays["session"] == session, "snap"].max()
    who = {initial_last(p): n for n, p in enumerate(PLAYERS)}
    moved = [n for n, row in enumerate(rows) if row[0] == SHIFTED]
    said = False
    for n in moved:
        rows[n][1] = snap = int(str(rows[n][1])) + 1
        if snap > last:
            what = "and a snap beyond the last"
            planter.note((QUELL, "", n + 1, 2), snap, "set_aside", "play_not_listed", what)
        elif not said and str(rows[n][4]).isdigit() and (snap, who[str(rows[n][2])]) not in on:
            label, what = SESSIONS[session].label, "snaps of a game one too high"
            planter.note((QUELL, "", n + 1, 2), label, "notice", "numbering_shift", what)
            said = True
    return moved[0]
