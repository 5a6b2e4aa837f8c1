"""What the files of a folder seem to be, all together; and how a line of that table is corrected."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from lbeval.errors import SettingsError
from lbeval.read.describe_blocks import Block, find_blocks, scale_doubts
from lbeval.read.describe_fields import Around
from lbeval.read.describe_kinds import as_kind
from lbeval.read.describe_marks import ScaleGuess, guess_scale, merge_scales, named_scale
from lbeval.read.describe_rubric import Draft, draft_rubric
from lbeval.read.describe_values import BLANKS
from lbeval.settings import KINDS, Rubric, SeasonSettings, load_rubric, load_settings
from lbeval.spelling import fold

Progress = Callable[[str, int, int], None]
_YEAR = re.compile(r"(?<!\d)(20\d\d)(?!\d)")


@dataclass(frozen=True, eq=False)
class Proposal:
    """What the files of a folder seem to be.

    Attributes
    ----------
    blocks : source blocks, one a line of the table.
    graders : coaches as named in the files, in the order of the table; `Coach 1` where nothing names him.
    scales : scale id -> marks; `scale_of` gives each block's, empty where it has none.
    draft : the rubric from the headings, or how they fit the one that exists.
    program, year : as the folder's name and its dates suggest; 0 where nothing does.
    """

    folder: Path
    blocks: tuple[Block, ...]
    graders: tuple[str, ...]
    grader_of: tuple[str, ...]
    scales: dict[str, ScaleGuess]
    scale_of: tuple[str, ...]
    draft: Draft
    program: str
    year: int
    settings: SeasonSettings | None
    rubric: Rubric | None

    @property
    def table(self) -> pd.DataFrame:
        """Return the table that is shown: line, files, kind, coach, sessions, scale, rows, sure, why."""
        rows = [
            {
                "line": n,
                "files": ", ".join(block.files)
                + ("" if block.sheets == ("*",) else f" [{', '.join(block.sheets)}]"),
                "kind": block.kind or "not recognised",
                "coach": "in a column" if block.many_coaches else self.grader_of[n - 1],
                "sessions": sessions_words(block),
                "scale": self.scales[self.scale_of[n - 1]].shown if self.scale_of[n - 1] else "",
                "rows": block.n_rows,
                "sure": block.sure,
                "why": "; ".join(block.doubts),
            }
            for n, block in enumerate(self.blocks, 1)
        ]
        columns = ["line", "files", "kind", "coach", "sessions", "scale", "rows", "sure", "why"]
        return pd.DataFrame(rows, columns=columns)


def sessions_words(block: Block) -> str:
    """Return where a block's sessions stand, and how many they are."""
    if not block.where:
        return ""
    return f"{len(block.sessions)}, {block.where}" if block.sessions else block.where


def propose(folder: Path, *, progress: Progress = lambda _what, _done, _total: None) -> Proposal:
    """Look at every file of `folder` that no existing settings cover.

    Raises
    ------
    SettingsError
        If there are settings that cannot be read.
    """
    settings = load_settings(folder) if (folder / "season.toml").exists() else None
    rubric = load_rubric(folder) if (folder / "rubric.toml").exists() else None
    already = [pattern for source in settings.sources for pattern in source.files] if settings else []
    blocks = find_blocks(folder, already, progress)
    return _proposal(folder, blocks, settings, rubric)


def _proposal(
    folder: Path, blocks: tuple[Block, ...], settings: SeasonSettings | None, rubric: Rubric | None
) -> Proposal:
    graders, grader_of = _graders(blocks)
    scales, scale_of = _scales(blocks)
    program = re.sub(r"[_\-]+", " ", _YEAR.sub("", folder.resolve().name)).strip().title()
    return Proposal(
        folder,
        blocks,
        graders,
        grader_of,
        scales,
        scale_of,
        draft_rubric(blocks, rubric),
        program or "Our program",
        _likely_year(folder, blocks),
        settings,
        rubric,
    )


