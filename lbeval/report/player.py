"""The player evaluation: how his season was, and what there is to work on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NamedTuple, TypeAlias

from lbeval.analysis import Analysis
from lbeval.fit.tackling import ALL, NOT_NOTED
from lbeval.fit.takeons import STAGES
from lbeval.report import player_charts as charts
from lbeval.report import sentences, words
from lbeval.report.blocks import (
    Alert,
    Block,
    Columns,
    Document,
    Facts,
    Heading,
    KeepTogether,
    Paragraph,
    Quote,
    RuledLines,
    Run,
    SignatureLines,
    SmallPrint,
    Stack,
)
from lbeval.report.markdown import markdown_blocks
from lbeval.report.pictures import FigureBlock
from lbeval.report.player_rows import Copy, PlayerRows, RateRow, player_rows
from lbeval.report.player_tables import events_table, faults_table
from lbeval.report.sentences import Claim

Paper: TypeAlias = Literal["", "letter", "a4"]

NOTEBOOK = "notebooks/player_evaluation.ipynb"
PEN_LINES = 8
SHORT_REMARKS = 600
"""Letters up to which the coach's words stand beside the lines for the pen."""


class PageJob(NamedTuple):
    """A page to print: which notebook with which parameters, under which name."""

    notebook: str
    parameters: dict[str, Any]
    name: str


