"""Text files to grids of cells: encodings, delimiters, quotes."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from typing import NamedTuple, Self

import pandas as pd
import pyarrow as pa
from pyarrow import csv as arrow_csv

from lbeval.errors import SourceError

MAX_CELLS = 30_000_000
"""A sheet with more cells is refused: a cell far outside, or a file made to exhaust memory."""

DELIMITERS = (",", ";", "\t", "|")
_LONGEST_CELL = 25
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


class Decoded(NamedTuple):
    """Text of a file and how it was decoded; `assumed` when nothing in the file or settings said so."""

    text: str
    encoding: str
    assumed: bool


def decode(data: bytes, encoding: str | None = None) -> Decoded:
    """Return the text of `data`: by its byte order mark, as declared, else UTF-8, UTF-16, Windows-1252.

    Raises
    ------
    SourceError
        If it is text in none of them.
    """
    for mark, name in _BOMS:
        if data.startswith(mark):
            return Decoded(_decode(data, name), name, assumed=False)
    if encoding is not None:
        return Decoded(_decode(data, encoding), encoding, assumed=False)
    zeros = (data[0:4096:2].count(0), data[1:4096:2].count(0))
    if sum(zeros) > len(data[:4096]) // 5:
        name = "utf-16-le" if zeros[1] > zeros[0] else "utf-16-be"
        return Decoded(_decode(data, name), name, assumed=False)
    try:
        return Decoded(data.decode("utf-8"), "utf-8", assumed=False)
    except UnicodeDecodeError:
        return Decoded(_decode(data, "windows-1252"), "windows-1252", assumed=True)


def _decode(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except LookupError:
        msg = f"{encoding!r} is no encoding; say utf-8, utf-16 or windows-1252"
        raise SourceError(msg) from None
    except UnicodeDecodeError as error:
        msg = f"it is not text in {encoding} (byte {error.start + 1}); save it again as CSV UTF-8"
        raise SourceError(msg) from None


def sniff_delimiter(text: str) -> str:
    """Return the delimiter that cuts the first lines into the most even number of cells."""
    lines = [line for line in text[:60_000].splitlines()[:80] if line.strip()]
    if len(text) > 60_000:
        lines = lines[:-1] or lines
    best, found = (0.0, 0), ","
    for mark in DELIMITERS:
        counts = Counter(len(row) for row in csv.reader(lines, delimiter=mark))
        cells, times = max(counts.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
        score = (times / max(len(lines), 1) if cells > 1 else 0.0, cells)
        if score > best:
            best, found = score, mark
    return found


class Grid(NamedTuple):
    """Cells as stripped text, columns numbered from 0; and the rows with a quote left open."""

    cells: pd.DataFrame
    open_quotes: tuple[int, ...]


def text_grid(text: str, delimiter: str) -> Grid:
    """Return the cells of delimited `text`; short rows are filled with empty cells.

    A quotation mark that is never closed within 25 lines is taken as a character, and its row reported.
    """
    if '"' not in text:
        plain = text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text
        even = _even_grid(plain, delimiter)
        if even is not None:
            return Grid(even, ())
    rows: list[list[str]] = []
    broken: list[int] = []
    for record, whole in _records(list(io.StringIO(text, newline="")), delimiter):
        rows.append(record)
        if not whole:
            broken.append(len(rows))
    return Grid(grid_of(rows), tuple(broken))


def _even_grid(text: str, delimiter: str) -> pd.DataFrame | None:
    """Read text without quotes whose rows are equally long, a hundred times faster; None if they are not."""
    width = text.partition("\n")[0].count(delimiter) + 1
    if not text.strip() or width == 1:
        return None
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(text.encode("utf-8", "replace")),
            read_options=arrow_csv.ReadOptions(
                column_names=[str(n) for n in range(width)], block_size=1 << 24
            ),
            parse_options=arrow_csv.ParseOptions(
                delimiter=delimiter, quote_char=False, ignore_empty_lines=False
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types={str(n): pa.large_string() for n in range(width)}, strings_can_be_null=False
            ),
        )
    except pa.ArrowInvalid:
        return None
    frame = pd.DataFrame({n: pd.Series(table.column(n), dtype="str") for n in range(width)})
    return trim(frame)


class _Feed:
    """Lines for a reader, stopping where the record begun at `begun` grows too long to be meant."""

    def __init__(self, lines: list[str], start: int) -> None:
        self.lines = lines
        self.next = self.begun = start

    def __iter__(self) -> Self:
        return self

    def __next__(self) -> str:
        if self.next >= len(self.lines) or self.next - self.begun > _LONGEST_CELL:
            raise StopIteration
        self.next += 1
        return self.lines[self.next - 1]


def _records(lines: list[str], delimiter: str) -> Iterator[tuple[list[str], bool]]:
    start = 0
    while start < len(lines):
        begun = after = start
        feed = _Feed(lines, start)
        reader = csv.reader(feed, delimiter=delimiter)
        try:
            for record in reader:
                after = start + reader.line_num
                if after - begun > 1 and _left_open(lines[begun:after]):
                    break
                yield record, True
                begun = feed.begun = after
        except csv.Error:
            pass
        if begun >= len(lines):
            return
        yield lines[begun].rstrip("\r\n").split(delimiter), False
        start = begun + 1


def _left_open(lines: list[str]) -> bool:
    return len(lines) > _LONGEST_CELL or sum(line.count('"') for line in lines) % 2 == 1


def grid_of(rows: list[list[str]]) -> pd.DataFrame:
    """Return rows of unlike length as a rectangle of stripped text without empty rows and columns at its end.

    Raises
    ------
    SourceError
        If the rectangle would hold more than `MAX_CELLS` cells.
    """
    rows = [[cell.strip() for cell in row] for row in rows]
    while rows and not any(rows[-1]):
        rows.pop()
    width = max(map(len, rows), default=0)
    if width * len(rows) > MAX_CELLS:
        msg = f"{len(rows):,} rows x {width:,} columns are too many to be a sheet; look at its longest row"
        raise SourceError(msg)
    columns = list(zip_longest(*rows, fillvalue="")) if width * 4 < len(rows) else _columns(rows, width)
    while columns and not any(columns[-1]):
        columns.pop()
    return pd.DataFrame({n: pd.array(column, dtype="str") for n, column in enumerate(columns)})


def _columns(rows: list[list[str]], width: int) -> list[Sequence[str]]:
    """Turn rows into columns; quick also where one row is far longer than the rest."""
    columns: list[list[str]] = [[""] * len(rows) for _ in range(width)]
    for number, row in enumerate(rows):
        for n, cell in enumerate(row):
            if cell:
                columns[n][number] = cell
    return list(columns)


def trim(frame: pd.DataFrame) -> pd.DataFrame:
    """Strip every cell, and drop empty rows and columns at the end."""
    stripped = [frame[n].str.strip() for n in frame.columns]
    last_row, last_column = 0, 0
    for n, column in enumerate(stripped):
        filled = (column != "").to_numpy().nonzero()[0]
        if len(filled):
            last_row, last_column = max(last_row, int(filled[-1]) + 1), n + 1
    return pd.DataFrame({n: column.iloc[:last_row] for n, column in enumerate(stripped[:last_column])})
