"""Gathers what could not be used, with its place, for the set-aside table and for the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from lbeval.raw import Finding, RawSeason, RawTable
from lbeval.tables import LINEAGE, TABLES, empty_table

Scope = Literal["sheet", "row", "cell", "none"]
"""How much of the sheet a finding takes out of use."""

_PLACE = ["source_file", "source_sheet", "source_row", "source_column"]


class Said(NamedTuple):
    """What is said about a value: reason code, a sentence, what to do, and whether an answer would do."""

    reason: str
    message: str
    suggestion: str
    waits: bool = False


class Findings:
    """Collects findings as frames; `table` and `fates` give them out, sorted."""

    def __init__(self, raw: RawSeason) -> None:
        self._claims = {
            (account.file, account.sheet, claim.block): claim
            for account in raw.accounts
            for claim in account.claims
        }
        self._headings = {(account.file, account.sheet): account.headings for account in raw.accounts}
        self._parts: list[pd.DataFrame] = []
        self._left: list[pd.DataFrame] = []
        self.add_plain(raw.findings)

    def add_plain(self, findings: Iterable[Finding]) -> None:
        """Take findings on files and sheets as they are."""
        rows = [
            (f.file, f.sheet, f.row, f.column, f.value, f.kind, f.reason, f.message, f.suggestion)
            for f in findings
        ]
        if rows:
            frame = pd.DataFrame(rows, columns=[*_PLACE, "value", "kind", "reason", "message", "suggestion"])
            self._parts.append(frame.assign(waits=False, scope="none"))

    def add_table(self, table: RawTable, frame: pd.DataFrame) -> None:
        """Take a set-aside table on values: with a column it is about the cell, without one about the row."""
        if frame.empty:
            return
        scopes = np.where(frame["source_column"] > 0, "cell", "row")
        columns, _ = self.column_of(table, frame, "value")
        kept = frame[[*_PLACE, "value", "kind", "reason", "message", "suggestion", "waits"]]
        kept = kept.assign(
            source_column=np.where(frame["source_column"] > 0, frame["source_column"], columns)
        )
        self._parts.append(kept.assign(scope=np.where(frame["kind"] == "set_aside", scopes, "none")))

    def column_of(
        self, table: RawTable, rows: pd.DataFrame, name: str
    ) -> tuple[NDArray[np.int64], NDArray[np.object_]]:
        """Return the column that field `name` stands in for each row, and the scope of a fault in it."""
        across = table.source.shape != "long"
        columns = np.zeros(len(rows), dtype=np.int64)
        scopes = np.full(len(rows), "row", dtype=object)
        keys = rows["source_file"] + "\0" + rows["source_sheet"]
        codes, unique = pd.factorize(keys)
        own = rows["source_column"].to_numpy()
        for n, key in enumerate(unique):
            file, _, sheet = str(key).partition("\0")
            claim = self._claims.get((file, sheet, table.block))
            here = codes == n
            if claim is None:
                continue
            if name in claim.fields:
                columns[here] = claim.fields[name]
            elif name in claim.whole:
                scopes[here] = "sheet"
            elif across and claim.marks:
                columns[here] = own[here]
                scopes[here] = "cell"
        return columns, scopes

    def add(
        self,
        table: RawTable,
        rows: pd.DataFrame,
        name: str,
        values: pd.Series | NDArray[np.object_] | str,
        said: Said | list[Said],
        *,
        kind: Literal["set_aside", "notice"] = "set_aside",
        scope: Scope | None = None,
    ) -> None:
        """Set `rows` aside (or notice them) for what stands in field `name`.

        Parameters
        ----------
        rows : rows of `table.frame` (any with the lineage columns).
        said : one for all, or one a row.
        scope : how much of a row it takes out of use; None: the row, or the cell where the field is a
            heading over it, or the sheet where one text gives the field to all of it.
        """
        if rows.empty:
            return
        columns, scopes = self.column_of(table, rows, name)
        if scope is not None:
            scopes = np.full(len(rows), scope, dtype=object)
        if scope == "cell" and (columns == 0).any():
            columns = np.where(columns == 0, rows["source_column"].to_numpy(), columns)
        whole = scopes == "sheet"
        each = [said] * len(rows) if isinstance(said, Said) else said
        frame = pd.DataFrame(
            {
                "source_file": rows["source_file"].to_numpy(dtype=object),
                "source_sheet": rows["source_sheet"].to_numpy(dtype=object),
                "source_row": np.where(whole, 0, rows["source_row"].to_numpy()),
                "source_column": np.where(whole, 0, columns),
                "value": values if isinstance(values, str) else np.asarray(values, dtype=object),
                "kind": kind,
                "reason": [one.reason for one in each],
                "message": [one.message for one in each],
                "suggestion": [one.suggestion for one in each],
                "waits": [one.waits for one in each],
                "scope": scopes if kind == "set_aside" else "none",
            }
        )
        self._parts.append(frame.drop_duplicates())

    def leave_out(
        self, table: RawTable, rows: pd.DataFrame, name: str, *, scope: Scope | None = None
    ) -> None:
        """Note that `rows` are left out because somebody said so: for the ledger, not a finding."""
        if rows.empty:
            return
        columns, scopes = self.column_of(table, rows, name)
        if scope is not None:
            scopes = np.full(len(rows), scope, dtype=object)
        frame = rows[list(_PLACE)].assign(source_column=columns, scope=scopes)
        self._left.append(frame.drop_duplicates())

    def table(self) -> pd.DataFrame:
        """Return the set-aside table."""
        if not self._parts:
            return empty_table("set_aside")
        frame = self._all()
        keys = list(zip(frame["source_file"], frame["source_sheet"], frame["source_column"], strict=True))
        frame["column"] = [self._heading(*key) for key in keys]
        frame = frame[list(TABLES["set_aside"].columns)]
        order = [*_PLACE, "kind", "reason", "value", "message", "suggestion"]
        frame = frame.sort_values(order, kind="stable").drop_duplicates(ignore_index=True)
        texts = [name for name in frame.columns if name not in {"source_row", "source_column", "waits"}]
        return frame.astype({**dict.fromkeys(texts, "str"), "source_row": "int64", "source_column": "int64"})

    def fates(self) -> pd.DataFrame:
        """Return places taken out of use: lineage, scope, fate (`set_aside` or `left_out`)."""
        parts = [frame.assign(fate="left_out") for frame in self._left]
        if self._parts:
            aside = self._all()
            aside = aside.loc[(aside["kind"] == "set_aside") & (aside["scope"] != "none"), [*_PLACE, "scope"]]
            parts.append(aside.assign(fate="set_aside"))
        columns = [*LINEAGE, "scope", "fate"]
        return pd.concat(parts, ignore_index=True)[columns] if parts else pd.DataFrame(columns=columns)

    def _all(self) -> pd.DataFrame:
        if len(self._parts) > 1:
            self._parts = [pd.concat(self._parts, ignore_index=True)]
        return self._parts[0].copy()

    def _heading(self, file: str, sheet: str, column: int) -> str:
        headings = self._headings.get((file, sheet), ())
        return headings[column - 1] if 0 < column <= len(headings) else ""
