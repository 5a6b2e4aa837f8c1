"""Which characters the shipped fonts can draw, and text brought to them.

The fonts come from packages, never from the system, so that a page is the same everywhere: Source Sans Pro
(SIL Open Font License) from `font-source-sans-pro`, and DejaVu Sans, which covers more scripts, from
matplotlib. A character that neither holds is printed as a visible mark.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from importlib.util import find_spec
from itertools import chain
from pathlib import Path

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from lbeval.errors import ReportError

MISSING = "▯"
SANS = "Source Sans Pro"
FALLBACK = "DejaVu Sans"
MONO = "DejaVu Sans Mono"

_SANS_FACES = ("Regular", "It", "Semibold", "Bold", "BoldIt")
_FALLBACK_FACES = ("Sans", "Sans-Bold", "Sans-Oblique", "Sans-BoldOblique", "SansMono")
_BREAKS = re.compile("\r\n|[\r\x0b\x0c\x85\u2028\u2029]")
_PLAIN = re.compile(r"[ -~\n]*")
_UNDRAWABLE = frozenset({"Cc", "Cs", "Co", "Cn"})
# Marks that have no width by themselves but are not of category Cf: variation selectors and fillers.
_INVISIBLE = frozenset(
    chain(
        (0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x180B, 0x180C, 0x180D, 0x180F, 0x3164, 0xFFA0),
        range(0xFE00, 0xFE10),
        range(0xE0100, 0xE01F0),
    ),
)
# Arabic number signs are of category Cf and yet drawn.
_DRAWN_FORMAT = frozenset([*range(0x0600, 0x0606), 0x06DD, 0x08E2])
_MARKS_IN_A_ROW = 3


def font_files() -> tuple[Path, ...]:
    """Return the font files the pages use, all of them from installed packages.

    Raises
    ------
    ReportError
        If a package that holds them is missing or laid out otherwise.
    """
    sans = _folder("font_source_sans_pro") / "files"
    fallback = _folder("matplotlib") / "mpl-data" / "fonts" / "ttf"
    files = tuple(sans / f"SourceSansPro-{face}.ttf" for face in _SANS_FACES) + tuple(
        fallback / f"DejaVu{face}.ttf" for face in _FALLBACK_FACES
    )
    for file in files:
        if not file.is_file():
            raise ReportError(f"The font {file.name} is missing; reinstall lbeval with its dependencies.")
    return files


@cache
def covered() -> frozenset[int]:
    """Return the code points that can be drawn both in regular and in bold."""
    by_name = {file.stem: file for file in font_files()}
    regular = _code_points(by_name["SourceSansPro-Regular"]) | _code_points(by_name["DejaVuSans"])
    bold = _code_points(by_name["SourceSansPro-Bold"]) | _code_points(by_name["DejaVuSans-Bold"])
    return regular & bold


def clean(text: str) -> str:
    """Take out of a string what is not seen but acts, and mark what cannot be text.

    Line separators become line feeds and tabs spaces; marks of direction and of no width are dropped;
    control characters, lone surrogates, private and unassigned characters become a visible box; of a row of
    combining marks three are kept.
    """
    if _PLAIN.fullmatch(text):
        return text
    kept: list[str] = []
    marks = 0
    for char in _BREAKS.sub("\n", text).replace("\t", " "):
        category = unicodedata.category(char)
        marks = marks + 1 if category in {"Mn", "Me"} else 0
        if ord(char) in _INVISIBLE or marks > _MARKS_IN_A_ROW:
            continue
        if category == "Cf" and ord(char) not in _DRAWN_FORMAT:
            continue
        kept.append(MISSING if category in _UNDRAWABLE and char != "\n" else char)
    return "".join(kept)


def printable(text: str) -> str:
    """Return `clean` text in which every character has a glyph; what has none becomes a visible box."""
    if _PLAIN.fullmatch(text):
        return text
    known = covered()
    return "".join(
        char if ord(char) in known or char == "\n" else MISSING
        for char in unicodedata.normalize("NFC", clean(text))
    )


def _folder(package: str) -> Path:
    found = find_spec(package)
    if found is None or found.origin is None:
        raise ReportError(f"The package {package}, which holds the fonts, is not installed.")
    return Path(found.origin).parent


def _code_points(file: Path) -> frozenset[int]:
    with TTFont(file, lazy=True) as font:
        return frozenset(font.getBestCmap())
