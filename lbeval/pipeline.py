"""The one way through: read, tidy, fit, report, print. The page to read first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from lbeval.errors import FitError, ReportError
from lbeval.settings import load_rubric, load_settings
from lbeval.spelling import fold

if TYPE_CHECKING:
    import pandas as pd

    from lbeval.analysis import Analysis
    from lbeval.render.book import Outcome
    from lbeval.tables import Season

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how many steps are done, and how many there are."""

_DRAWS_SEED = 20250
"""Seed of every simulated draw, so that the same season prints the same pages."""


def _silent(step: str, done: int, total: int) -> None:
    """Show nothing."""


def load_season(folder: Path | str, *, progress: Progress = _silent) -> Season:
    """Read and tidy a season folder.

    Parameters
    ----------
    folder : the season folder with `season.toml`, `rubric.toml` and the staff's files.
    progress : called with (what, done, total) as files are read.

    Returns
    -------
    Season
        Checked tables, what was set aside and why, and the ledger of all cells.

    Raises
    ------
    SettingsError
        If a settings file is missing or wrong; a staff's file that cannot be read is set aside instead.
    """
    folder = Path(folder)
    settings, rubric = load_settings(folder), load_rubric(folder)

    from lbeval.read import read_season_files  # after the settings: their errors should not wait for pandas
    from lbeval.tidy import tidy_season

    raw = read_season_files(folder, settings, rubric, progress=progress)
    progress("Sorting out names, plays and marks", 0, 1)
    season = tidy_season(raw, settings, rubric, folder)
    progress("Sorting out names, plays and marks", 1, 1)
    return season


def analyse(season: Season, *, progress: Progress = _silent) -> Analysis:
    """Fit every model once; documents and notebooks only show what is in the result.

    A season without a usable mark of a game has no ratings; the result says why.
    """
    import numpy as np

    from lbeval.analysis import Analysis
    from lbeval.fit.events import fit_events
    from lbeval.fit.ratings import fit_ratings
    from lbeval.fit.tackling import fit_tackling
    from lbeval.fit.takeons import fit_takeons

    ratings, unrated = None, ""
    progress("Weighing the grades", 0, 1)
    try:
        ratings = fit_ratings(
            season.grades,
            season.games,
            season.players,
            season.rubric,
            season.settings,
            rng=np.random.default_rng(_DRAWS_SEED),
        )
    except FitError as error:
        unrated = str(error)
    progress("Weighing the grades", 1, 1)
    return Analysis(season, ratings, fit_tackling(season), fit_events(season), fit_takeons(season), unrated)


def coverage(season: Season) -> pd.DataFrame:
    """Return who has graded how many plays of which session, and who owes some."""
    from lbeval.tidy.coverage import coverage as covered

    return covered(season)


def write_to_settle(season: Season) -> str:
    """Write `to_settle.xlsx` into the season folder if anything waits; return what the user should know."""
    from lbeval.tidy.settle_sheet import write_to_settle as write

    try:
        write(season)
    except ReportError as error:
        return str(error)
    return ""


def write_tables(season: Season, out: Path, *, names: Sequence[str] = ()) -> list[Path]:
    """Write tables (all, or `names`) to `out` as Parquet and CSV, each file whole or not at all."""
    from lbeval.files import write_bytes_atomic
    from lbeval.tables import TABLES

    paths = []
    for name in names or TABLES:
        frame: pd.DataFrame = getattr(season, name)
        for suffix, data in (
            (".parquet", frame.to_parquet(index=False)),
            (".csv", frame.to_csv(index=False, lineterminator="\n").encode("utf-8")),
        ):
            path = out / f"{name}{suffix}"
            write_bytes_atomic(path, data)
            paths.append(path)
    return paths


def print_evaluations(
    analysis: Analysis,
    out: Path,
    *,
    players: Sequence[str] | None = None,
    copies: Sequence[Literal["player", "staff"]] = ("player", "staff"),
    paper: Literal["letter", "a4"] | None = None,
    progress: Progress = _silent,
) -> list[Outcome]:
    """Print the evaluations of `players` (names or ids; None: the whole roster) to `out` as PDFs.

    The PDFs go to `out/evaluations`; what notebooks load stays in `out/analysis`.

    Returns
    -------
    list of Outcome
        One a document, with its path or the reason why it could not be made; one failure stops no other.

    Raises
    ------
    ReportError
        If a player is not on the roster.
    """
    from lbeval.analysis import save_analysis
    from lbeval.render.book import Job, render_documents
    from lbeval.report.player import player_jobs
    from lbeval.resources import resource

    chosen = None if not players else [_player_id(analysis.season.players, name) for name in players]
    folder = out.absolute() / "analysis"
    save_analysis(analysis, folder)
    jobs = [
        Job(resource(page.notebook), page.parameters, page.name)
        for page in player_jobs(analysis, folder, players=chosen, copies=copies, paper=paper or "")
    ]
    done: list[Outcome] = []

    def show(outcome: Outcome) -> None:
        done.append(outcome)
        progress("Printing evaluations", len(done), len(jobs))

    progress("Printing evaluations", 0, len(jobs))
    return render_documents(jobs, out / "evaluations", show)


def _player_id(players: pd.DataFrame, name: str) -> str:
    """Return the id of the roster player that `name` names, by id or by full name."""
    from rapidfuzz import process

    roster = players[players["status"] == "roster"]
    same = (roster["player_id"] == name) | (roster["name"].map(fold) == fold(name))
    if same.sum() == 1:
        return str(roster.loc[same, "player_id"].iloc[0])
    nearest = process.extractOne(name, roster["name"].tolist(), score_cutoff=50)
    hint = f"; the nearest is {nearest[0]!r}" if nearest else ""
    msg = f"{name!r} is not on the roster{hint}. Give the full name or the id in the players table."
    raise ReportError(msg)


def start_season(
    folder: Path, *, sheet: bool, ask: Callable[[str, str], str], say: Callable[[str], None]
) -> None:
    """Look at every file of `folder`, ask what cannot be known, write `season.toml` and `rubric.toml`."""
    from lbeval.read.describe import start

    start(folder, sheet=sheet, ask=ask, say=say)
