"""A learner's own progress: one small file beside the notebooks, no personal data in it."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Literal

from pydantic import Field

from workbook.errors import InputError, Problem
from workbook.exercises.exercise import Checked
from workbook.files.reading import read_text
from workbook.files.records import Strict, check, parse_json
from workbook.files.writing import locked, write_text

FILE_NAME = Path(".workbook", "progress.json")
LIMIT_BYTES = 1_000_000


class Mark(Strict):
    """The state of one exercise."""

    right: bool = False
    tries: int = Field(default=0, ge=0)
    hints: int = Field(default=0, ge=0)


class ProgressFile(Strict):
    """What the file holds."""

    kind: Literal["workbook progress"] = "workbook progress"
    version: Literal[1] = 1
    seed: int = Field(default_factory=lambda: secrets.randbelow(1_000_000), ge=0)
    exercises: dict[str, Mark] = Field(default_factory=dict)


class Progress:
    """Progress that is kept on every step and read again before each, so that two notebooks agree.

    A file that cannot be read is never overwritten: it is set aside under another name, with a notice.

    Args:
        folder: where the file is, or will be.

    Attributes:
        seed: of this learner's numbers.
        notices: messages to show, such as that a file was set aside.

    Example:
        >>> import tempfile
        >>> folder = Path(tempfile.mkdtemp())
        >>> Progress(folder).record("capacity", Checked("right", "Right."))
        >>> Progress(folder).mark("capacity").right
        True
    """

    def __init__(self, folder: Path | str = ".") -> None:
        self.path = Path(folder) / FILE_NAME
        self.notices: tuple[Problem, ...] = ()
        self._file = ProgressFile()
        self._writable, self._behind = True, False
        with self._alone():
            if not self._refresh():
                self._write()

    @property
    def seed(self) -> int:
        """The number that this learner's questions are drawn from."""
        return self._file.seed

    def mark(self, exercise_id: str) -> Mark:
        """The state of an exercise."""
        return self._file.exercises.get(exercise_id, Mark())

    def record(self, exercise_id: str, checked: Checked) -> None:
        """Keep what came of a try; what was right once stays so."""
        if checked.state != "unanswered":
            self._keep(exercise_id, right=checked.right, tries=1)

    def record_hint(self, exercise_id: str) -> None:
        """Keep that one more hint was shown."""
        self._keep(exercise_id, hints=1)

    def summary(self, exercise_ids: tuple[str, ...]) -> str:
        """How many of some exercises are right, in words.

        Args:
            exercise_ids: of a lesson, or of all.
        """
        right = sum(self.mark(i).right for i in exercise_ids)
        return f"{right} of {len(exercise_ids)} exercises right"

    def _keep(self, exercise_id: str, right: bool = False, tries: int = 0, hints: int = 0) -> None:
        """Read the file again, add to a mark, and write."""
        with self._alone():
            self._refresh()
            old = self.mark(exercise_id)
            new = Mark(right=old.right or right, tries=old.tries + tries, hints=old.hints + hints)
            changed = {**self._file.exercises, exercise_id: new}
            self._file = self._file.model_copy(update={"exercises": changed})
            self._write()

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Let no other notebook write between reading and writing; where that cannot be had, go on without."""
        with ExitStack() as stack:
            with suppress(InputError):
                stack.enter_context(locked(self.path))
            yield

    def _refresh(self) -> bool:
        """Take what the file holds; whether there was something to take."""
        if not self.path.exists():
            return False
        try:
            data = parse_json(read_text(self.path, LIMIT_BYTES), self.path.name)
            found = check(ProgressFile, data, self.path.name)
            self._file = _together(found, self._file) if self._behind else found
        except InputError as error:
            self._set_aside(error.problems[0].what)
        else:
            return True
        return False

    def _set_aside(self, reason: str) -> None:
        number = 1
        while (kept := self.path.with_name(f"progress-unreadable-{number}.json")).exists():
            number += 1
        try:
            self.path.rename(kept)
            outcome = f"It is kept as {kept.name}; a new one is begun."
        except OSError:
            self._writable = False
            outcome = "It stays as it is; nothing is kept this time."
        self._notice(f"the file could not be used: {reason} {outcome}")

    def _write(self) -> None:
        if not self._writable:
            return
        try:
            write_text(self.path, self._file.model_dump_json(indent=2) + "\n", overwrite=True)
            self._behind = False
        except InputError:
            self._behind = True
            self._notice("the file cannot be written here; progress lasts for this sitting only.")

    def _notice(self, text: str) -> None:
        problem = Problem(text, self.path.name)
        if problem not in self.notices:
            self.notices = (*self.notices, problem)


def _together(kept: ProgressFile, unkept: ProgressFile) -> ProgressFile:
    """The marks of the file, and those of this sitting that could not be written into it."""
    marks = dict(kept.exercises)
    for exercise_id, mark in unkept.exercises.items():
        old = marks.get(exercise_id, Mark())
        marks[exercise_id] = Mark(
            right=old.right or mark.right,
            tries=max(old.tries, mark.tries),
            hints=max(old.hints, mark.hints),
        )
    return kept.model_copy(update={"exercises": marks})
