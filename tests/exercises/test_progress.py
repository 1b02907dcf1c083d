import json
import os
import subprocess
import sys
from pathlib import Path

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


MARKER = """
import sys
from workbook.exercises.exercise import Checked
from workbook.exercises.progress import Progress
progress = Progress(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
for number in range(int(sys.argv[3])):
    progress.record(f"{sys.argv[2]}{number}", Checked("right", ""))
    progress.record("both", Checked("wrong", ""))
print(*progress.notices)
"""


def test_two_processes_at_once_keep_every_mark_of_each_other(tmp_path):
    """150 exercises each and one that both try; of 300 marks 154 were kept without a lock."""
    markers = [
        subprocess.Popen(
            [sys.executable, "-c", MARKER, str(tmp_path), name, "150"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).resolve().parents[2],
        )
        for name in ("a", "b")
    ]
    for marker in markers:
        assert marker.stdout.readline() == "ready\n"
    for marker in markers:
        marker.stdin.write("go\n")
        marker.stdin.flush()
    assert [marker.communicate()[0].strip() for marker in markers] == ["", ""]
    kept = Progress(tmp_path)
    assert sum(kept.mark(f"{name}{k}").right for name in "ab" for k in range(150)) == 300
    assert kept.mark("both").tries == 300


def test_a_mark_that_could_not_be_written_is_written_with_the_next(tmp_path, monkeypatch):
    progress, other = Progress(tmp_path), Progress(tmp_path)

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("os.replace", full)
        progress.record("a", RIGHT)
    assert progress.mark("a").right
    other.record("b", RIGHT)
    progress.record("c", RIGHT)
    assert Progress(tmp_path).summary(("a", "b", "c")) == "3 of 3 exercises right"


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
