"""What staffs write over their columns and in them: the vocabulary `lbeval start` guesses from.

Common practice, no source. A guess is shown and confirmed before it is used; what is not here is asked.
"""

from __future__ import annotations

import re

from lbeval.spelling import fold

_NAMES = (
    "player",
    "player name",
    "name",
    "full name",
    "athlete",
    "linebacker",
    "lb",
    "last name",
    "last",
    "who",
)
_JERSEY = ("jersey", "jersey number", "jersey no", "number", "no", "num", "uniform", "player number")
_GAME = (
    "game",
    "game number",
    "session",
    "film",
    "contest",
    "practice",
    "opponent",
    "opp",
    "week",
    "wk",
    "vs",
    "vs practice",
    "opponent practice",
)
_CLIP = (
    "clip",
    "clip number",
    "clip no",
    "film number",
    "play",
    "play number",
    "play no",
    "rep",
    "rep number",
)
_SNAP = ("snap", "snap number", "snap no", "defensive snap", "def snap", "d snap", "def snap number", "dsnap")
_DATE = ("date", "day", "test date", "tested", "taken", "date taken", "measured on")
_PHASE = ("phase", "part of season", "kind of session", "session kind", "session type")

HEADINGS: dict[str, dict[str, tuple[str, ...]]] = {
    "grades": {
        "rater": ("rater", "coach", "grader", "graded by", "evaluator"),
        "player": (*_NAMES, *_JERSEY),
        "game": _GAME,
        "play": (*_CLIP, *_SNAP),
        "criterion": ("criterion", "criteria", "item", "skill", "trait", "graded item", "what", "category"),
        "score": ("score", "grade", "mark", "rating", "result", "points"),
        "look": ("look", "viewing", "round", "pass", "which look"),
        "technique": ("technique", "block technique", "block", "how he took it", "vs block"),
        "gap_held": ("gap held", "held gap", "held the gap", "gap"),
    },
    "plays": {
        "game": ("game", "game number", "session", "film", "contest", "practice"),
        "play": _CLIP,
        "snap": _SNAP,
        "date": _DATE,
        "phase": _PHASE,
        "week": ("week", "wk", "week number"),
        "opponent": ("opponent", "opp", "vs"),
        "play_type": ("play type", "type", "run pass", "r p", "rp", "run or pass"),
        "down": ("down", "dn"),
        "distance": ("distance", "dist", "to go", "ytg", "yards to go", "yds to go"),
        "hash": ("hash", "hash mark", "ball on hash"),
        "call": ("call", "defensive call", "def call", "defense", "front", "our call", "defence"),
        "side": ("side", "play side", "direction", "dir", "play direction"),
        "nullified": ("nullified", "no play", "wiped out", "negated", "void", "called back", "null"),
    },
    "roles": {
        "game": _GAME,
        "play": (*_CLIP, *_SNAP),
        "player": (*_NAMES, *_JERSEY),
        "role": ("role", "position", "pos", "spot", "lined up as", "played as"),
        "assignment": ("assignment", "job", "responsibility", "asg"),
        "at_point": ("at point", "at the point", "point of attack", "at point of attack", "poa"),
        "blocker": ("blocker", "blocked by", "block from", "who blocked"),
        "block_side": ("block side", "side of block", "blocked from", "block from side", "from"),
    },
    "events": {
        "game": _GAME,
        "play": (*_CLIP, *_SNAP),
        "player": (*_NAMES, *_JERSEY),
        "kind": ("event", "kind", "what happened", "happened", "what", "type", "entry"),
    },
    "tackles": {
        "game": _GAME,
        "play": (*_CLIP, *_SNAP),
        "player": (*_NAMES, *_JERSEY, "tackler"),
        "outcome": ("outcome", "result", "tackle", "made", "credit"),
        "approach": ("approach", "angle", "approach angle", "came from", "path"),
        "faults": ("faults", "fault", "cause", "causes", "why missed", "reason", "what went wrong", "errors"),
        "yards_after_contact": (
            "yards after contact",
            "yac",
            "yds after contact",
            "after contact",
            "yards after",
        ),
        "head": ("head", "head position", "head up", "eyes"),
        "scorer": ("scorer", "logged by", "charted by", "kept by", "scored by", "by", "coach"),
    },
    "roster": {
        "player": ("player id", "id"),
        "name": _NAMES,
        "jersey": _JERSEY,
        "jersey_from": ("from", "worn from", "number from", "since", "jersey from"),
        "jersey_to": ("to", "worn to", "until", "number to", "jersey to"),
        "position": ("position", "pos"),
        "class_year": ("class", "class year", "year", "yr", "cl", "academic year"),
        "seasons_left": (
            "seasons left",
            "eligibility",
            "elig",
            "years left",
            "elig left",
            "eligibility left",
            "left",
        ),
        "status": ("status",),
        "birth_month": ("birth month", "born", "birth", "month of birth", "dob", "birth date", "birthdate"),
        "level": ("level", "level of competition", "competition", "film level", "competition level"),
    },
    "measurables": {
        "player": (*_NAMES, *_JERSEY),
        "date": _DATE,
        "test": ("test", "measurement", "drill", "event", "what"),
        "value": ("value", "result", "measured", "mark"),
        "unit": ("unit", "units"),
        "timing": ("timing", "timed", "how timed", "clock", "timed by"),
        "standing": ("standing", "verified", "who says", "how known", "source", "reported by"),
    },
    "drills": {
        "game": ("session", "practice", "game", "practice number"),
        "date": _DATE,
        "phase": _PHASE,
        "drill": ("drill", "drill name", "exercise", "period"),
        "reps": ("reps", "repetitions", "rep count"),
        "minutes": ("minutes", "min", "mins", "time", "length"),
        "contact": ("contact", "contact level", "level of contact", "tempo"),
    },
    "remarks": {
        "player": _NAMES,
        "section": ("section", "heading", "part"),
        "text": ("remark", "remarks", "comment", "comments", "note", "notes", "text", "words"),
    },
}
"""Kind -> field -> headings, the likeliest first."""

