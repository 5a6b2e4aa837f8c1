"""What every block of a page has in common: runs of text, JSON both ways, and its show in Jupyter.

Parts hold data and never markup. Strings stay as they came; each renderer escapes them for its own language.
"""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, ClassVar, TypeAlias, get_args

from lbeval.errors import ReportError
from lbeval.report.glyphs import clean

BLOCK_MIME = "application/vnd.lbeval.block+json"
TABLE_MIME = "application/vnd.lbeval.table+json"

Json: TypeAlias = dict[str, Any]

_MAX_DEPTH = 24
_KINDS: dict[str, type[Part]] = {}
_LOOKS = {
    "bold": ("<strong>", "</strong>"),
    "italic": ("<em>", "</em>"),
    "muted": ('<span style="color:#595959">', "</span>"),
    "accent": ('<span style="color:#1f4e79">', "</span>"),
    "raised": ("<sup>", "</sup>"),
    "code": ("<code>", "</code>"),
}


@dataclass(frozen=True)
class Part:
    """Anything that travels in a block's JSON: blocks, runs of text, cells, columns."""

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        _KINDS[cls.__name__] = cls

    def to_json(self) -> Json:
        """Return the part as plain JSON; fields at their defaults are left out."""
        held: Json = {"type": type(self).__name__}
        for field in fields(self):
            value = getattr(self, field.name)
            if value != field.default:
                held[field.name] = _encode(value)
        return held

    def _set(self, name: str, value: object) -> None:
        object.__setattr__(self, name, value)

    def _strings(self, *names: str) -> None:
        for name in names:
            if not isinstance(getattr(self, name), str):
                raise ReportError(f"{type(self).__name__}.{name} must be text.")

    def _required(self, *names: str) -> None:
        self._strings(*names)
        for name in names:
            if not getattr(self, name).strip():
                raise ReportError(f"{type(self).__name__}.{name} is empty; say what it is or shows.")

    def _one_of(self, name: str, allowed: object) -> None:
        value = getattr(self, name)
        if value not in get_args(allowed):
            choice = ", ".join(map(repr, get_args(allowed)))
            raise ReportError(f"{type(self).__name__}.{name} is {value!r} and not one of {choice}.")


@dataclass(frozen=True)
class Run(Part):
    """A stretch of text in one look."""

    text: str
    bold: bool = False
    italic: bool = False
    muted: bool = False
    accent: bool = False
    raised: bool = False
    code: bool = False

    def __post_init__(self) -> None:
        self._strings("text")


Text: TypeAlias = str | Run | Sequence[str | Run]


def runs(text: Text) -> tuple[Run, ...]:
    """Bring any accepted form of text to a tuple of runs.

    Raises
    ------
    ReportError
        If `text` is neither a string, a `Run` nor a sequence of these.
    """
    if isinstance(text, Run):
        return (text,)
    if isinstance(text, str):
        return (Run(text),) if text else ()
    if not isinstance(text, Sequence) or not all(isinstance(piece, str | Run) for piece in text):
        raise ReportError(f"Text is a string, a Run or a sequence of them, not {type(text).__name__}.")
    return tuple(piece if isinstance(piece, Run) else Run(piece) for piece in text)


def plain(text: Text) -> str:
    """Return the text without its looks."""
    return "".join(run.text for run in runs(text))


def html_text(text: str) -> str:
    """Escape a string for HTML, line breaks kept."""
    return html.escape(clean(text)).replace("\n", "<br>")


def html_runs(text: Text) -> str:
    """Escape text for HTML and dress its runs."""
    done = []
    for run in runs(text):
        piece = html_text(run.text)
        for look, (start, end) in _LOOKS.items():
            if getattr(run, look):
                piece = f"{start}{piece}{end}"
        done.append(piece)
    return "".join(done)


@dataclass(frozen=True)
class Block(Part):
    """A part that stands on a page by itself."""

    mime: ClassVar[str] = BLOCK_MIME

    def html(self) -> str:
        """Return the block as HTML in which all data is escaped."""
        raise NotImplementedError

    def plain(self) -> str:
        """Return the block as plain text."""
        raise NotImplementedError

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Json:  # noqa: ARG002
        return {self.mime: self.to_json(), "text/html": self.html(), "text/plain": self.plain()}

    def _runs(self, *names: str) -> None:
        for name in names:
            self._set(name, runs(getattr(self, name)))

    def _blocks(self, name: str) -> None:
        given = getattr(self, name)
        held = (given,) if isinstance(given, Block) else tuple(given)
        if not all(isinstance(block, Block) for block in held):
            raise ReportError(f"{type(self).__name__}.{name} holds something that is not a block.")
        self._set(name, held)


del _KINDS["Block"]  # the base is no block that could be shown


def from_json(data: object) -> Block:
    """Rebuild a block from its JSON; the modules that define blocks must have been imported.

    Raises
    ------
    ReportError
        If the JSON is not one of our blocks.
    """
    block = _decode(data, 0)
    if not isinstance(block, Block):
        raise ReportError("An output claims to be a block of a page but is none.")
    return block


def _encode(value: object) -> object:
    if isinstance(value, Part):
        return value.to_json()
    if isinstance(value, tuple):
        return [_encode(item) for item in value]
    return value


def _decode(data: object, depth: int) -> Any:
    if depth > _MAX_DEPTH:
        raise ReportError("A block is nested too deeply to be printed.")
    if isinstance(data, list):
        return tuple(_decode(item, depth + 1) for item in data)
    if not isinstance(data, Mapping):
        return data
    kind = _KINDS.get(str(data.get("type")))
    if kind is None:
        raise ReportError(f"A block of the unknown type {data.get('type')!r} cannot be printed.")
    held = {str(name): _decode(value, depth + 1) for name, value in data.items() if name != "type"}
    try:
        return kind(**held)
    except (TypeError, ValueError, OverflowError, AttributeError) as error:
        raise ReportError(f"A block of the type {kind.__name__} is damaged: {error}") from error
