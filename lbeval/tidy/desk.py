"""The desk that all of tidy works at: settings, findings, questions, and one way to look a column up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.raw import RawTable
from lbeval.settings import Rubric, SeasonSettings, Source
from lbeval.spelling import fold
from lbeval.tidy.findings import Findings, Said, Scope
from lbeval.tidy.settle import Match, Settler
from lbeval.tidy.texts import fault_of


@dataclass(frozen=True, eq=False)
class Desk:
    """What every step of tidying needs, and where it leaves what it could not use."""

    settings: SeasonSettings
    rubric: Rubric
    findings: Findings
    settler: Settler

    def settle(
        self,
        table: RawTable,
        rows: pd.DataFrame,
        name: str,
        find: Callable[[str], Match],
        *,
        what: str = "",
        everywhere: bool = False,
        scope: Scope | None = None,
        where: str | None = None,
        shown: str = "",
    ) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
        """Look field `name` of `rows` up; set aside what is unknown.

        Parameters
        ----------
        find : what a text stands for; the source's declared `values` come before it.
        what : what `to_settle.xlsx` calls it; empty: the field's name.
        everywhere : whether an answer holds for all sources, or for this one.
        scope : what an unknown text takes out of use; None: as `Findings.add`.
        where : how `to_settle.xlsx` names the source; None: by its files.
        shown : column of `rows` with the whole cell, where `name` is a part of it.

        Returns
        -------
        ids (empty where blank, unknown or left out), and which rows are unknown or left out.
        """
        declared = declared_words(table.source, name)

        @cache
        def found(text: str) -> Match:
            return find(declared.get(fold(text), text))

        if where is None:
            where = "" if everywhere else label(table.source)
        counted = ~rows.duplicated(_occurrence(table, name)).to_numpy()
        texts = rows[name]
        settled = self.settler.look_up(texts, what or name, where, found, counted)
        aside = rows[settled.unknown]
        if len(aside):
            written = texts[settled.unknown].to_numpy(dtype=object)
            said = {text: _said(text, what or name, match) for text, match in settled.matches.items()}
            cells = aside[shown or name].to_numpy(dtype=object)
            self.findings.add(table, aside, name, cells, [said[str(text)] for text in written], scope=scope)
        left = rows[settled.left_out]
        self.findings.leave_out(table, left, name, scope=scope)
        return settled.ids, settled.unknown | settled.left_out


def declared_words(source: Source, name: str) -> dict[str, str]:
    """Return the block's `values` of a field: spelling, folded -> our word."""
    words: dict[str, str] = source.values.get(name, {})  # noqa: PD011
    return {fold(written): word for written, word in words.items()}


def label(source: Source) -> str:
    """Return how `to_settle.xlsx` names a source: its file patterns, and its sheets if not all."""
    sheets = "" if source.sheets == ("*",) else f" [{', '.join(source.sheets)}]"
    return ", ".join(source.files) + sheets


def _occurrence(table: RawTable, name: str) -> list[str]:
    """Return the columns that tell cells apart in which a field stands."""
    in_heading = (name == "player" and table.source.shape == "across") or name in {
        "criterion",
        "test",
        "score",
    }
    return [
        "source_file",
        "source_sheet",
        *(["source_column"] if in_heading else []),
        *([] if name == "player" and table.source.shape == "across" else ["source_row"]),
        name,
    ]


def _said(text: str, what: str, match: Match) -> Said:
    fault = fault_of(text)
    if fault is not None:
        return Said(*fault)
    near = f"; nearest: {match.near}" if match.near else ""
    return Said(
        f"unknown_{what}",
        match.message,
        f"answer it in to_settle.xlsx, or correct the file{near}",
        waits=True,
    )


def word_finder(words: dict[str, str], kind: str) -> Callable[[str], Match]:
    """Return a look-up of declared words: spelling -> our id; what is not among them is unknown."""
    known = {fold(written): word for written, word in words.items()}
    shown = ", ".join(dict.fromkeys(words.values()))

    def find(text: str) -> Match:
        word = known.get(fold(text).replace("_", " ")) or known.get(fold(text))
        if word is not None:
            return Match(word)
        return Match("", f"{text!r} is no {kind} that the settings know", shown if len(shown) < 120 else "")

    return find


def own_words(ids: tuple[str, ...]) -> dict[str, str]:
    """Return our ids with their spelling in words (`straight_on`: straight on)."""
    return {**{one: one for one in ids if one}, **{one.replace("_", " "): one for one in ids if one}}
