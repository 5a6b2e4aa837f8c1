"""How far the filled cells of an ODS or XLSB reach: a reader makes room for all before it can say."""

from __future__ import annotations

import zipfile

from lbeval.read.markup import parse_xml

_ROW, _FIRST_CELL, _LAST_CELL = 0, 2, 11


def ods_extents(archive: zipfile.ZipFile) -> list[tuple[int, int]]:
    """Return (rows, columns) of the sheets of an ODS, with repeated cells counted."""
    extents: list[tuple[int, int]] = []
    row = column = step = 0

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal row, column, step
        plain = {key.rpartition(":")[2]: value for key, value in attributes.items()}
        if tag == "table":
            extents.append((0, 0))
            row = 0
        elif tag == "table-row":
            step, column = int(plain.get("number-rows-repeated", 1)), 0
            row += step
        elif tag in {"table-cell", "covered-table-cell"}:
            column += int(plain.get("number-columns-repeated", 1))
            if "value-type" in plain and extents:
                rows, columns = extents[-1]
                extents[-1] = (max(rows, row), max(columns, column))

    parse_xml(archive, "content.xml", start)
    return extents


def xlsb_extents(archive: zipfile.ZipFile) -> list[tuple[int, int]]:
    """Return (rows, columns) of the sheets of an XLSB (records of MS-XLSB 2.1.4), in archive order."""
    paths = sorted(n for n in archive.namelist() if n.startswith("xl/worksheets/") and n.endswith(".bin"))
    return [_records_extent(archive.read(path)) for path in paths]


def _records_extent(data: bytes) -> tuple[int, int]:
    at = row = rows = columns = 0
    while at < len(data):
        kind, at = _number(data, at, 2)
        size, at = _number(data, at, 4)
        if kind == _ROW:
            row = int.from_bytes(data[at : at + 4], "little") + 1
        elif _FIRST_CELL <= kind <= _LAST_CELL:
            rows = max(rows, row)
            columns = max(columns, int.from_bytes(data[at : at + 4], "little") + 1)
        at += size
    return rows, columns


def _number(data: bytes, at: int, longest: int) -> tuple[int, int]:
    """Return a number of seven bits a byte, low first, and where it ends."""
    value = 0
    for place in range(longest):
        byte = data[at] if at < len(data) else 0
        at += 1
        value |= (byte & 0x7F) << 7 * place
        if not byte & 0x80:
            break
    return value, at
