"""Marks: who marked whom on which play for what, and what the mark is worth on his scale."""

from __future__ import annotations

import re
from functools import partial
from typing import NamedTuple

import numpy as np
import pandas as pd
from rapidfuzz import process

from lbeval.raw import RawTable
from lbeval.settings import Rubric, Source
from lbeval.spelling import fold
from lbeval.tables import LINEAGE
from lbeval.tables.schema import BLANKS, LOOKS, TECHNIQUES
from lbeval.tidy.cells import YES_NO, word_column
from lbeval.tidy.context import Books, with_player_and_game
from lbeval.tidy.desk import Desk, label, own_words, word_finder
from lbeval.tidy.findings import Said
from lbeval.tidy.plays import PlayBook
from lbeval.tidy.scales import Packing, ScaleReader, split_codes
from lbeval.tidy.settle import Match

KEY = ["rater_id", "player_id", "play_id", "criterion", "look", "mode"]
"""What tells two marks apart."""


class Graded(NamedTuple):
    """Marks of one block (the columns of the grades table, `block`, `place`), and events beside them."""

    marks: pd.DataFrame
    events: pd.DataFrame


def started(desk: Desk, table: RawTable, books: Books) -> pd.DataFrame:
    """Return a block's rows with player, session and play number; rows prepared but not filled are let go."""
    rows = table.frame
    needed = [name for name in ("play", "criterion") if name in table.source.columns]
    vague = (rows[["player", *needed]] == "").any(axis=1)
    codes = pd.factorize(rows["source_file"] + "\0" + rows["source_sheet"])[0]
    marked = (rows["score"] != "").groupby([codes, rows["source_row"]]).transform("any")
    idle = vague & ~marked
    desk.findings.leave_out(table, rows[idle], "score", scope="row")
    return with_player_and_game(desk, table, rows[~idle].reset_index(drop=True), books)


def graded(desk: Desk, table: RawTable, rows: pd.DataFrame, book: PlayBook) -> Graded:
    """Return the marks of rows whose player, session and play are known."""
    rows = _without_nullified(desk, table, rows, book)
    raters, lost_rater = _raters(desk, table, rows)
    rows = rows.assign(rater_id=raters)[~lost_rater & (raters != "")].reset_index(drop=True)
    rows, events = _without_codes(desk, table, rows)
    rows = _unpacked(desk, table, rows)
    criteria, lost_criterion = _criteria(desk, table, rows)
    looks, lost_look = desk.settle(table, rows, "look", word_finder(own_words(LOOKS), "look"))
    keep = ~(lost_criterion | lost_look) & (criteria != "")
    rows = rows.assign(criterion=criteria, look=np.where(looks == "", "first", looks))
    rows = rows[keep].reset_index(drop=True)
    rows = _scored(desk, table, rows)
    marks = pd.DataFrame(
        {
            **{
                name: rows[name]
                for name in ("rater_id", "player_id", "game_id", "play_id", "criterion", "look")
            },
            "mode": pd.Series("sheet", index=rows.index, dtype="str"),
            "score": rows["worth"],
            "raw_score": rows["shown"],
            "scale": rows["scale"],
            "blank": rows["blank"].astype("str"),
            "technique": word_column(desk, table, rows, "technique", own_words(TECHNIQUES)),
            "gap_held": word_column(desk, table, rows, "gap_held", YES_NO, "yes or no"),
            **{name: rows[name] for name in LINEAGE},
            "block": table.block,
            "place": rows["place"],
            "number": rows["number"],
        }
    )
    return Graded(marks, events)


