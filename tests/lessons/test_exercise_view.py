import pytest

from workbook.exercises.exercise import ChoiceExercise, NumberExercise, SettingExercise
from workbook.exercises.progress import Progress
from workbook.exercises.slips import thousand
from workbook.lessons.exercise_view import ExerciseView


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
        label="capacity",
        formula="P x 5 Ah",
        numbers="{parallel} x 5 Ah",
        source="arithmetic",
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
    assert "5 Ah" in view.working.html.value
    assert (progress.mark("capacity").right, progress.mark("capacity").tries) == (True, 2)
    assert "done before" in ExerciseView(exercise, progress).children[1].value


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
    assert "&lt;b&gt;" in view.children[1].value
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


def test_file_set_aside_is_told_beside_the_exercise(tmp_path):
    (tmp_path / ".workbook").mkdir()
    (tmp_path / ".workbook" / "progress.json").write_text("{broken")
    view = ExerciseView(capacity(), Progress(tmp_path))
    assert "progress-unreadable-1.json" in view.notices.value
