"""Writing files whole, and names for them that are safe on every system."""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
import time
import unicodedata
from pathlib import Path

from lbeval.errors import ReportError

# https://learn.microsoft.com/en-us/windows/win32/fileio/naming-a-file
_RESERVED = frozenset(
    ["con", "prn", "aux", "nul", "conin", "conout", "clock"]
    + [f"{port}{number}" for port in ("com", "lpt") for number in range(10)],
)
_LETTERS = {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ł": "l", "ı": "i", "þ": "th", "ð": "d"}
_APOSTROPHES = re.compile("['’‘ʼʻ`´]")
_UNSAFE = re.compile(r"[^a-z0-9]+")
_LONGEST = 80
_STALE = 600.0


def slug(name: str, *, fallback: str = "unnamed") -> str:
    r"""Turn any text into the stem of a file name: lower case, `a-z 0-9 -`, at most 80 characters.

    Nothing of a path is left in it; names that Windows keeps for devices get a trailing `-file`; text of
    which nothing can be spelled in these letters gives `fallback`.

    >>> slug("Ana O'Neil-[Şahin]/..\\x"), slug("CON"), slug("日本")
    ('ana-oneil-sahin-x', 'con-file', 'unnamed')
    """
    text = "".join(_LETTERS.get(char, char) for char in name.lower())
    text = unicodedata.normalize("NFKD", text)
    text = "".join(char for char in text if not unicodedata.combining(char))
    text = _UNSAFE.sub("-", _APOSTROPHES.sub("", text)).strip("-")
    text = text[:_LONGEST].strip("-")
    if not text:
        return fallback
    return f"{text}-file" if text in _RESERVED else text


def write_bytes_atomic(path: Path | str, data: bytes) -> Path:
    """Write a file so that it is either the old one or the whole new one, whatever happens.

    The data go to a temporary name in the same folder, which then takes the file's place. A file that already
    holds these bytes is left as it is.

    Raises
    ------
    ReportError
        If the file is open in another program, or the folder cannot be written to.
    """
    target = Path(path)
    try:
        if target.is_file() and target.stat().st_size == len(data) and target.read_bytes() == data:
            return target
        target.parent.mkdir(parents=True, exist_ok=True)
        _replace(target, data)
    except PermissionError as error:
        raise ReportError(
            f"{target} could not be written: it is open in another program, or the folder may not be written "
            "to. Close it there and run again.",
        ) from error
    except OSError as error:
        raise ReportError(f"{target} could not be written: {error.strerror or error}.") from error
    return target


def write_text_atomic(path: Path | str, text: str) -> Path:
    """Write text as UTF-8 with line feeds; see `write_bytes_atomic`."""
    return write_bytes_atomic(path, text.encode("utf-8"))


def _replace(target: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=".lbeval-", suffix=".tmp", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(OSError):  # a folder on a share may refuse to change rights
            Path(name).chmod(_mode(target))
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    _sweep(target.parent)


def _sweep(folder: Path) -> None:
    """Remove what runs that were killed left behind, old enough that no live run still writes it."""
    for left in folder.glob(".lbeval-*.tmp"):
        with contextlib.suppress(OSError):
            if time.time() - left.stat().st_mtime > _STALE:
                left.unlink()


def _mode(target: Path) -> int:
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