@dataclass(frozen=True)
class PlayerEvaluation:
    """The sections of a player's page, in order; each is a method that returns a block."""

    rows: PlayerRows
    document: Document
    fit_notes: tuple[str, ...] = ()

    def film(self) -> Stack:
        """Return how much film is behind the page, and any head contact before everything else."""
        rows = self.rows
        items = [
            ("Snaps in games", f"{rows.film.n_snaps:,}") if rows.film.n_snaps else None,
            ("Graded plays", f"{rows.film.n_plays:,}"),
            ("Games", f"{rows.film.n_games:,}"),
            ("Coaches", f"{rows.film.n_raters:,}"),
            ("Practice plays", f"{rows.outside.n_plays:,}") if rows.outside.n_plays else None,
            ("Roles", _roles(rows)) if rows.roles else None,
        ]
        head = sentences.head_contact(rows.head)
        alert = [Alert("Head contact", head.text)] if head else []
        return Stack([Facts([item for item in items if item]), *alert])

    def in_short(self) -> Stack:
        """Return the season in three sentences, on the staff's copy with his place in the room."""
        claims = self._short()
        return Stack([Heading("In short"), *(Paragraph(claim.text, lead=True) for claim in claims)])

    def groups(self) -> Stack:
        """Return the grades by part of the game."""
        rows = self.rows
        if not any(math.isfinite(row.estimate) for row in (rows.overall, *rows.groups)):
            return Stack([])
        staff = self._staff()
        said = [_paragraph(staff)] if staff else []
        return KeepTogether([Heading("Grade by part of the game"), charts.groups(rows), *said])

    def games(self) -> Stack:
        """Return the season game by game."""
        rows = self.rows
        if not math.isfinite(rows.overall.estimate) or len(rows.games) < 2:
            return Stack([])
        return KeepTogether([Heading("Game by game"), charts.games(rows)])

    def takeons_and_events(self) -> Stack:
        """Return called take-ons and what happened beside the marks, side by side where both are known."""
        parts = [part for part in (self._takeons(), self._events()) if part.blocks]
        if not parts:
            return Stack([])
        return KeepTogether([Columns([*parts, Stack([])][:2], widths=(1.25, 1))])

    def tackling(self) -> Stack:
        """Return tackles by approach, the faults that go with misses, and yards after contact."""
        rows = self.rows
        if not rows.log_kept:
            return Stack([])
        said = self._tackles()
        cells: list[Block] = []
        if self._printed()[ALL].n_obs:
            cells += [] if self._printed()[ALL].note else [charts.tackles(rows)]
            cells += faults_table(rows)
        wide = bool(cells) and isinstance(cells[0], FigureBlock)
        cells += [Stack([])] * (len(cells) == 1)
        beside = [Columns(cells, widths=(1.25, 1) if wide else (1, 1.25))] if cells else []
        return KeepTogether([Heading("Tackling"), _paragraph(said), *beside])

    def coach_words(self) -> Stack:
        """Return the coach's remarks and lines for the pen, side by side where the remarks are short."""
        rows = self.rows
        blocks: list[Block] = []
        for remark in rows.remarks:
            if remark.section:
                blocks.append(Heading(words.sentence_case(remark.section.replace("_", " ")), level=3))
            blocks.append(Quote(markdown_blocks(remark.text, top_level=4)[0]))
        if rows.remarks_kept_back:
            kept = words.count(rows.remarks_kept_back, "paragraph names", "paragraphs name")
            blocks.append(
                Paragraph([Run(f"{kept} another player and is left to the coach to say.", muted=True)])
            )
        pen = KeepTogether([Heading("Notes and goals"), RuledLines(PEN_LINES)])
        if not blocks:
            return pen
        spoken = Stack([Heading("Coach's words"), *blocks])
        short = sum(len(remark.text) for remark in rows.remarks) <= SHORT_REMARKS
        return KeepTogether([Columns([spoken, pen], widths=(1, 1.25))]) if short else Stack([spoken, pen])

    def signatures(self) -> Stack:
        """Return what the files do not hold, and lines to sign."""
        missing = _missing(self.rows)
        said = [Paragraph([Run(missing, muted=True)])] if missing else []
        names = [self.rows.person.name, "Position coach"]
        note = "Signed means received and discussed, not agreement."
        return Stack([*said, SignatureLines(names, note=note)])

    def method(self) -> SmallPrint:
        """Return method and cautions."""
        first, *more = _method(self.rows, self.fit_notes)
        return SmallPrint([[Run("Method and cautions. ", bold=True), first], *more])

    def claims(self) -> tuple[Claim, ...]:
        """Return every computed sentence of the page with its id, in the page's order."""
        rows = self.rows
        held: list[Claim | None] = [sentences.head_contact(rows.head), *self._short()]
        held += [*self._staff(), *self._takeon_claims(), *self._tackles()]
        return tuple(claim for claim in held if claim)

    def blocks(self) -> tuple[Block, ...]:
        """Return the whole page in order."""
        return (
            self.document,
            self.film(),
            self.in_short(),
            self.groups(),
            self.games(),
            self.takeons_and_events(),
            self.tackling(),
            self.coach_words(),
            self.signatures(),
            self.method(),
        )

    def _short(self) -> list[Claim]:
        rows = self.rows
        held = [
            sentences.standing(rows.overall, rows.film, rows.standard, rows.grades, rows.house.min_plays),
            sentences.room_band(rows.overall, rows.room) if rows.room else None,
            sentences.by_game(rows.overall, rows.games, rows.grades),
            sentences.work_on(rows),
        ]
        return [claim for claim in held if claim]

    def _staff(self) -> list[Claim]:
        rows = self.rows
        if rows.room is None:
            return []
        held = [sentences.raw_beside(rows.overall, rows.grades), sentences.coaches(rows.room, rows.grades)]
        return [claim for claim in held if claim]

    def _printed(self) -> dict[str, RateRow]:
        rows = self.rows
        return {row.approach: row for row in rows.tackles if row.denominator == rows.printed}

    def _tackles(self) -> list[Claim]:
        rows, printed = self.rows, self._printed()
        if not rows.log_kept:
            return []
        total = printed[ALL]
        if not total.n_obs:
            return [sentences.tackle_total(total)]
        all_of = (row for row in rows.tackles if row.approach == ALL and row.denominator != rows.printed)
        counted = sentences.tackle_counted(total, next(all_of, None), printed.get(NOT_NOTED))
        return [sentences.tackle_total(total), counted, *sentences.yards(rows.yards)]

    def _takeon_claims(self) -> list[Claim]:
        rows = self.rows
        if rows.reps is None or rows.reps.n_reps == 0 or not rows.stages:
            return []
        return [sentences.takeons(rows.stages, rows.reps)]

    def _takeons(self) -> Stack:
        said = self._takeon_claims()
        if not said:
            return Stack([])
        chart = [] if self.rows.stages[0].note else [charts.takeons(self.rows)]
        return Stack([Heading("Called take-ons"), *chart, _paragraph(said)])

    def _events(self) -> Stack:
        table = events_table(self.rows)
        return Stack([Heading("Beside the marks"), table] if table else [])


