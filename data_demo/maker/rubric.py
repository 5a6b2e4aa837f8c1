"""The demo staff's rubric: what they mark, in the order they teach it."""

from __future__ import annotations

STANDARD = 0.60

GROUPS: tuple[tuple[str, str], ...] = (
    ("assignment", "Assignment and pursuit"),
    ("coverage", "Coverage and blitz"),
    ("read", "Stance and read"),
    ("take_on", "Taking on blocks"),
    ("approach", "Approach"),
    ("tackle", "Tackle"),
    ("finish", "Finish"),
)

# id, group, weight, right way, fault, drill, stage, safety
CRITERIA: tuple[tuple[str, str, float, str, str, str, str, bool], ...] = (
    ("alignment", "assignment", 1.0, "Lines up at the right depth and in the right gap",
     "Wrong depth or gap at the snap", "Walk-through line-ups against every formation", "", False),
    ("communication", "assignment", 0.75, "Makes and echoes the call",
     "Call late or not echoed", "Silent-count check drill", "", False),
    ("run_fit", "assignment", 1.5, "Fits the run where the call puts him",
     "Out of his fit", "Half-line run fits with cones", "", False),
    ("pursuit", "assignment", 1.0, "Runs to the ball on his angle until the whistle",
     "Slows down or takes a flat angle", "Five-lane pursuit", "", False),
    ("zone_drop", "coverage", 1.0, "Drops to his landmark with eyes on the passer",
     "Short of the landmark or looks at the ground", "Landmark drops with two throws", "", False),
    ("man_coverage", "coverage", 1.0, "Stays on the hip of the back or tight end",
     "Lets him cross his face", "One-on-one routes from the backfield", "", False),
    ("blitz", "coverage", 0.75, "Times the blitz and keeps his lane",
     "Early, or round the blocker out of his lane", "Get-off and lane rush against a back", "", False),
    ("stance", "read", 0.75, "Balanced, hips low, weight on the balls of the feet, flat back",
     "Upright, or on his heels", "Mirror stance, ten snaps on command", "", False),
    ("key_read", "read", 1.0, "Reads his key and takes the first step to it",
     "False step or peeks into the backfield", "Key cards, three linemen and a back", "", False),
    ("close", "take_on", 1.0, "Closes the space before the blocker gets going",
     "Waits and catches the block", "Two-yard closing sled", "close", False),
    ("strike", "take_on", 1.0, "Pads under pads, hands inside",
     "Pads high, hands outside", "Fit-and-strike on a bag from the knees", "strike", False),
    ("extend", "take_on", 1.0, "Arms long, leverage arm free",
     "Folds at the elbows and is held", "Lock-out and press against a partner", "extend", False),
    ("shed", "take_on", 1.0, "Gets off the block toward his leverage",
     "Stays blocked, or runs round it and gives up the gap", "Shed to a rolling ball", "shed", False),
    ("cut_block", "take_on", 0.5, "Sinks, hands on, gives ground and keeps his feet",
     "Legs left behind", "Rolling bags at the shins", "", False),
    ("approach", "approach", 1.0, "Square, inside-out, shortens his steps before contact",
     "Feet race, crosses over or over-runs", "Shimmy and close on a back", "", False),
    ("eyes_up", "tackle", 1.5, "Eyes up and head out of contact",
     "Head down at contact", "See-what-you-hit fits on a held shield, walking pace", "", True),
    ("near_shoulder", "tackle", 1.0, "Near shoulder to the ball carrier, head kept out",
     "Far shoulder, head in the way", "Near-shoulder fits on the angle, walking pace", "", True),
    ("wrap", "tackle", 1.0, "Hips sunk, wraps with both arms",
     "Upright, arms only", "Wrap and hold on a rolling ring", "", False),
    ("leg_drive", "tackle", 1.0, "Drives his legs through contact",
     "Legs stall at contact", "Five-step drive on a sled", "", False),
    ("finish", "finish", 0.5, "Secures a loose ball, catches what is thrown to him",
     "Over-runs or drops it", "Scoop and tip ball circuit", "", False),
)  # fmt: skip

CRITERION_IDS: tuple[str, ...] = tuple(c[0] for c in CRITERIA)
INDEX: dict[str, int] = {name: place for place, name in enumerate(CRITERION_IDS)}

FAULTS: tuple[tuple[str, str, str, bool], ...] = (
    ("head_down", "head down", "See-what-you-hit fits on a held shield, walking pace", True),
    ("feet_race", "feet race", "Shimmy and close on a back", False),
    ("crosses_over", "crosses over", "Shuffle and press along a line", False),
    ("arms_only", "arms only", "Wrap and hold on a rolling ring", False),
    ("legs_stall", "legs stall", "Five-step drive on a sled", False),
    ("step_behind", "a step behind", "Angle pursuit with a cutback", False),
)

SHORT: dict[str, str] = {
    "alignment": "Alignment", "communication": "Communication", "run_fit": "Run fit", "pursuit": "Pursuit",
    "zone_drop": "Zone drop", "man_coverage": "Man coverage", "blitz": "Blitz", "stance": "Stance",
    "key_read": "Key read", "close": "Close", "strike": "Strike", "extend": "Extend", "shed": "Shed",
    "cut_block": "Cut block", "approach": "Approach", "eyes_up": "Eyes up",
    "near_shoulder": "Near shoulder", "wrap": "Wrap", "leg_drive": "Leg drive", "finish": "Finish",
}  # fmt: skip
"""What the first two coaches call a criterion."""
ABBREVIATED: dict[str, str] = {
    "alignment": "ALN", "communication": "COM", "run_fit": "FIT", "pursuit": "PUR", "zone_drop": "ZON",
    "man_coverage": "MAN", "blitz": "BLZ", "stance": "STN", "key_read": "KEY", "close": "CLO",
    "strike": "STR", "extend": "EXT", "shed": "SHD", "cut_block": "CUT", "approach": "APP", "eyes_up": "EYE",
    "near_shoulder": "NSH", "wrap": "WRP", "leg_drive": "LEG", "finish": "FIN",
}  # fmt: skip
"""What the third calls it."""
