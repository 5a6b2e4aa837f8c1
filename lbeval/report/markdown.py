"""Markdown, as coaches write their remarks, to blocks; what cannot be printed is named."""

from __future__ import annotations

import dataclasses
import html
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, TypeAlias

import mistune

from lbeval.report.blocks import Bullets, Heading, Paragraph, Quote, Rule, Stack, Verbatim
from lbeval.report.parts import Block, Run
from lbeval.report.tables import Align, Cell, Column, DisplayTable

Token: TypeAlias = Mapping[str, Any]

_PRINTED_LINKS = ("http://", "https://", "mailto:")


@cache
def _parser() -> mistune.Markdown:
    return mistune.create_markdown(renderer=None, plugins=["table"])


def markdown_blocks(text: str, *, top_level: int = 2) -> tuple[tuple[Block, ...], tuple[str, ...]]:
    """Turn Markdown into blocks.

    Parameters
    ----------
    text : Markdown; anything may stand in it, nothing in it is ever taken as markup of the page
    top_level : the level of a `#` heading on the page; levels above 2 are not given to anyone

    Returns
    -------
    tuple
        The blocks, and what was left out, a line each: raw HTML and pictures.
    """
    tokens, _ = _parser().parse(text)
    reader = _Reader(top_level)
    blocks = tuple(reader.blocks(tokens if isinstance(tokens, list) else []))
    return blocks, tuple(dict.fromkeys(reader.left_out))


class _Reader:
    def __init__(self, top_level: int) -> None:
        self.left_out: list[str] = []
        self._shift = top_level - 1

    def blocks(self, tokens: Iterable[Token]) -> list[Block]:
        held = (self._block(token) for token in tokens)
        return [block for block in held if block is not None]

    def _block(self, token: Token) -> Block | None:
        children = token.get("children", ())
        held: Block | None = None
        match token["type"]:
            case "paragraph" | "block_text":
                runs = self._runs(children)
                held = Paragraph(runs) if runs else None
            case "heading":
                held = Heading(self._runs(children), token["attrs"]["level"] + self._shift)
            case "list":
                items = [self._item(child) for child in children]
                held = Bullets(items, ordered=bool(token["attrs"]["ordered"]))
            case "block_quote":
                held = Quote(self.blocks(children))
            case "block_code":
                held = Verbatim(str(token["raw"]).rstrip("\n"))
            case "thematic_break":
                held = Rule()
            case "table":
                held = self._table(children)
            case "block_html":
                self.left_out.append("raw HTML")
        return held

    def _item(self, token: Token) -> Block:
        held = self.blocks(token.get("children", ()))
        return held[0] if len(held) == 1 else Stack(held)

    def _table(self, children: Iterable[Token]) -> DisplayTable | None:
        heads: list[Column] = []
        rows: list[list[Cell]] = []
        for part in children:
            if part["type"] == "table_head":
                heads = [self._column(cell) for cell in part["children"]]
            else:
                rows += [[self._cell(cell) for cell in row["children"]] for row in part["children"]]
        fitted = [(row + [Cell()] * len(heads))[: len(heads)] for row in rows]
        return DisplayTable(heads, fitted, summary="Table in the text") if heads else None

    def _column(self, token: Token) -> Column:
        align: Align = token["attrs"].get("align") or "left"
        return Column(self._runs(token["children"]), align=align)

    def _cell(self, token: Token) -> Cell:
        return Cell(self._runs(token["children"]))

    def _runs(self, tokens: Iterable[Token]) -> tuple[Run, ...]:
        return tuple(run for token in tokens for run in self._inline(token))

    def _inline(self, token: Token) -> tuple[Run, ...]:
        inside = self._runs(token.get("children", ()))
        held: tuple[Run, ...] = ()
        match token["type"]:
            case "text":
                held = (Run(html.unescape(token["raw"])),)
            case "strong":
                held = tuple(dataclasses.replace(run, bold=True) for run in inside)
            case "emphasis":
                held = tuple(dataclasses.replace(run, italic=True) for run in inside)
            case "codespan":
                held = (Run(html.unescape(token["raw"]), code=True),)
            case "softbreak":
                held = (Run(" "),)
            case "linebreak":
                held = (Run("\n"),)
            case "link":
                held = self._link(inside, str(token["attrs"]["url"]))
            case "image":
                self.left_out.append("a picture linked from the text")
                held = inside
            case "inline_html":
                self.left_out.append("raw HTML")
        return held

    @staticmethod
    def _link(label: tuple[Run, ...], url: str) -> tuple[Run, ...]:
        said = "".join(run.text for run in label)
        if not url.startswith(_PRINTED_LINKS) or said in {url, url.removeprefix("mailto:")}:
            return label
        return (*label, Run(f" ({url})", muted=True))
