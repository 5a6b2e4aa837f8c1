"""Names, scales, units and duplicates are settled here and nowhere else."""

from lbeval.tidy.season import tidy_season

__all__ = ["tidy_season"]
