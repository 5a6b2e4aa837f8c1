"""Fair end-of-season evaluations of linebackers from the sheets their coaches graded."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lbeval.analysis import Analysis, load_analysis, save_analysis
    from lbeval.errors import LbevalError
    from lbeval.fit.events import fit_events
    from lbeval.fit.ratings import fit_ratings
    from lbeval.fit.tackling import fit_tackling
    from lbeval.fit.takeons import fit_takeons
    from lbeval.pipeline import analyse, coverage, load_season, print_evaluations, write_tables
    from lbeval.tables import TABLES, Season

_ROOMS = {
    "Analysis": "lbeval.analysis",
    "LbevalError": "lbeval.errors",
    "Season": "lbeval.tables",
    "TABLES": "lbeval.tables",
    "analyse": "lbeval.pipeline",
    "coverage": "lbeval.pipeline",
    "fit_events": "lbeval.fit.events",
    "fit_ratings": "lbeval.fit.ratings",
    "fit_tackling": "lbeval.fit.tackling",
    "fit_takeons": "lbeval.fit.takeons",
    "load_analysis": "lbeval.analysis",
    "load_season": "lbeval.pipeline",
    "print_evaluations": "lbeval.pipeline",
    "save_analysis": "lbeval.analysis",
    "write_tables": "lbeval.pipeline",
}

__all__ = [
    "TABLES",
    "Analysis",
    "LbevalError",
    "Season",
    "analyse",
    "coverage",
    "fit_events",
    "fit_ratings",
    "fit_tackling",
    "fit_takeons",
    "load_analysis",
    "load_season",
    "print_evaluations",
    "save_analysis",
    "write_tables",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for, so that `import lbeval` costs nothing."""
    if name not in _ROOMS:
        msg = f"module 'lbeval' has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(importlib.import_module(_ROOMS[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
