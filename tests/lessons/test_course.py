"""The start page's table follows progress."""

from __future__ import annotations

import asyncio

from workbook.exercises.exercise import Checked
from workbook.exercises.progress import Progress
from workbook.lessons import course
from workbook.lessons.course import COURSE, course_text, lesson_of

RIGHT = Checked("right", "Right.")


def row(text: str, title: str) -> str:
    return next(line for line in text.splitlines() if f"[{title}]" in line)


def test_the_table_links_every_written_lesson_and_counts_what_is_right(tmp_path):
    progress = Progress(tmp_path)
    written = COURSE
    text = course_text(progress)
    assert all(f"[{le.title}]({le.notebook})" in text for le in written)
    assert f"**0 of {len(written)} lessons done**" in text
    assert f"about {sum(le.minutes for le in written)} minutes" in text
    first = lesson_of("craft_asks")
    progress.record(first.exercise_ids[0], RIGHT)
    assert row(course_text(progress), first.title).endswith("| … 1 of 5 |")
    for name in first.exercise_ids:
        progress.record(name, RIGHT)
    text = course_text(Progress(tmp_path))
    assert row(text, first.title).endswith("| ✓ done 5 of 5 |")
    assert f"**1 of {len(written)} lessons done**" in text
    assert f"about {sum(le.minutes for le in written) - first.minutes} minutes" in text


def test_the_open_table_follows_a_try_made_in_another_notebook(tmp_path, monkeypatch):
    shown = []

    class Handle:
        def update(self, table):
            shown.append(table.data)

    monkeypatch.setattr(course, "display", lambda table, display_id: Handle())
    monkeypatch.setattr(course, "LOOK_EVERY_S", 0.01)

    async def sit():
        course.course(tmp_path)
        await asyncio.sleep(0.1)
        Progress(tmp_path).record(lesson_of("c_rate").exercise_ids[0], RIGHT)
        await asyncio.sleep(0.2)
        for task in course.following:
            task.cancel()

    asyncio.run(sit())
    course.following.clear()
    assert "1 of 8" not in shown[0]
    assert "1 of 8" in row(shown[-1], lesson_of("c_rate").title)
    assert len(shown) <= 4, "it is shown again only when something changed"


def test_lessons_are_numbered_in_order_and_each_has_a_name_of_its_own():
    assert [lesson.number for lesson in COURSE] == list(range(1, len(COURSE) + 1))
    assert len({lesson.slug for lesson in COURSE}) == len(COURSE)
