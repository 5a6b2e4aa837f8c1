"""The clip list, who did what, the tackle log and the tally, as files."""

from __future__ import annotations

from data_demo.maker.paper import Cell, Paper, Sheet, text_paper
from data_demo.maker.season import SimulatedSeason
from data_demo.maker.tables import records
from data_demo.maker.world import PLAYERS, SESSIONS

CLIPS, JOBS, TACKLES, TALLY = (
    "film/clips.csv",
    "film/who_did_what.csv",
    "film/tackle_log.csv",
    "film/tally.xlsx",
)

_BLOCKERS = {
    "line": "OL",
    "climbing": "climb",
    "puller": "pull",
    "tight_end": "TE",
    "back": "RB",
    "crack": "crack",
    "": "",
}
_RESULTS = {"solo": "T", "assist": "A", "miss": "M"}
_APPROACHES = {"straight_on": "straight", "angle": "angle", "pursuit": "pursuit"}
_KINDS = {
    "missed_assignment": "MA", "mental_error": "ME", "loaf": "LOAF", "penalty": "PEN", "pressure": "PRESS",
    "tackle_for_loss": "TFL", "sack": "SACK", "break_up": "PBU", "takeaway": "TAKE",
    "special_teams_snap": "ST",
}  # fmt: skip


def film_papers(season: SimulatedSeason) -> list[Paper]:
    """Return the files that are kept from film."""
    return [_clips(season), _jobs(season), _tackle_log(season), _tally(season)]


def _clips(season: SimulatedSeason) -> Paper:
    heads: list[Cell] = ["Session", "Clip", "Snap", "Date", "Phase", "Week", "Opponent", "R/P", "Dn", "Dist"]
    rows: list[list[Cell]] = [[*heads, "Hash", "Call", "Dir", "No play"]]
    for p in records(season.film.plays):
        held = SESSIONS[p.session]
        snap = None if p.nullified else int(p.snap)
        where: list[Cell] = [
            held.label,
            p.clip,
            snap,
            held.date.isoformat(),
            held.phase,
            held.week,
            held.opponent,
        ]
        what: list[Cell] = [p.play_type[0].upper(), p.down, p.distance, p.hash[0].upper(), p.call, p.side]
        rows.append([*where, *what, "x" if p.nullified else ""])
    return text_paper(CLIPS, rows)


def _jobs(season: SimulatedSeason) -> Paper:
    rows: list[list[Cell]] = [["Session", "Clip", "Player", "Spot", "Job", "At point", "Blocked by", "From"]]
    clip = season.film.plays["clip"].to_numpy()
    side = {"left": "L", "right": "R", "front": "F", "": ""}
    for r in records(season.film.reps):
        row: list[Cell] = [SESSIONS[r.session].label, int(clip[r.play]), PLAYERS[r.player].name, r.role]
        rows.append([*row, r.assignment, r.at_point, _BLOCKERS[r.blocker], side[r.block_side]])
    return text_paper(JOBS, rows)


def _tackle_log(season: SimulatedSeason) -> Paper:
    rows: list[list[Cell]] = [
        ["Game", "Clip", "No.", "Result", "Approach", "Faults", "YAC", "Head", "Scored by"]
    ]
    clip = season.film.plays["clip"].to_numpy()
    labels = {id_: fault.label for id_, fault in season.rubric.faults.items()}
    for t in records(season.tackle_log):
        rep = season.film.reps.iloc[t.rep]
        faults = "; ".join(labels[f] for f in t.faults.split(";") if f)
        row: list[Cell] = [
            SESSIONS[rep["session"]].label,
            int(clip[rep["play"]]),
            PLAYERS[rep["player"]].season,
        ]
        rows.append(
            [*row, _RESULTS[t.outcome], _APPROACHES[t.approach], faults, t.yards, t.head, t.scorer.title()]
        )
    return text_paper(TACKLES, rows)


def _tally(season: SimulatedSeason) -> Paper:
    rows: list[list[Cell]] = [["Game", "Clip", "Player", "What"]]
    clip = season.film.plays["clip"].to_numpy()
    surnames = [p.last for p in PLAYERS]
    for e in records(season.event_log):
        p = PLAYERS[e.player]
        name = p.last if surnames.count(p.last) == 1 else p.name
        number = None if e.play < 0 else int(clip[e.play])
        rows.append([f"vs {SESSIONS[e.session].opponent}", number, name, _KINDS[e.kind]])
    return Paper(TALLY, [Sheet("Tally", rows)])
