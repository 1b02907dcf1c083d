"""A folder laid out as a learner has it: the shipped notebooks, the club's rules, a seed."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import chdir, contextmanager
from pathlib import Path

from workbook.data.notebooks import notebooks_source
from workbook.exercises.progress import FILE_NAME, ProgressFile
from workbook.files.club_file import CLUB_FILE, read_club
from workbook.files.reading import read_text
from workbook.files.writing import write_text
from workbook.opening import lay_out

LARGEST_CLUB_BYTES = 100_000


def furnish(folder: Path, seed: int) -> None:
    """Lay the notebooks out in a folder, with the club's rules and the seed of its exercises.

    The rules are those of the working folder, where it has some, else those shipped.

    Args:
        folder: new, or empty.
        seed: of the exercises' numbers.

    Raises:
        InputError: rules that cannot be used, or a folder that cannot be written.
    """
    own_rules = CLUB_FILE.exists()
    if own_rules:
        read_club(CLUB_FILE)
    lay_out(notebooks_source(), folder)
    if own_rules:
        write_text(folder / CLUB_FILE, read_text(CLUB_FILE, LARGEST_CLUB_BYTES), overwrite=True)
    seeded = ProgressFile(seed=seed).model_dump_json(indent=2) + "\n"
    write_text(folder / FILE_NAME, seeded, overwrite=True)


@contextmanager
def classroom(seed: int) -> Iterator[Path]:
    """Work for a while in such a folder, which is gone afterwards.

    Args:
        seed: of the exercises' numbers.

    Example:
        >>> with classroom(7) as folder:
        ...     (folder / "start.ipynb").exists(), Path.cwd() == folder
        (True, True)
    """
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base).resolve() / "notebooks"
        furnish(folder, seed)
        with chdir(folder):
            yield folder
