"""The commands as a tired coach runs them: exit codes, one-line errors, the same bytes twice."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from lbeval.files import slug
from lbeval.resources import resource

HEAVY = ("pandas", "numpy", "scipy", "statsmodels", "seaborn", "matplotlib", "nbconvert", "nbclient", "typst")


def lbeval(*arguments: str | Path, stdin: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "lbeval", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        input=stdin,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def two_players(season: Path) -> list[str]:
    """Return the options that choose the first two players and their own copies."""
    table = season / "roster.csv"
    names = [line.split(",")[0] for line in table.read_text(encoding="utf-8-sig").splitlines()[1:3]]
    return ["--player", slug(names[0]), "--player", slug(names[1]), "--copy", "player"]


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return Path(shutil.copytree(resource("data_demo/small"), tmp_path / "small"))


@pytest.mark.parametrize("code", ["import lbeval", "import lbeval.cli"])
def test_nothing_heavy_is_loaded_before_it_is_needed(code: str) -> None:
    probe = f"{code}; import sys; print([m for m in {HEAVY} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_every_public_name_can_be_had() -> None:
    probe = "import lbeval; [getattr(lbeval, name) for name in lbeval.__all__]"
    subprocess.run([sys.executable, "-c", probe], check=True)


@pytest.mark.parametrize("command", ["start", "check", "tables", "evaluate", "demo"])
def test_help_says_what_a_command_does(command: str) -> None:
    done = lbeval(command, "--help")
    assert done.returncode == 0
    assert "Usage" in done.stdout
    for word in ("REML", "confidence", "schema", "dataframe"):
        assert word.casefold() not in done.stdout.casefold()


def test_a_folder_without_settings_is_one_line_with_the_remedy(tmp_path: Path) -> None:
    done = lbeval("check", tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "lbeval start" in done.stderr
    assert "Traceback" not in done.stderr
    assert "Traceback" in lbeval("check", tmp_path, "--debug").stderr


def test_an_unknown_player_is_refused_with_the_nearest_name(small: Path) -> None:
    done = lbeval("evaluate", small, "--player", "Nobody Such")
    assert done.returncode == 2
    assert "Nobody Such" in done.stderr
    assert "Traceback" not in done.stderr


def test_check_is_quiet_about_a_clean_season_and_balances(small: Path) -> None:
    done = lbeval("check", small)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Everything found its place" in done.stdout
    data = json.loads(lbeval("check", small, "--json").stdout)
    for sheet in data["files"]:
        fates = sum(
            value
            for key, value in sheet.items()
            if key not in {"source_file", "source_sheet", "kind", "rows", "cells"}
        )
        assert fates == sheet["cells"], sheet


def test_tables_twice_give_the_same_bytes(small: Path, tmp_path: Path) -> None:
    before = contents(small)
    assert lbeval("tables", small, "--out", tmp_path / "a").returncode == 0
    assert lbeval("tables", small, "--out", tmp_path / "b").returncode == 0
    assert contents(tmp_path / "a") == contents(tmp_path / "b")
    assert contents(small) == before


@pytest.mark.slow
def test_evaluations_twice_give_the_same_bytes(small: Path, tmp_path: Path) -> None:
    for out in ("a", "b"):
        done = lbeval("evaluate", small, "--out", tmp_path / out, *two_players(small))
        assert done.returncode == 0, done.stderr
    made = contents(tmp_path / "a" / "evaluations")
    assert made == contents(tmp_path / "b" / "evaluations")
    assert made
    assert all(name.endswith(".pdf") and data.startswith(b"%PDF") for name, data in made.items())


@pytest.mark.slow
def test_an_output_that_cannot_be_written_stops_no_other(small: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    chosen = two_players(small)
    blocked = out / "evaluations" / f"{chosen[1]}-player.pdf"
    blocked.mkdir(parents=True)  # a folder in its place: no system lets a file take it
    done = lbeval("evaluate", small, "--out", out, *chosen)
    assert done.returncode == 1
    assert blocked.name in done.stderr
    assert (out / "evaluations" / f"{chosen[3]}-player.pdf").is_file()