def _without_nullified(desk: Desk, table: RawTable, rows: pd.DataFrame, book: PlayBook) -> pd.DataFrame:
    """Leave out marks on plays that the clip list calls nullified, and say how many."""
    wiped = book.plays["nullified"].to_numpy(dtype=bool)
    place = rows["place"].to_numpy(dtype=np.int64)
    on = (place >= 0) & np.append(wiped, [False])[place]
    out = rows[on]
    desk.findings.leave_out(table, out, "score", scope="cell")
    said = out[out["score"] != ""].sort_values("source_row", kind="stable")
    clips = pd.Series(book.plays["clip"].to_numpy()[said["place"].to_numpy(dtype=np.int64)], index=said.index)
    keys = [said[name] for name in ("source_file", "source_sheet", "game_id")]
    shown = clips.groupby(keys).agg(lambda found: ", ".join(map(str, sorted(set(found)))))
    first = said.drop_duplicates(["source_file", "source_sheet", "game_id"])
    counts = clips.groupby(keys).size()
    notes = []
    for key in first[["source_file", "source_sheet", "game_id"]].itertuples(index=False, name=None):
        message = f"marks on nullified plays, left out: {counts[key]} (clips {shown[key]})"
        notes.append(Said("nullified_play", message, "nothing to do, or correct the clip list"))
    desk.findings.add(table, first, "play", first["play"].to_numpy(dtype=object), notes, kind="notice")
    kept: pd.DataFrame = rows[~on].reset_index(drop=True)
    return kept


