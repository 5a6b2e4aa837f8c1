"""How staffs write our words in cells, and why there is no mark. Common practice, no source."""

from __future__ import annotations

_YES = ("yes", "y", "true", "1", "x", "✓", "✔")
_NO = ("no", "n", "false", "0")
VALUES: dict[str, dict[str, tuple[str, ...]]] = {
    "look": {
        "first": ("first", "first look", "1", "1st"),
        "repeat": ("repeat", "second look", "2", "2nd", "blind", "blind repeat", "again"),
        "meeting": ("meeting", "after meeting", "after the meeting", "consensus"),
    },
    "technique": {
        "take_on": ("take_on", "take on", "to", "took on"),
        "slip": ("slip", "slipped"),
        "cut": ("cut", "cut block"),
    },
    "gap_held": {"yes": _YES, "no": _NO},
    "phase": {
        "spring": ("spring", "spring practice", "spring ball"),
        "camp": ("camp", "fall camp", "preseason", "training camp"),
        "practice": ("practice", "in season practice", "prac"),
        "scrimmage": ("scrimmage", "scrim"),
        "game": ("game", "gm"),
    },
    "play_type": {"run": ("run", "r", "rush"), "pass": ("pass", "p")},
    "hash": {
        "left": ("left", "l", "lt"),
        "middle": ("middle", "m", "mid"),
        "right": ("right", "r", "rt"),
    },
    "nullified": {"yes": (*_YES, "nullified", "no play", "np"), "no": _NO},
    "at_point": {"yes": _YES, "no": _NO},
    "blocker": {
        "line": ("line", "lineman", "ol", "guard", "tackle", "center"),
        "climbing": ("climbing", "climb", "climber", "climbing line", "second level"),
        "puller": ("puller", "pull", "pulling"),
        "tight_end": ("tight_end", "tight end", "te"),
        "back": ("back", "rb", "fb", "fullback"),
        "crack": ("crack", "wr", "receiver", "receiver crack"),
    },
    "block_side": {"left": ("left", "l"), "right": ("right", "r"), "front": ("front", "f", "head on")},
    "kind": {
        "missed_assignment": ("missed_assignment", "missed assignment", "ma", "missed assign"),
        "mental_error": ("mental_error", "mental error", "me", "mental"),
        "loaf": ("loaf", "l", "loafs", "lf"),
        "penalty": ("penalty", "pen", "flag"),
        "pressure": ("pressure", "press", "qb pressure", "hurry"),
        "tackle_for_loss": ("tackle_for_loss", "tackle for loss", "tfl"),
        "sack": ("sack", "sk"),
        "break_up": ("break_up", "break up", "pbu", "pass broken up", "pass break up", "breakup"),
        "takeaway": (
            "takeaway",
            "take",
            "take away",
            "int",
            "interception",
            "fumble recovery",
            "forced fumble",
        ),
        "special_teams_snap": ("special_teams_snap", "special teams snap", "st", "st snap", "special teams"),
    },
    "outcome": {
        "solo": ("solo", "s", "t", "made", "tackle", "solo tackle"),
        "assist": ("assist", "a", "ast", "asst"),
        "miss": ("miss", "m", "missed", "mt", "missed tackle"),
    },
    "approach": {
        "straight_on": ("straight_on", "straight on", "straight", "head on", "front", "square"),
        "angle": ("angle", "ang", "side", "angled"),
        "pursuit": ("pursuit", "pur", "chase", "behind", "from behind"),
    },
    "head": {"up": ("up", "u", "eyes up", "head up"), "down": ("down", "d", "head down")},
    "contact": {
        "air": ("air", "on air"),
        "bag": ("bag", "bags", "sled", "shield"),
        "control": ("control", "controlled"),
        "thud": ("thud",),
        "live": ("live", "full"),
    },
    "status": {
        "roster": ("roster", "current", "active", "on roster"),
        "prospect": ("prospect", "recruit", "transfer", "college transfer", "high school"),
    },
    "timing": {
        "electronic": ("electronic", "e", "fat", "laser", "elec"),
        "hand": ("hand", "h", "ht", "hand timed"),
        "hand_start": ("hand_start", "hand start", "hs"),
        "unknown": ("unknown", "?"),
    },
    "standing": {
        "measured": ("measured", "m", "verified", "in person"),
        "self_reported": ("self_reported", "self reported", "self-reported", "self", "sr"),
        "listed": ("listed", "program", "website"),
    },
}
"""Field -> our word -> how it is written."""

BLANKS: dict[str, tuple[str, ...]] = {
    "did_not_occur": ("dno", "did not occur", "n/o", "na", "n/a", "did not happen", "not asked", "n.a."),
    "not_graded": ("ng", "not graded", "n/g", "skip", "skipped", "not yet"),
    "ungradable": (
        "ug",
        "u",
        "ungradable",
        "cs",
        "cns",
        "not seen",
        "can't see",
        "could not see",
        "?",
        "off screen",
    ),
}
"""Kind of missing -> how it is written; an empty cell is "not graded"."""

LIKELY_BLANK = {"-": "did_not_occur", "--": "did_not_occur", "x": "ungradable", ".": "not_graded"}
"""What most often stands for a kind of missing where marks are numbers, but must be asked."""
