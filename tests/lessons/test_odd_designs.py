"""A value that the file allows never breaks a screen: odd designs and clubs in every lesson, on bench and craft page."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

import pytest

from tests.lessons.odd_designs import moved, odd_folder, unshown
from workbook.lessons.course import COURSE
from workbook.lessons.learner import FILES, learners_design
from workbook.lessons.lesson_view import open_lesson, open_page

SLUGS = [lesson.slug for lesson in COURSE]


def shows_no_fault(view: Any, caplog: pytest.LogCaptureFixture, where: str) -> None:
    """No `nan` and no fault on the page, none in the log."""
    assert unshown(view) == [], where
    faults = [record for record in caplog.records if record.levelno >= logging.ERROR]
    assert not faults, (where, faults[0].exc_info)


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize(
    "seed",
    [0, *(pytest.param(n, marks=pytest.mark.long) for n in range(1, 40))],
)
def test_every_lesson_opens_with_odd_designs(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    seed: int,
) -> None:
    odd_folder(tmp_path, seed)
    monkeypatch.chdir(tmp_path)
    for craft_type in FILES:
        assert learners_design(craft_type).own, learners_design(craft_type).notice
    for slug in SLUGS:
        shows_no_fault(open_lesson(slug), caplog, slug)
    for name, _ in FILES.values():
        shows_no_fault(open_page("sizing_bench", Path("designs", name)), caplog, name)
        shows_no_fault(open_page("my_craft", Path("designs", name)), caplog, f"my craft, {name}")


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("seed", range(300, 308))
def test_every_control_goes_to_both_its_ends(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    seed: int,
) -> None:
    odd_folder(tmp_path, seed)
    monkeypatch.chdir(tmp_path)
    for slug in SLUGS:
        view = open_lesson(slug)
        for where in moved(view):
            shows_no_fault(view, caplog, f"{slug}, {where}")
