"""What every lesson has: the club's rules, large text, and figures that are kept or refused."""

from __future__ import annotations

import pytest

from workbook.lessons.learner import current_design
from workbook.lessons.lesson_view import open_lesson


def test_a_lesson_knows_its_line_of_the_course(opened):
    assert opened("series_parallel").lesson.number == 2
    with pytest.raises(KeyError, match="no lesson 'nothing'"):
        open_lesson("nothing")


def test_every_lesson_says_what_it_carries_on_by_controls_that_it_has(opened):
    view = opened("series_parallel")
    assert set(view.carries) <= set(view.inputs)
    view.inputs["parallel"].value = 5
    view.keep_now()
    assert "Kept in" in view.kept.value
    assert current_design().pack.parallel == 5


def test_nothing_is_kept_while_nothing_can_be_computed(opened, monkeypatch):
    view = opened("series_parallel")
    monkeypatch.setattr(view.live, "current", lambda: None)
    view.keep_now()
    assert "no result that could be kept" in view.kept.value


def test_the_score_follows_the_exercises(opened):
    view = opened("series_parallel")
    first = next(iter(view.exercise_views.values()))
    before = view.score.value
    exercise, seed = first.exercise, view.progress.seed
    first.box.value = f"{exercise.drawn(seed).expected!r}"
    first.check_button.click()
    assert view.score.value != before


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
