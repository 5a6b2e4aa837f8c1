"""What scale a column of marks can be on; proposed, never used before it is confirmed."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from lbeval.read.describe_values import BLANKS, LIKELY_BLANK
from lbeval.spelling import fold

_BLANK = {word: kind for kind, words in BLANKS.items() for word in words}
_PERCENT = re.compile(r"\d{1,3}(?:[.,]\d+)? ?%")
_NUMBER = re.compile(r"\d{1,3}(?:[.,]\d+)?")
_PACKED = re.compile(r"([+\-0-9✓]{2,5})(?:\(([a-z]{1,4})\))?")
_CODED = re.compile(r"(.+?) ?\(([a-z]{1,4})\)")
_RARE = 0.002
"""A mark rarer than this is a slip, not a mark of the scale."""

_LADDERS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("zero_one", "0-1", ("0", "1")),
    ("zero_one_two", "0-1-2", ("0", "1", "2")),
    ("zero_to_three", "0-3", ("0", "1", "2", "3")),
    ("one_to_three", "1-3", ("1", "2", "3")),
    ("zero_to_four", "0-4", ("0", "1", "2", "3", "4")),
    ("one_to_four", "1-4", ("1", "2", "3", "4")),
    ("one_to_five", "1-5", ("1", "2", "3", "4", "5")),
    ("zero_to_five", "0-5", ("0", "1", "2", "3", "4", "5")),
    ("one_to_ten", "1-10", tuple(str(n) for n in range(1, 11))),
    ("zero_to_ten", "0-10", tuple(str(n) for n in range(11))),
    ("plus_minus", "- +", ("-", "+")),
    ("plus_zero_minus", "- 0 +", ("-", "0", "+")),
    ("letters", "F-A", ("F", "D", "C", "B", "A")),
    ("check", "x ✓", ("x", "✓")),
    ("ticks", "✗ ✓", ("✗", "✓")),
    ("half_ticks", "✗ ½ ✓", ("✗", "½", "✓")),
)
"""id, as shown, marks from the worst to the best: common practice, no source."""


@dataclass(frozen=True)
class ScaleGuess:
    """A scale that marks can be on.

    Attributes
    ----------
    marks : as written, worst first; empty for percent.
    blanks : mark as written -> kind of missing.
    unknown : what is neither, the most frequent first.
    sure : whether both ends of the ladder were seen and nothing frequent is unknown.
    likely : of `blanks`, those that must be asked.
    """

    id: str
    shown: str
    marks: tuple[str, ...]
    blanks: tuple[tuple[str, str], ...]
    unknown: tuple[str, ...]
    sure: bool
    likely: tuple[str, ...] = ()

    @property
    def percent(self) -> bool:
        return not self.marks


def is_mark(text: str) -> bool:
    """Return whether a text can be a mark, or says why there is none."""
    said = fold(text)
    if said in _BLANK or _PERCENT.fullmatch(said):
        return True
    if _NUMBER.fullmatch(said):
        return float(said.replace(",", ".")) <= 100
    bare = _CODED.sub(r"\1", said)
    return bool(re.fullmatch(r"[+\-]|[a-f][+-]?|✓|✔|✗|✘|x|1[/⁄]2", bare))


def mark_share(counts: Counter[str]) -> float:
    """Return the share of the filled cells that can be marks; 0 if there are none."""
    filled = {text: times for text, times in counts.items() if text}
    total = sum(filled.values())
    return sum(times for text, times in filled.items() if is_mark(text)) / total if total else 0.0


def packed_length(counts: Counter[str]) -> int:
    """Return how many marks a cell of a column packs (`++-`), 0 if it does not."""
    filled = {text: times for text, times in counts.items() if text}
    lengths: Counter[int] = Counter()
    for text, times in filled.items():
        lengths[len(unpacked(text))] += times
    lengths.pop(0, None)
    length, times = max(lengths.items(), key=lambda item: item[1], default=(0, 0))
    return length if times > 0.6 * sum(filled.values()) else 0


def unpacked(text: str) -> str:
    """Return the marks that a packed cell holds, codes behind them left out; empty if it is none."""
    found = _PACKED.fullmatch(re.sub(r"[ /,]", "", fold(text)))
    return found.group(1) if found and re.search(r"[+\-✓]", found.group(1)) else ""


def bracketed(counts: Counter[str]) -> list[str]:
    """Return the codes in brackets behind marks (`-(MA)`), as written."""
    found = (re.fullmatch(r".+?\(([A-Za-z]{1,4})\)", text.strip()) for text in counts)
    return sorted({one.group(1) for one in found if one})


def guess_scale(counts: Counter[str]) -> ScaleGuess | None:
    """Return the shortest ladder that holds the marks in `counts`, or None if none does."""
    seen: Counter[str] = Counter()
    written: dict[str, str] = {}
    for text, times in counts.items():
        bare = _CODED.sub(r"\1", fold(text))
        seen[bare] += times
        written.setdefault(bare, text.strip())
    blanks = {said: _BLANK[said] for said in seen if said in _BLANK}
    if seen[""]:
        blanks[""] = "not_graded"
    marks = {said: times for said, times in seen.items() if said and said not in blanks}
    total = sum(marks.values())
    if not total:
        return None
    common = {said for said, times in marks.items() if times >= max(_RARE * total, 1)}
    percent = _percent_share(marks) > 0.9
    kept = tuple((written[said], kind) for said, kind in sorted(blanks.items()))
    if percent:
        odd = [said for said in marks if not (_PERCENT.fullmatch(said) or _NUMBER.fullmatch(said))]
        return ScaleGuess("percent", "percent", (), kept, tuple(written[s] for s in odd), not odd)
    return _ladder(marks, common, kept, written)


def _ladder(
    marks: dict[str, int], common: set[str], blanks: tuple[tuple[str, str], ...], written: dict[str, str]
) -> ScaleGuess | None:
    total = sum(marks.values())

    def covered(rungs: tuple[str, ...]) -> float:
        folded = {fold(rung) for rung in rungs}
        counted = sum(times for said, times in marks.items() if said in folded)
        signs = "-" in folded or "x" in folded
        beside = 0 if signs else sum(times for said, times in marks.items() if said in LIKELY_BLANK)
        return counted / max(total - beside, 1)

    best = max(_LADDERS, key=lambda one: (round(covered(one[2]), 3), -len(one[2])))
    share = covered(best[2])
    if share < 0.8:
        return None
    rungs = {fold(rung) for rung in best[2]}
    likely = sorted(said for said in marks if said not in rungs and said in LIKELY_BLANK)
    blanks = tuple(sorted((*blanks, *((written[said], LIKELY_BLANK[said]) for said in likely))))
    odd = sorted((s for s in marks if s not in rungs and s not in likely), key=lambda said: -marks[said])
    ends = {fold(best[2][0]), fold(best[2][-1])} <= set(marks)
    sure = ends and not any(said in common for said in odd)
    unknown = tuple(written[said] for said in odd)
    return ScaleGuess(best[0], best[1], best[2], blanks, unknown, sure, tuple(written[s] for s in likely))


def _percent_share(marks: dict[str, int]) -> float:
    total = sum(marks.values())
    signed = sum(times for said, times in marks.items() if _PERCENT.fullmatch(said))
    large = sum(
        times
        for said, times in marks.items()
        if _NUMBER.fullmatch(said) and 10 < float(said.replace(",", ".")) <= 100
    )
    return max(signed, large + signed) / total if total else 0.0


def named_scale(name: str, counts: Counter[str]) -> ScaleGuess | None:
    """Return the ladder that a user names (`1-5`, `plus_minus`) with the missing that `counts` show."""
    ladder = next((one for one in _LADDERS if fold(name) in {fold(one[0]), fold(one[1])}), None)
    if ladder is None:
        return None
    rungs = {fold(rung) for rung in ladder[2]}
    seen = {fold(text): text for text in counts if text and fold(_CODED.sub(r"\1", fold(text))) not in rungs}
    blanks = {text: _BLANK[said] for said, text in seen.items() if said in _BLANK}
    unknown = tuple(sorted(text for said, text in seen.items() if said not in _BLANK))
    return ScaleGuess(ladder[0], ladder[1], ladder[2], tuple(sorted(blanks.items())), unknown, not unknown)


def merge_scales(first: ScaleGuess, second: ScaleGuess) -> ScaleGuess | None:
    """Return one scale for two with the same marks, or None where they cannot be one."""
    blanks = dict((*first.blanks, *second.blanks))
    if first.id != second.id or any(blanks[text] != kind for text, kind in first.blanks):
        return None
    unknown = tuple(dict.fromkeys((*first.unknown, *second.unknown)))
    likely = tuple(dict.fromkeys((*first.likely, *second.likely)))
    both = tuple(sorted(blanks.items()))
    return ScaleGuess(first.id, first.shown, first.marks, both, unknown, first.sure and second.sure, likely)
