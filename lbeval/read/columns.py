"""Finds on a sheet what a source block says of it: headings, cells, players across."""

from __future__ import annotations

import re
from pathlib import Path

from lbeval.read.body import find_rows
from lbeval.read.headings import JOIN, find_heading, heading_parts, nearest_heading
from lbeval.read.layout import Layout
from lbeval.read.markup import column_number
from lbeval.read.sheets import Sheet
from lbeval.settings import Source
from lbeval.spelling import fold

REQUIRED: dict[str, tuple[str, ...]] = {
    "grades": ("player", "game"),
    "plays": ("game", "play"),
    "roles": ("game", "play", "player"),
    "events": ("player", "kind"),
    "tackles": ("player", "outcome"),
    "roster": ("name",),
    "measurables": ("player", "test", "value"),
    "drills": ("drill",),
    "remarks": ("player", "text"),
}
"""Fields without which a row of a kind means nothing."""

VALUE: dict[str, str] = {
    "grades": "score",
    "roles": "role",
    "events": "kind",
    "tackles": "outcome",
    "measurables": "value",
}
"""The field that a cell fills where players stand across."""

_CELL = re.compile(r"cell ([A-Z]{1,3})([1-9]\d*)")


def find_layout(sheet: Sheet, source: Source, block: int) -> Layout:
    """Return where the fields of source block `block` stand on `sheet`; `usable` is false if they don't."""
    layout = Layout(sheet, source)
    layout.parts = heading_parts(sheet, source.heading_row, source.heading_rows)
    layout.headings = [JOIN.join(part for part in parts if part) for parts in layout.parts]
    layout.first = source.heading_row - 1 + source.heading_rows
    if sheet.n_rows < source.heading_row:
        layout.usable = False
        layout.say("empty_sheet", "the sheet is empty", "nothing to do, or delete it")
        return layout
    _find_fields(layout, block)
    _find_texts(layout)
    _find_ignored(layout)
    if source.shape == "wide":
        _find_wide(layout, block)
    elif source.shape == "across":
        _find_across(layout)
    _check_required(layout, block)
    if layout.usable:
        find_rows(layout)
    return layout


def _find_fields(layout: Layout, block: int) -> None:
    for name, heading in layout.source.columns.items():
        column = _one_column(layout, heading, f"block {block}, columns.{name}")
        if column is not None:
            layout.fields[name] = column


def _one_column(layout: Layout, heading: str, where: str) -> int | None:
    """Return the only column under a heading that the block names; say so where there is none or two."""
    found = find_heading(layout.headings, heading)
    if len(found) > 1:
        filled = layout.sheet.filled[layout.first :]
        found = [n for n in found if filled[:, n].any()] if not heading else found
    if len(found) == 1:
        return found[0]
    row = layout.source.heading_row
    if found:
        layout.doubled += found
        names = ", ".join(str(n + 1) for n in found)
        layout.say(
            "heading_twice",
            f"the heading {heading!r} stands over more than one column ({names}); none was used",
            "give the columns different headings in the file",
            kind="set_aside",
            place=(row, found[0] + 1),
            value=heading,
        )
        return None
    near = nearest_heading(layout.headings, heading)
    layout.say(
        "heading_missing",
        f"there is no heading {heading!r} in row {row}",
        f"{where}: write the heading as it stands" + (f"; nearest: {near!r}" if near else ""),
        place=(row, 0),
        value=heading,
    )
    return None


def _find_texts(layout: Layout) -> None:
    source, sheet = layout.source, layout.sheet
    layout.texts.update(source.constants)
    for name, where in source.take.items():
        if where == "row above":
            layout.sections.append(name)
        elif where == "sheet":
            layout.texts[name] = sheet.name
        elif where == "file":
            layout.texts[name] = Path(sheet.file).stem
        elif cell := _CELL.fullmatch(where):
            row, column = int(cell[2]), column_number(cell[1])
            inside = row <= sheet.n_rows and column <= sheet.width
            layout.texts[name] = str(sheet.cells.iloc[row - 1, column - 1]) if inside else ""
            layout.cells.append((row, column))
            if not layout.texts[name]:
                layout.say(
                    "cell_empty",
                    f"the cell that gives the {name} of all rows is empty",
                    f"fill {where} on this sheet, or change take.{name}",
                    place=(row, column),
                )


def _find_ignored(layout: Layout) -> None:
    for heading in layout.source.ignore_columns:
        layout.ignored += find_heading(layout.headings, heading)


def _find_wide(layout: Layout, block: int) -> None:
    source = layout.source
    declared = source.criteria if source.kind == "grades" else source.tests
    name = "criteria" if source.kind == "grades" else "tests"
    for heading in declared:
        column = _one_column(layout, heading, f"block {block}, {name}")
        if column is not None:
            layout.marks.append((column, "", heading))


def _find_across(layout: Layout) -> None:
    """Take every column that is neither a field nor ignored for a player's."""
    source = layout.source
    declared = source.criteria if source.kind == "grades" else source.tests
    known = {fold(heading): heading for heading in declared}
    taken = {*layout.fields.values(), *layout.ignored, *layout.doubled}
    filled = layout.sheet.filled[layout.first :]
    for column, parts in enumerate(layout.parts):
        if column in taken or not layout.headings[column]:
            continue
        inner = next((known[fold(part)] for part in parts if fold(part) in known), "")
        player = " ".join(dict.fromkeys(part for part in parts if part and fold(part) not in known))
        if player:
            layout.marks.append((column, player, inner))
        elif filled[:, column].any():
            layout.say(
                "heading_without_player",
                "no player stands over this column; it was not used",
                "write his name over it, or list the heading in ignore_columns",
                place=(source.heading_row, column + 1),
                value=layout.headings[column],
            )


def _check_required(layout: Layout, block: int) -> None:
    source = layout.source
    given = {*layout.fields, *layout.texts, *layout.sections}
    if source.shape == "across":
        given |= {"player", VALUE.get(source.kind, "")}
    if source.shape == "wide" and source.kind in {"grades", "measurables"}:
        given |= {"test", "value"}
    missing = [name for name in REQUIRED[source.kind] if name not in given]
    no_marks = source.shape != "long" and not layout.marks and "score" not in layout.fields
    if source.kind == "grades" and source.shape == "long" and "score" not in given:
        missing.append("score")
    if not missing and not no_marks:
        return
    layout.usable = False
    what = " and ".join(f"{name!r}" for name in missing) or "column with marks"
    layout.say(
        "sheet_not_as_described",
        f"the block gives no {what} on this sheet; nothing of it was used",
        f"correct block {block} in season.toml (headings, heading_row, delimiter), or name the right sheets",
        kind="set_aside",
        place=(source.heading_row, 0),
        value=" | ".join(heading for heading in layout.headings if heading)[:200],
    )
