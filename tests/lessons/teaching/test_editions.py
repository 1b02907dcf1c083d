"""Editions: no answer in a learner's copy, every answer in the instructor's, nothing overwritten."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import nbformat
import pytest

from tests.conftest import NOTEBOOKS
from workbook.cli import main
from workbook.errors import InputError
from workbook.exercises.exercise import ChoiceExercise, NumberExercise
from workbook.exercises.progress import Progress
from workbook.lessons.course import COURSE
from workbook.lessons.lesson_view import open_lesson
from workbook.lessons.teaching.editions import (
    Editions,
    classroom,
    furnish,
    solution_text,
    write_editions,
)
from workbook.lessons.teaching.solution import solutions


def test_club_rules_of_the_working_folder_go_along(tmp_path, monkeypatch) -> None:
    text = (NOTEBOOKS / "club.toml").read_text("utf-8")
    (tmp_path / "club.toml").write_text(text.replace("landing_v = 3.1", "landing_v = 3.3"), "utf-8")
    monkeypatch.chdir(tmp_path)
    furnish(tmp_path / "class", 3)
    assert "landing_v = 3.3" in (tmp_path / "class" / "club.toml").read_text("utf-8")
    (tmp_path / "club.toml").write_text("club = ", "utf-8")
    with pytest.raises(InputError, match="not TOML"):
        furnish(tmp_path / "other", 3)
    assert not (tmp_path / "other").exists()


def test_seed_and_shipped_notebooks_are_there_and_a_learners_own_files_are_not(tmp_path) -> None:
    furnish(tmp_path / "class", 7)
    assert Progress(tmp_path / "class").seed == 7
    shipped = {path.name for path in NOTEBOOKS.glob("*.ipynb")}
    assert {path.name for path in (tmp_path / "class").glob("*.ipynb")} == shipped
    assert not list((tmp_path / "class").glob("designs/mine*"))


SEED = 41


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Editions:
    return write_editions(tmp_path_factory.mktemp("class") / "spring", seed=SEED, copies=2)


def text_of(path: Path) -> str:
    """All that a notebook holds, as its reader sees it."""
    book = nbformat.read(path, as_version=4)
    parts = [cell.source for cell in book.cells]
    parts += [json.dumps(cell.get("outputs", [])) for cell in book.cells]
    return "\n".join(parts)


def test_learners_copies_are_the_notebooks_as_shipped_and_name_no_exercise(done: Editions) -> None:
    ids = [exercise.id for lesson in COURSE for exercise in lesson.exercises]
    for folder in done.learners:
        books = sorted(folder.glob("*.ipynb"))
        assert [book.name for book in books] == sorted(p.name for p in NOTEBOOKS.glob("*.ipynb"))
        for book in books:
            assert book.read_bytes() == (NOTEBOOKS / book.name).read_bytes()
            text = text_of(book)
            assert not [name for name in ids if name in text], "exercises come from the checker"


def test_no_copy_holds_anything_of_its_seed_but_the_seed(done: Editions) -> None:
    one, other = done.learners
    same = [p for p in one.rglob("*") if p.is_file() and p.name != "progress.json"]
    assert len(same) > len(COURSE)
    for path in same:
        assert path.read_bytes() == (other / path.relative_to(one)).read_bytes(), path.name


def test_instructors_copy_holds_all_of_it(done: Editions) -> None:
    with classroom(SEED):
        for lesson in COURSE:
            view = open_lesson(lesson.slug)
            text = text_of(done.instructors / lesson.notebook).replace("\\", "")
            found = solutions(lesson, SEED, view)
            assert f"about {lesson.minutes} minutes" in text.casefold()
            for s in found:
                assert s.exercise.id in text
                assert s.answer in text
                assert all(step.text() in text for step in s.working)
                assert all(says in text for _, says in s.wrong)
                assert f"about {s.exercise.minutes:g} min" in text


def test_the_answers_given_are_right_by_the_checker(done: Editions) -> None:
    with done.key.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    by_id = {e.id: e for lesson in COURSE for e in lesson.exercises}
    assert {(r["copy"], int(r["seed"])) for r in rows} == {
        ("learners-01", SEED),
        ("learners-02", SEED + 1),
    }
    assert {r["exercise"] for r in rows} == set(by_id)
    verdicts = []
    for row in rows:
        exercise = by_id[row["exercise"]]
        if isinstance(exercise, NumberExercise):
            verdicts.append(exercise.check(int(row["seed"]), row["answer"]).right)
        elif isinstance(exercise, ChoiceExercise):
            verdicts.append(exercise.check(row["answer"]).right)
    assert len(verdicts) > len(COURSE)
    assert all(verdicts)


def test_each_copy_has_its_own_seed(done: Editions) -> None:
    seeds = [Progress(folder).seed for folder in (*done.learners, done.instructors)]
    assert seeds == [SEED, SEED + 1, SEED]


def test_everything_a_learner_needs_is_there_and_nothing_of_the_owner(done: Editions) -> None:
    for folder in (*done.learners, done.instructors):
        for name in (
            "start.ipynb",
            "glossary.ipynb",
            "club.toml",
            "designs/survey_six.toml",
            "cell_logs/good_batch.csv",
        ):
            assert (folder / name).exists(), name
        assert not list(folder.glob("designs/mine*"))
        assert not (folder / "cells").exists()
    same = (done.learners[0] / "glossary.ipynb").read_bytes()
    assert same == (NOTEBOOKS / "glossary.ipynb").read_bytes()
    for path in done.instructors.glob("*.ipynb"):
        nbformat.validate(nbformat.read(path, as_version=4))


def test_markup_signs_in_a_question_stay_text() -> None:
    with classroom(1):
        lesson = COURSE[0]
        found = solutions(lesson, 1, open_lesson(lesson.slug))[0]
    from dataclasses import replace

    text = solution_text(1, replace(found, question="2 * 3 | 4_5 <b> `c`"))
    assert r"2 \* 3 \| 4\_5 \<b\> \`c\`" in text


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--copies", "0"], "copies is 0; 1 to 60 is needed"),
        (["--seed", "-1"], "seed is -1; 0 or more"),
    ],
)
def test_impossible_figures_are_refused(tmp_path, capsys, arguments, message) -> None:
    assert main(["editions", str(tmp_path / "new"), *arguments]) == 2
    assert message in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


def test_a_folder_that_holds_something_is_left_alone(tmp_path, capsys) -> None:
    (tmp_path / "note.txt").write_text("mine", "utf-8")
    assert main(["editions", str(tmp_path)]) == 2
    assert "was left as it is" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["note.txt"]