TESTS: dict[str, tuple[str, ...]] = {
    "height": ("height", "ht", "hgt"),
    "weight": ("weight", "wt", "wgt"),
    "arm": ("arm", "arm length", "arms"),
    "hand": ("hand", "hand size", "hands"),
    "wingspan": ("wingspan", "wing span", "wing", "span"),
    "forty": ("40", "forty", "40 yd", "40 yard", "40 yards", "40 yard dash", "40yd", "40 time", "40 dash"),
    "twenty": ("20", "twenty", "20 yd", "20 yard", "20yd", "20 split", "20 yards"),
    "ten": ("10", "ten", "10 yd", "10 yard", "10yd", "10 split", "10 yards"),
    "shuttle": ("shuttle", "short shuttle", "20 yard shuttle", "20 yd shuttle", "5 10 5", "pro agility"),
    "three_cone": ("3 cone", "three cone", "cone", "3cone", "3 cone drill"),
    "vertical": ("vertical", "vert", "vertical jump", "vj"),
    "broad": ("broad", "broad jump", "bj", "standing broad jump"),
    "bench": ("bench", "bench reps", "225", "225 reps", "bench 225", "bench press", "225 lb reps"),
}
"""Test -> headings over its results."""

PRIVATE = re.compile(
    r"\b(gpa|sat|act|grades? point|transcript|injur\w*|medical|surger\w*|health|concussion\w*|parents?|"
    r"mother|father|guardian|phone|cell|mobile|e-?mail|address|ssn|religion)\b"
)
"""Headings of columns that are never taken: medical, family, school."""

GAME_LIKE = re.compile(r"\b(game|gm|wk|week|vs|spring|camp|practice|prac|scrimmage)\b|^g\d+$")
_NOT_NAMES = frozenset(
    {
        "grade",
        "grades",
        "graded",
        "grading",
        "game",
        "games",
        "film",
        "season",
        "lbs",
        "linebacker",
        "linebackers",
    }
    | {
        "final",
        "copy",
        "spring",
        "camp",
        "week",
        "practice",
        "prac",
        "export",
        "sheet",
        "sheets",
        "mark",
        "marks",
    }
    | {
        "coach",
        "full",
        "raw",
        "data",
        "all",
        "fall",
        "pre",
        "post",
        "defense",
        "reps",
        "plays",
        "play",
        "clip",
    }
    | {
        "clips",
        "long",
        "wide",
        "scores",
        "score",
        "eval",
        "evals",
        "evaluation",
        "evaluations",
        "master",
        "new",
    }
    | {
        "old",
        "our",
        "the",
        "and",
        "for",
        "notes",
        "technique",
        "scrimmage",
        "repeat",
        "repeats",
        "blind",
        "percent",
        "more",
        "tests",
        "look",
    }
)
_COACH = re.compile(
    r"(?:grader|graded by|coach|evaluator|by)[: ]+((?:coach )?[a-z][\w'’-]+(?: [a-z][\w'’-]+)?)",
    re.IGNORECASE,
)


def words_of(heading: str) -> str:
    """Return a heading as the vocabulary spells it: folded, `#` a number, punctuation a space."""
    said = re.sub(r"\([^)]*\)", " ", fold(heading))
    said = said.replace("#", " number ")
    said = " ".join(re.sub(r"[^\w%'+]+|_", " ", said).split())
    return "number" if said in {"number", "number number"} else said


def plain_id(text: str) -> str:
    """Return `text` as an id of ours: lower case, digits and `_`; empty if nothing is left of it."""
    return re.sub(r"[^a-z0-9]+", "_", fold(text)).strip("_")[:40].strip("_")


def field_of(kind: str, heading: str) -> tuple[str, int] | None:
    """Return the field of `kind` that `heading` is over and how far down its list, or None."""
    said = words_of(heading)
    for field, words in HEADINGS[kind].items():
        if said in words:
            return field, words.index(said)
    return None


def test_of(heading: str) -> str | None:
    """Return the test that `heading` is over, or None."""
    said = words_of(heading)
    return next((test for test, words in TESTS.items() if said in words), None)


KNOWN: frozenset[str] = frozenset(
    word for fields in (*HEADINGS.values(), TESTS) for words in fields.values() for word in words
)
"""All headings of the vocabulary: how a heading row is known."""


def coach_named(text: str) -> str | None:
    """Return the coach that a line such as `Graded by: Coach Hale` names."""
    found = _COACH.search(text)
    return found.group(1).strip() if found else None


def name_in_file(stem: str) -> str | None:
    """Return the word of a file's name that can be a person's: the only one that is no word of the trade."""
    parts = [
        part for part in re.split(r"[^A-Za-z'’]+", stem) if len(part) > 2 and fold(part) not in _NOT_NAMES
    ]
    return parts[0].capitalize() if len(parts) == 1 else None
