"""A sheet and its source block to raw rows: text and where it stood, nothing repaired."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lbeval.raw import Claim
from lbeval.read.columns import VALUE
from lbeval.read.layout import Layout
from lbeval.settings import FIELDS


def raw_rows(layout: Layout) -> pd.DataFrame:
    """Return one row a mark or entry: the lineage columns and a text column for each field of the kind."""
    return _marks(layout) if layout.marks else _entries(layout)


def _entries(layout: Layout) -> pd.DataFrame:
    kind, n = layout.source.kind, len(layout.rows)
    column = layout.fields.get("score", -1) + 1 if kind == "grades" else 0
    data: dict[str, object] = {
        "source_file": _constant(layout.sheet.file, n),
        "source_sheet": _constant(layout.sheet.name, n),
        "source_row": layout.rows + 1,
        "source_column": np.full(n, column, dtype=np.int64),
    }
    for name in FIELDS[kind]:
        if name in layout.fields:
            data[name] = layout.sheet.cells[layout.fields[name]].array[layout.rows]
        elif name in layout.sections and layout.section is not None:
            data[name] = pd.array(layout.section, dtype="str")
        else:
            data[name] = _constant(layout.texts.get(name, ""), n)
    return pd.DataFrame(data)


def _marks(layout: Layout) -> pd.DataFrame:
    """Return a row a cell of the columns with marks, column by column."""
    kind, n, k = layout.source.kind, len(layout.rows), len(layout.marks)
    own = _entries(layout)
    columns = [column for column, _, _ in layout.marks]
    cells = [layout.sheet.cells[column].to_numpy(dtype=object)[layout.rows] for column in columns]
    data: dict[str, object] = {
        name: pd.array(np.tile(own[name].to_numpy(dtype=object), k), dtype="str") for name in own.columns
    }
    data["source_row"] = np.tile(layout.rows + 1, k)
    data["source_column"] = np.repeat(np.array(columns, dtype=np.int64) + 1, n)
    data[VALUE[kind]] = pd.array(np.concatenate(cells), dtype="str")
    inner = "criterion" if kind == "grades" else "test"
    for name, texts in (("player", [m[1] for m in layout.marks]), (inner, [m[2] for m in layout.marks])):
        if any(texts) and name in data:
            data[name] = pd.array(np.repeat(np.array(texts, dtype=object), n), dtype="str")
    return pd.DataFrame(data)


def _constant(text: str, n: int) -> pd.api.extensions.ExtensionArray:
    return pd.array(np.full(n, text, dtype=object), dtype="str")


def claim_of(layout: Layout, block: int) -> Claim:
    """Return what the block says about the cells of the sheet, for the ledger."""
    return Claim(
        block=block,
        kind=layout.source.kind,
        fields={name: column + 1 for name, column in layout.fields.items()},
        marks=tuple(column + 1 for column, _, _ in layout.marks),
        cells=tuple(layout.cells),
        whole=tuple(layout.texts),
        first_row=layout.first + 1,
        heading_rows=tuple(row + 1 for row in layout.heading_rows),
        left_rows=tuple(row + 1 for row in layout.left_rows),
        left_columns=tuple(column + 1 for column in layout.ignored),
        aside_columns=tuple(column + 1 for column in layout.doubled),
    )
