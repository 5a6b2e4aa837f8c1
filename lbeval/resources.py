"""The one finder of what travels with the package: notebooks and demo data."""

from __future__ import annotations

from pathlib import Path

from lbeval.errors import ReportError

_PACKAGE = Path(__file__).resolve().parent


def resource(name: str) -> Path:
    """Return the path of a notebook or a demo folder, such as `notebooks/player_evaluation.ipynb`.

    Parameters
    ----------
    name : path inside the project, with forward slashes

    An installed package holds them itself; in a checkout they stand beside the package, and there is no copy
    that could be out of date.

    Raises
    ------
    ReportError
        If neither place has it.
    """
    parts = Path(name).parts
    if Path(name).is_absolute() or ".." in parts:
        raise ReportError(f"{name!r} is not the name of something that travels with lbeval.")
    for base in (_PACKAGE / "_bundled", _PACKAGE.parent):
        found = base.joinpath(*parts)
        if found.exists():
            return found
    raise ReportError(f"{name} did not come with this installation of lbeval; install it again.")
