"""One finder: what is packaged comes first, else the checkout; never a copy that could be stale."""

from __future__ import annotations

from pathlib import Path

import pytest

from lbeval import resources
from lbeval.errors import ReportError
from lbeval.resources import resource


def test_a_checkout_serves_its_own_files() -> None:
    found = resource("notebooks/player_evaluation.ipynb")

    assert found == Path(resources.__file__).resolve().parent.parent / "notebooks" / "player_evaluation.ipynb"
    assert found.is_file()


def test_an_installed_package_serves_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    packaged = tmp_path / "lbeval" / "_bundled" / "notebooks" / "x.ipynb"
    beside = tmp_path / "notebooks" / "x.ipynb"
    for path in (packaged, beside):
        path.parent.mkdir(parents=True)
        path.write_text("{}", encoding="utf-8")
    monkeypatch.setattr(resources, "_PACKAGE", tmp_path / "lbeval")

    assert resource("notebooks/x.ipynb") == packaged
    packaged.unlink()
    assert resource("notebooks/x.ipynb") == beside


@pytest.mark.parametrize("name", ["notebooks/none.ipynb", "../x", "/etc/passwd", "notebooks/../../x"])
def test_what_does_not_travel_with_it_is_said(name: str) -> None:
    with pytest.raises(ReportError):
        resource(name)
