"""Small season folders written for one test each."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from lbeval.read import read_season_files
from lbeval.settings import load_rubric, load_settings
from lbeval.tables import Season
from lbeval.tables.schema import FATES
from lbeval.tidy import tidy_season

BASE = """
[program]
name = "Example"
year = 2025
grades_on = "three"

[raters.ames]
name = "Coach Ames"

[raters.boon]
name = "Coach Boon"

[scales.three]
marks = {"0" = 0.0, "1" = 0.5, "2" = 1.0}
did_not_occur = ["na"]
ungradable = ["?"]

[scales.signs]
marks = {"-" = 0.0, "+" = 1.0}
ungradable = ["o"]

[scales.percent]
percent = true

[[sources]]
files = ["roster.csv"]
kind = "roster"
columns = {name = "Name", jersey = "No", jersey_from = "From", jersey_to = "To"}

[[sources]]
files = ["clips.csv"]
kind = "plays"

[sources.columns]
game = "Game"
play = "Clip"
snap = "Snap"
week = "Wk"
opponent = "Opp"
date = "Date"
nullified = "Off"
"""

ROSTER = """Name,No,From,To
Marcus Hale,44,,2025-09-09
Marcus Hale,45,2025-09-10,
Micah Hale,47,,
José O'Neil-Price Jr.,50,,
"de la Cruz, Ana",00,,
"""

CLIPS = """Game,Clip,Snap,Wk,Opp,Off,Date
Game 1,1,1,1,Ridge Fork,,2025-09-06
Game 1,2,2,1,Ridge Fork,,2025-09-06
Game 1,4,,1,Ridge Fork,x,2025-09-06
Game 1,5,3,1,Ridge Fork,,2025-09-06
Game 1,6,4,1,Ridge Fork,,2025-09-06
Game 2,1,1,3,Lake,,2025-09-20
Game 2,2,2,3,Lake,,2025-09-20
Game 2,3,3,3,Lake,,2025-09-20
"""

RUBRIC = """
standard = 0.7

[[groups]]
id = "job"
label = "Assignment"

[[criteria]]
id = "fit"
label = "fits his gap"
group = "job"

[[criteria]]
id = "shed"
label = "gets off the block"
group = "job"

[[criteria]]
id = "effort"
label = "runs to the ball"
group = "job"

[faults.arms]
label = "arms only"

[faults.head_down]
label = "head down"
"""

LONG = """
[[sources]]
files = ["marks.csv"]
kind = "grades"
rater = "ames"
scale = "three"
columns = {player = "Player", game = "Game", play = "Clip", criterion = "Item", score = "Mark", look = "Look"}
"""

LONG_HEAD = "Player,Game,Clip,Item,Mark,Look\n"


def write(folder: Path, sources: str = LONG, **files: str) -> Path:
    """Write a season folder; keys of `files` are names with `__` for the dot (`marks__csv`)."""
    texts = {
        "season__toml": BASE + sources,
        "rubric__toml": RUBRIC,
        "roster__csv": ROSTER,
        "clips__csv": CLIPS,
    }
    for name, text in (texts | files).items():
        path = folder / name.replace("__", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def load(folder: Path) -> Season:
    """Read and tidy a folder; the ledger must balance, and nothing described may be forgotten."""
    settings, rubric = load_settings(folder), load_rubric(folder)
    season = tidy_season(read_season_files(folder, settings, rubric), settings, rubric, folder)
    assert_balanced(season)
    return season


def assert_balanced(season: Season) -> None:
    """Hold that every cell has one fate, and that cells in tables and lists are counted as such."""
    ledger = season.ledger
    assert (ledger[list(FATES)].sum(axis=1) == ledger["cells"]).all()
    assert "forgotten" not in set(season.set_aside["reason"])


def reasons(season: Season) -> list[str]:
    """Return the reasons of what was set aside or noticed, in order of file and row."""
    return season.set_aside["reason"].tolist()


def only(season: Season, reason: str) -> pd.Series:
    """Return the one finding with this reason."""
    rows = season.set_aside[season.set_aside["reason"] == reason]
    assert len(rows) == 1, season.set_aside[["reason", "message"]].to_string()
    return rows.iloc[0]


def marks(season: Season) -> list[tuple[str, str, str, float]]:
    """Return player, play, criterion and score of every row of grades."""
    frame = season.grades[["player_id", "play_id", "criterion", "score"]]
    return list(frame.itertuples(index=False, name=None))
