"""The demo folders, read from their files, against what the generator meant them to say."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from data_demo.maker import simulate_season
from data_demo.maker.__main__ import SEED
from lbeval.read import read_season_files
from lbeval.settings import load_rubric, load_settings
from lbeval.tables import TABLES, Season
from lbeval.tidy import tidy_season
from lbeval.tidy.coverage import coverage
from tests.tidy.folders import assert_balanced, load, reasons

DEMO = Path(__file__).parents[2] / "data_demo"
LINEAGE = ["source_file", "source_sheet", "source_row", "source_column"]


@pytest.fixture(scope="module")
def full() -> Season:
    return load(DEMO / "full")


@pytest.fixture(scope="module")
def faulty() -> Season:
    return load(DEMO / "faulty")


def test_the_full_season_leaves_nothing_over(full: Season) -> None:
    assert reasons(full) == []
    assert not full.draft
    assert (full.ledger["forgotten"] == 0).all()
    assert coverage(full)["rater_id"].nunique() == 3


@pytest.mark.parametrize("name", ["games", "plays", "roles", "grades"])
def test_the_files_of_the_full_season_say_what_was_simulated(full: Season, name: str) -> None:
    wanted = getattr(simulate_season(SEED), name)
    got: pd.DataFrame = getattr(full, name)
    if name == "grades":
        # an empty cell of a wide sheet is a mark not given, which the simulation does not count
        got = got[~((got["blank"] == "not_graded") & (got["raw_score"] == ""))]
        wanted = wanted[~((wanted["blank"] == "not_graded") & (wanted["raw_score"] == ""))]
    columns = [c for c in TABLES[name].columns if c not in {*LINEAGE, "order"}]
    keys = [c for c in ("rater_id", "game_id", "play_id", "player_id", "criterion", "look") if c in columns]
    pd.testing.assert_frame_equal(
        got[columns].sort_values(keys, ignore_index=True),
        wanted[columns].sort_values(keys, ignore_index=True),
    )


def test_the_small_season_leaves_nothing_over() -> None:
    small = load(DEMO / "small")
    assert reasons(small) == []
    assert small.grades["rater_id"].nunique() == 2


def test_every_planted_fault_is_told_with_its_place(faulty: Season) -> None:
    planted = pd.read_csv(DEMO / "faulty" / "planted.csv", dtype=str, keep_default_na=False)
    places = ["source_file", "source_sheet", "source_row", "source_column", "value", "reason"]
    told = {tuple(map(str, row)) for row in faulty.set_aside[places].itertuples(index=False)}
    names = ["file", "sheet", "row", "column", "value", "reason"]
    faults = planted[planted["fate"] != "used"]
    wanted = {tuple(row) for row in faults[names].itertuples(index=False)}
    assert wanted - told == set()
    assert told - wanted == set()
    assert (faulty.set_aside["message"] != "").all()
    assert (faulty.set_aside["suggestion"] != "").all()


def test_what_is_odd_but_clear_is_used(faulty: Season) -> None:
    planted = pd.read_csv(DEMO / "faulty" / "planted.csv", dtype=str, keep_default_na=False)
    odd = planted[(planted["fate"] == "used") & (planted["row"] != "0")]
    aside = faulty.set_aside[faulty.set_aside["kind"] == "set_aside"]
    places = set(zip(aside["source_file"], aside["source_sheet"], aside["source_row"], strict=True))
    assert not {(r.file, r.sheet, int(str(r.row))) for r in odd.itertuples(index=False)} & places


def test_the_ledger_agrees_with_the_lists(faulty: Season) -> None:
    assert_balanced(faulty)
    long = faulty.ledger.set_index("source_file").loc["grades/quell_marks.tsv"]
    marks = faulty.grades[faulty.grades["source_file"] == "grades/quell_marks.tsv"]
    for blank in ("did_not_occur", "not_graded", "ungradable"):
        assert long[blank] == (marks["blank"] == blank).sum()
    aside = faulty.set_aside[faulty.set_aside["source_file"] == "grades/quell_marks.tsv"]
    lost = aside[aside["kind"] == "set_aside"]["source_row"].nunique()
    assert len(marks) + lost == long["rows"] - 1


def test_the_same_files_give_the_same_tables_whatever_their_order(full: Season) -> None:
    folder = DEMO / "full"
    settings, rubric = load_settings(folder), load_rubric(folder)
    raw = read_season_files(folder, settings, rubric)
    again = tidy_season(raw, settings, rubric, folder)
    for name in TABLES:
        pd.testing.assert_frame_equal(getattr(full, name), getattr(again, name))
