"""The commands: parse, call, print, exit code. Nothing heavy is imported until a command needs it."""

from __future__ import annotations

import enum
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

if TYPE_CHECKING:
    from lbeval.pipeline import Progress
    from lbeval.tables import Season

app = typer.Typer(
    name="lbeval",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help=(
        "From the sheets your coaches graded to a fair evaluation of every linebacker.\n\n"
        "First time: `lbeval start FOLDER` with all your files in one folder. "
        "Then `lbeval check FOLDER` and `lbeval evaluate FOLDER`. "
        "To see what comes out, try `lbeval demo`.\n\n"
        "Add --debug to any command for the full story of an error."
    ),
)

Folder = Annotated[
    Path,
    typer.Argument(help="The season folder: your files, season.toml, rubric.toml.", show_default=False),
]
Out = Annotated[
    Path | None,
    typer.Option("--out", help="Where the results go (default: lbeval_out inside the season folder)."),
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing but errors.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as JSON, for programs.")]


class Copy(enum.StrEnum):
    """Whose copy of an evaluation."""

    player = "player"
    staff = "staff"
    both = "both"


_COPIES: dict[Copy, tuple[Literal["player", "staff"], ...]] = {
    Copy.player: ("player",),
    Copy.staff: ("staff",),
    Copy.both: ("player", "staff"),
}


class Paper(enum.StrEnum):
    """Sheet size."""

    letter = "letter"
    a4 = "a4"


@app.command(short_help="Make a season folder out of a folder of files.")
def start(
    folder: Annotated[Path, typer.Argument(help="A folder with all your files.", show_default=False)],
    sheet: Annotated[
        bool, typer.Option("--sheet", help="Ask in a spreadsheet (start.xlsx) instead of at the prompt.")
    ] = False,
) -> None:
    """Make a season folder out of a folder of files: shows what each file seems to be and asks you."""
    from lbeval.pipeline import start_season

    start_season(folder, sheet=sheet, ask=_ask, say=typer.echo)


@app.command(short_help="Read everything; list what could not be used.")
def check(folder: Folder, out: Out = None, quiet: Quiet = False, as_json: AsJson = False) -> None:
    """Read everything and list what could not be used, with the place and what to do about it.

    Ends with 0 when every cell found its place, 1 when something was set aside.
    """
    from lbeval.pipeline import coverage
    from lbeval.report import check as page

    season = _load(folder, quiet=quiet or as_json)
    covered = coverage(season)
    _keep_questions(season, quiet=quiet or as_json)
    if out is not None:
        from lbeval.pipeline import write_tables

        write_tables(season, out, names=("set_aside", "ledger"))
    if as_json:
        typer.echo(json.dumps(page.as_data(season, covered), indent=1, ensure_ascii=False))
    elif not quiet:
        typer.echo("\n".join(page.lines(season, covered)))
    if (season.set_aside["kind"] == "set_aside").any():
        raise typer.Exit(1)


@app.command(short_help="Write the tidy tables (Parquet, CSV).")
def tables(folder: Folder, out: Out = None, quiet: Quiet = False, as_json: AsJson = False) -> None:
    """Write the tidy tables as Parquet and CSV."""
    from lbeval.pipeline import write_tables

    season = _load(folder, quiet=quiet or as_json)
    paths = write_tables(season, (out or folder / "lbeval_out") / "tables")
    _report_paths(paths, quiet=quiet, as_json=as_json)


@app.command(short_help="Print the players' evaluations (PDF).")
def evaluate(
    folder: Folder,
    player: Annotated[
        list[str] | None, typer.Option("--player", help="Only this player (name or id); may be repeated.")
    ] = None,
    copy: Annotated[Copy, typer.Option(help="Which copy to print.")] = Copy.both,
    paper: Annotated[Paper | None, typer.Option(help="Sheet size (default: as in season.toml).")] = None,
    out: Out = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Print the players' evaluations as PDFs: a copy for the player and one for the staff."""
    season = _load(folder, quiet=quiet or as_json)
    _keep_questions(season, quiet=quiet or as_json)
    _evaluate(season, out or folder / "lbeval_out", player, copy, paper, quiet=quiet, as_json=as_json)


@app.command(short_help="Print an invented season, to see what comes out.")
def demo(
    out: Annotated[Path, typer.Argument(help="Where the PDFs go.")] = Path("lbeval_demo"),
    paper: Annotated[Paper | None, typer.Option(help="Sheet size.")] = None,
    quiet: Quiet = False,
) -> None:
    """Print every evaluation of an invented season, to see what comes out."""
    from lbeval.resources import resource

    season = _load(resource("data_demo/full"), quiet=quiet)
    _evaluate(season, out, None, Copy.both, paper, quiet=quiet, as_json=False)


def _evaluate(
    season: Season,
    out: Path,
    players: list[str] | None,
    copy: Copy,
    paper: Paper | None,
    *,
    quiet: bool,
    as_json: bool,
) -> None:
    from lbeval.pipeline import analyse, print_evaluations

    copies = _COPIES[copy]
    with _Progress(quiet=quiet or as_json) as progress:
        analysis = analyse(season, progress=progress)
        outcomes = print_evaluations(
            analysis,
            out,
            players=players,
            copies=copies,
            paper=paper.value if paper else None,
            progress=progress,
        )
    _report_paths([o.path for o in outcomes if o.path is not None], quiet=quiet, as_json=as_json)
    failed = [o for o in outcomes if o.error is not None]
    for outcome in failed:
        typer.echo(outcome.error, err=True)
    if season.draft and not (quiet or as_json):
        waiting = int((season.to_settle["answer"] == "").sum())
        typer.echo(f"Marked DRAFT: {waiting} names or codes wait for your answer in to_settle.xlsx.")
    if failed:
        raise typer.Exit(1)


def _load(folder: Path, *, quiet: bool) -> Season:
    from lbeval.pipeline import load_season

    with _Progress(quiet=quiet) as progress:
        return load_season(folder, progress=progress)


def _keep_questions(season: Season, *, quiet: bool) -> None:
    """Write what waits for an answer into the season folder; a read-only folder is said, not fatal."""
    from lbeval.pipeline import write_to_settle

    said = write_to_settle(season)
    if said and not quiet:
        typer.echo(said, err=True)


def _report_paths(paths: list[Path], *, quiet: bool, as_json: bool) -> None:
    if as_json:
        typer.echo(json.dumps([str(path) for path in paths], indent=1))
    elif not quiet and paths:
        typer.echo(f"{len(paths)} files in {paths[0].parent}")


def _ask(question: str, default: str = "") -> str:
    answer: str = typer.prompt(question, default=default, show_default=bool(default))
    return answer


class _Progress:
    """A progress bar on a terminal, one line a step elsewhere, nothing when quiet."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet
        self._bar: Any = None
        self._task: Any = None
        self._step = ""

    def __enter__(self) -> Progress:
        if not self._quiet and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import BarColumn, MofNCompleteColumn, TextColumn
            from rich.progress import Progress as Bar

            columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
            self._bar = Bar(*columns, console=Console(stderr=True), transient=True)
            self._bar.start()
        return self._show

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def _show(self, step: str, done: int, total: int) -> None:
        if self._quiet:
            return
        if self._bar is None:
            if step != self._step:
                typer.echo(f"{step} ...", err=True)
                self._step = step
            return
        if step != self._step:
            if self._task is not None:
                self._bar.remove_task(self._task)
            self._task = self._bar.add_task(step, total=total)
            self._step = step
        self._bar.update(self._task, completed=done, total=total)
