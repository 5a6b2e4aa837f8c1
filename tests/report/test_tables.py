"""A display table says the same in HTML, in plain text and in its JSON, and is never changed."""

from __future__ import annotations

import dataclasses
import json
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.errors import ReportError
from lbeval.report.parts import BLOCK_MIME, TABLE_MIME, Run, from_json, plain
from lbeval.report.tables import Cell, Column, DisplayTable, decimal_tail

HOSTILE = 'Ana "#read(1)" O\'Neil-[Şahin] & $x$ <script>alert(1)</script>'


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def table(**changes: Any) -> DisplayTable:
    base = DisplayTable(
        [Column("Group"), Column("Mark", align="decimal")],
        [["Take-on", Cell("8.5", bold=True, marks="a")], [HOSTILE, None]],
        caption="Marks",
        notes=("a  few plays",),
        rules_after=(0,),
    )
    return base.replace(**changes)


def test_three_forms_are_shown() -> None:
    shown = table()._repr_mimebundle_()

    assert set(shown) == {TABLE_MIME, "text/html", "text/plain"}
    assert BLOCK_MIME not in shown


def test_json_brings_the_table_back() -> None:
    assert from_json(json.loads(json.dumps(table().to_json()))) == table()


def test_html_holds_data_as_text_only() -> None:
    reader = Reader()
    reader.feed(table().html())

    assert HOSTILE in reader.text
    assert "script" not in reader.tags
    assert reader.tags.count("th") == 4  # two columns, two rows
    assert "caption" in reader.tags


@given(st.text())
def test_no_text_gets_out_of_its_cell_in_html(text: str) -> None:
    reader = Reader()
    reader.feed(DisplayTable([text or "x"], [[text], [text]], summary="s").html())

    assert set(reader.tags) <= {"table", "caption", "thead", "tbody", "tr", "th", "td", "br"}
    assert reader.tags.count("tr") == 3


def test_plain_text_lines_up() -> None:
    assert table(rows=[["Take-on", "8.5"], ["Tackle", "10"]]).plain() == (
        "Marks\nGroup    Mark\nTake-on   8.5\nTackle     10\na  few plays"
    )


def test_a_copy_is_changed_and_the_table_is_not() -> None:
    first = table()
    second = first.replace(caption="Other")

    assert plain(first.caption) == "Marks"
    assert plain(second.caption) == "Other"
    with pytest.raises(dataclasses.FrozenInstanceError):
        first.caption = "x"  # type: ignore[misc]


def test_what_was_given_may_change_later_without_effect() -> None:
    rows: list[list[str]] = [["a", "1"]]
    held = table(rows=rows)
    rows[0][0] = "changed"
    rows.append(["b", "2"])

    assert [[plain(cell.text) for cell in row] for row in held.cells] == [["a", "1"]]


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"rows": [["a"]]}, "Row 0 of the table has 1 cells for 2 columns"),
        ({"columns": []}, "at least one column"),
        ({"caption": "", "summary": " "}, "caption or a summary"),
        ({"rows": [["a", 1.5]]}, "Text is a string"),
    ],
)
def test_what_makes_no_table_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(ReportError, match=message):
        table(**changes)


@pytest.mark.parametrize("width", [0, -1, float("inf"), float("nan")])
def test_a_width_is_a_positive_share(width: float) -> None:
    with pytest.raises(ReportError, match="positive share"):
        Column("a", width=width)


def test_an_alignment_of_its_own_is_refused() -> None:
    with pytest.raises(ReportError, match="'decimal'"):
        Column("a", align="justify")  # type: ignore[arg-type]


def test_a_table_without_rows_is_a_table() -> None:
    assert table(rows=[]).plain().startswith("Marks\nGroup  Mark")


def test_a_cell_dresses_its_runs() -> None:
    cell = Cell(["a", Run("b", italic=True)], bold=True, muted=True, marks="c")

    assert cell.runs == (
        Run("a", bold=True, muted=True),
        Run("b", bold=True, italic=True, muted=True),
        Run("c", raised=True),
    )


@pytest.mark.parametrize(
    ("text", "tail"),
    [
        ("12.5", ".5"),
        ("-3.25", ".25"),
        ("−0.50", ".50"),
        (".5", ".5"),
        ("12", ""),
        ("1,204", ""),
        ("1,204.5", ".5"),
        ("12,5", ",5"),
        ("62.1 ± 3", ".1 ± 3"),
        ("12 %", " %"),
        ("–", ""),
        ("", ""),
        ("too few plays", None),
    ],
)
def test_the_tail_is_what_follows_the_whole_number(text: str, tail: str | None) -> None:
    assert decimal_tail(text) == tail
