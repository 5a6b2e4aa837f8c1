"""The data dictionary, generated from the glossary; `python -m lbeval.tables` prints it."""

from __future__ import annotations

from collections.abc import Iterator

import pandera.pandas as pa

from lbeval.tables.schema import TABLES

_TYPES = {
    "string[pyarrow]": "text",
    "str": "text",
    "float64": "number",
    "int64": "whole number",
    "bool": "yes/no",
}


def dictionary() -> str:
    """Return every table with its columns, types, units and meanings as Markdown."""
    return "\n".join(line for name in TABLES for line in _table(name)) + "\n"


def _table(name: str) -> Iterator[str]:
    schema = TABLES[name]
    yield f"### `{name}`"
    yield ""
    yield f"One row is {schema.description}." + (
        f" Unique by {', '.join(f'`{c}`' for c in schema.unique)}." if schema.unique else ""
    )
    yield ""
    yield "| column | type | unit | meaning |"
    yield "|---|---|---|---|"
    for column, described in schema.columns.items():
        unit = (described.metadata or {}).get("unit", "")
        yield f"| `{column}` | {_type(described)} | {unit} | {described.description} |"
    yield ""


def _type(column: pa.Column) -> str:
    plain = _TYPES.get(str(column.dtype), "date")
    return f"{plain}, may be missing" if column.nullable else plain
