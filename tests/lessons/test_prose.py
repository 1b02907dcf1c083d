"""The lessons' prose: short sentences, and words that a dictionary or our own list knows."""

from __future__ import annotations

import os
import re
import shutil
import statistics
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conftest import NOTEBOOKS
from tests.lessons import notebook_tools as tools
from workbook.exercises.exercise import ChoiceExercise, NumberExercise
from workbook.lessons.course import COURSE

PAGES = sorted(NOTEBOOKS.glob("*.ipynb"))
OWN_WORDS = Path(__file__).with_name("words.txt")
MEDIAN_WORDS, MOST_WORDS = 18, 35
"""Plain-language habit: about fifteen to twenty words a sentence. Common practice, no source."""


def plain(markdown: str) -> str:
    """Markdown as it is read: no code, tables, links' targets or marks."""
    text = re.sub(r"```.*?```", " ", markdown, flags=re.S)
    text = re.sub(r"`[^`]*`", "it", text)
    text = re.sub(r"!?\[([^\]]*)\]\([^)]*\)", r"\1", text)
    text = re.sub(r"<[^>]+>", " ", text)
    text = re.sub(r"^\s*\|.*$", "", text, flags=re.M)
    text = re.sub(r"^\s*(?:[-*]|\d+\.)\s+", "\n\n", text, flags=re.M)
    return re.sub(r"[*_#]+", "", text)


def texts(path: Path) -> list[str]:
    return [plain(cell.source) for cell in tools.texts(tools.read(path))]


def questions() -> Iterator[str]:
    """What exercises ask, hint and reply, as a learner with the first seed reads it."""
    for exercise in (e for lesson in COURSE for e in lesson.exercises):
        yield from exercise.hints
        if isinstance(exercise, NumberExercise):
            drawn = exercise.drawn(1)
            yield from (drawn.text, *drawn.slips)
        elif isinstance(exercise, ChoiceExercise):
            yield from (exercise.question, *exercise.options, *exercise.options.values())
        else:
            yield from (exercise.task, exercise.why, *exercise.conditions)


def sentences(text: str) -> list[str]:
    parts = re.split(r"\n\s*\n|(?<=[.!?:;])\s+(?=[A-Z\"'(])", text)
    return [" ".join(part.split()) for part in parts if len(part.split()) > 2]


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p.stem)
def test_sentences_are_short(path: Path) -> None:
    found = [s for text in texts(path) for s in sentences(text)]
    long = [s for s in found if len(s.split()) > MOST_WORDS]
    assert long == []
    assert statistics.median(len(s.split()) for s in found) <= MEDIAN_WORDS


def test_exercises_are_short() -> None:
    long = [s for text in questions() for s in sentences(text) if len(s.split()) > MOST_WORDS]
    assert long == []


def test_every_word_is_known() -> None:
    aspell = shutil.which("aspell")
    if aspell is None:
        if os.environ.get("WORKBOOK_REQUIRE_BROWSER") == "1":
            pytest.fail("aspell is missing: install 'aspell' and 'aspell-en'.", pytrace=False)
        pytest.skip("no aspell found: install 'aspell' and 'aspell-en'.")
    prose = "\n".join([*(t for path in PAGES for t in texts(path)), *questions()])
    listed = subprocess.run(
        [aspell, "list", "--lang=en_GB", "--encoding=utf-8", "--ignore=2"],
        input=prose,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    own = set(OWN_WORDS.read_text("utf-8").split())
    assert sorted(set(listed) - own) == []
