"""A fourth coach, who kept marks in four ways in two days of camp: every shape a sheet can have."""

from __future__ import annotations

from pathlib import Path

from data_demo.maker.paper import Cell, Paper, Sheet, text_paper
from data_demo.maker.planting import Planter
from data_demo.maker.season import SimulatedSeason
from data_demo.maker.world import PLAYERS, SESSIONS

BOOK, BY_FILE, DISGUISED = "grades/ferro_camp.xlsx", "grades/Camp 02 percent.csv", "grades/ferro_more.xls"
_EDGE = 2


def plant_fourth_coach(planter: Planter, season: SimulatedSeason) -> None:
    """Add his workbook and his file of percentages."""
    planter.papers[BOOK] = Paper(
        BOOK, [_across(planter, season), _tab(planter, season), _percent_cells(planter, season)]
    )
    planter.papers[BY_FILE] = _percent_text(planter, season)


def clips_of(season: SimulatedSeason, game_id: str, player: int) -> list[int]:
    """Return the clips of a session that a player was on."""
    session = next(n for n, s in enumerate(SESSIONS) if s.game_id == game_id)
    reps = season.film.reps
    mine = reps.loc[(reps["session"] == session) & (reps["player"] == player), "play"]
    return [int(clip) for clip in season.film.plays["clip"].to_numpy()[mine]]


def _across(planter: Planter, season: SimulatedSeason) -> Sheet:
    """Return plays down and players across, three marks packed in a cell, the session in the sheet's name."""
    cells = {1: ("++-", "+–+", "++"), 0: ("-+-(MA)", "- - +"), 4: ("+/+/-", "x")}
    heads: list[Cell] = ["Clip", "Le'alofi", "#44", "Ibarrondo"]
    marks = {
        (clip, p): mark
        for p, texts in cells.items()
        for clip, mark in zip(clips_of(season, "camp-01", p), texts, strict=False)
    }
    clips = sorted({clip for clip, _ in marks})
    rows: list[list[Cell]] = [heads]
    rows += [[clip, *(marks.get((clip, p)) for p in cells)] for clip in clips]
    for n, row in enumerate(rows[1:], 2):
        for c, cell in enumerate(row[1:], 2):
            if cell == "+–+":
                planter.note(
                    (BOOK, "Camp 01", n, c), cell, "used", "", "packed cell with an en dash for minus"
                )
            elif cell == "-+-(MA)":
                planter.note((BOOK, "Camp 01", n, c), cell, "used", "", "packed cell with a code behind it")
            elif cell == "++":
                what = "packed cell with a mark too few"
                planter.note((BOOK, "Camp 01", n, c), cell, "set_aside", "packed_cell_unreadable", what)
    return Sheet("Camp 01", rows)


def _tab(planter: Planter, season: SimulatedSeason) -> Sheet:
    """Return a sheet with one player's name."""
    first, second = clips_of(season, "camp-02", _EDGE)[:2]
    rows: list[list[Cell]] = [["Session", "Clip", "Fit", "Key"]]
    rows += [["Camp 02", first, "✓", "½"], ["Camp 02", second, "✗", "✓"]]
    planter.note((BOOK, "Okonjo-Bell", 2, 4), "½", "used", "", "a half as one character, a tab a player")
    return Sheet("Okonjo-Bell", rows)


def _percent_cells(planter: Planter, season: SimulatedSeason) -> Sheet:
    """Return numbers that a spreadsheet shows as percent."""
    clip = clips_of(season, "camp-02", _EDGE)[2]
    rows: list[list[Cell]] = [["Session", "Clip", "Player", "Key"], ["Camp 02", clip, "Okonjo-Bell", 0.855]]
    planter.note((BOOK, "Pct", 2, 4), "85.5%", "used", "", "number formatted as percent")
    return Sheet("Pct", rows, looks={(1, 3): "percent"})


def _percent_text(planter: Planter, season: SimulatedSeason) -> Paper:
    """Return percentages with a decimal comma; the session is in the file's name."""
    clips = clips_of(season, "camp-02", _EDGE)[3:7]
    marks = ("85,5 %", "70", "0,8", "112")
    rows: list[list[Cell]] = [["Clip", "Player", "Key read"]]
    rows += [[clip, "Okonjo-Bell", mark] for clip, mark in zip(clips, marks, strict=True)]
    planter.note((BY_FILE, "", 2, 3), "85,5 %", "used", "", "percent with a decimal comma")
    planter.note((BY_FILE, "", 4, 3), "0,8", "set_aside", "unknown_mark", "0.8 or 80 percent")
    planter.note((BY_FILE, "", 5, 3), "112", "set_aside", "unknown_mark", "more than 100 percent")
    return text_paper(BY_FILE, rows, ";")


def write_disguised(folder: Path, planter: Planter, season: SimulatedSeason) -> None:
    """Write text that is named a workbook, as some exports are."""
    clip = clips_of(season, "camp-02", _EDGE)[7]
    text = f"Session\tClip\tPlayer\tKey\nCamp 02\t{clip}\t{PLAYERS[_EDGE].last}\t✓\n"
    (folder / DISGUISED).write_bytes(text.encode("utf-16"))
    planter.note((DISGUISED, "", 0, 0), "", "notice", "text_named_workbook", "text with a workbook's name")
