"""The process that draws a page: what it writes, and how it joins letters to runs of text."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pictures.test_opening import pdf, printed
from workbook.pictures import pdf_page
from workbook.pictures.pdf_page import Box, _joined


def letters(
    text: str, left: float = 0.0, low: float = 0.0, wide: float = 6.0
) -> Iterator[tuple[str, Box]]:
    """Letters 10 high and so wide, side by side; a space is half as wide."""
    for letter in text:
        right = left + (wide / 2.0 if letter == " " else wide)
        yield letter, (left, low, right, low + 10.0)
        left = right


def runs(*parts: Iterator[tuple[str, Box]]) -> list[str]:
    return [text for text, _ in _joined(letter for part in parts for letter in part)]


def test_a_space_parts_words_and_a_wide_gap_parts_cells() -> None:
    assert runs(letters("Motor 311")) == ["Motor 311"]
    assert runs(letters("12.5"), letters("7", left=24.0 + 2.0)) == [
        "12.57"
    ]  # 2 of 10 high: one number
    assert runs(letters("12.5"), letters("7", left=24.0 + 7.0)) == ["12.5", "7"]
    assert runs(letters("12.5 "), letters("7", left=24.0 + 7.0)) == ["12.5", "7"]  # a gap of 0.7


def test_another_line_is_another_run() -> None:
    assert runs(letters("50"), letters("60", low=-14.0)) == ["50", "60"]


def test_a_run_has_the_box_around_its_letters() -> None:
    ((_, box),) = _joined(letters("42", left=5.0, low=3.0))
    assert box == (5.0, 3.0, 17.0, 13.0)


def written(content: bytes, page: int = 1) -> tuple[str, bytes]:
    """The first line that the process writes, and the rest."""
    done = subprocess.run(
        [sys.executable, str(Path(pdf_page.__file__)), str(page), "600"],
        input=content,
        capture_output=True,
        check=True,
        timeout=60,
    )
    first, _, rest = done.stdout.partition(b"\n")
    return first.decode(), rest


def test_pages_text_and_picture_are_written_in_this_order() -> None:
    first, rest = written(pdf(2, printed([["Motor 311", "12.5"]])), page=2)
    text, _, picture = rest.partition(b"\n")
    assert first == "2"
    assert [run for run, _ in json.loads(text)] == ["Motor 311", "12.5"]
    assert picture.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("content", "page", "expected"),
    [
        (pdf(3), 4, "it has 3 pages; there is no page 4."),
        (b"%PDF-1.4\nno more", 1, "it is cut short or no PDF."),
        (pdf(1, extra=b"/OpenAction << /S /JavaScript /JS (0) >>"), 1, "it carries a script"),
    ],
)
def test_what_is_refused_has_no_picture(content: bytes, page: int, expected: str) -> None:
    first, rest = written(content, page)
    assert first.startswith(expected)
    assert rest == b""
