"""`lbeval start`: looks at every file of a folder, shows what each seems to be, asks, writes the settings.

Nothing guessed is used before it is confirmed: what is written is the table that was shown, corrected.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from lbeval.errors import SettingsError, SourceError
from lbeval.read.describe_blocks import Block
from lbeval.read.describe_book import BOOK, read_book, write_book
from lbeval.read.describe_proposal import Proposal, correct, propose
from lbeval.read.describe_write import Answers, Written, faults_recorded, read_answers, write_settings
from lbeval.read.headings import JOIN

__all__ = ["Answers", "Proposal", "Question", "Written", "propose", "questions", "start", "write_settings"]

_CORRECTIONS = (
    "To correct, a line and what it is: 3 leave_out; 4 coach Hale; 4 scale 1-5; 4 x is ungradable. "
    "Or `sheet` to correct it in start.xlsx, or `stop`."
)

Ask = Callable[[str, str], str]
Say = Callable[[str], None]


class Question(NamedTuple):
    """Something that no file says; `default` is the answer that Enter gives."""

    key: str
    text: str
    default: str


def questions(proposal: Proposal) -> tuple[Question, ...]:
    """Return what has to be asked beside the table: at most four questions, none that the settings answer."""
    found = []
    if proposal.settings is None:
        default = f"{proposal.program} {proposal.year}" if proposal.year else ""
        found.append(Question("program", "Program, and year of the season", default))
    if proposal.graders:
        text = "Graders as pages print them, in the order of the table, with commas between"
        found.append(Question("graders", text, ", ".join(proposal.graders)))
    if proposal.settings is None and len(proposal.scales) > 1:
        shown = [scale.shown for scale in proposal.scales.values()]
        found.append(
            Question("printed", f"Scale that grades are printed on ({' or '.join(shown)})", shown[0])
        )
    if proposal.rubric is None and proposal.draft.criteria:
        text = "Mark you expect of a starter, in percent of the best mark"
        found.append(Question("standard", text, "70"))
    return tuple(found)


def start(folder: Path, *, sheet: bool, ask: Ask, say: Say) -> None:
    """Look at `folder`, show what its files seem to be, ask, and write `season.toml` and `rubric.toml`.

    Parameters
    ----------
    sheet : ask in `start.xlsx` instead; the next `start` reads it back.
    ask : called with a question and the answer that Enter gives; returns the answer.
    say : called with each line to show.

    Raises
    ------
    SourceError
        If there is no such folder.
    SettingsError
        If existing settings cannot be read, or the answers cannot be written as settings.
    """
    if not folder.is_dir():
        msg = f"{folder} is no folder; put all files of the season into one, and name it"
        raise SourceError(msg)
    proposal = propose(folder)
    if not proposal.blocks:
        said = "season.toml covers every file in" if proposal.settings else "There is no file in"
        say(f"{said} {folder}; nothing to do.")
        return
    if sheet:
        _ask_in_a_sheet(folder, proposal, say)
        return
    if (folder / BOOK).exists():
        filled = read_book(folder, proposal, questions(proposal))
        if filled is None:
            say(
                f'{BOOK} waits: fill it in, write "yes" beside its last question, save it and run this again.'
            )
            return
        proposal, given = filled
        answers = read_answers(proposal, given)
    else:
        confirmed = _confirmed(folder, proposal, ask, say)
        if confirmed is None:
            return
        proposal = confirmed
        answers = _answered(proposal, ask, say)
    _report(folder, proposal, write_settings(folder, proposal, answers), say)


def _ask_in_a_sheet(folder: Path, proposal: Proposal, say: Say) -> None:
    path = write_book(folder, proposal, questions(proposal))
    say(f"Wrote {path}. Correct it, save it, and run `lbeval start {folder}` again.")


def _confirmed(folder: Path, proposal: Proposal, ask: Ask, say: Say) -> Proposal | None:
    """Show the table until the user takes it as it stands; None if he stops or wants a sheet."""
    if proposal.settings is not None:
        say("season.toml is there already and keeps what it says. These files are not in it yet:")
    while True:
        for line in table_lines(proposal):
            say(line)
        say(_CORRECTIONS)
        answer = ask("Enter if all of this is right", "").strip()
        if not answer:
            return proposal
        if answer.casefold() == "stop":
            say("Nothing was written.")
            return None
        if answer.casefold() == "sheet":
            _ask_in_a_sheet(folder, proposal, say)
            return None
        try:
            proposal = correct(proposal, answer)
        except SettingsError as error:
            say(str(error))


def _answered(proposal: Proposal, ask: Ask, say: Say) -> Answers:
    given: dict[str, str] = {}
    for question in questions(proposal):
        while True:
            answer = ask(question.text, question.default).strip() or question.default
            try:
                read_answers(proposal, {question.key: answer})
            except SettingsError as error:
                say(str(error))
                continue
            given[question.key] = answer
            break
    return read_answers(proposal, given)


def table_lines(proposal: Proposal) -> list[str]:
    """Return the table as lines of text, with what is unsure and what the marks mean below it."""
    table = proposal.table
    shown = {
        "line": [str(n) for n in table["line"]],
        "what it is": [kind.replace("_", " ") for kind in table["kind"]],
        "files": [_cut(files, 40) for files in table["files"]],
        "coach": [_cut(coach, 20) for coach in table["coach"]],
        "sessions": [_cut(sessions, 26) for sessions in table["sessions"]],
        "scale": table["scale"].tolist(),
        "rows": [f"{n:,}" if n else "" for n in table["rows"]],
        "": ["" if sure else "unsure" for sure in table["sure"]],
    }
    widths = [max([len(head), *map(len, cells)]) for head, cells in shown.items()]
    rows = [list(shown), *(list(row) for row in zip(*shown.values(), strict=True))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    ]
    lines += ["", "How each is read, our word first:"]
    lines += [
        f"{n}: {_reading(block)}"
        for n, block in enumerate(proposal.blocks, 1)
        if block.usable and block.source
    ]
    lines.append("")
    lines += [f"Unsure, line {n}: {why}" for n, why in zip(table["line"], table["why"], strict=True) if why]
    for scale in proposal.scales.values():
        blanks = [f"{text or 'empty'!r} {kind.replace('_', ' ')}" for text, kind in scale.blanks]
        lines.append(f"Marks {scale.shown}" + (f"; no mark: {', '.join(blanks)}" if blanks else ""))
    if any(block.faults for block in proposal.blocks):
        lines.append(f"Tackle log: faults are taken as noted on {faults_recorded(proposal.blocks)}")
    waiting = sorted({code for codes in proposal.draft.unsettled for code in codes})
    if waiting:
        lines.append(f"Not equated with any criterion, to be settled after this: {', '.join(waiting)}")
    return lines


def _reading(block: Block) -> str:
    """Return what a block takes from where, and which words it takes for ours."""
    source = block.source
    parts = [f"{name} {heading!r}" for name, heading in source.get("columns", {}).items()]
    parts += [f"{name} from the {where}" for name, where in source.get("take", {}).items()]
    parts += [f"{name} always {word}" for name, word in source.get("constants", {}).items()]
    parts += [f"{test} {heading!r}" for heading, test in source.get("tests", {}).items()]
    if block.criteria:
        parts.append(f"marks for {', '.join(written.split(JOIN)[-1] for written, _ in block.criteria)}")
    if source.get("numbering") == "snap":
        parts.append("plays counted by defensive snap, not by clip")
    for name in ("ignore_columns", "ignore_rows"):
        if source.get(name):
            parts.append(f"not taken: {', '.join(source[name])}")
    words = [
        f"{written} {word.replace('_', ' ')}"
        for name, meanings in source.get("values", {}).items()
        if name not in {"faults", "test"}
        for written, word in meanings.items()
    ]
    words += [
        f"({code}) {kind.replace('_', ' ')}" for code, kind in source.get("events_in_marks", {}).items()
    ]
    return ", ".join(parts) + (f"; {', '.join(words)}" if words else "")


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 3] + "..."


def _report(folder: Path, proposal: Proposal, written: Written, say: Say) -> None:
    for path in written.paths:
        say(f"Wrote {path}")
    if proposal.rubric is None and not proposal.draft.criteria:
        say("No sheet with marks was recognised, so there is no rubric.toml yet.")
    for line in written.uncovered:
        say(f"Not covered: {line}")
    say(f"Next: lbeval check {folder}")
