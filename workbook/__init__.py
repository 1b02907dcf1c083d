"""Size, check, build and verify lithium-ion packs for model aircraft.

`import workbook as wb` gives the names listed in `__init__.pyi` beside this file, each loaded when it is first used.
"""

import ast
from importlib import import_module
from pathlib import Path
from typing import Any

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


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
