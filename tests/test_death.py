"""A laptop that dies in the middle must leave whole files, and the next run must finish."""

from __future__ import annotations

import io
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

from lbeval.resources import resource


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_a_killed_run_leaves_whole_files(tmp_path: Path) -> None:
    season = shutil.copytree(resource("data_demo/small"), tmp_path / "season")
    out = tmp_path / "out"
    command = [sys.executable, "-m", "lbeval", "tables", str(season), "--out", str(out), "--quiet"]
    started = time.monotonic()
    subprocess.run(command, check=True)
    lasted = time.monotonic() - started
    whole = {path.name: path.read_bytes() for path in (out / "tables").iterdir()}
    rng = random.Random(20251)  # noqa: S311 - moments to die at, not secrets
    for _ in range(6):
        shutil.rmtree(out)
        run = subprocess.Popen(command)
        time.sleep(lasted * rng.uniform(0.5, 1.0))
        run.send_signal(signal.SIGKILL)
        run.wait()
        for path in (out / "tables").glob("*") if out.exists() else ():
            if path.name in whole:
                assert path.read_bytes() == whole[path.name], path.name
            if path.suffix == ".parquet":
                pd.read_parquet(io.BytesIO(path.read_bytes()))
        subprocess.run(command, check=True)
        assert {path.name for path in (out / "tables").iterdir()} >= set(whole)
