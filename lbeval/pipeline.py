"""The one way through: read, tidy, fit, report, print. The page to read first."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from lbeval.errors import ReportError
from lbeval.settings import load_rubric, load_settings

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

    Raises
    ------
    FitError
        If there is no usable mark of a game at all.
    """
    import numpy as np

    from lbeval.analysis import Analysis
    from lbeval.fit.events import fit_events
    from lbeval.fit.ratings import fit_ratings
    from lbeval.fit.tackling import fit_tackling

    raise NotImplementedError(np, Analysis, fit_events, fit_ratings, fit_tackling, progress, season)


def coverage(season: Season) -> pd.DataFrame:
    """Return who has graded how many plays of which session, and who owes some."""
    from lbeval.tidy.coverage import coverage as covered

    return covered(season)


def write_to_settle(season: Season) -> str:
    """Write `to_settle.xlsx` into the season folder if anything waits; return what the user should know."""
    from lbeval.tidy.settle import write_to_settle as write

    if season.to_settle.empty:
        return ""
    path = season.folder / "to_settle.xlsx"
    try:
        write(path, season.to_settle, season.players)
    except OSError as error:
        return f"{path} cannot be written ({error.strerror}); close it if it is open elsewhere and run again."
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
    """Print the evaluations of `players` (names or ids; None: all who play) to `out` as PDFs.

    Returns
    -------
    list of Outcome
        One a document, with its path or the reason why it could not be made; one failure stops no other.

    Raises
    ------
    ReportError
        If a player is not on the roster.
    """
    raise NotImplementedError(ReportError, analysis, out, players, copies, paper, progress, tempfile)


def start_season(
    folder: Path, *, sheet: bool, ask: Callable[[str, str], str], say: Callable[[str], None]
) -> None:
    """Look at every file of `folder`, ask what cannot be known, write `season.toml` and `rubric.toml`."""
    raise NotImplementedError(folder, sheet, ask, say)
