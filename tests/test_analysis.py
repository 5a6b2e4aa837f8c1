from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pandas as pd
import pytest

from lbeval.analysis import load_analysis, save_analysis
from lbeval.errors import ReportError
from lbeval.tables import TABLES
from tests.hand_analysis import full_analysis, small_analysis
from tests.hand_season import season


def test_what_is_saved_is_loaded(tmp_path: Path) -> None:
    kept = full_analysis()
    save_analysis(kept, tmp_path)
    back = load_analysis(tmp_path)
    assert back.digest == kept.digest
    assert back.season.settings == kept.season.settings
    assert back.season.rubric == kept.season.rubric
    for name in TABLES:
        pd.testing.assert_frame_equal(getattr(back.season, name), getattr(kept.season, name))
    for part in ("ratings", "tackling", "events", "takeons"):
        for field in dataclasses.fields(getattr(kept, part)):
            before, after = getattr(getattr(kept, part), field.name), getattr(getattr(back, part), field.name)
            assert type(before) is type(after)
            if isinstance(before, pd.DataFrame):
                pd.testing.assert_frame_equal(before, after)


def test_marks_keep_their_order(tmp_path: Path) -> None:
    held = season(settings={"scales": {"points": {"marks": {"z": 0.0, "a": 1.0}}}})
    kept = dataclasses.replace(full_analysis(), season=held)
    save_analysis(kept, tmp_path)
    assert list(load_analysis(tmp_path).season.settings.scales["points"].marks) == ["z", "a"]


def test_a_season_without_ratings_is_kept_too(tmp_path: Path) -> None:
    kept = dataclasses.replace(full_analysis(), ratings=None, unrated="No game has a mark.")
    save_analysis(kept, tmp_path)
    back = load_analysis(tmp_path)
    assert back.ratings is None
    assert back.unrated == kept.unrated
    assert back.digest == kept.digest


def test_saving_twice_gives_the_same_bytes_and_leaves_nothing_old(tmp_path: Path) -> None:
    save_analysis(full_analysis(), tmp_path)
    (tmp_path / "left.over.parquet").write_bytes(b"old")
    first = {file.name: file.read_bytes() for file in tmp_path.iterdir() if file.name != "left.over.parquet"}
    save_analysis(full_analysis(), tmp_path)
    assert {file.name: file.read_bytes() for file in tmp_path.iterdir()} == first


def test_the_digest_is_of_the_content() -> None:
    kept = full_analysis()
    moved = dataclasses.replace(kept, season=dataclasses.replace(kept.season, folder=Path("elsewhere")))
    assert moved.digest == kept.digest
    grades = kept.season.grades.copy()
    grades["score"] = 1.0 - grades["score"]
    changed = dataclasses.replace(kept, season=dataclasses.replace(kept.season, grades=grades))
    assert changed.digest != kept.digest
    assert small_analysis().digest != kept.digest


def test_a_folder_without_an_analysis_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match="run `lbeval evaluate`"):
        load_analysis(tmp_path)
    with pytest.raises(ReportError, match="run `lbeval evaluate`"):
        load_analysis(tmp_path / "nowhere")


def test_damage_and_other_versions_are_said(tmp_path: Path) -> None:
    save_analysis(full_analysis(), tmp_path)
    (tmp_path / "season.players.parquet").unlink()
    with pytest.raises(ReportError, match="damaged"):
        load_analysis(tmp_path)
    index = json.loads((tmp_path / "analysis.json").read_text(encoding="utf-8"))
    (tmp_path / "analysis.json").write_text(json.dumps({**index, "format": 0}), encoding="utf-8")
    with pytest.raises(ReportError, match="another version"):
        load_analysis(tmp_path)
