"""What every lesson has: the club's rules, large text, and figures that are kept or refused."""

from __future__ import annotations

import asyncio

import pytest

import workbook as wb
from tests.lessons.conftest import plain
from workbook.exercises.exercise import ChoiceExercise, NumberExercise, SettingExercise
from workbook.exercises.progress import Progress
from workbook.exercises.slips import thousand
from workbook.lessons import lesson_view
from workbook.lessons.course import COURSE
from workbook.lessons.learner import current_design
from workbook.lessons.lesson_view import EXERCISE_PX, ExerciseView, open_lesson
from workbook.widgets import one_message
from workbook.working import Step


@pytest.fixture
def progress(tmp_path):
    return Progress(tmp_path)


def capacity():
    return NumberExercise(
        "capacity",
        "{parallel}P of 5 Ah?",
        "Ah",
        draw={"parallel": [2, 3, 4]},
        answer=lambda d: 5 * d.parallel,
        slips=lambda d: thousand(d.answer, "Ah", "mAh"),
        steps=lambda d: [
            Step("ah", "capacity", "P x 5 Ah", "P x 5 Ah", 5 * d.parallel, "Ah", "by hand")
        ],
        hints=("Cells in parallel add charge.", "Multiply by P."),
    )


def test_unanswered_costs_no_try(progress):
    view = ExerciseView(capacity(), progress)
    assert view.check().state == "unanswered"
    assert progress.mark("capacity").tries == 0


def test_slip_then_right_and_working_comes_after(progress):
    exercise = capacity()
    right = exercise.drawn(progress.seed).expected
    view = ExerciseView(exercise, progress)
    view.box.value = f"{right * 1000:g}"
    assert view.check().state == "slip"
    assert "Off by 1000" in view.result.value
    assert view.working.layout.display == "none"
    view.box.value = f"{right:g} Ah".replace(".", ",")
    assert view.check().right
    assert view.working.layout.display == ""
    view.working.fold.value = True
    assert "5 Ah" in view.working.html.value
    assert (progress.mark("capacity").right, progress.mark("capacity").tries) == (True, 2)
    assert "done before" in ExerciseView(exercise, progress).children[0].value


def test_working_after_two_wrong_tries(progress):
    view = ExerciseView(capacity(), progress)
    view.box.value = "1,5"
    view.check()
    assert view.working.layout.display == "none"
    view.check()
    assert view.working.layout.display == ""


def test_hints_come_one_by_one(progress):
    view = ExerciseView(capacity(), progress)
    assert view.hint_button.description == "hint 1 of 2"
    view.hint()
    assert "add charge" in view.hints.value
    assert "Multiply" not in view.hints.value
    view.hint()
    view.hint()
    assert "Multiply" in view.hints.value
    assert view.hint_button.disabled
    assert progress.mark("capacity").hints == 2


def test_question_text_is_escaped(progress):
    exercise = ChoiceExercise("c", "Is 1 < 2 <b>?", {"a": "No.", "b": "Yes."}, right=2)
    view = ExerciseView(exercise, progress)
    assert "&lt;b&gt;" in view.children[0].value
    assert view.check().state == "unanswered"
    view.choice.value = "a"
    assert view.check().message == "No."
    view.choice.value = "b"
    assert view.check().right


def test_setting_exercise_reads_the_live_figure(progress):
    exercise = SettingExercise(
        "s", "Reach 10 Ah.", {"Too little.": lambda r: r >= 10}, {"parallel": 2}
    )
    shown = [None]
    view = ExerciseView(exercise, progress, lambda: shown[0])
    assert view.check().state == "unanswered"
    shown[0] = 5
    assert view.check().message == "Not there yet. Too little."
    shown[0] = 12
    assert view.check().right
    with pytest.raises(ValueError, match="live figure"):
        ExerciseView(exercise, progress)


def test_exercises_are_numbered_and_the_figure_stands_beside_its_task(opened):
    view = opened("series_parallel")
    first, *_, last = view.exercise_views.values()
    assert "Exercise 1 of 7" in plain(first.children[0].value)
    assert "Exercise 7 of 7" in plain(last.children[0].children[0].value)
    task, state = view.exercise_views["wiring-twelve-cells"].children[0].children
    assert "wire exactly 12 cells" in task.value
    view.inputs["parallel"].value = 5
    shown = plain(state.html.value)
    assert "parallel, P: 5" in shown
    assert f"{view.figures.figures[0].text} {view.figures.figures[0].unit}" in shown


def test_a_wrong_answer_gets_the_next_step_and_then_a_plainer_one(progress):
    view = ExerciseView(capacity(), progress)
    view.box.value = "1,5"
    assert view.check().message == "1.5 Ah is too low. Next step: Cells in parallel add charge."
    assert view.check().message == "1.5 Ah is too low. Next step: Multiply by P."


