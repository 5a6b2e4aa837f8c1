"""What can go wrong, one class a stage; every message says where and what to do."""

from __future__ import annotations


class LbevalError(Exception):
    """An expected error: printed as one line, without a traceback."""


class SettingsError(LbevalError):
    """`season.toml` or `rubric.toml` cannot be used as it stands."""


class SourceError(LbevalError):
    """A file of the staff cannot be read."""


class TableError(LbevalError):
    """A table does not hold what `lbeval.tables` says it holds."""


class FitError(LbevalError):
    """A model cannot be fitted to what there is; the message says what would be needed."""


class ReportError(LbevalError):
    """A document cannot be made or written."""
