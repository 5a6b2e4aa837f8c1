"""Which rows of a sheet are entries: not blank, ignored, a section, or headings printed again."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.read.layout import Layout
from lbeval.spelling import fold


def find_rows(layout: Layout) -> None:
    """Tell entries from blank rows, ignored rows, sections and headings printed again."""
    sheet, source = layout.sheet, layout.source
    body = sheet.cells.iloc[layout.first :]
    filled = sheet.filled[layout.first :]
    counts = filled.sum(axis=1)
    keep = counts > 0
    if source.ignore_rows and len(body):
        left = keep & _begins(_first_filled(body), source.ignore_rows)
        layout.left_rows = [layout.first + int(n) for n in np.flatnonzero(left)]
        keep &= ~left
    again = keep & _headings_again(layout, body)
    sections = keep & (counts == 1) & ~again if layout.sections else np.zeros(len(body), dtype=bool)
    if layout.sections:
        texts = _first_filled(body).where(pd.Series(sections, index=body.index))
        layout.section = texts.ffill().fillna("").to_numpy(dtype=object)
    layout.heading_rows = [layout.first + int(n) for n in np.flatnonzero(again | sections)]
    keep &= ~(again | sections)
    layout.rows = np.flatnonzero(keep) + layout.first
    if layout.section is not None:
        layout.section = layout.section[keep]


def _first_filled(body: pd.DataFrame) -> pd.Series:
    found = pd.Series("", index=body.index, dtype="str")
    for n in reversed(body.columns):
        found = body[n].where(body[n] != "", found)
    return found


def _begins(texts: pd.Series, starts: tuple[str, ...]) -> NDArray[np.bool_]:
    wanted = tuple(fold(start) for start in starts if fold(start))
    codes, unique = pd.factorize(texts)
    return np.array([fold(str(text)).startswith(wanted) for text in unique], dtype=bool)[codes]


def _headings_again(layout: Layout, body: pd.DataFrame) -> NDArray[np.bool_]:
    """Return which rows repeat the headings of at least two columns, as printed pages do."""
    row = layout.first - 1
    columns = [*layout.fields.values(), *(column for column, _, _ in layout.marks)]
    texts = {n: str(layout.sheet.cells.iloc[row, n]) for n in columns}
    named = [n for n in columns if texts[n]]
    again = np.full(len(body), len(named) > 1)
    for n in named:
        again &= (body[n] == texts[n]).to_numpy()
    return again
