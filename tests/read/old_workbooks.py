"""The smallest workbooks in two old binary formats, written byte by byte.

Records after Microsoft's open specifications MS-XLS (2.4), MS-CFB (2.2-2.6) and MS-XLSB (2.1.4).
"""

from __future__ import annotations

import io
import struct
import zipfile

Cells = list[list[str | float]]

_END, _FAT, _FREE = 0xFFFFFFFE, 0xFFFFFFFD, 0xFFFFFFFF


def xls(name: str, rows: Cells) -> bytes:
    """Return an XLS with one sheet."""
    bof = struct.pack("<HHHHII", 0x0600, 0x0005, 0, 0, 0, 0)
    title = name.encode("utf-16-le")
    bound = struct.pack("<IBBBB", 0, 0, 0, len(name), 1) + title
    globals_size = 4 + len(bof) + 4 + len(bound) + 4
    bound = struct.pack("<IBBBB", globals_size, 0, 0, len(name), 1) + title
    stream = _record(0x0809, bof) + _record(0x0085, bound) + _record(0x000A, b"")
    stream += _record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0010, 0, 0, 0, 0))
    width = max(map(len, rows))
    stream += _record(0x0200, struct.pack("<IIHHH", 0, len(rows), 0, width, 0))
    for row, cells in enumerate(rows):
        for column, cell in enumerate(cells):
            if isinstance(cell, str):
                text = struct.pack("<HHHHB", row, column, 0, len(cell), 1) + cell.encode("utf-16-le")
                stream += _record(0x0204, text)
            else:
                stream += _record(0x0203, struct.pack("<HHHd", row, column, 0, cell))
    stream += _record(0x000A, b"")
    return _compound_file("Workbook", stream)


def _record(kind: int, data: bytes) -> bytes:
    return struct.pack("<HH", kind, len(data)) + data


def _compound_file(name: str, stream: bytes) -> bytes:
    stream = stream.ljust(max(4096, -(-len(stream) // 512) * 512), b"\0")
    sectors = len(stream) // 512
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16)
    header += struct.pack("<HHHHHHIII", 0x3E, 3, 0xFFFE, 9, 6, 0, 0, 0, 1)
    header += struct.pack("<IIIIIIII", 1, 0, 4096, _END, 0, _END, 0, 0)
    header += struct.pack("<I", _FREE) * 108
    fat = [_FAT, _END, *range(3, 2 + sectors), _END]
    table = struct.pack(f"<{len(fat)}I", *fat).ljust(512, b"\xff")
    entries = _entry("Root Entry", 5, 1, _END, 0) + _entry(name, 2, _FREE, 2, len(stream))
    return header + table + entries.ljust(512, b"\0") + stream


def _entry(name: str, kind: int, child: int, start: int, size: int) -> bytes:
    title = (name + "\0").encode("utf-16-le")
    entry = title.ljust(64, b"\0") + struct.pack("<HBBIII", len(title), kind, 1, _FREE, _FREE, child)
    return entry + bytes(36) + struct.pack("<IQ", start, size)


def xlsb(name: str, rows: Cells, *, first_row: int = 0, first_column: int = 0) -> bytes:
    """Return an XLSB with one sheet, its cells beginning at a row and column counted from 0."""
    sheet = _part(0x0081, b"") + _part(0x0094, struct.pack("<IIII", 0, len(rows), 0, max(map(len, rows))))
    sheet += _part(0x0091, b"")
    for row, cells in enumerate(rows, first_row):
        sheet += _part(0x0000, struct.pack("<I", row) + bytes(13))
        for column, cell in enumerate(cells, first_column):
            place = struct.pack("<II", column, 0)
            if isinstance(cell, str):
                sheet += _part(0x0006, place + _wide(cell))
            else:
                sheet += _part(0x0005, place + struct.pack("<d", cell))
    sheet += _part(0x0092, b"") + _part(0x0082, b"")
    book = _part(0x0083, b"") + _part(0x008F, b"")
    book += _part(0x009C, struct.pack("<II", 0, 1) + _wide("rId1") + _wide(name))
    book += _part(0x0090, b"") + _part(0x0084, b"")
    link = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet"
    rels = (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        f'<Relationship Id="rId1" Type="{link}" Target="worksheets/sheet1.bin"/></Relationships>'
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("xl/workbook.bin", book)
        archive.writestr("xl/_rels/workbook.bin.rels", rels)
        archive.writestr("xl/worksheets/sheet1.bin", sheet)
    return buffer.getvalue()


def _part(kind: int, data: bytes) -> bytes:
    number = bytes([kind]) if kind < 0x80 else bytes([(kind & 0x7F) | 0x80, kind >> 7])
    size, rest = b"", len(data)
    while rest >= 0x80:
        size += bytes([(rest & 0x7F) | 0x80])
        rest >>= 7
    return number + size + bytes([rest]) + data


def _wide(text: str) -> bytes:
    return struct.pack("<I", len(text)) + text.encode("utf-16-le")
