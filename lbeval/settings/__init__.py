"""Typed, validated settings of a season folder; every house rule lives here."""

from lbeval.settings.load import load_rubric, load_settings
from lbeval.settings.rubric import Criterion, Fault, Group, Rubric
from lbeval.settings.scales import Scale
from lbeval.settings.season import Game, House, PracticeLimit, Program, Range, Rater, SeasonSettings
from lbeval.settings.sources import FIELDS, KINDS, Source

__all__ = [
    "FIELDS",
    "KINDS",
    "Criterion",
    "Fault",
    "Game",
    "Group",
    "House",
    "PracticeLimit",
    "Program",
    "Range",
    "Rater",
    "Rubric",
    "Scale",
    "SeasonSettings",
    "Source",
    "load_rubric",
    "load_settings",
]