def _graders(blocks: Sequence[Block]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the coaches, and for each block whose marks it holds (empty: several, or none)."""
    found: dict[str, str] = {}
    each: list[str] = []
    for block in blocks:
        if block.kind != "grades" or not block.usable:
            each.append("")
            continue
        names = list(block.coaches) or [f"Coach {len(found) + 1}"]
        printed = [found.setdefault(fold(name).removeprefix("coach "), _printed(name)) for name in names]
        each.append("" if block.many_coaches else printed[0])
    return tuple(found.values()), tuple(each)


def _printed(name: str) -> str:
    return name if fold(name).startswith("coach ") else f"Coach {name}"


def _scales(blocks: Sequence[Block]) -> tuple[dict[str, ScaleGuess], tuple[str, ...]]:
    """Return the scales, marks that are alike being one, and each block's."""
    scales: dict[str, ScaleGuess] = {}
    each: list[str] = []
    for block in blocks:
        if block.scale is None:
            each.append("")
            continue
        name, number = block.scale.id, 1
        while name in scales and (both := merge_scales(scales[name], block.scale)) is None:
            number += 1
            name = f"{block.scale.id}_{number}"
        scales[name] = both if name in scales and both else block.scale
        each.append(name)
    return scales, tuple(each)


def _likely_year(folder: Path, blocks: Sequence[Block]) -> int:
    """Return the year that dates in the files show most often, else that of a file's name, else 0."""
    seen: Counter[int] = Counter()
    for block in blocks:
        heading = block.source.get("columns", {}).get("date")
        if heading and block.look and block.kind in {"plays", "drills"}:
            for day, times in block.look.counts(block.look.headings.index(heading)).items():
                seen.update({int(year): times for year in _YEAR.findall(day)})
    if not seen:
        names = [folder.resolve().name, *(file for block in blocks for file in block.covers)]
        seen.update(int(year) for name in names for year in _YEAR.findall(name))
    return max(seen, key=lambda year: (seen[year], year)) if seen else 0


def correct(proposal: Proposal, answer: str) -> Proposal:
    """Return `proposal` with lines corrected: `3 leave_out; 4 coach Hale; 5 roster`.

    Raises
    ------
    SettingsError
        If a part of the answer is no line with a kind or a coach.
    """
    blocks = list(proposal.blocks)
    for part in filter(None, (one.strip() for one in re.split(r"[;,]", answer))):
        found = re.fullmatch(r"(\d+)\s+(.+)", part)
        if not found or not 1 <= int(found.group(1)) <= len(blocks):
            msg = f"{part!r}: write a line's number and what it is, e.g. `3 leave_out` or `4 coach Hale`"
            raise SettingsError(msg)
        place = int(found.group(1)) - 1
        blocks[place] = corrected(blocks[place], found.group(2).strip())
    return joined(proposal, tuple(blocks))


def joined(proposal: Proposal, blocks: tuple[Block, ...]) -> Proposal:
    """Return `proposal` with other `blocks`: graders, scales and rubric worked out again."""
    return _proposal(proposal.folder, blocks, proposal.settings, proposal.rubric)


def corrected(block: Block, said: str) -> Block:
    """Return a block that the user says is another kind, another coach's, or right as it is.

    `said` is a kind, `coach` and a name, `scale` and its ends, or what a mark means: `x is ungradable`.

    Raises
    ------
    SettingsError
        If `said` is neither, or the sheet cannot be read as that kind.
    """
    word = fold(said).replace(" ", "_")
    if word.startswith("coach_"):
        doubts = tuple(doubt for doubt in block.doubts if doubt != "who graded?")
        return replace(block, coaches=(said[len("coach ") :].strip(),), doubts=doubts)
    if word in {"no", "out", "leave_out"}:
        return replace(
            block, kind="leave_out", source={"kind": "leave_out"}, criteria=(), scale=None, doubts=()
        )
    if word.startswith("scale_"):
        return _on_scale(block, said[len("scale ") :].strip())
    if meant := re.fullmatch(r"(.+?)\s+(?:is|=)\s+(.+)", said):
        return _with_blank(block, meant.group(1), meant.group(2))
    if word not in KINDS:
        msg = f"{said!r} is no kind of file; one of {', '.join(KINDS)}; or write `coach` and a name"
        raise SettingsError(msg)
    if word == block.kind:
        return replace(block, doubts=())
    guesses = as_kind(word, block.look, Around(block.n_sheets)) if block.look else []
    if not guesses:
        msg = f"{', '.join(block.files)} has not the headings of {word}; describe it in season.toml"
        raise SettingsError(msg)
    guess = guesses[0]
    scale = guess_scale(guess.marks) if word == "grades" else None
    return replace(
        block,
        kind=word,
        source=guess.source,
        criteria=guess.criteria,
        faults=guess.faults,
        coaches=guess.coaches,
        marks=guess.marks,
        scale=scale,
        sessions=guess.sessions,
        where=guess.where,
        doubts=(*guess.doubts, *scale_doubts(word, scale)),
    )


def _on_scale(block: Block, name: str) -> Block:
    scale = named_scale(name, block.marks) if block.kind == "grades" else None
    if scale is None:
        msg = f"{name!r} is no scale we know for this file; describe it in season.toml"
        raise SettingsError(msg)
    asked = set(scale_doubts("grades", block.scale))
    kept = tuple(doubt for doubt in block.doubts if doubt not in asked)
    return replace(block, scale=scale, doubts=(*kept, *scale_doubts("grades", scale)))


def _with_blank(block: Block, written: str, meaning: str) -> Block:
    """Return `block` with `written` standing for a kind of missing."""
    kind = fold(meaning).replace(" ", "_")
    if kind not in BLANKS or block.scale is None:
        msg = f"{written!r} can be one of {', '.join(BLANKS)}, in a file with marks"
        raise SettingsError(msg)
    scale = block.scale
    kept = tuple((text, why) for text, why in scale.blanks if fold(text) != fold(written))
    asked = set(scale_doubts("grades", scale))
    scale = replace(
        scale,
        blanks=tuple(sorted((*kept, (written, kind)))),
        likely=tuple(text for text in scale.likely if fold(text) != fold(written)),
        unknown=tuple(text for text in scale.unknown if fold(text) != fold(written)),
    )
    doubts = tuple(doubt for doubt in block.doubts if doubt not in asked)
    return replace(block, scale=scale, doubts=(*doubts, *scale_doubts("grades", scale)))
