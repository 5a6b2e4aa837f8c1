"""Faults planted in the other files, and files that have no business in the folder."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from data_demo.maker.film_files import CLIPS, JOBS, TACKLES, TALLY
from data_demo.maker.paper import Cell, Paper, text_paper, write_paper
from data_demo.maker.people_files import PROSPECTS, TESTS
from data_demo.maker.planting import Fate, Planter
from data_demo.maker.practice_files import DRILLS

HOSTILE = (
    'Ana "#read(1)" O\'Neil-[Şahin] & $x$',
    "=cmd|'/C calc'!A0",
    "<b>Bo</b> \\input{x} Lindqvest",
    "../../etc/Wilbraham",
    "Longinus " + "von und zu " * 900 + "Altenquell",
)
"""Names that print as themselves, whatever they would mean elsewhere."""


def plant_in_film(planter: Planter) -> None:
    """Plant faults in the clip list, the roles, the tackle log and the tally."""
    clips = planter.sheet(CLIPS).rows
    number = planter.append(CLIPS, list(clips[-1]))
    planter.note((CLIPS, "", number, 2), clips[-1][1], "set_aside", "duplicate_row", "the same clip twice")
    other = list(clips[-5])
    other[8] = 4 if other[8] != 4 else 1
    number = planter.append(CLIPS, other)
    planter.note((CLIPS, "", number, 2), other[1], "set_aside", "play_twice", "one clip with two downs")
    planter.change((CLIPS, "", 40, 9), "5", "set_aside", "unreadable_down", "fifth down")
    planter.change((CLIPS, "", 41, 8), "Q", "set_aside", "unknown_play_type", "neither run nor pass")
    jobs = planter.sheet(JOBS).rows
    number = planter.append(JOBS, [*jobs[-1][:4], "elsewhere", *jobs[-1][5:]])
    planter.note((JOBS, "", number, 3), "", "set_aside", "role_twice", "two jobs on one play")
    log = planter.sheet(TACKLES).rows
    planter.change((TACKLES, "", 5, 3), f"{log[4][2]}.0", "used", "", "jersey stored as a float")
    planter.change(
        (TACKLES, "", 6, 6), "knees locked", "set_aside", "unknown_faults", "fault not in the rubric"
    )
    planter.change((TACKLES, "", 7, 3), "88", "set_aside", "unknown_player", "number nobody wore")
    planter.change((TACKLES, "", 8, 4), "half", "set_aside", "unknown_outcome", "outcome nobody declared")
    planter.change(
        (TACKLES, "", 9, 7), "210", "set_aside", "unreadable_yards_after_contact", "impossible yards"
    )
    planter.change((TACKLES, "", 10, 8), "sideways", "set_aside", "unknown_head", "head neither up nor down")
    number = planter.append(TACKLES, list(log[11]))
    planter.note((TACKLES, "", number, 3), "", "set_aside", "duplicate_row", "the same tackle twice")
    planter.change((TALLY, "Tally", 9, 4), "XX", "set_aside", "unknown_kind", "code nobody declared")
    planter.change(
        (TALLY, "Tally", 10, 3), "Achterberg", "set_aside", "unknown_player", "surname of two brothers"
    )


def plant_in_tests(planter: Planter) -> None:
    """Plant measurements as people and spreadsheets write them; the file is in Windows-1252, undeclared."""
    paper = planter.papers[TESTS]
    paper.encoding = "windows-1252"
    first = next(n for n, row in enumerate(paper.rows, 1) if not str(row[0]).isascii())
    planter.note(
        (TESTS, "", first, 0),
        str(paper.rows[first - 1][0]).split()[0],
        "notice",
        "encoding_assumed",
        "Windows-1252",
    )
    people = ("Teo Marchetti-Vance", "Tavita Le'alofi", "Darnell Achterberg", "Malik Trevanion")

    def put(player: int, test: str, value: str, reason: str, what: str, day: int = 0) -> None:
        rows = [n for n, row in enumerate(paper.rows) if row[0] == people[player] and row[2] == test]
        fate: Fate = "set_aside" if reason else "used"
        planter.change((TESTS, "", rows[day] + 1, 4), value, fate, reason, what)

    put(0, "Height", "6-2 1/8", "", "feet and inches with a dash and eighths")
    put(0, "Height", "2025-06-02", "", "6-2 typed, a date stored", 1)
    put(1, "Height", "5,8", "ambiguous_feet", "5 ft 8 or 5.8 ft")
    put(1, "Height", "6128", "bad_code", "height code with 12 inches", 1)
    put(2, "Height", "6*12", "inches_over_11", "twelve inches beside the feet")
    put(2, "Height", "5 .11", "", "feet, space, point, inches", 1)
    put(3, "Height", "5'10''", "", "two single quotes for inches")
    put(3, "Height", "190 cm", "", "centimetres", 1)
    put(0, "Weight", "2325", "outside_range", "a digit too many")
    put(1, "Weight", "104,3 kg", "", "kilograms with a decimal comma")
    put(0, "Arm", "3120", "", "length code, which would be no height")
    put(1, "Arm", "3198", "bad_code", "length code with nine eighths")
    put(0, "Forty", "0", "zero_is_missing", "a test not taken stored as 0")
    put(1, "Forty", "4.71e", "timing_conflict", "electronic in the cell, hand in its row")
    put(2, "Forty", "4.68 / 4.71", "", "two attempts in a cell")
    put(3, "Forty", "3.91", "outside_range", "nobody is that fast")
    put(0, "Bench", "17.5", "not_whole", "half a repetition")
    put(1, "Bench", "n/a", "no_result", "test not taken")
    put(2, "Vertical", "thirty-three", "not_readable", "number in words")
    put(3, "Broad", "9'8\"", "", "broad jump in feet and inches")
    number = planter.append(TESTS, [people[0], "2025-03-10", "Sled push", "8.2", "", "measured"])
    planter.note((TESTS, "", number, 4), "8.2", "set_aside", "unknown_test", "test without a range")
    number = planter.append(TESTS, [people[3], "2025-09-01", "Ten", "1.95", "hand", "measured"])
    number = planter.append(TESTS, [people[3], "2025-09-01", "Twenty", "1.95", "hand", "measured"])
    planter.note((TESTS, "", number, 4), "1.95", "set_aside", "outside_range", "a 20 as fast as a 10")


def plant_prospects(planter: Planter) -> None:
    """Plant names that would do harm if they were run, and a date that could be two heights."""
    for n, name in enumerate(HOSTILE):
        row: list[Cell] = [name, "ILB", "HS 2026", 4, "2008-01", "high school, small schools"]
        number = planter.append(PROSPECTS, row, "Prospects")
        planter.note(
            (PROSPECTS, "Prospects", number, 1), name, "used", "", "name that means something elsewhere"
        )
        day = dt.date(2025, 7, 1 + n).isoformat()
        planter.append(PROSPECTS, [name, day, "listed", "", "6'1\"", "215"], "Tests")
    sheet = planter.sheet(PROSPECTS, "Tests")
    sheet.dates[3, 4] = dt.date(2025, 5, 6)
    sheet.rows[3][4] = 0
    planter.note(
        (PROSPECTS, "Tests", 4, 5), "2025-05-06", "set_aside", "ambiguous_date", "6-5 or 5-6, a date stored"
    )


def extra_papers(planter: Planter) -> None:
    """Add a file that nobody described, a copy, and drills that cannot be read."""
    file = "practice/cones_to_buy.csv"
    planter.papers[file] = text_paper(file, [["Item", "How many"], ["Cones", 40]])
    planter.note((file, "", 0, 0), "", "set_aside", "undescribed_file", "file nobody described")
    copy = "film/Copy of tally FINAL2.xlsx"
    planter.papers[copy] = Paper(copy, planter.papers[TALLY].sheets)
    planter.note((copy, "Tally", 0, 0), "", "set_aside", "same_content", "the same export twice")
    planter.note((copy, "", 0, 0), "", "notice", "copy_of_file", "a copy by its name")
    number = planter.append(DRILLS, ["Camp 01", "2025-08-04", "camp", "Bags", "many", 10, "bag"])
    planter.note((DRILLS, "", number, 5), "many", "set_aside", "unreadable_reps", "repetitions in words")
    number = planter.append(DRILLS, ["Camp 01", "2025-08-04", "camp", "Bags", 8, 10, "full speed"])
    what = "contact level nobody declared"
    planter.note((DRILLS, "", number, 7), "full speed", "set_aside", "unknown_contact", what)


STRAYS: tuple[tuple[str, bytes, Fate, str, str], ...] = (
    ("grades/~$Thackray games.xlsx", b"\x08Thackray", "notice", "lock_file", "lock file"),
    ("film/whiteboard.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF", "set_aside", "unread_file", "photo"),
    ("film/install.pdf", b"%PDF-1.4\n%%EOF\n", "set_aside", "unread_file", "PDF"),
    ("grades/broken.xlsx", b"PK\x03\x04 cut short", "set_aside", "unreadable_file", "damaged workbook"),
    ("grades/empty.xlsx", b"", "set_aside", "unreadable_file", "file of 0 bytes"),
)
"""Files that are no sheets."""


def write_strays(folder: Path, planter: Planter) -> None:
    """Write a lock file, a photo, a PDF, a damaged workbook and an empty one."""
    for file, data, fate, reason, what in STRAYS:
        path = folder / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        planter.note((file, "", 0, 0), "", fate, reason, what)


def write_planted(folder: Path, planter: Planter) -> None:
    """Write `planted.csv`."""
    rows: list[list[Cell]] = [["file", "sheet", "row", "column", "value", "fate", "reason", "what"]]
    rows += [list(fault) for fault in sorted(planter.faults)]
    write_paper(folder, text_paper("planted.csv", rows))
