"""What is written: whole or not at all, never over a device, a link or what is worked from, and nothing lost."""

from __future__ import annotations

import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.files import writing
from workbook.files.writing import (
    FileChangedError,
    SeenFiles,
    free_name,
    locked,
    new_folder,
    write_bytes,
    write_text,
)

PROJECT = Path(__file__).resolve().parents[2]
POSIX = pytest.mark.skipif(os.name != "posix", reason="permissions, links and signals of POSIX")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_files_are_written_whole_and_only_over_when_asked(tmp_path: Path) -> None:
    path = tmp_path / "new" / "a.toml"
    write_text(path, "a")
    with pytest.raises(InputError, match="left as it is"):
        write_text(path, "b")
    assert path.read_text("utf-8") == "a"
    write_text(path, "b", overwrite=True)
    assert path.read_text("utf-8") == "b"
    assert names(path.parent) == ["a.toml"]
    with pytest.raises(InputError, match="cannot be written"):
        write_text(path / "below", "c")


def test_what_is_worked_from_is_never_replaced_under_whatever_name(tmp_path: Path) -> None:
    design, other = tmp_path / "design.toml", tmp_path / "other.toml"
    design.write_text("mine", "utf-8")
    os.link(design, other)
    for path in (design, tmp_path / "." / "design.toml", other):
        with pytest.raises(InputError, match="worked from"):
            write_text(path, "<html>", overwrite=True, inputs=[design, tmp_path / "gone"])
    assert design.read_text("utf-8") == "mine"


@POSIX
def test_a_link_is_followed_and_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    target, link = tmp_path / "there" / "design.toml", tmp_path / "link.toml"
    target.write_text("old", "utf-8")
    link.symlink_to(target)
    write_text(link, "new", overwrite=True)
    assert link.is_symlink()
    assert target.read_text("utf-8") == "new"
    assert names(tmp_path / "there") == ["design.toml"]
    for name, leads_to in (("lost", "nowhere"), ("ring", "ring")):
        (tmp_path / name).symlink_to(tmp_path / leads_to)
        with pytest.raises(InputError, match="leads to no file"):
            write_text(tmp_path / name, "new", overwrite=True)
        assert (tmp_path / name).is_symlink()


def test_a_file_of_two_names_is_not_parted_from_its_other_name(tmp_path: Path) -> None:
    one, other = tmp_path / "a.toml", tmp_path / "b.toml"
    one.write_text("old", "utf-8")
    os.link(one, other)
    with pytest.raises(InputError, match=r"hard link.*save under a new name"):
        write_text(one, "new", overwrite=True)
    assert one.samefile(other)
    assert other.read_text("utf-8") == "old"
    other.unlink()
    write_text(one, "new", overwrite=True)
    assert names(tmp_path) == ["a.toml"]


@pytest.mark.parametrize(
    "name",
    [
        "con",
        "NUL.toml",
        "aux.tar.gz",
        "Com1.csv",
        "lpt².html",
        "prn .toml",
        "mine.",
        "mine.toml ",
        "C:mine.toml",
        r"designs\mine.toml",
        "mine?.toml",
        "a\nb",
        "nul/mine.toml",
    ],
)
def test_a_name_that_some_machine_cannot_hold_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match=r"is no name on every machine|is a device"):
        write_text(tmp_path / name, "x", overwrite=True)
    assert names(tmp_path) == []


@pytest.mark.parametrize("name", ["contour.toml", "com.toml", "мой клуб/nullpunkt.toml", ".con"])
def test_a_name_that_only_looks_like_one_kept_for_devices_is_taken(
    tmp_path: Path, name: str
) -> None:
    write_text(tmp_path / name, "x")
    assert (tmp_path / name).read_text("utf-8") == "x"


@POSIX
def test_a_device_a_pipe_and_a_folder_are_never_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    (tmp_path / "null").symlink_to("/dev/null")
    before = names(tmp_path)
    for name in before:
        with pytest.raises(InputError, match="needed"):
            write_text(tmp_path / name, "x", overwrite=True)
    assert names(tmp_path) == before
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