def player_document(
    analysis: Analysis, player_id: str, copy: Copy = "player", *, paper: Paper = ""
) -> PlayerEvaluation:
    """Return the evaluation of a player: his own copy, or the staff's.

    Raises
    ------
    ReportError
        If he is not on the roster, or there is no such copy.
    """
    rows = player_rows(analysis, player_id, copy)
    season = analysis.season
    program = season.settings.program
    waiting = int((season.to_settle["answer"] == "").sum())
    person = rows.person
    parts = [f"No. {person.jersey}" if person.jersey else "", person.position, person.class_year]
    document = Document(
        title=person.name,
        kicker=f"Player evaluation, {program.year}",
        subtitle=" \N{MIDDLE DOT} ".join(part for part in parts if part),
        program=f"{program.name}, {program.unit}",
        audience=copy,
        draft=season.draft,
        draft_note=f"{words.count(waiting, 'name or code waits', 'names or codes wait')} to be settled"
        if waiting
        else "",
        paper="a4" if (paper or program.paper) == "a4" else "us-letter",
    )
    notes = analysis.ratings.notes if analysis.ratings and copy == "staff" else ()
    return PlayerEvaluation(rows, document, notes)


def player_jobs(
    analysis: Analysis,
    folder: Path,
    *,
    players: Sequence[str] | None = None,
    copies: Sequence[Copy] = ("player", "staff"),
    paper: Paper = "",
) -> list[PageJob]:
    """Return the pages to print from the analysis saved in `folder`: of the roster, or of `players` (ids)."""
    roster = analysis.season.players
    ids = roster.loc[roster["status"] == "roster", "player_id"].tolist() if players is None else list(players)
    for one in ids:
        player_rows(analysis, one, "player")
    return [
        PageJob(
            NOTEBOOK,
            {"analysis_folder": str(folder), "player_id": one, "copy": copy, "paper": paper},
            f"{one} {copy}",
        )
        for one in ids
        for copy in copies
    ]


def _roles(rows: PlayerRows) -> str:
    return ", ".join(f"{role.role} {role.n_plays:,}" for role in rows.roles[:3])


def _missing(rows: PlayerRows) -> str:
    absent = [] if rows.log_kept else ["a tackle log"]
    absent += [] if rows.events_kept else ["events beside the marks"]
    if not any(criterion.stage in STAGES for criterion in rows.rubric.values()):
        absent.append("marks on take-ons")
    if rows.games and not any(game.opponent for game in rows.games):
        absent.append("the opponents")
    return f"Not in this season's files, so not on this page: {words.listing(absent)}." if absent else ""


def _paragraph(claims: Sequence[Claim]) -> Paragraph:
    return Paragraph(" ".join(claim.text for claim in claims))


def _method(rows: PlayerRows, fit_notes: Sequence[str]) -> list[str]:
    return [
        _GRADES,
        _LIKELY.format(often=words.percent(rows.level)),
        _COUNTS,
        *([_NOTES["one_rater"]] if rows.film.n_raters == 1 else []),
        *([_NOTES["not_linked"]] if rows.overall.note == "not_linked" else []),
        *fit_notes,
        _CAUTION,
    ]


_GRADES = (
    "Grades are our coaches' judgement on our rubric, from games only: the mark this staff's average coach "
    "would give over the whole rubric, adjusted for how high or low each coach marks and drawn toward the "
    "room where film is short."
)
_LIKELY = (
    "\N{LEFT DOUBLE QUOTATION MARK}Likely\N{RIGHT DOUBLE QUOTATION MARK} marks a range made to hold the true "
    "value in {often} of cases; above or below is said only where the whole range is."
)
_COUNTS = (
    "A game's grade is against the room that day: schedule and change in the whole room cannot be told "
    "apart. Tackles, take-ons (passed: from the rubric's pass mark up) and events are counts as logged; "
    "faults go with misses, they need not cause them."
)
_NOTES = {
    "one_rater": "One coach graded him, so his grades cannot be freed from how that coach sees him.",
    "not_linked": "His coaches share no graded player with the others; his grade holds among their players.",
}
_CAUTION = (
    "Not a promise of a role, aid or playing time, and not the sole ground of any decision. Not a medical "
    "statement: head contact and return to play belong to the medical staff and the rules of your "
    "governing body."
)
