"""Writes the demo seasons: the staff's files, their settings, and the truth beside them."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from pathlib import Path
from typing import Any

from data_demo.maker.film_files import film_papers
from data_demo.maker.grade_files import ASKED, QUELL, grade_papers
from data_demo.maker.paper import Cell, Paper, Sheet, write_paper
from data_demo.maker.people_files import people_papers
from data_demo.maker.practice_files import practice_paper
from data_demo.maker.season import SimulatedSeason
from data_demo.maker.settings import rubric_toml, season_toml, source_text
from data_demo.maker.small import SmallSeason
from data_demo.maker.small_files import small_papers, small_season_toml
from lbeval.pipeline import load_season, write_to_settle
from lbeval.raw import SETTLE_HEADINGS


def full_papers(season: SimulatedSeason) -> list[Paper]:
    """Return the staff's files of the full season."""
    return [
        *grade_papers(season),
        *film_papers(season),
        *people_papers(season.seed),
        practice_paper(season.seed),
    ]


def write_full(folder: Path, season: SimulatedSeason) -> None:
    """Write the full season into `folder`, which is emptied before."""
    empty_folder(folder)
    papers = full_papers(season)
    for paper in papers:
        write_paper(folder, paper)
    write_text(folder / "remarks.md", source_text("remarks.md"))
    write_text(folder / "season.toml", season_toml())
    write_text(folder / "rubric.toml", rubric_toml())
    write_paper(folder, settled_paper(papers))
    settle(folder)


def settled_paper(papers: list[Paper]) -> Paper:
    """Return `to_settle.xlsx` with the staff's answers for the names that nobody could know."""
    counts = _counts(papers)
    rows: list[list[Cell]] = [list(SETTLE_HEADINGS)]
    rows += [["player", "", written, counts.get(written, 0), "", full] for written, full in ASKED]
    return Paper("to_settle.xlsx", [Sheet("To settle", rows)])


def settle(folder: Path) -> None:
    """Let the tool write `to_settle.xlsx` over with the same answers, so that a run leaves it as it is."""
    write_to_settle(load_season(folder))


def write_small(folder: Path, season: SmallSeason) -> None:
    """Write the small season into `folder`, which is emptied before."""
    empty_folder(folder)
    for paper in small_papers(season):
        write_paper(folder, paper)
    write_text(folder / "season.toml", small_season_toml())
    write_text(folder / "rubric.toml", source_text("small_rubric.toml"))


def write_truth(path: Path, truth: dict[str, Any]) -> None:
    """Write what a fit should find, beside the season's folder and never in it."""
    write_text(path, json.dumps(truth, indent=1, ensure_ascii=False) + "\n")


def _counts(papers: list[Paper]) -> dict[str, int]:
    """Return how often the third coach wrote each name."""
    rows = next(p for p in papers if p.file == QUELL).rows[1:]
    return Counter(str(row[2]) for row in rows)


def empty_folder(folder: Path) -> None:
    """Make `folder` anew."""
    if folder.exists():
        shutil.rmtree(folder)
    folder.mkdir(parents=True)


def write_text(path: Path, text: str) -> None:
    """Write a text file, the same on every system."""
    path.write_text(text, encoding="utf-8", newline="\n")
