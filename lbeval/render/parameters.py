"""A notebook's parameters: read, checked against what it declares, and put into it."""

from __future__ import annotations

import ast
import copy
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeAlias

import nbformat
from nbformat import NotebookNode

from lbeval.errors import ReportError

Parameters: TypeAlias = Mapping[str, Any]


def read_notebook(notebook: Path | NotebookNode) -> NotebookNode:
    """Read a notebook, or copy one.

    Raises
    ------
    ReportError
        If there is no notebook at the path.
    """
    if not isinstance(notebook, Path):
        return copy.deepcopy(notebook)
    try:
        text = notebook.read_text(encoding="utf-8")
        read: NotebookNode = nbformat.reads(text, as_version=4)  # type: ignore[no-untyped-call]
    except FileNotFoundError as error:
        raise ReportError(f"There is no notebook {notebook}.") from error
    except (OSError, ValueError, nbformat.ValidationError) as error:
        raise ReportError(f"{notebook} cannot be read as a notebook: {error}") from error
    return read


def with_parameters(notebook: NotebookNode, parameters: Parameters, name: str) -> NotebookNode:
    """Insert a cell that sets the parameters after the one tagged `parameters`.

    Raises
    ------
    ReportError
        If the notebook declares no such name, or a value is not plain: text, number, truth, or lists and
        tables of these.
    """
    if not parameters:
        return notebook
    place = next(
        (i for i, cell in enumerate(notebook.cells) if "parameters" in cell.metadata.get("tags", ())), None,
    )  # fmt: skip
    if place is None:
        raise ReportError(f"{name} has no cell tagged `parameters`.")
    known = _assigned(notebook.cells[place].source)
    unknown = sorted(set(parameters) - known)
    if unknown:
        raise ReportError(f"{name} has no parameter {', '.join(unknown)}; it has {', '.join(sorted(known))}.")
    lines = [f"{key} = {_plain_value(key, value)}" for key, value in parameters.items()]
    cell = copy.deepcopy(notebook.cells[place])
    cell.source = "\n".join(lines)
    cell.metadata["tags"] = ["injected-parameters"]
    if "id" in notebook.cells[place]:
        cell["id"] = "injected-parameters"
    notebook.cells.insert(place + 1, cell)
    return notebook


def _assigned(source: str) -> set[str]:
    try:
        tree = ast.parse(source)
    except SyntaxError:
        return set()
    names: set[str] = set()
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        names |= {target.id for target in targets if isinstance(target, ast.Name)}
    return names


def _plain_value(name: str, value: Any) -> str:
    if isinstance(value, Path):
        value = str(value)
    _check_plain(name, value)
    return repr(value)


def _check_plain(name: str, value: Any) -> None:
    if isinstance(value, float) and not math.isfinite(value):
        raise ReportError(f"The parameter {name} must be finite.")
    if type(value) in {list, tuple}:
        for item in value:
            _check_plain(name, item)
    elif type(value) is dict:
        for key, item in value.items():
            _check_plain(name, key)
            _check_plain(name, item)
    elif value is not None and type(value) not in {str, int, float, bool}:
        raise ReportError(f"The parameter {name} is of type {type(value).__name__}; give text or numbers.")