def test_a_file_set_aside_is_reported_beside_the_exercise(tmp_path):
    (tmp_path / ".workbook").mkdir()
    (tmp_path / ".workbook" / "progress.json").write_text("{broken")
    view = ExerciseView(capacity(), Progress(tmp_path))
    assert "progress-unreadable-1.json" in view.notices.value


def test_a_lesson_knows_its_line_of_the_course(opened):
    assert opened("series_parallel").lesson.number == 2
    with pytest.raises(KeyError, match="no lesson 'nothing'"):
        open_lesson("nothing")


def test_a_part_shown_first_belongs_to_the_figure_shown_after_it(opened, monkeypatch):
    for known in ("_opened", "_waiting"):
        monkeypatch.setattr(lesson_view, known, {})
    exercises = wb.page_part("series_parallel", "exercises")
    assert opened("series_parallel").exercises is exercises
    again = opened("series_parallel")
    assert again.exercises is not exercises
    assert wb.page_part("series_parallel", "keep") is again.keep


def exercises_in(view):
    return [part for part in view.exercises.children if isinstance(part, ExerciseView)]


@pytest.mark.parametrize("slug", [lesson.slug for lesson in COURSE])
def test_the_figure_is_sent_before_the_exercises_which_all_come(opened, slug):
    async def page():
        view = opened(slug)
        guarded = view.exercises._repr_mimebundle_() and len(view.exercises.children)
        before, place = exercises_in(view), view.exercises.layout.min_height
        assert view.together in view.exercises.children, "or where the exercises stand alone"
        view.together.ready = True  # as the page tells that it shows the figure
        await view._following
        after = [part.exercise for part in exercises_in(view)]
        return view.lesson, before, place, after, guarded, view.exercises

    lesson, before, place, after, guarded, shown = asyncio.run(page())
    assert before == []
    assert place == f"{EXERCISE_PX * len(lesson.exercises)}px"
    assert after == list(lesson.exercises)
    assert shown.layout.min_height is None
    assert len(shown.children) == guarded + len(after), "what the page put there stays"


def test_exercises_come_too_where_no_page_tells_that_it_shows_the_figure(opened, monkeypatch):
    monkeypatch.setattr(one_message, "READY_TIMEOUT_S", 0.01)

    async def page():
        view = opened("series_parallel")
        await view._following
        return exercises_in(view)

    assert len(asyncio.run(page())) == 7


def test_every_lesson_says_what_it_carries_on_by_controls_that_it_has(opened):
    view = opened("series_parallel")
    assert set(view.kept_inputs) <= set(view.inputs)
    view.inputs["parallel"].value = 5
    view.keep_now()
    assert "Kept in" in view.kept.value
    assert current_design().pack.parallel == 5


def test_nothing_is_kept_while_nothing_can_be_computed(opened, monkeypatch):
    view = opened("series_parallel")
    monkeypatch.setattr(view.live, "current", lambda: None)
    view.keep_now()
    assert "no result that could be kept" in view.kept.value


@pytest.mark.parametrize("by_enter", [False, True])
def test_the_score_follows_the_exercises(opened, by_enter):
    view = opened("series_parallel")
    first = next(iter(view.exercise_views.values()))
    before = view.score.value
    exercise, seed = first.exercise, view.progress.seed
    first.box.value = f"{exercise.drawn(seed).expected!r}"
    if by_enter:
        first.box._handle_custom_msg({"event": "submit"}, [])
    else:
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
    cell = rates.result.charge.pack.cell
    assert float(rates.result.rate.allowed_a) == cell.continuous_a * 0.6
    allowed = rates.exercise_views["c-rate-allowed-current"].exercise
    assert "allows 60 %" in allowed.text(5)


def test_a_clubs_file_that_cannot_be_used_is_reported_in_the_lesson(folder, opened):
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


def test_enter_in_the_box_checks(tmp_path):
    exercise = NumberExercise("sum", "2 + 2?", answer=lambda d: 4)
    view = ExerciseView(exercise, Progress(tmp_path))
    view.box.value = "4"
    view.box._handle_custom_msg({"event": "submit"}, [])
    assert view.outcome.right


def test_what_was_typed_before_enter_may_reach_us_after_it(tmp_path):
    view = ExerciseView(NumberExercise("sum", "2 + 2?", answer=lambda d: 4), Progress(tmp_path))
    for typed, right in (("3", False), ("4", True)):
        view.box._handle_custom_msg({"event": "submit"}, [])
        view.box.value = typed
        assert view.outcome.right is right
    assert view.tries == 2
    view.box.value = "5"  # left without Enter: the button checks it
    assert view.tries == 2


def test_what_was_typed_before_a_press_may_reach_us_after_it(tmp_path):
    view = ExerciseView(NumberExercise("sum", "2 + 2?", answer=lambda d: 4), Progress(tmp_path))
    view.check_button.click()
    assert view.outcome.state == "unanswered"
    for typed, state in (("3", "wrong"), ("4", "right")):
        view.check_button.click()
        view.box.value = typed
        assert view.outcome.state == state
    view.check_button.click()
    assert view.tries == 2  # the same answer again is no further try
