import json
import os

import pytest

from workbook.exercises.exercise import Checked
from workbook.exercises.progress import Progress

RIGHT, WRONG = Checked("right", ""), Checked("wrong", "")


def file(folder):
    return folder / ".workbook" / "progress.json"


def test_seed_and_marks_are_kept(tmp_path):
    first = Progress(tmp_path)
    first.record("a", WRONG)
    first.record("a", RIGHT)
    first.record("a", WRONG)
    first.record("a", Checked("unanswered", ""))
    first.record_hint("b")
    again = Progress(tmp_path)
    assert again.seed == first.seed
    assert again.mark("a").model_dump() == {"right": True, "tries": 3, "hints": 0}
    assert again.mark("b").hints == 1
    assert again.summary(("a", "b", "c")) == "1 of 3 exercises right"
    assert again.notices == ()


def test_two_notebooks_do_not_undo_each_other(tmp_path):
    one, two = Progress(tmp_path), Progress(tmp_path)
    one.record("a", RIGHT)
    two.record("b", RIGHT)
    assert Progress(tmp_path).summary(("a", "b")) == "2 of 2 exercises right"


@pytest.mark.parametrize(
    "bad",
    [
        b"",
        b"{",
        b"\xff\xfe\x00",
        b"[]",
        b'{"kind": "workbook progress", "version": 2, "seed": 1, "exercises": {}}',
        b'{"kind": "workbook progress", "version": 1, "seed": "many", "exercises": {}}',
        b'{"kind": "workbook progress", "version": 1, "seed": 1, "exercises": {"a": {"tries": -1}}}',
    ],
)
def test_bad_file_is_set_aside_whole_and_said_so(tmp_path, bad):
    file(tmp_path).parent.mkdir()
    file(tmp_path).write_bytes(bad)
    progress = Progress(tmp_path)
    assert file(tmp_path).with_name("progress-unreadable-1.json").read_bytes() == bad
    assert len(progress.notices) == 1
    assert "progress-unreadable-1.json" in str(progress.notices[0])
    assert json.loads(file(tmp_path).read_text())["seed"] == progress.seed


def test_bad_file_during_the_sitting_loses_nothing(tmp_path):
    progress = Progress(tmp_path)
    progress.record("a", RIGHT)
    file(tmp_path).write_text("{")
    progress.record("b", RIGHT)
    assert Progress(tmp_path).summary(("a", "b")) == "2 of 2 exercises right"


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="needs a folder that refuses")
def test_folder_that_refuses_is_said_so(tmp_path):
    tmp_path.chmod(0o500)
    progress = Progress(tmp_path)
    progress.record("a", RIGHT)
    assert progress.mark("a").right
    assert "this sitting only" in str(progress.notices[0])


def test_folder_that_cannot_be_made_is_said_so(tmp_path):
    (tmp_path / ".workbook").write_text("a file where the folder would be")
    progress = Progress(tmp_path)
    progress.record("a", RIGHT)
    assert progress.mark("a").right
    assert "this sitting only" in str(progress.notices[0])