def _without_codes(desk: Desk, table: RawTable, rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Take event codes out of the marks (`-(MA)`); return the rows left with `shown`, and the events."""
    declared = table.source.events_in_marks
    rows = rows.assign(shown=rows["score"])
    if not declared or rows.empty:
        return rows, rows.iloc[:0].assign(kind="", scorer="")
    split = {text: split_codes(str(text)) for text in rows["score"].unique()}
    rows["score"] = rows["score"].map({text: mark for text, (mark, _) in split.items()}).astype("str")
    codes = rows["shown"].map({text: codes for text, (_, codes) in split.items()})
    coded = rows[codes != ""].assign(code=codes[codes != ""].astype("str"))
    cutter = re.compile(f"[{re.escape(table.source.separators)}\\s]+")
    each = coded.assign(code=coded["code"].map(lambda text: [c for c in cutter.split(text) if c])).explode(
        "code"
    )
    each = each.astype({"code": "str"})
    entry = each.index
    each = each.reset_index(drop=True)
    finder = word_finder(dict(declared), "code behind a mark")
    kinds, lost = desk.settle(table, each, "code", finder, scope="cell", shown="shown")
    bad = rows.index.isin(entry[lost])
    return rows[~bad].reset_index(drop=True), each.assign(kind=kinds, scorer=each["rater_id"])[
        ~lost & (kinds != "")
    ]


def _unpacked(desk: Desk, table: RawTable, rows: pd.DataFrame) -> pd.DataFrame:
    """Return a row for each mark of a packed cell; a cell that cannot be cut is set aside whole."""
    source = table.source
    if not source.packed:
        return rows
    scale = source.scales.get(source.packed[0], source.scale) or ""
    packing = Packing(desk.settings.scales[scale], len(source.packed))
    cut = {text: packing.cut(str(text)) for text in rows["score"].unique()}
    uncut = rows[np.array([cut[text] is None for text in rows["score"]], dtype=bool)]
    said = Said(
        "packed_cell_unreadable",
        f"the cell does not hold {len(source.packed)} marks of the scale ({', '.join(source.packed)})",
        "correct the cell",
    )
    desk.findings.add(table, uncut, "score", uncut["shown"].to_numpy(dtype=object), said, scope="cell")
    rows = rows.drop(index=uncut.index)
    marks = [cut[text] or [] for text in rows["score"]]
    wide = rows.loc[rows.index.repeat(len(source.packed))].reset_index(drop=True)
    flat = [mark for cell in marks for mark in cell]
    wide["score"] = pd.Series(flat, dtype="str")
    wide["criterion"] = pd.Series(list(source.packed) * len(rows), dtype="str")
    return wide


def _raters(desk: Desk, table: RawTable, rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    if table.source.rater is not None:
        return np.full(len(rows), table.source.rater, dtype=object), np.zeros(len(rows), dtype=bool)
    raters = desk.settings.raters
    words = {**{one.name: rater for rater, one in raters.items()}, **{rater: rater for rater in raters}}
    ids, lost = desk.settle(table, rows, "rater", word_finder(words, "coach"), everywhere=True)
    blank = rows[(rows["rater"] == "").to_numpy()]
    desk.findings.add(
        table, blank, "rater", "", Said("rater_missing", "the row names no coach", "write his name")
    )
    return ids, lost


def criterion_finder(source: Source, rubric: Rubric) -> partial[Match]:
    """Return a look-up of criteria: as the block declares them, then the rubric's own ids and labels."""
    known = {fold(one.label): one.id for one in rubric.criteria} | {
        fold(one.id): one.id for one in rubric.criteria
    }
    known |= {fold(written): one for written, one in source.criteria.items()}
    return partial(_criterion, known, {one.id: one.label for one in rubric.criteria})


def _criterion(known: dict[str, str], labels: dict[str, str], text: str) -> Match:
    found = known.get(fold(text))
    if found in labels:
        return Match(str(found))
    if found is not None:
        return Match("", f"{found!r}, which the block names for {text!r}, is no criterion of rubric.toml")
    near = process.extract(fold(text), known.keys(), limit=2, score_cutoff=60)
    shown = "; ".join(dict.fromkeys(known[name] for name, *_ in near))
    return Match("", f"{text!r} is no criterion of rubric.toml", shown)


def _criteria(desk: Desk, table: RawTable, rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    finder = criterion_finder(table.source, desk.rubric)
    ids, lost = desk.settle(table, rows, "criterion", finder)
    blank = rows[((rows["criterion"] == "") & (rows["score"] != "")).to_numpy()]
    said = Said(
        "criterion_missing", "nothing says what was marked", "write the criterion, or declare it in the block"
    )
    desk.findings.add(table, blank, "criterion", "", said)
    return ids, lost


def _scored(desk: Desk, table: RawTable, rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows with `scale`, `worth` and `blank`; marks that are on no scale are set aside."""
    source = table.source
    by_criterion = {one: source.scales.get(one, source.scale) or "" for one in rows["criterion"].unique()}
    rows = rows.assign(scale=rows["criterion"].map(by_criterion).astype("str"), worth=np.nan, blank="")
    bare = rows[rows["scale"] == ""]
    said = Said(
        "no_scale", "the block names no scale for this criterion", "add scale, or scales.<criterion>, to it"
    )
    desk.findings.add(table, bare, "criterion", bare["criterion"].to_numpy(dtype=object), said, scope="cell")
    parts = []
    names = sorted(set(by_criterion.values()) - {""})
    for name in names:
        part = rows[rows["scale"] == name]
        where = label(source) if len(names) == 1 else f"{label(source)} ({name})"
        reader = ScaleReader(desk.settings.scales[name], source.decimal)
        finder = partial(_mark, reader)
        ids, lost = desk.settle(
            table, part, "score", finder, what="mark", scope="cell", where=where, shown="shown"
        )
        ids[(part["score"] == "").to_numpy()] = finder("").id
        part = part[~lost]
        kinds = pd.Series(ids[~lost], index=part.index, dtype="str")
        scores = kinds.map({one: float(one) for one in kinds.unique() if one not in BLANKS})
        parts.append(part.assign(worth=scores.astype("float64"), blank=kinds.where(kinds.isin(BLANKS), "")))
    return pd.concat(parts, ignore_index=True) if parts else rows.iloc[:0]


def _mark(reader: ScaleReader, text: str) -> Match:
    """Return a mark as the text of its worth, or as its kind of blank."""
    mark = reader.read(text)
    if not mark.known:
        return Match("", mark.message, mark.near)
    return Match(mark.blank or repr(mark.score))
