from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from data_demo.maker.__main__ import SEED
from data_demo.maker.faults import write_faulty
from data_demo.maker.season import SimulatedSeason, simulate_season
from data_demo.maker.small import PEOPLE, simulate_small
from data_demo.maker.write import write_full, write_small
from lbeval.files import slug
from lbeval.pipeline import load_season
from lbeval.settings import load_rubric, load_settings
from lbeval.tables import LINEAGE, Season
from lbeval.tables.schema import FATES

HOME = Path(__file__).parents[2] / "data_demo"


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def size(folder: Path) -> int:
    return sum(p.stat().st_size for p in folder.rglob("*") if p.is_file())


@pytest.fixture(scope="module")
def season() -> SimulatedSeason:
    return simulate_season(SEED)


@pytest.fixture(scope="module")
def full() -> Season:
    return load_season(HOME / "full")


@pytest.fixture(scope="module")
def faulty() -> Season:
    return load_season(HOME / "faulty")


@pytest.fixture(scope="module")
def planted() -> pd.DataFrame:
    return pd.read_csv(HOME / "faulty" / "planted.csv", keep_default_na=False, dtype={"value": str})


@pytest.mark.slow
def test_what_ships_is_what_the_generator_writes(season: SimulatedSeason, tmp_path: Path) -> None:
    write_full(tmp_path / "full", season)
    write_faulty(tmp_path / "faulty", season)
    small = simulate_small(SEED)
    write_small(tmp_path / "small", small)
    for name in ("full", "faulty", "small"):
        assert files(tmp_path / name) == files(HOME / name)
    assert json.loads((HOME / "full_truth.json").read_text("utf-8")) == season.truth.as_json()
    assert json.loads((HOME / "small_truth.json").read_text("utf-8")) == small.truth_json()


def test_sizes() -> None:
    assert size(HOME / "full") <= 8_000_000
    assert size(HOME / "full") + size(HOME / "faulty") + size(HOME / "small") <= 14_000_000


@pytest.mark.parametrize("name", ["full", "small", "faulty"])
def test_settings_load(name: str) -> None:
    settings, rubric = load_settings(HOME / name), load_rubric(HOME / name)
    assert settings.sources
    assert any(c.safety for c in rubric.criteria) or name == "small"


def test_full_reads_back_as_it_was_played(season: SimulatedSeason, full: Season) -> None:
    assert full.set_aside.empty
    assert not full.draft
    for name in ("players", "jerseys", "games", "plays", "roles", "grades", "events", "tackles"):
        read, made = getattr(full, name), getattr(season, name)
        columns = [c for c in made.columns if c not in LINEAGE]
        if name == "players":
            read = read[read["status"] == "roster"]
        left = read[columns].sort_values(columns, ignore_index=True)
        pd.testing.assert_frame_equal(left, made[columns].sort_values(columns, ignore_index=True))


def test_full_holds_what_an_evaluation_shows(full: Season) -> None:
    assert (full.players["status"] == "prospect").sum() == 12
    assert full.players["level"].str.startswith("college").sum() == 2
    assert set(full.remarks["player_id"]) == set(
        full.players.loc[full.players["status"] == "roster", "player_id"]
    )
    assert full.measurables["player_id"].nunique() == 23
    assert full.drills["game_id"].nunique() == 15 + 12 + 12
    assert {"hand", "electronic"} <= set(full.measurables["timing"])


def test_practice_keeps_the_limits(full: Season) -> None:
    spring = full.drills[full.drills["phase"] == "spring"]
    contact = spring[spring["contact"].isin(["control", "thud", "live"])]
    assert contact["game_id"].nunique() <= 12
    assert not contact["game_id"].isin(["spring-01", "spring-02"]).any()
    assert spring.loc[spring["contact"] == "live", "game_id"].nunique() <= 8


def test_small_reads_back_as_it_was_played() -> None:
    read, made = load_season(HOME / "small"), simulate_small(SEED)
    assert read.set_aside.empty
    assert not read.draft
    ids = np.array([slug(p[0]) for p in PEOPLE])
    marks = made.marks.assign(
        player_id=ids[made.marks["player"]],
        play_id=[
            f"game-{g + 1}-{n:03d}" for g, n in zip(made.marks["game"], made.marks["play"], strict=True)
        ],
    )
    columns = ["rater_id", "player_id", "play_id", "criterion", "score"]
    left = read.grades[columns].sort_values(columns, ignore_index=True)
    right = (
        marks[columns].astype({"player_id": "str", "play_id": "str"}).sort_values(columns, ignore_index=True)
    )
    pd.testing.assert_frame_equal(left, right)
    doubled = read.grades[read.grades["rater_id"] == "osei"]
    assert len(doubled) < 0.1 * len(read.grades)
    assert len(read.tackles) == len(made.tackles)


def test_every_planted_fault_is_listed_with_its_place(faulty: Season, planted: pd.DataFrame) -> None:
    key = ["source_file", "source_sheet", "source_row", "source_column", "value", "kind", "reason"]
    said = set(faulty.set_aside[key].itertuples(index=False, name=None))
    wanted = planted[planted["fate"] != "used"]
    names = ["file", "sheet", "row", "column", "value", "fate", "reason"]
    missing = [row for row in wanted[names].itertuples(index=False, name=None) if row not in said]
    assert missing == []
    assert (faulty.set_aside["suggestion"] != "").all()


def test_what_only_looks_odd_is_read_without_a_word(faulty: Season, planted: pd.DataFrame) -> None:
    key = ["source_file", "source_sheet", "source_row"]
    said = set(faulty.set_aside[key].itertuples(index=False, name=None))
    odd = planted[(planted["fate"] == "used") & (planted["row"] > 0)]
    assert len(odd) > 10
    assert [
        row for row in odd[["file", "sheet", "row"]].itertuples(index=False, name=None) if row in said
    ] == []


def test_nothing_is_said_that_was_not_planted(faulty: Season, planted: pd.DataFrame) -> None:
    key = ["source_file", "source_sheet", "source_row", "reason"]
    said = set(faulty.set_aside[key].itertuples(index=False, name=None))
    assert said <= set(planted[["file", "sheet", "row", "reason"]].itertuples(index=False, name=None))


def test_the_rest_of_the_faulty_season_is_used(faulty: Season) -> None:
    assert faulty.draft
    assert (faulty.ledger["cells"] == faulty.ledger[list(FATES)].sum(axis=1)).all()
    games = faulty.grades[faulty.grades["game_id"].str.startswith("game-")]
    assert games["score"].notna().sum() > 35_000
    ferro = faulty.grades[faulty.grades["rater_id"] == "ferro"].set_index("raw_score")["score"]
    assert ferro["½"] == 0.5
    assert ferro["85,5 %"] == pytest.approx(0.855)
    assert 'Ana "#read(1)" O\'Neil-[Şahin] & $x$' in set(faulty.players["name"])
