"""The start page's table follows progress; the club's rules reach lessons and exercises."""

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
        for task in course._following:
            task.cancel()

    asyncio.run(sit())
    course._following.clear()
    assert "1 of 8" not in shown[0]
    assert "1 of 8" in row(shown[-1], lesson_of("c_rate").title)
    assert len(shown) <= 4, "it is shown again only when something changed"


def test_a_rule_changed_in_the_clubs_file_reaches_lesson_and_exercise(folder, opened):
    text = (folder / "club.toml").read_text("utf-8")
    text = text.replace("landing_v = 3.1", "landing_v = 3.3")
    text = text.replace("continuous_share_pct = 80.0", "continuous_share_pct = 60.0")
    (folder / "club.toml").write_text(text, "utf-8")
    view = opened("datasheet")
    assert view.inputs["landing_v"].value == 3.3
    energy = view.exercise_views["datasheet-energy"].exercise
    assert "your club's 3.3 V" in energy.text(5)
    rates = opened("c_rate")
    cell = rates.result.pack.cell
    assert float(rates.result.ask.allowed_a) == cell.continuous_a * 0.6
    allowed = rates.exercise_views["c-rate-allowed-current"].exercise
    assert "allows 60 %" in allowed.text(5)


def test_a_clubs_file_that_cannot_be_used_is_told_in_the_lesson(folder, opened):
    (folder / "club.toml").write_text('format = "workbook club 1"\n', "utf-8")
    view = opened("datasheet")
    assert view.inputs["landing_v"].value == 3.1
    assert "landing_v is missing" in view.opened_with.value


def test_large_text_reaches_every_part_and_goes_back(opened):
    view = opened("craft_asks")
    view.big.value = True
    assert "wb-big" in view._dom_classes
    assert "wb-big" in view.exercises._dom_classes
    assert view.picture.scale > 1.5
    assert view.chart.text_px == 24
    assert view.rows_table in view.right.children
    view.big.value = False
    assert "wb-big" not in view._dom_classes
    assert view.picture.scale == 1.0
    assert view.rows_table in view.left.children


def test_lessons_are_numbered_in_order_and_each_has_a_name_of_its_own():
    assert [lesson.number for lesson in COURSE] == list(range(1, len(COURSE) + 1))
    assert len({lesson.slug for lesson in COURSE}) == len(COURSE)
