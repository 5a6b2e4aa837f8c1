"""Names and codes that need the coach's word: what is asked, and the answers he gave."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.raw import Answer, Finding
from lbeval.spelling import fold
from lbeval.tables import TABLES, empty_table
from lbeval.tidy.texts import fault_of

LEAVE_OUT = "leave out"
"""The answer that says: not one of ours, leave it out."""

FILE = "to_settle.xlsx"

_Key = tuple[str, str, str]


class Match(NamedTuple):
    """What a text stands for: our id; or empty, with why there is none and what is near."""

    id: str
    message: str = ""
    near: str = ""


class Settled(NamedTuple):
    """A column looked up: ids (empty where there is none), and masks of what is unknown and left out.

    `matches` says for each unknown text why.
    """

    ids: NDArray[np.object_]
    unknown: NDArray[np.bool_]
    left_out: NDArray[np.bool_]
    matches: dict[str, Match]


@dataclass
class _Question:
    what: str
    where: str
    written: str
    times: int
    near: str


class Settler:
    """Answers given so far, and the questions that a run comes upon."""

    def __init__(self, answers: tuple[Answer, ...]) -> None:
        self._given: dict[_Key, Answer] = {}
        self._clashing: list[Answer] = []
        for answer in answers:
            key = _key(answer.what, answer.where, answer.written)
            before = self._given.get(key)
            if before is None or not before.answer:
                self._given[key] = answer
            elif answer.answer and fold(answer.answer) != fold(before.answer):
                self._clashing.append(answer)
        self._asked: dict[_Key, _Question] = {}
        self._refused: dict[_Key, str] = {}

    def look_up(
        self,
        texts: pd.Series,
        what: str,
        where: str,
        find: Callable[[str], Match],
        counted: NDArray[np.bool_] | None = None,
    ) -> Settled:
        """Return what each text of a column stands for: an answer first, else what `find` says.

        Parameters
        ----------
        where : the source that an answer is good for; empty: everywhere.
        counted : which rows count as an occurrence of their text; None: all.
        """
        codes, unique = pd.factorize(texts)
        counts = np.bincount(codes if counted is None else codes[counted], minlength=len(unique))
        ids = np.full(len(unique), "", dtype=object)
        unknown, left = np.zeros(len(unique), dtype=bool), np.zeros(len(unique), dtype=bool)
        matches: dict[str, Match] = {}
        for n, text in enumerate(map(str, unique)):
            if not text:
                continue
            match = self._settle(_Question(what, where, text, int(counts[n]), ""), find)
            left[n], unknown[n] = match.id == LEAVE_OUT, not match.id
            ids[n] = "" if left[n] else match.id
            if unknown[n]:
                matches[text] = match
        return Settled(ids[codes], unknown[codes], left[codes], matches)

    def _settle(self, question: _Question, find: Callable[[str], Match]) -> Match:
        given = self._answer(question)
        if given is not None:
            question.where = given.where
            self._note(question)
            if fold(given.answer) == LEAVE_OUT:
                return Match(LEAVE_OUT)
            said = find(given.answer)
            if said.id:
                return said
            self._refused[_key(given.what, given.where, given.written)] = said.message
        found = find(question.written)
        if given is not None:
            self._asked[_key(given.what, given.where, given.written)].near = found.near
        if not found.id and given is None and fault_of(question.written) is None:
            question.near = found.near
            self._note(question)
        return found

    def _answer(self, question: _Question) -> Answer | None:
        """Return the coach's answer; one without a place holds everywhere."""
        for place in (question.where, ""):
            given = self._given.get(_key(question.what, place, question.written))
            if given is not None and given.answer:
                return given
        return None

    def _note(self, question: _Question) -> None:
        """Ask once, however often the text stands in the files."""
        key = _key(question.what, question.where, question.written)
        before = self._asked.setdefault(
            key, _Question(question.what, question.where, question.written, 0, "")
        )
        before.times += question.times
        before.near = before.near or question.near

    def findings(self) -> list[Finding]:
        """Return what is wrong with the answers themselves."""
        said = []
        for key, message in self._refused.items():
            given = self._given[key]
            asked = f"{given.what} {given.written!r}"
            text = f"the answer {given.answer!r} for the {asked} cannot be used: {message}"
            said.append(_about(given, "answer_not_understood", text))
        for given in self._clashing:
            text = f"the {given.what} {given.written!r} has two answers; the first was taken"
            said.append(_about(given, "answer_twice", text))
        return said

    def table(self) -> pd.DataFrame:
        """Return what waits and what was answered, sorted; an answer not understood counts as none."""
        rows = []
        for key in {*self._asked, *(k for k, given in self._given.items() if given.answer)}:
            given, asked = self._given.get(key), self._asked.get(key)
            answer = given.answer if given is not None and key not in self._refused else ""
            first = asked or given
            if first is None:
                continue
            near = (asked.near if asked else "") or (given.suggestion if given else "")
            if given is not None and key in self._refused:
                near = f"{near} (not understood: {given.answer!r})".strip()
            rows.append((first.what, first.where, first.written, asked.times if asked else 0, near, answer))
        if not rows:
            return empty_table("to_settle")
        columns = list(TABLES["to_settle"].columns)
        types = {name: "int64" if name == "times" else "str" for name in columns}
        frame = pd.DataFrame(rows, columns=columns).astype(types)
        return frame.sort_values(["what", "where", "written"], ignore_index=True)


def _key(what: str, where: str, written: str) -> _Key:
    return fold(what), fold(where), fold(written)


def _about(given: Answer, reason: str, message: str) -> Finding:
    remedy = f"choose one of the list, or write `{LEAVE_OUT}`"
    return Finding(FILE, "", given.row, 0, given.answer, "set_aside", reason, message, remedy)
