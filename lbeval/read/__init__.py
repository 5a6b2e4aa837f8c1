"""Files of the staff to text tables that remember where each cell stood; nothing is repaired here."""

from lbeval.read.season import read_season_files

__all__ = ["read_season_files"]
