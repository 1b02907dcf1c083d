"""Where the notebooks, demo designs and rules are that came with this copy of the workbook."""

from __future__ import annotations

from pathlib import Path

from workbook.errors import InputError

PACKAGE = Path(__file__).resolve().parents[1]
CHECKOUT_NOTEBOOKS = PACKAGE.parent / "notebooks"
PACKED_NOTEBOOKS = PACKAGE / "_notebooks"
START_PAGE = "start.ipynb"


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
