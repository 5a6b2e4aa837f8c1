"""The glossary: every table of a season, its columns, their meaning, unit and range."""

from lbeval.tables.schema import EVENT_KINDS, LINEAGE, TABLES, check_table, empty_table
from lbeval.tables.season import Season

__all__ = ["EVENT_KINDS", "LINEAGE", "TABLES", "Season", "check_table", "empty_table"]
