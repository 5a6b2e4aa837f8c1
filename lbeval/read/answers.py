"""The coach's answers out of `to_settle.xlsx`, as he left them."""

from __future__ import annotations

from pathlib import Path

from lbeval.errors import SourceError
from lbeval.raw import SETTLE_HEADINGS, Answer, Finding
from lbeval.read.sheets import Sheet, read_sheets
from lbeval.spelling import fold

FILE = "to_settle.xlsx"


def read_answers(folder: Path) -> tuple[tuple[Answer, ...], tuple[Finding, ...]]:
    """Return every row of `to_settle.xlsx`; sorted, filtered or moved columns do not matter."""
    path = folder / FILE
    if not path.is_file():
        return (), ()
    try:
        sheets = read_sheets(path, FILE)
    except SourceError as error:
        return (), (_lost(f"the answers cannot be read: {error}"),)
    for sheet in sheets:
        place = _headings(sheet)
        if place is not None:
            return tuple(_answers(sheet, *place)), ()
    names = ", ".join(SETTLE_HEADINGS)
    return (), (_lost(f"the answers cannot be read: there is no row with the headings {names}"),)


def _headings(sheet: Sheet) -> tuple[int, dict[str, int]] | None:
    wanted = [fold(name) for name in SETTLE_HEADINGS]
    for number, row in enumerate(sheet.rows(1, 20), 1):
        said = [fold(text) for text in row]
        if {fold("What"), fold("As written"), fold("Answer")} <= set(said):
            return number, {name: said.index(name) for name in wanted if name in said}
    return None


def _answers(sheet: Sheet, heading_row: int, columns: dict[str, int]) -> list[Answer]:
    found = []
    for number, row in enumerate(sheet.rows(heading_row + 1), heading_row + 1):
        what, where, written, _, suggestion, answer = (
            row[columns[fold(name)]] if fold(name) in columns else "" for name in SETTLE_HEADINGS
        )
        if what and (written or answer):
            found.append(Answer(number, what, where, written, suggestion, answer))
    return found


def _lost(message: str) -> Finding:
    return Finding(
        FILE,
        "",
        0,
        0,
        "",
        "set_aside",
        "answers_unreadable",
        message,
        "restore the file, or delete it to start again",
    )
