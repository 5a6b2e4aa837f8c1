"""Which files of a season folder are the staff's, and what their names say."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterable
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Literal, NamedTuple

from lbeval.read.sheets import READABLE

OURS = frozenset({"season.toml", "rubric.toml", "to_settle.xlsx", "edits.xlsx", "start.xlsx"})
"""Files at the top of a season folder that are the program's."""

OUTPUT = "lbeval_out"
"""Folder of results: never read."""

_OF_THE_SYSTEM = frozenset({"thumbs.db", "desktop.ini", "icon\r"})
_LOCK = re.compile(r"~\$(.+)|\.~lock\.(.+)#")
_COPY = re.compile(
    r"^(?:copy of|kopie von)\s+|\s*-\s*copy\b.*$|\s+copy(?:\s*\d+)?$|\s*\(\d+\)$|\s*\(.*conflicted copy.*\)$"
    r"|[\s_-]+(?:final|old|new|backup|v)[\s_-]*\d*$",
    re.IGNORECASE,
)
_PHOTOS = frozenset({".jpg", ".jpeg", ".png", ".heic", ".heif", ".gif", ".tif", ".tiff", ".bmp", ".webp"})


class StaffFile(NamedTuple):
    """A file of the season folder; `file` is its path relative to it, with `/`."""

    path: Path
    file: str
    nature: Literal["readable", "photo", "unread", "lock"]


def staff_files(folder: Path) -> list[StaffFile]:
    """Return the staff's files in subfolders too, in the order of their names; the program's are left out."""
    found: list[StaffFile] = []
    for parent, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if name != OUTPUT and not name.startswith("."))
        for name in names:
            path = Path(parent, name)
            file = unicodedata.normalize("NFC", path.relative_to(folder).as_posix())
            if file in OURS or name.lower() in _OF_THE_SYSTEM or name.endswith(".tmp"):
                continue
            if _LOCK.fullmatch(name):
                found.append(StaffFile(path, file, "lock"))
            elif not name.startswith("."):
                found.append(StaffFile(path, file, _nature(path)))
    return sorted(found, key=lambda one: (copy_of(one.file) != "", one.file))


def _nature(path: Path) -> Literal["readable", "photo", "unread"]:
    suffix = path.suffix.lower()
    if suffix in READABLE:
        return "readable"
    return "photo" if suffix in _PHOTOS else "unread"


def locked_file(file: str) -> str:
    """Return the name of the file that a lock file belongs to."""
    found = _LOCK.fullmatch(Path(file).name)
    return (found.group(1) or found.group(2)) if found else ""


def copy_of(file: str) -> str:
    """Return what `file` seems to be a copy of (`Copy of Game 3 FINAL2.csv`: `Game 3.csv`), or nothing."""
    path = Path(file)
    stem, before = path.stem, ""
    while stem != before:
        before, stem = stem, _COPY.sub("", stem).strip(" _-")
    return f"{stem}{path.suffix}" if stem and stem != path.stem else ""


def covers(patterns: Iterable[str], file: str) -> bool:
    """Return whether one of `patterns` is this file: folder by folder, `**` for any folders, case ignored."""
    parts = _parts(file)
    return any(_match(_parts(pattern), parts) for pattern in patterns)


def named(patterns: Iterable[str], name: str) -> bool:
    """Return whether one of `patterns` is this sheet name, case ignored."""
    return any(fnmatchcase(name.strip().casefold(), pattern.strip().casefold()) for pattern in patterns)


def _parts(path: str) -> list[str]:
    plain = unicodedata.normalize("NFC", path).replace("\\", "/").casefold()
    return [part for part in plain.split("/") if part not in {"", "."}]


def _match(pattern: list[str], parts: list[str]) -> bool:
    if not pattern:
        return not parts
    if pattern[0] == "**":
        return any(_match(pattern[1:], parts[n:]) for n in range(len(parts) + 1))
    return bool(parts) and fnmatchcase(parts[0], pattern[0]) and _match(pattern[1:], parts[1:])
