"""The tables of a player's page."""

from __future__ import annotations

from lbeval.report import sentences, words
from lbeval.report.player_rows import PlayerRows
from lbeval.report.tables import Column, DisplayTable
from lbeval.tables import EVENT_KINDS

MOST_FAULTS = 5


def events_table(rows: PlayerRows) -> DisplayTable | None:
    """Return the events of every kind that this staff notes; None where it notes none."""
    if not rows.events_kept:
        return None
    his = {row.kind: row for row in rows.events}
    base = next((row.base for row in rows.events), "snaps" if rows.film.n_snaps else "graded plays")
    kept = [(kind, label) for kind, label in EVENT_KINDS.items() if kind in rows.events_kept]
    lines = [
        (words.sentence_case(label), f"{his[kind].n_events:,}", sentences.event_rate(his[kind]))
        for kind, label in kept
        if kind in his
    ]
    none = words.listing([label for kind, label in kept if kind not in his], "or")
    return DisplayTable(
        [
            Column("", width=1),
            Column("Times", align="right"),
            Column(f"Per 100 {'snaps' if base == 'snaps' else 'plays'}", align="right"),
        ],
        lines,
        summary=f"What happened beside the marks in games, with the rate per 100 {base}.",
        notes=[f"No {none}."] if none else [],
    )


def faults_table(rows: PlayerRows) -> list[DisplayTable]:
    """Return the faults noted on his tackle attempts, most misses first; nothing where none was noted."""
    if not rows.faults:
        return []
    both = rows.house.faults_recorded == "every attempt"
    misses, made = rows.faults[0].n_missed, rows.faults[0].n_obs - rows.faults[0].n_missed
    of = words.count(misses, "miss", "misses")
    columns = [Column("Fault noted", width=1), Column(f"On {of}", align="right")]
    if both:
        columns.append(Column(f"On {made:,} made", align="right"))
    lines = []
    for row in rows.faults[:MOST_FAULTS]:
        known = rows.fault_words.get(row.fault)
        label = words.sentence_case(known.label if known else row.fault.replace("_", " "))
        lines.append([label, f"{row.missed:,}", *([f"{row.made:,}"] if both else [])])
    said = "Faults noted on his tackle attempts, by how many misses they go with."
    return [DisplayTable(columns, lines, summary=said)]
