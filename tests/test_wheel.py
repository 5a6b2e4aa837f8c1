"""An installed wheel must work outside the checkout, with its own notebooks, template and demo data."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the wheel's content, as an installer would lay it."""
    built = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(built)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = built.glob("*.whl")
    target = tmp_path_factory.mktemp("site")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(target)
    return target


def run(unpacked: Path, cwd: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": str(unpacked)}
    return subprocess.run(
        [sys.executable, *arguments], cwd=cwd, env=env, capture_output=True, text=True, check=False
    )


def test_packaged_copies_are_used_and_not_the_checkout(unpacked: Path, tmp_path: Path) -> None:
    code = "from lbeval.resources import resource; print(resource('data_demo/small'))"
    done = run(unpacked, tmp_path, "-c", code)
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.strip()).is_relative_to(unpacked)


@pytest.mark.slow
def test_a_season_is_printed_from_the_wheel_alone(unpacked: Path, tmp_path: Path) -> None:
    code = "from lbeval.resources import resource; print(resource('data_demo/small'))"
    small = run(unpacked, tmp_path, "-c", code).stdout.strip()
    done = run(unpacked, tmp_path, "-m", "lbeval", "evaluate", small, "--copy", "staff", "--out", "out")
    assert done.returncode == 0, done.stderr
    assert list((tmp_path / "out").rglob("*.pdf"))


def test_an_editable_checkout_serves_its_own_files() -> None:
    code = "from lbeval.resources import resource; print(resource('data_demo/small'))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert Path(done.stdout.strip()) == ROOT / "data_demo" / "small"
