"""The rules of the house, run with the tests so that none can rot."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted((ROOT / "lbeval").rglob("*.py"))
CODE = [*MODULES, *sorted((ROOT / "tests").rglob("*.py")), *sorted((ROOT / "data_demo").rglob("*.py"))]
MODULE_NAMES = {
    ".".join(m.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__") for m in MODULES
}
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"} | {
    "lbeval",
    "notebooks",
    "tests",
    "data_demo",
    "reports",
}


def run(*command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_linter() -> None:
    run("ruff", "check", ".")


def test_formatter() -> None:
    run("ruff", "format", "--check", ".")


def test_types() -> None:
    run("mypy")


def test_layers() -> None:
    code = "from importlinter.cli import lint_imports; import sys; sys.exit(lint_imports())"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def imported(path: Path) -> set[str]:
    """Return the packages that a module imports anywhere, also inside functions."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            inside = {f"{node.module}.{alias.name}" for alias in node.names}
            names |= (inside & MODULE_NAMES) or {node.module}
    return names


@pytest.mark.parametrize("package", ["matplotlib", "seaborn"])
def test_only_figures_and_style_draw(package: str) -> None:
    allowed = {"lbeval/report/figures.py", "lbeval/report/style.py", "lbeval/render/warm.py"}
    drawing = {
        str(m.relative_to(ROOT)) for m in MODULES if any(i.split(".")[0] == package for i in imported(m))
    }
    assert drawing <= allowed


def test_only_pipeline_knows_the_order() -> None:
    for module in MODULES:
        if module.relative_to(ROOT).parts[1] in {"pipeline.py", "cli.py", "__main__.py"}:
            continue
        stages = {i.split(".")[1] for i in imported(module) if i.startswith("lbeval.") and "." in i}
        assert len(stages & {"read", "tidy", "fit", "render"}) <= 1, module


def test_no_module_outgrows_its_room() -> None:
    long = [str(m.relative_to(ROOT)) for m in CODE if len(m.read_text(encoding="utf-8").splitlines()) > 400]
    assert long == []


def test_no_room_without_a_name() -> None:
    assert not [m for m in CODE if m.stem in {"utils", "util", "helpers", "common", "misc"}]


def test_no_cycle_between_modules() -> None:
    graph = {
        ".".join(m.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): imported(m)
        for m in MODULES
        if m.parent.name != "lbeval" or m.stem != "__init__"  # its names are looked up when first used
    }
    done: set[str] = set()

    def visit(name: str, path: tuple[str, ...]) -> None:
        assert name not in path, " -> ".join((*path, name))
        if name not in done:
            for other in graph[name] & graph.keys() - {name}:
                visit(other, (*path, name))
            done.add(name)

    for name in graph:
        visit(name, ())


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_notebooks_are_thin_source(path: Path) -> None:
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    assert sum("parameters" in cell["metadata"].get("tags", []) for cell in code) == 1
    for cell in code:
        assert cell["outputs"] == []
        assert cell["execution_count"] is None
        text = "".join(cell["source"])
        assert not re.search(r"^\s*(def|for|while|class|lambda)\b", text, re.MULTILINE), text
        if "parameters" not in cell["metadata"].get("tags", []):
            assert len([line for line in text.splitlines() if line.strip()]) <= 3, text


def test_every_reference_number_has_a_source() -> None:
    for path in sorted((ROOT / "tests" / "reference").rglob("expected.json")):
        text = path.read_text(encoding="utf-8")
        assert '"source"' in text, path
        assert '"how_obtained"' in text, path


def tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    return [ROOT / line for line in listed.stdout.splitlines()]


def test_top_level_is_what_the_readme_says() -> None:
    names = {p.relative_to(ROOT).parts[0] for p in tracked()}
    assert {n for n in names if not n.startswith(".")} <= TOP_LEVEL


def test_no_path_of_one_machine() -> None:
    paths = re.compile(r"(?<![\w.])/(?:home|root|Users)/\w|(?<![\w.<])/work/\w")
    for path in tracked():
        if path.suffix in {".py", ".md", ".toml", ".ipynb", ".typ", ".j2", ""} and path.is_file():
            found = paths.search(path.read_text(encoding="utf-8"))
            assert found is None or path.name == "test_house.py", (path, found)
