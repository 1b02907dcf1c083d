"""Where the notebooks, demo designs and rules are that came with this copy of the workbook."""

from __future__ import annotations

import shutil
from fnmatch import fnmatch
from pathlib import Path

from workbook.errors import InputError

PACKAGE = Path(__file__).resolve().parents[1]
CHECKOUT_NOTEBOOKS = PACKAGE.parent / "notebooks"
PACKED_NOTEBOOKS = PACKAGE / "_notebooks"
START_PAGE = "start.ipynb"
LEARNERS = ("mine*", "cells", "build_sheet*.html", "arriving_cells*.html")
"""What the notebooks' folder of a checkout may hold of its owner: handed to nobody, seen by no check."""


def of_its_owner(path: Path) -> bool:
    """Whether a path in the notebooks' folder is of its owner, or hidden.

    Example:
        >>> of_its_owner(Path("designs/mine.toml")), of_its_owner(Path("designs/survey_six.toml"))
        (True, False)
    """
    return any(fnmatch(part, pattern) for part in path.parts for pattern in (".*", *LEARNERS))


def copy_notebooks(source: Path, folder: Path) -> None:
    """Copy the notebooks with their tables, and nothing that their owner keeps beside them.

    Args:
        source: the notebooks' folder.
        folder: must not be there yet.
    """
    shutil.copytree(source, folder, ignore=shutil.ignore_patterns(".*", *LEARNERS))


def notebooks_source() -> Path:
    """The notebooks that came with this copy: the checkout's own, or those packed in the wheel.

    Raises:
        InputError: neither is there.

    Example:
        >>> (notebooks_source() / "club.toml").exists()
        True
    """
    for folder in (PACKED_NOTEBOOKS, CHECKOUT_NOTEBOOKS):
        if (folder / START_PAGE).exists():
            return folder
    raise InputError("this copy of the workbook holds no notebooks; install it again.")


def here_or_shipped(path: Path) -> Path:
    """A file of the working folder where it is there, else the one that came with this copy.

    Args:
        path: as seen from the notebooks' folder.

    Example:
        >>> here_or_shipped(Path("tables", "survey_motor.csv")).exists()
        True
    """
    return path if path.exists() else notebooks_source() / path