@POSIX
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_permissions_of_the_old_file_stay(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "a.toml"
    path.write_text("a", "utf-8")
    path.chmod(mode)
    write_text(path, "b", overwrite=True)
    assert stat.S_IMODE(path.stat().st_mode) == mode


@POSIX
def test_a_new_file_has_what_the_person_allows(tmp_path: Path) -> None:
    before = os.umask(0o077)
    try:
        write_text(tmp_path / "a.toml", "a")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a.toml").stat().st_mode) == 0o600


@POSIX
def test_a_full_disk_leaves_the_old_file_whole_and_says_so(tmp_path: Path) -> None:
    """The machine's limit on the size of a file stands for a disk that is full."""
    path = tmp_path / "a.toml"
    path.write_text("old", "utf-8")
    code = (
        "import resource, signal, sys\nfrom pathlib import Path\n"
        "from workbook.files.writing import write_text\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "try:\n    write_text(Path(sys.argv[1]), 'x' * 5000, overwrite=True)\n"
        "except Exception as fault:\n    print(type(fault).__name__, fault)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=PROJECT,
    )
    assert run.stdout.startswith("InputError")
    assert "cannot be written (File too large); what was there is as it was." in run.stdout
    assert path.read_text("utf-8") == "old"
    assert names(tmp_path) == ["a.toml"]


def test_a_file_that_another_hand_changed_is_asked_about_once(tmp_path: Path) -> None:
    path, seen = tmp_path / "a.toml", SeenFiles()
    path.write_text("loaded", "utf-8")
    seen.note(path)
    write_text(path, "saved", overwrite=True, seen=seen)
    write_text(path, "saved again", overwrite=True, seen=seen)
    path.write_text("by hand", "utf-8")
    with pytest.raises(FileChangedError, match="save once more"):
        write_text(path, "over it", overwrite=True, seen=seen)
    assert path.read_text("utf-8") == "by hand"
    write_text(path, "over it", overwrite=True, seen=seen)
    assert path.read_text("utf-8") == "over it"


def test_a_file_that_another_hand_made_since_is_asked_about_too(tmp_path: Path) -> None:
    path, seen = tmp_path / "a.toml", SeenFiles()
    seen.note(path)
    path.write_text("by hand", "utf-8")
    with pytest.raises(FileChangedError):
        write_text(path, "over it", overwrite=True, seen=seen)


def test_what_cannot_be_seen_is_no_fault_of_the_page(tmp_path: Path) -> None:
    seen = SeenFiles()
    seen.note(tmp_path)
    seen.ask(tmp_path)
    with pytest.raises(InputError, match="no file name can have"):
        seen.note(tmp_path / "a\0b")


def test_half_a_character_in_a_name_is_written_out(tmp_path: Path) -> None:
    """As a file's name gives it that is not in the machine's encoding."""
    write_text(tmp_path / "a.html", "made from \udcff.toml")
    assert (tmp_path / "a.html").read_text("utf-8") == "made from \\udcff.toml"


def test_what_a_killed_save_left_goes_with_the_next_save_in_that_folder(tmp_path: Path) -> None:
    for number in range(3):
        (tmp_path / writing.TEMPORARY.format(f"{number:016x}")).write_text("half", "utf-8")
    write_text(tmp_path / "other.toml", "a")
    assert names(tmp_path) == ["other.toml"]


def test_a_save_waits_for_another_and_does_not_wait_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.toml"
    code = (
        "import sys, time\nfrom pathlib import Path\nfrom workbook.files.writing import locked\n"
        "with locked(Path(sys.argv[1])):\n    print('held', flush=True)\n    sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=PROJECT,
    ) as other:
        assert other.stdin is not None
        assert other.stdout is not None
        assert other.stdout.readline() == b"held\n"
        monkeypatch.setattr(writing, "LONGEST_WAIT_S", 0.1)
        with pytest.raises(InputError, match="another program"):
            write_text(path, "a")
        other.kill()
    write_text(path, "a")  # who is killed holds nothing
    with locked(path):
        write_text(path, "b", overwrite=True)  # and no one waits for himself
    assert path.read_text("utf-8") == "b"


@pytest.mark.parametrize("there", [True, False])
def test_a_new_folder_is_there_whole_or_not_at_all(tmp_path: Path, there: bool) -> None:
    folder = tmp_path / "editions"
    if there:
        folder.mkdir()

    def broken_off() -> None:
        with new_folder(folder) as place:
            (place / "half.txt").write_text("", "utf-8")
            raise KeyError

    with pytest.raises(KeyError):
        broken_off()
    assert [path.name for path in tmp_path.rglob("*")] == ["editions"] * there
    left = tmp_path / writing._temporary(folder).name
    left.mkdir()
    (left / "of a run that was killed").touch()
    with new_folder(folder) as place:
        (place / "whole.txt").write_text("", "utf-8")
    assert names(tmp_path) == ["editions"]
    assert names(folder) == ["whole.txt"]
    with pytest.raises(InputError, match="something is already here"), new_folder(folder):
        pass
    assert names(folder) == ["whole.txt"]


def test_a_new_folder_has_a_name_that_every_machine_knows(tmp_path: Path) -> None:
    with (
        pytest.raises(InputError, match="is no name on every machine"),
        new_folder(tmp_path / "con"),
    ):
        pass
    assert names(tmp_path) == []


@POSIX
def test_no_lock_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    write_text(tmp_path / "there" / "a.txt", "a")
    (locks,) = (path for path in tmp_path.iterdir() if path.name != "there")
    assert names(locks) == []


SAVER = (
    "import itertools, sys\nfrom pathlib import Path\nfrom workbook.files.writing import write_bytes\n"
    "print('ready', flush=True)\n"
    "for number in itertools.count():\n"
    "    write_bytes(Path(sys.argv[1]), bytes([65 + number % 26]) * 200_000, overwrite=True)\n"
)


def killed_during_a_save(path: Path, after_s: float) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", SAVER, str(path)], stdout=subprocess.PIPE, cwd=PROJECT
    ) as saver:
        assert saver.stdout is not None
        saver.stdout.readline()
        time.sleep(after_s)
        os.kill(saver.pid, signal.SIGKILL)


@POSIX
@pytest.mark.parametrize(
    "kills", [10, pytest.param(100, marks=pytest.mark.long)], ids=["ten", "a hundred"]
)
def test_a_save_killed_at_any_moment_leaves_a_whole_file_and_no_litter(
    tmp_path: Path, kills: int
) -> None:
    path, moments = tmp_path / "a.bin", random.Random(kills)
    write_bytes(path, b"A" * 200_000)
    for _ in range(kills):
        killed_during_a_save(path, moments.uniform(0.0, 0.02))
        found = path.read_bytes()
        assert len(found) == 200_000
        assert len(set(found)) == 1
        assert len(names(tmp_path)) <= 2
    write_text(tmp_path / "b.txt", "the next save")
    assert names(tmp_path) == ["a.bin", "b.txt"]


def test_a_name_that_is_taken_gets_a_number(tmp_path: Path) -> None:
    (tmp_path / "six.html").touch()
    (tmp_path / "six_2.html").symlink_to(tmp_path / "nowhere")
    assert free_name(tmp_path / "six.html") == tmp_path / "six_3.html"
