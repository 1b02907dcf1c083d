"""A folder of designs, each read and sized; what cannot be read is listed beside the others, and hides none of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PureWindowsPath
from typing import Any, get_args

from workbook.errors import InputError, Problem, naming
from workbook.files.design_file import own_text, parse_design, read_design
from workbook.files.reach import refuse_leading_out
from workbook.files.reading import decoded
from workbook.files.writing import free_name, write_text
from workbook.sizing.size import Answer, SizingResult, size

MOST_DESIGNS = 60
"""Of a folder; each is sized, which takes a quarter of a second."""
SENT = "sent_"
WORST_FIRST: tuple[str, ...] = get_args(Answer)


@dataclass(frozen=True)
class FoundDesign:
    """One file of the folder: its answer, or why it has none.

    Attributes:
        path: of the file.
        answer: None where it cannot be used.
        faults: why not.
    """

    path: Path
    answer: SizingResult[Any] | None = None
    faults: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Gallery:
    """The designs of a folder, by name of file.

    Attributes:
        designs: each that was looked at.
        notice: a sentence where there are more; else empty.
    """

    designs: tuple[FoundDesign, ...]
    notice: str = ""

    def by(self, order: str) -> tuple[FoundDesign, ...]:
        """The designs in another order, what cannot be used last.

        Args:
            order: a key of `ORDERS`.
        """
        key = ORDERS[order]
        used = [one for one in self.designs if one.answer is not None]
        rest = [one for one in self.designs if one.answer is None]
        return (*sorted(used, key=lambda one: key(one.answer)), *rest)


def read_gallery(folder: Path | str) -> Gallery:
    """Read and size the designs of a folder.

    Args:
        folder: its files named .toml are looked at, the first `MOST_DESIGNS` by name.

    Raises:
        InputError: there is no such folder.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> read_gallery(notebooks_source() / "designs").by("endurance")[0].answer.design.name
        'Census wing, reed-bed survey'
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise InputError("there is no such folder of designs.", str(folder))
    names = (path for path in folder.glob("*.toml") if not path.name.startswith("."))
    paths = sorted(itertools.islice(names, 20 * MOST_DESIGNS))
    more = (
        f"There are more than {MOST_DESIGNS} designs here: the first {MOST_DESIGNS} by name are shown."
        if len(paths) > MOST_DESIGNS
        else ""
    )
    return Gallery(tuple(_found(path) for path in paths[:MOST_DESIGNS]), more)


def take_design(name: str, content: bytes, folder: Path) -> Path:
    """Put a design that somebody sent into a folder, once it has been read there; nothing that lies there is touched.

    Args:
        name: of the file as it was sent; its suffix says whether it is a page.
        content: of the file: a design, or a page to send with one inside.
        folder: of the designs.

    Returns:
        Where it lies: under its name, which begins with `SENT`, so that no lesson takes it for the learner's own.

    Raises:
        InputError: it cannot be used there.
    """
    sent = Path(PureWindowsPath(name).name)
    text = own_text(decoded(content, sent.name), sent)
    path = free_name(folder / f"{SENT}{sent.stem}.toml")
    parse_design(text, path)
    write_text(path, text)
    return path


def _found(path: Path) -> FoundDesign:
    try:
        refuse_leading_out(path)
        file = read_design(path)
        with naming(path.name):
            return FoundDesign(path, size(file.design, notices=file.notices))
    except InputError as fault:
        return FoundDesign(path, faults=fault.problems)


def _longest(answer: Any) -> float:
    minutes = float(answer.point.endurance_min)
    return -minutes if math.isfinite(minutes) else math.inf


ORDERS: dict[str, Callable[[Any], Any]] = {
    "verdict": lambda answer: (-WORST_FIRST.index(answer.verdict), _longest(answer)),
    "endurance": _longest,
    "all-up mass": lambda answer: float(answer.point.all_up_mass_g),
    "name": lambda answer: answer.design.name.casefold(),
}
"""Ways to put them in order: the best verdict, the longest flight, the lightest craft first."""
