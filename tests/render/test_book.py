"""Many documents: each whole, the same bytes again, one failure kept to itself."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from lbeval import files
from lbeval.render.book import Job, Outcome, render_documents
from tests.render.notebooks import notebook_of, page_notebook, saved
from tests.render.pages import NAME, squeezed, text_of

NAMES = (NAME, "Ana/../x", "ana  X", "日本 <b>", "CON")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Job], list[Outcome], list[Outcome], Path]:
    folder = tmp_path_factory.mktemp("book")
    book = saved(page_notebook(), folder)
    bad = saved(notebook_of("raise ValueError('no film')"), folder, "bad.ipynb")
    jobs = [Job(book, {"name": name, "mark": n + 0.5}, name) for n, name in enumerate(NAMES)]
    jobs += [Job(bad, {}, "bad"), Job(book, {"nmae": 1}, "typo"), Job(folder / "none.ipynb", {}, "none")]
    seen: list[Outcome] = []
    outcomes = render_documents(jobs, folder / "out" / "deep", seen.append, kernels=2)
    return jobs, outcomes, seen, folder


def test_every_document_holds_its_own_player(made: Any) -> None:
    _, outcomes, _, _ = made
    for number, (outcome, name) in enumerate(zip(outcomes, NAMES, strict=False)):
        said = squeezed(text_of(outcome.path.read_bytes()))
        assert squeezed(name).replace("日本", "▯▯") in said
        assert f"{number}.5" in said
        assert not any(f"{other}.5" in said for other in range(len(NAMES)) if other != number)


def test_names_are_safe_stay_inside_and_never_meet(made: Any) -> None:
    _, outcomes, _, folder = made
    written = [outcome.path for outcome in outcomes if outcome.path]

    assert [path.name for path in written] == [
        "ana-read-1-oneil-sahin-x.pdf", "ana-x.pdf", "ana-x-2.pdf", "b.pdf", "con-file.pdf",
    ]  # fmt: skip
    assert sorted(written) == sorted((folder / "out" / "deep").iterdir())


def test_failures_are_messages_and_the_rest_goes_on(made: Any) -> None:
    jobs, outcomes, seen, _ = made
    errors = [outcome.error for outcome in outcomes[len(NAMES) :]]

    assert "bad.ipynb: cell 2 stopped with ValueError: no film" in errors[0]
    assert "no parameter nmae" in errors[1]
    assert "There is no notebook" in errors[2]
    assert [outcome.job for outcome in outcomes] == jobs
    assert len(seen) == len(jobs)


def test_a_second_run_changes_nothing_and_a_file_open_elsewhere_stops_only_itself(
    made: Any, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    jobs, first, _, folder = made
    shutil.copytree(folder / "out" / "deep", folder / "again")
    kept = folder / "again" / first[0].path.name
    before = (kept.read_bytes(), kept.stat().st_mtime_ns)
    real = files._replace

    def refused(target: Path, data: bytes) -> None:
        if target.name == "open.pdf":
            raise PermissionError(13, "in use")
        real(target, data)

    monkeypatch.setattr(files, "_replace", refused)
    more = [jobs[0], Job(jobs[0].notebook, {}, "open"), Job(jobs[0].notebook, {}, "free")]
    same, refusal, written = render_documents(more, folder / "again", kernels=1)
    assert same.path == kept
    assert (kept.read_bytes(), kept.stat().st_mtime_ns) == before
    assert refusal.path is None
    assert "open in another program" in str(refusal.error)
    assert written.path is not None


def test_no_jobs_no_kernels(tmp_path: Path) -> None:
    assert render_documents([], tmp_path / "x") == []
    assert not (tmp_path / "x").exists()
