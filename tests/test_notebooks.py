from __future__ import annotations

import ast
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from lbeval.analysis import save_analysis
from lbeval.render.book import Job, render_documents
from lbeval.report.player import player_jobs
from lbeval.resources import resource
from tests.hand_analysis import NAMES, full_analysis

NOTEBOOKS = sorted(resource("notebooks").glob("*.ipynb"))
LONGEST = 4
_BANNED = (
    ast.FunctionDef,
    ast.Lambda,
    ast.For,
    ast.While,
    ast.BinOp,
    ast.If,
    ast.ClassDef,
    ast.comprehension,
)


def cells(path: Path) -> list[dict[str, Any]]:
    held: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [cell for cell in held if cell["cell_type"] == "code"]


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_is_source_only(path: Path) -> None:
    for cell in cells(path):
        assert cell["outputs"] == []
        assert cell["execution_count"] is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_only_loads_and_shows(path: Path) -> None:
    for cell in cells(path):
        source = "".join(cell["source"])
        assert len([line for line in source.splitlines() if line.strip()]) <= LONGEST
        tree = ast.parse(source)
        for node in ast.walk(tree):
            assert not isinstance(node, _BANNED)
            if isinstance(node, ast.Import):
                assert all(name.name.startswith("lbeval") for name in node.names)
            if isinstance(node, ast.ImportFrom):
                assert (node.module or "").startswith("lbeval")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_one_cell_holds_the_parameters(path: Path) -> None:
    tagged = [cell for cell in cells(path) if "parameters" in cell["metadata"].get("tags", [])]
    assert len(tagged) == 1


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Every player's two pages, and one on A4, printed from the notebook."""
    folder = tmp_path_factory.mktemp("analysis")
    save_analysis(full_analysis(), folder)
    wanted = [
        *player_jobs(full_analysis(), folder, players=["ana", "bo", "cy"]),
        *player_jobs(full_analysis(), folder, players=["di"], copies=["player"], paper="a4"),
    ]
    jobs = [Job(resource(one.notebook), one.parameters, one.name) for one in wanted]
    outcomes = render_documents(jobs, tmp_path_factory.mktemp("out"))
    assert [one.error for one in outcomes] == [None] * len(jobs)
    return {one.job.name: one.path.read_bytes() for one in outcomes if one.path}


def words(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def test_pages_print_on_at_most_two_sheets(printed: dict[str, bytes]) -> None:
    assert len(printed) == 7
    for pdf in printed.values():
        assert 1 <= len(PdfReader(io.BytesIO(pdf)).pages) <= 3


def test_a_printed_players_copy_names_nobody_else(printed: dict[str, bytes]) -> None:
    for name, pdf in printed.items():
        player, copy = name.split()
        said = words(pdf)
        assert "received and discussed" in said
        if copy == "player":
            for other, full in NAMES.items():
                assert other == player or full.split()[-1] not in said
            assert not re.search(r"\b(1st|2nd|3rd|\dth)\b", said)


def test_the_paper_asked_for(printed: dict[str, bytes]) -> None:
    box = PdfReader(io.BytesIO(printed["di player"])).pages[0].mediabox
    assert (round(box.width), round(box.height)) == (595, 842)
