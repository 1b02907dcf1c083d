"""The table of exercises with answers to choose from."""

from __future__ import annotations

from collections import Counter

from workbook.data.tables import data_sections
from workbook.exercises.choices import choices_of
from workbook.lessons.course import COURSE


def test_every_block_of_the_table_is_asked_in_a_lesson_of_the_course() -> None:
    blocks = data_sections("choices.toml")["choice"]
    asked = Counter({lesson.slug: len(choices_of(lesson.slug)) for lesson in COURSE})
    assert asked == Counter(block["lesson"] for block in blocks)


def test_a_lesson_asks_them_in_the_order_of_the_table() -> None:
    blocks = data_sections("choices.toml")["choice"]
    for lesson in COURSE:
        own = [block["id"] for block in blocks if block["lesson"] == lesson.slug]
        places = [[e.id for e in lesson.exercises].index(name) for name in own]
        assert places == list(range(places[0], places[0] + len(own))), lesson.slug
