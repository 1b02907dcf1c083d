"""The rooms: no circle, every arrow down, and no widget library below the widgets."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import workbook
from tests.conftest import DESIGNS

PACKAGE = Path(workbook.__file__).parent
WIDGET_LIBRARIES = {"ipywidgets", "bqplot", "bqscales", "IPython"}
FLOORS = (
    {
        "errors",
        "console",
        "numbers",
        "parse",
        "units",
        "quantities",
        "working",
        "notices",
        "svg",
        "fitting",
        "csv_text",
        "data",
    },
    {"battery", "craft"},
    {"bench"},
    {"sizing"},
    {"files"},
    {"flightlog"},
    {"sheet", "opening", "pictures"},
    {"exercises"},
    {"widgets"},
    {"lessons"},
    {"pages"},
    {"checking"},
    {"cli"},
    {"__init__", "__main__"},
)
"""From the ground up. A room imports from lower floors and from itself; not from its neighbours, but on the ground."""
WIDGETS_FROM = 8


def modules() -> dict[str, Path]:
    """Every module of the package by its name, the first part left out."""
    return {
        ".".join(path.relative_to(PACKAGE).with_suffix("").parts): path
        for path in PACKAGE.rglob("*.py")
        if "_notebooks" not in path.parts
    }


MODULES = modules()


def imported(path: Path) -> set[str]:
    """Modules that a file imports, whether on top or in a function; what is only for types too."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def siblings(path: Path) -> Iterator[str]:
    """Modules of the package that a file imports."""
    for name in imported(path):
        inner = name.removeprefix("workbook.")
        if inner != name and inner in MODULES:
            yield inner


def floor_of(module: str) -> int:
    return next(n for n, rooms in enumerate(FLOORS) if module.split(".")[0] in rooms)


@cache
def arrows() -> dict[str, set[str]]:
    """What each module of the package imports of it."""
    return {name: set(siblings(path)) for name, path in MODULES.items()}


def test_every_arrow_goes_down() -> None:
    up = [
        (module, other)
        for module, others in arrows().items()
        for other in others
        if other.split(".")[0] != module.split(".")[0] and floor_of(other) >= floor_of(module) > 0
    ]
    assert up == []


def test_pictures_know_cells_and_files_and_nothing_of_sizing() -> None:
    theirs = [others for name, others in arrows().items() if name.startswith("pictures")]
    rooms = {other.split(".")[0] for others in theirs for other in others}
    assert "pictures" in rooms
    assert rooms <= {"errors", "numbers", "parse", "pictures", "files", "battery"}


def test_no_circle_of_files() -> None:
    graph = {name: others - {name, "__init__"} for name, others in arrows().items()}
    try:
        list(TopologicalSorter(graph).static_order())
    except CycleError as fault:
        pytest.fail(" -> ".join(fault.args[1]))


def test_every_name_of_the_face_is_there_and_loads_no_widget_library_by_itself() -> None:
    for name in workbook.__all__:
        assert getattr(workbook, name) is not None
    with pytest.raises(AttributeError, match="workbook has no rectify"):
        workbook.rectify  # noqa: B018
    code = (
        f"import sys, workbook\nprint(sorted(set(sys.modules) & {WIDGET_LIBRARIES | {'numpy'}!r}))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_computation_loads_no_widget_library() -> None:
    names = [f"workbook.{n}" for n in sorted(MODULES) if 0 <= floor_of(n) < WIDGETS_FROM]
    code = (
        f"import importlib, sys\nfor name in {names!r}: importlib.import_module(name)\n"
        f"print(sorted(set(sys.modules) & {WIDGET_LIBRARIES!r}))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


SIZED = """
import dataclasses, json, sys
from workbook.cli import main
main(["size", {path!r}])
own = [sys.modules[name] for name in sys.modules if name.startswith("workbook.")]
records = {{
    value
    for module in own
    for value in vars(module).values()
    if isinstance(value, type) and dataclasses.is_dataclass(value) and value.__module__ == module.__name__
}}
compared = sorted(record.__name__ for record in records if "__eq__" in vars(record))
print(json.dumps([sorted(sys.modules), compared]))
"""


@cache
def loaded_to_size(path: Path) -> tuple[set[str], set[str]]:
    """The modules that the size command loads for a design, and the records among them that are compared."""
    code = SIZED.format(path=str(path))
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    modules, compared = json.loads(run.stdout.splitlines()[-1])
    return set(modules), set(compared)


QUAD, WING = DESIGNS / "light_quad.toml", DESIGNS / "survey_wing.toml"


@pytest.mark.parametrize(
    ("path", "idle"),
    [
        (QUAD, {"sizing.fixed_wing", "sizing.wing_point", "sizing.mission", "craft.flight_power"}),
        (WING, {"sizing.multirotor", "sizing.hover_point", "sizing.performance"}),
    ],
    ids=["multirotor", "fixed wing"],
)
def test_a_design_is_sized_with_what_its_craft_needs(path: Path, idle: set[str]) -> None:
    modules, _ = loaded_to_size(path)
    assert {f"workbook.{name}" for name in idle} <= {f"workbook.{name}" for name in MODULES}
    assert not {f"workbook.{name}" for name in idle} & modules


def test_a_design_is_sized_without_the_slow_libraries() -> None:
    """They take longer to load than a design to size: what needs them loads them where it does, as a motor's fit."""
    slow = {"pandas", "scipy", "jinja2", "concurrent.futures", "tomlkit", "numpy.random"}
    slow |= {"workbook.sizing.budget", "workbook.bench.layout"}
    modules, _ = loaded_to_size(QUAD)
    assert not slow & modules
    assert sum(name.startswith("workbook.") for name in modules) <= 82


def test_only_what_is_stated_is_compared() -> None:
    """To compare what is worked out has no one answer, and code for it would be compiled at every start."""
    _, compared = loaded_to_size(QUAD)
    assert compared <= {
        "Allowances", "Bay", "BenchSettings", "BudgetLine", "Cell", "Charger", "Constraints", "Craft",
        "Design", "DischargeCurve", "Doubt", "Effect", "FixedWing", "Flight", "Joining",
        "MissionPhase", "Multirotor", "Note", "Origin", "Pack", "Polar", "Problem", "Quantity",
        "ReferencePack", "ShownUnit", "Strip", "StripMaterial", "Threshold",
    }  # fmt: skip
