"""Computation never loads widgets, and imports run one way."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "workbook"
COMPUTATION = (
    "battery",
    "craft",
    "sizing",
    "bench",
    "flightlog",
    "files",
    "sheet",
    "exercises",
    "data",
)
WIDGET_LIBRARIES = {"ipywidgets", "bqplot", "bqscales", "IPython"}
LOWER = {
    "battery": {"data"},
    "craft": {"data", "battery"},
    "bench": {"data", "battery", "craft"},
    "flightlog": {"data", "battery", "craft"},
    "sizing": {"data", "battery", "craft", "bench"},
}
"""What each part may import from its siblings; errors, numbers and working are for all."""


def modules(part: str) -> list[Path]:
    return sorted((PACKAGE / part).rglob("*.py"))


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("part", COMPUTATION)
def test_computation_imports_no_widgets(part: str) -> None:
    for path in modules(part):
        loaded = {name.split(".")[0] for name in imported(path)}
        assert not loaded & WIDGET_LIBRARIES, path
        above = {
            n for n in imported(path) if n.startswith(("workbook.widgets", "workbook.lessons"))
        }
        assert not above, path


@pytest.mark.parametrize("part", sorted(LOWER))
def test_imports_run_one_way(part: str) -> None:
    for path in modules(part):
        siblings = {
            name.split(".")[1]
            for name in imported(path)
            if name.startswith("workbook.") and (PACKAGE / name.split(".")[1]).is_dir()
        }
        assert siblings <= LOWER[part] | {part}, (path, siblings)


def test_the_computation_loads_no_widget_library() -> None:
    names = [
        ".".join(("workbook", *path.relative_to(PACKAGE).with_suffix("").parts))
        for part in COMPUTATION
        for path in modules(part)
        if path.name != "__init__.py"
    ]
    code = (
        f"import importlib, sys\nfor name in {names!r}: importlib.import_module(name)\n"
        f"print(sorted(set(sys.modules) & {WIDGET_LIBRARIES!r}))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
