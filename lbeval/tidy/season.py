"""Raw tables to a checked season, step by step."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from lbeval.raw import RawSeason, RawTable
from lbeval.settings import Rubric, SeasonSettings
from lbeval.tables import LINEAGE, TABLES, Season, check_table, empty_table
from lbeval.tidy.context import Books, numbered, with_play, with_player_and_game
from lbeval.tidy.desk import Desk
from lbeval.tidy.drills import tidy_drills
from lbeval.tidy.events import tidy_events
from lbeval.tidy.findings import Findings
from lbeval.tidy.games import make_games
from lbeval.tidy.grades import KEY, graded, started
from lbeval.tidy.identity import Identity
from lbeval.tidy.ledger import make_ledger, used_places
from lbeval.tidy.numbering import check_numbering
from lbeval.tidy.people import make_people
from lbeval.tidy.plays import PlayBook, make_plays, ordered_plays, plays_from_sheets
from lbeval.tidy.remarks import tidy_remarks
from lbeval.tidy.repeats import one_each
from lbeval.tidy.results import tidy_tests
from lbeval.tidy.roles import tidy_roles
from lbeval.tidy.settle import Settler
from lbeval.tidy.tackles import tidy_tackles

_Part = tuple[RawTable, pd.DataFrame]


def tidy_season(raw: RawSeason, settings: SeasonSettings, rubric: Rubric, folder: Path) -> Season:
    """Settle names, numbers, scales and repeats; what cannot be used is set aside with reason and remedy.

    Raises
    ------
    TableError
        If a table is not what the glossary says, which is a fault of this program, not of a file.
    """
    desk = Desk(settings, rubric, Findings(raw), Settler(raw.answers))
    people = make_people(desk, raw.tables)
    books = Books(Identity(people.players, people.jerseys), make_games(desk, raw.tables))
    rows = _numbered_rows(desk, raw.tables, books)
    book = _all_plays(desk, raw.tables, books, rows)
    placed = [(table, with_play(desk, table, part, book)) for table, part in rows]
    roles = tidy_roles(desk, _of(placed, "roles"))
    done = [graded(desk, table, part, book) for table, part in _of(placed, "grades")]
    by_block = {table.block: table for table in raw.tables}
    single = one_each(desk, _stacked([g.marks for g in done]), by_block)
    check_numbering(desk, single.marks, roles, books, book, by_block)
    tables = {
        "players": people.players,
        "plays": book.plays,
        "roles": roles,
        "grades": single.marks.sort_values([*KEY, *LINEAGE], ignore_index=True)[
            list(TABLES["grades"].columns)
        ],
        "events": tidy_events(desk, _of(placed, "events"), [g.events for g in done]),
        "tackles": tidy_tackles(desk, _of(placed, "tackles")),
        "measurables": tidy_tests(desk, raw.tables, books.identity),
        "drills": tidy_drills(desk, raw.tables, books.games),
        "remarks": tidy_remarks(desk, raw.tables, books.identity),
    }
    desk.findings.add_plain(desk.settler.findings())
    used = used_places(tables | {"players": people.rows}, single.empty)
    ledger, forgotten = make_ledger(raw.accounts, used, desk.findings.fates())
    desk.findings.add_plain(forgotten)
    tables |= {
        "jerseys": people.jerseys,
        "games": books.games.games,
        "set_aside": desk.findings.table(),
        "to_settle": desk.settler.table(),
        "ledger": ledger,
    }
    checked = {name: check_table(name, frame) for name, frame in tables.items()}
    return Season(folder=folder, settings=settings, rubric=rubric, **checked)


def _numbered_rows(desk: Desk, tables: Sequence[RawTable], books: Books) -> list[_Part]:
    """Return the rows of marks, roles, events and tackles with player, session and play number."""
    parts = []
    for table in tables:
        if table.source.kind == "grades":
            rows = started(desk, table, books)
        elif table.source.kind in {"roles", "events", "tackles"}:
            rows = with_player_and_game(desk, table, _said(desk, table), books)
        else:
            continue
        parts.append((table, numbered(desk, table, rows, books)))
    return parts


def _said(desk: Desk, table: RawTable) -> pd.DataFrame:
    """Return a table's rows; where players stand across, without those that say nothing."""
    rows = table.frame
    if table.source.shape != "across":
        return rows
    value = {"roles": "role", "events": "kind", "tackles": "outcome"}[table.source.kind]
    empty = rows[value] == ""
    desk.findings.leave_out(table, rows[empty], value, scope="cell")
    return rows[~empty].reset_index(drop=True)


def _all_plays(desk: Desk, tables: Sequence[RawTable], books: Books, rows: Sequence[_Part]) -> PlayBook:
    listed = make_plays(desk, tables, books.games)
    sessions = frozenset(map(str, listed["game_id"].unique()))
    own = plays_from_sheets(desk, rows, sessions)
    plays = pd.concat([part for part in (listed, own) if len(part)] or [listed], ignore_index=True)
    return PlayBook(ordered_plays(plays, books.games), sessions)


def _of(parts: Sequence[_Part], kind: str) -> list[_Part]:
    return [(table, rows) for table, rows in parts if table.source.kind == kind and len(rows)]


def _stacked(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    filled = [frame for frame in frames if len(frame)]
    if filled:
        return pd.concat(filled, ignore_index=True)
    return empty_table("grades").assign(
        block=pd.Series(dtype="int64"), place=pd.Series(dtype="int64"), number=0
    )
