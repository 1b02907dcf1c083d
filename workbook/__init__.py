"""Size, check, build and verify lithium-ion packs for model aircraft.

`import workbook as wb` gives the names listed in `__init__.pyi` beside this file, each loaded when it is first used.
"""

import os
import sys


def _leave_the_current_folder() -> None:
    """Import nothing from the folder that `python -m workbook` is started in: its files are data."""
    looking_for_the_module = sys.argv[:1] == ["-m"] and hasattr(sys, "orig_argv")
    if not looking_for_the_module or getattr(sys.flags, "safe_path", False):
        return
    module = sys.orig_argv[-len(sys.argv)].replace("-m", "", 1)
    project = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    if module.split(".")[0] == __name__ and os.path.abspath(sys.path[0]) != project:
        del sys.path[0]


_leave_the_current_folder()

import ast  # noqa: E402
from importlib import import_module  # noqa: E402
from pathlib import Path  # noqa: E402
from typing import Any  # noqa: E402

__version__ = "0.1.0"

_FACE = ast.parse(Path(__file__).with_suffix(".pyi").read_text("utf-8"))
_HOMES = {
    name.name: f"{__name__}.{node.module}"
    for node in _FACE.body
    if isinstance(node, ast.ImportFrom) and node.level == 1
    for name in node.names
}
__all__ = sorted(_HOMES)


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"workbook has no {name}; it has {', '.join(__all__)}.")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> "list[str]":
    return [*__all__, "__version__"]
