"""Parameters are data: whatever a value holds, it arrives as that value and runs nothing."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.errors import ReportError
from lbeval.render.parameters import read_notebook, with_parameters
from tests.render.notebooks import notebook_of

plain_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(plain_values)
def test_a_value_arrives_as_it_is(value: Any) -> None:
    filled = with_parameters(notebook_of(), {"name": value}, "n")
    (assignment,) = ast.parse(filled.cells[1].source).body

    assert isinstance(assignment, ast.Assign)
    assert ast.literal_eval(assignment.value) == value
    assert "injected-parameters" in filled.cells[1].metadata.tags


def test_a_path_arrives_as_text() -> None:
    assert with_parameters(notebook_of(), {"name": Path("a")}, "n").cells[1].source == "name = 'a'"


def test_an_unknown_name_is_refused_with_those_there_are() -> None:
    with pytest.raises(ReportError, match="no parameter nmae; it has mark, name"):
        with_parameters(notebook_of(), {"nmae": 1}, "n")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), object(), {"a": {1, 2}}, [b"x"]])
def test_a_value_that_is_not_plain_is_refused(value: object) -> None:
    with pytest.raises(ReportError, match="parameter name"):
        with_parameters(notebook_of(), {"name": value}, "n")


def test_a_notebook_without_the_cell_is_refused_only_if_needed() -> None:
    bare = notebook_of()
    bare.cells = []

    assert with_parameters(bare, {}, "n") is bare
    with pytest.raises(ReportError, match="tagged `parameters`"):
        with_parameters(bare, {"name": 1}, "n")


def test_annotated_assignments_count() -> None:
    book = notebook_of(parameters='folder: str = "x"\nimport os')

    assert with_parameters(book, {"folder": "y"}, "n").cells[1].source == "folder = 'y'"


def test_what_is_not_a_notebook_is_said(tmp_path: Path) -> None:
    (tmp_path / "bad.ipynb").write_text("{", encoding="utf-8")
    (tmp_path / "bytes.ipynb").write_bytes(b"\xff\xfe\x00")

    for name in ("bad.ipynb", "bytes.ipynb"):
        with pytest.raises(ReportError, match="cannot be read as a notebook"):
            read_notebook(tmp_path / name)
    with pytest.raises(ReportError, match="There is no notebook"):
        read_notebook(tmp_path / "none.ipynb")
