"""What a person sees in a workbook must be what is read; what cannot be seen must be said."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.worksheet import Worksheet

from lbeval.errors import SourceError
from lbeval.read.notices import blind_notice, sheet_notices
from lbeval.read.sheets import Sheet, read_sheets
from tests.read.old_workbooks import xls, xlsb


def saved(tmp_path: Path, book: Workbook, name: str = "a.xlsx") -> Path:
    path = tmp_path / name
    book.save(path)
    return path


def one_sheet() -> tuple[Workbook, Worksheet]:
    book = Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    return book, sheet


def read(path: Path) -> Sheet:
    return read_sheets(path, path.name)[0]


@pytest.mark.parametrize(
    ("value", "number_format", "shown"),
    [
        (40.0, "General", "40"),
        (0.1 + 0.2, "General", "0.3"),
        (0.855, "0.0%", "85.5%"),
        (0.07, "0%", "7%"),
        (0.855, "0.000", "0.855"),
        (1, '0" %"', "100%"),
        (True, "General", "TRUE"),
        (dt.datetime(2025, 12, 18), "d-mmm", "2025-12-18"),  # noqa: DTZ001
        (dt.time(4, 52), "h:mm", "04:52"),
        ("  +  ", "General", "+"),
        ("\u00a0x", "General", "x"),
        ("'=cmd", "General", "'=cmd"),
    ],
)
def test_a_value_is_read_as_it_is_seen(tmp_path: Path, value: Any, number_format: str, shown: str) -> None:
    book, sheet = one_sheet()
    sheet["B2"] = value
    sheet["B2"].number_format = number_format
    assert read(saved(tmp_path, book)).rows() == [["", ""], ["", shown]]


def test_formulas_without_value_and_errors_are_seen(tmp_path: Path) -> None:
    book, sheet = one_sheet()
    sheet.append(["=A1+1", "x"])
    sheet["B2"] = "#REF!"
    sheet["B2"].data_type = "e"
    sheet["C3"] = "=SUM(A1:B2)"
    assert read(saved(tmp_path, book)).rows() == [
        ["=A1+1", "x", ""],
        ["", "#REF!", ""],
        ["", "", "=SUM(A1:B2)"],
    ]


def test_what_stands_beside_the_values_is_said_with_its_place(tmp_path: Path) -> None:
    book, sheet = one_sheet()
    for n in range(1, 8):
        sheet.append([f"p{n}", n, "+", "", ""])
    sheet["A1"].fill = PatternFill("solid", fgColor="FF00FF00")  # a heading
    sheet["C3"].fill = PatternFill("solid", fgColor="FFFF0000")
    sheet["C4"].fill = PatternFill("solid", fgColor="FFFFFFFF")
    sheet["C5"].font = Font(strike=True)
    sheet["C6"].comment = Comment("late to the ball", "coach")
    sheet.row_dimensions[3].hidden = sheet.row_dimensions[4].hidden = True
    sheet.column_dimensions["B"].hidden = True
    book.create_sheet("later")["A1"] = 1
    book["later"].sheet_state = "hidden"
    shown, later = read_sheets(saved(tmp_path, book), "a.xlsx")
    found = {f.reason: f for f in sheet_notices(shown, first_row=2)}
    assert {f.kind for f in found.values()} == {"notice"}
    places = {reason: (f.row, f.column) for reason, f in found.items()}
    assert places == {
        "hidden_rows": (3, 0),
        "hidden_columns": (0, 2),
        "fill_colour": (3, 3),
        "strikethrough": (5, 3),
        "cell_note": (6, 3),
    }
    assert "rows 3-4" in found["hidden_rows"].message
    assert "1 cell is coloured" in found["fill_colour"].message
    assert "late to the ball" in found["cell_note"].message
    assert [f.reason for f in sheet_notices(later, first_row=2)] == ["hidden_sheet"]


def test_a_sheet_striped_all_over_says_nothing_about_colour(tmp_path: Path) -> None:
    book, sheet = one_sheet()
    for n in range(6):
        sheet.append([n, n])
        for cell in sheet[n + 1]:
            cell.fill = PatternFill("solid", fgColor="FFDDDDDD")
    assert list(sheet_notices(read(saved(tmp_path, book)), first_row=1)) == []


def test_a_stray_cell_far_outside_is_refused_in_every_format(tmp_path: Path) -> None:
    book, sheet = one_sheet()
    sheet["A1"] = "Name"
    sheet.cell(1_048_576, 300).value = 1
    far = {"far.xlsx": b"", "far.xlsb": xlsb("x", [["a"]], first_row=1_048_575, first_column=300)}
    path = saved(tmp_path, book, "far.xlsx")
    for name, data in far.items():
        if data:
            (tmp_path / name).write_bytes(data)
        with pytest.raises(SourceError, match=r"row 1,048,576 and column 30[01]: a stray cell"):
            read_sheets(path.with_name(name), name)


def test_a_million_empty_styled_rows_are_not_read(tmp_path: Path) -> None:
    book, sheet = one_sheet()
    sheet.append(["Name", "Mark"])
    sheet.cell(1_048_576, 2).fill = PatternFill("solid", fgColor="FFFF0000")
    assert read(saved(tmp_path, book)).rows() == [["Name", "Mark"]]


def test_an_archive_that_unpacks_without_end_is_not_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lbeval.read.markup.MAX_UNPACKED", 30_000_000)
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", bytes(31_000_000))
    assert path.stat().st_size < 100_000
    with pytest.raises(SourceError, match=r"unpacks to 31 MB"):
        read_sheets(path, path.name)


def test_entities_of_its_own_are_refused(tmp_path: Path) -> None:
    book, sheet = one_sheet()
    sheet["A1"] = "Name"
    whole = saved(tmp_path, book)
    evil = tmp_path / "evil.xlsx"
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(evil, "w") as new:
        for name in old.namelist():
            text = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                text = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">]>' + text
            new.writestr(name, text)
    with pytest.raises(SourceError, match="entities of its own"):
        read_sheets(evil, evil.name)


@pytest.mark.parametrize("keep", [0, 3, 40, 700, -30])
def test_a_file_cut_off_is_one_clear_message(tmp_path: Path, keep: int) -> None:
    book, sheet = one_sheet()
    sheet.append(["Name", "Mark"])
    path = saved(tmp_path, book)
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(SourceError, match=r"damaged|cut off|empty|no workbook"):
        read_sheets(path, path.name)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"<html><table><tr><td>Name</td></tr></table></html>", "web page"),
        (b"PK\x03\x04 not a zip", "damaged"),
        (b"\xd0\xcf\x11\xe0" + "EncryptedPackage".encode("utf-16-le"), "locked with a password"),
        (b"\x00\x01\x02\x03", "damaged or no workbook"),
    ],
)
def test_what_is_no_workbook_is_said(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "a.xls"
    path.write_bytes(data)
    with pytest.raises(SourceError, match=said):
        read_sheets(path, path.name)


def test_text_with_a_workbook_s_name_is_read_and_said(tmp_path: Path) -> None:
    path = tmp_path / "export.xls"
    path.write_bytes(b"Name\tMark\nHale\t2\n")
    got = read(path)
    assert got.rows() == [["Name", "Mark"], ["Hale", "2"]]
    assert [said.reason for said in got.remarks] == ["text_named_workbook"]


@pytest.mark.parametrize("kind", ["xls", "xlsb"])
def test_old_formats_are_read_and_say_what_they_hide(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"old.{kind}"
    path.write_bytes({"xls": xls, "xlsb": xlsb}[kind]("Game 1", [["Name", "Mark"], ["Åkerholt", 2.0]]))
    sheets = read_sheets(path, path.name)
    assert [s.name for s in sheets] == ["Game 1"]
    assert sheets[0].rows() == [["Name", "Mark"], ["Åkerholt", "2"]]
    assert [f.reason for f in blind_notice(sheets)] == ["format_hides"]


def ods(rows: list[list[str]], *, repeat_last: int = 1) -> bytes:
    book = OpenDocumentSpreadsheet()
    table = Table(name="Game 1")
    for number, cells in enumerate(rows):
        row = TableRow(numberrowsrepeated=repeat_last if number == len(rows) - 1 else 1)
        for text in cells:
            cell = TableCell(
                valuetype="string", numbercolumnsrepeated=repeat_last if text == rows[-1][-1] else 1
            )
            cell.addElement(P(text=text))
            row.addElement(cell)
        table.addElement(row)
    book.spreadsheet.addElement(table)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def test_ods_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.ods"
    path.write_bytes(ods([["Name", "Mark"], ["Hale", "+"]]))
    assert read(path).rows() == [["Name", "Mark"], ["Hale", "+"]]


def test_ods_with_a_cell_repeated_without_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.ods"
    path.write_bytes(ods([["Name", "Mark"], ["Hale", "+"]], repeat_last=16_000))
    with pytest.raises(SourceError, match="stray cell"):
        read_sheets(path, path.name)
