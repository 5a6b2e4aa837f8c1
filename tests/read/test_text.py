"""Text files as programs of all sorts write them must come out as the same cells."""

from __future__ import annotations

from pathlib import Path

import pytest

from lbeval.errors import SourceError
from lbeval.read.sheets import Sheet, read_sheets
from lbeval.read.text import decode, sniff_delimiter, text_grid

ROWS = [["Name", "Mark"], ["Åkerholt, Nils", "2"], ["José", "½"]]


def sheet(tmp_path: Path, data: bytes, name: str = "a.csv", **how: str) -> Sheet:
    path = tmp_path / name
    path.write_bytes(data)
    (only,) = read_sheets(path, name, **how)
    return only


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_encodings_and_line_endings(tmp_path: Path, encoding: str, ending: str) -> None:
    text = ending.join(["Name;Mark", '"Åkerholt, Nils";2', "José;½"])
    got = sheet(tmp_path, text.encode(encoding))
    assert got.rows() == ROWS
    assert got.remarks == ()


def test_windows_1252_is_taken_with_a_remark_unless_declared(tmp_path: Path) -> None:
    data = "Name;Mark\nÅkerholt;2\n".encode("cp1252")
    got = sheet(tmp_path, data)
    assert got.rows()[1] == ["Åkerholt", "2"]
    (said,) = got.remarks
    assert (said.reason, said.row, said.value) == ("encoding_assumed", 2, "Åkerholt")
    assert sheet(tmp_path, data, encoding="windows-1252").remarks == ()


def test_bytes_that_are_no_text_are_refused() -> None:
    with pytest.raises(SourceError, match=r"not text in windows-1252 \(byte 3\)"):
        decode(b"a,\x81")
    with pytest.raises(SourceError, match="no encoding"):
        decode(b"a", "windows-12520")


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_delimiter_is_the_one_that_cuts_evenly(mark: str) -> None:
    lines = [["Name", "Game", "Mark"], ["Hale, M", "vs A, B", "1"], ["Bo", "2", "0,5"]]
    text = "\n".join(mark.join(f'"{c}"' if mark in c else c for c in line) for line in lines)
    assert sniff_delimiter(text) == mark


def test_first_line_of_a_spreadsheet_program_names_the_delimiter(tmp_path: Path) -> None:
    assert sheet(tmp_path, b"sep=;\nName;Mark\nA;1\n").rows() == [["Name", "Mark"], ["A", "1"]]


def test_short_and_long_rows_and_blank_lines_keep_their_numbers() -> None:
    grid = text_grid("a,b\n\n1\n2,3,4\n , \n\n", ",")
    assert grid.cells.to_numpy().tolist() == [["a", "b", ""], ["", "", ""], ["1", "", ""], ["2", "3", "4"]]


def test_a_million_empty_rows_below_are_not_kept(tmp_path: Path) -> None:
    got = sheet(tmp_path, b"a,b\n1,2\n" + b",\n" * 1_048_576)
    assert got.cells.shape == (2, 2)


def test_a_line_break_inside_a_quoted_cell_is_kept() -> None:
    grid = text_grid('a,b\n"one\ntwo",2\n', ",")
    assert grid.cells.to_numpy().tolist() == [["a", "b"], ["one\ntwo", "2"]]
    assert grid.open_quotes == ()


@pytest.mark.parametrize("below", [3, 200])
def test_a_quote_left_open_does_not_swallow_the_rows_below(below: int) -> None:
    rows = "".join(f"p{n},{n}\n" for n in range(below))
    grid = text_grid(f'name,mark\n"Hale,1\n{rows}', ",")
    assert grid.open_quotes == (2,)
    assert len(grid.cells) == below + 2
    assert grid.cells.iloc[1].tolist() == ['"Hale', "1"]


def test_inches_are_no_quotes() -> None:
    grid = text_grid("h,w\n5'10\",200\n6'2\",230\n", ",")
    assert grid.cells[0].tolist() == ["h", "5'10\"", "6'2\""]
    assert grid.open_quotes == ()


def test_a_row_far_longer_than_a_sheet_is_refused() -> None:
    with pytest.raises(SourceError, match="too many to be a sheet"):
        text_grid('"a"\n' + "," * 20_000 + "x\n" + "1\n" * 2_000, ",")


def test_an_empty_file_is_an_empty_sheet(tmp_path: Path) -> None:
    assert sheet(tmp_path, b"").cells.shape == (0, 0)
    assert sheet(tmp_path, b"\n \n").cells.shape == (0, 0)


def test_rows_with_and_without_quotes_are_read_alike() -> None:
    text = "a,b,c\n" + "".join(f"{n},x {n} ,\n" for n in range(50))
    quoted = text_grid(text.replace("x 3 ", '"x 3 "'), ",").cells
    assert text_grid(text, ",").cells.equals(quoted)
