"""`to_settle.xlsx`: what waits for the coach's word, in a sheet he fills in."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path

import xlsxwriter

from lbeval.files import write_bytes_atomic
from lbeval.raw import SETTLE_HEADINGS
from lbeval.tables import Season
from lbeval.tidy.settle import FILE, LEAVE_OUT

_INSTRUCTIONS = (
    "Write in the last column who or what is meant: choose from the list, or type a name or id. "
    f"`{LEAVE_OUT}` means: not ours, leave it out. One answer settles every place where it stands. "
    "Save, close, and run lbeval again; answers are kept."
)
_WIDTHS = (12, 34, 28, 11, 44, 34)
_FIRST = 2


def write_to_settle(season: Season) -> Path | None:
    """Write the sheet into the season folder, if anything waits or was ever answered.

    Raises
    ------
    ReportError
        If it is open in another program, or the folder may not be written to.
    """
    if season.to_settle.empty:
        return None
    return write_bytes_atomic(season.folder / FILE, _workbook(season))


def _workbook(season: Season) -> bytes:
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    book.set_properties(
        {"title": "To settle", "created": dt.datetime(2000, 1, 1, tzinfo=dt.UTC).replace(tzinfo=None)}
    )
    sheet, lists = book.add_worksheet("To settle"), book.add_worksheet("Choices")
    lists.hide()
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    heading = book.add_format({"bold": True, "bottom": 1})
    open_cell = book.add_format(
        {"text_wrap": True, "valign": "top", "bg_color": "#FFF6D6", "num_format": "@"}
    )
    sheet.merge_range(0, 0, 0, len(SETTLE_HEADINGS) - 1, _INSTRUCTIONS, wrapped)
    sheet.set_row(0, 48)
    for column, (name, width) in enumerate(zip(SETTLE_HEADINGS, _WIDTHS, strict=True)):
        sheet.set_column(column, column, width)
        sheet.write_string(1, column, name, heading)
    places = _write_choices(lists, _choices(season))
    for number, row in enumerate(season.to_settle.itertuples(index=False), _FIRST):
        for column, text in enumerate((row.what, row.where, row.written)):
            sheet.write_string(number, column, str(text), wrapped)
        sheet.write_number(number, 3, int(str(row.times)), wrapped)
        sheet.write_string(number, 4, str(row.suggestion), wrapped)
        sheet.write_string(number, 5, str(row.answer), open_cell)
        source = places.get(str(row.what)) or _short_list(str(row.suggestion))
        if source:
            options = {"validate": "list", "source": source, "ignore_blank": True, "show_error": False}
            sheet.data_validation(number, 5, number, 5, options)
    sheet.freeze_panes(_FIRST, 0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    book.close()
    return buffer.getvalue()


def _choices(season: Season) -> dict[str, list[str]]:
    """Return what there is to choose from for each kind of question with a list of its own."""
    names = season.players["name"]
    players = names.where(~names.duplicated(keep=False), season.players["player_id"])
    return {
        "player": sorted(map(str, players)),
        "game": list(map(str, season.games["label"])),
        "criterion": [criterion.label for criterion in season.rubric.criteria],
        "rater": [rater.name for rater in season.settings.raters.values()],
    }


def _write_choices(lists: xlsxwriter.worksheet.Worksheet, choices: dict[str, list[str]]) -> dict[str, str]:
    places = {}
    for column, (what, options) in enumerate(choices.items()):
        shown = [LEAVE_OUT, *options]
        for row, option in enumerate(shown):
            lists.write_string(row, column, option)
        letter = chr(ord("A") + column)
        places[what] = f"=Choices!${letter}$1:${letter}${len(shown)}"
    return places


def _short_list(suggestion: str) -> list[str]:
    """Return the suggested codes as a list to choose from, if a spreadsheet can hold it in a cell."""
    options = [part.strip() for part in suggestion.replace("; ", ", ").split(", ") if part.strip()]
    options.append(LEAVE_OUT)
    fits = len(",".join(options)) <= 250 and not any("," in option for option in options)
    return options if len(options) > 1 and fits else []
