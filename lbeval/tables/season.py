"""A season: its settings and its tidy tables, what every fit takes and every page shows."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from lbeval.settings import Rubric, SeasonSettings


@dataclass(frozen=True, eq=False)
class Season:
    """A staff's season as checked tables; `lbeval.tables.TABLES` says what each column means."""

    folder: Path
    settings: SeasonSettings
    rubric: Rubric
    players: pd.DataFrame
    jerseys: pd.DataFrame
    games: pd.DataFrame
    plays: pd.DataFrame
    roles: pd.DataFrame
    grades: pd.DataFrame
    events: pd.DataFrame
    tackles: pd.DataFrame
    measurables: pd.DataFrame
    drills: pd.DataFrame
    remarks: pd.DataFrame
    set_aside: pd.DataFrame
    to_settle: pd.DataFrame
    ledger: pd.DataFrame

    @property
    def draft(self) -> bool:
        """Whether names or codes still wait for an answer; pages are marked DRAFT until none does."""
        return bool((self.to_settle["answer"] == "").any())
