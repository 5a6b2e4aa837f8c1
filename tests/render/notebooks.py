"""Notebooks made in the tests."""

from __future__ import annotations

from pathlib import Path

import nbformat
from nbformat import NotebookNode

SETTING_OUT = """
from lbeval.report import style
from lbeval.report.blocks import Document, Paragraph
from lbeval.report.tables import Column, DisplayTable
"""

PAGE = """
table = DisplayTable([Column("Name"), Column("Mark", align="decimal")], [[name, str(mark)]], caption="Marks")
with style.figure_style():
    fig, ax = style.new_figure(height=1.5)
    ax.plot([0, 1], [0, mark])
    ax.set_title(style.drawable(name))
    figure = style.figure_block(fig, alt="Mark by game")
"""

DISPLAYS = ("Document(name, kicker='Player evaluation')", "table", "figure", "Paragraph(name)")


def notebook_of(*sources: str, parameters: str = 'name = "nobody"\nmark = 0.0') -> NotebookNode:
    """A notebook of code cells, the first of them tagged `parameters`."""
    cells = [{"cell_type": "code", "source": source, "metadata": {}} for source in (parameters, *sources)]
    cells[0]["metadata"] = {"tags": ["parameters"]}
    whole = [
        {**cell, "id": f"cell-{number}", "outputs": [], "execution_count": None}
        for number, cell in enumerate(cells)
    ]
    made: NotebookNode = nbformat.from_dict(  # type: ignore[no-untyped-call]
        {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": whole},
    )
    return made


def page_notebook() -> NotebookNode:
    """A small page that shows its parameters."""
    return notebook_of(SETTING_OUT, PAGE, *DISPLAYS)


def saved(notebook: NotebookNode, folder: Path, name: str = "page.ipynb") -> Path:
    path = folder / name
    nbformat.write(notebook, path)  # type: ignore[no-untyped-call]
    return path


def said(notebook: NotebookNode) -> str:
    """All text the notebook's cells printed."""
    return "".join(
        output.get("text", "") for cell in notebook.cells for output in cell.get("outputs", ())
    )  # fmt: skip
