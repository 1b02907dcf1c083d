"""Laying the notebooks out overwrites nothing that the learner changed."""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from jupyter_client.manager import start_new_kernel

from workbook import opening
from workbook.data.notebooks import notebooks_source
from workbook.errors import InputError
from workbook.opening import lay_out, writable_home

PROJECT = Path(__file__).resolve().parents[1]


@pytest.fixture
def source(tmp_path: Path) -> Path:
    folder = tmp_path / "source"
    (folder / "tables").mkdir(parents=True)
    (folder / "start.ipynb").write_text("first", "utf-8")
    (folder / "tables" / "motor.csv").write_text("a,b", "utf-8")
    return folder


def test_first_time_everything_is_written(source: Path, tmp_path: Path) -> None:
    done = lay_out(source, tmp_path / "club")
    assert done.written == ("start.ipynb", "tables/motor.csv")
    assert (tmp_path / "club" / "tables" / "motor.csv").read_text("utf-8") == "a,b"


def test_a_newer_version_replaces_only_what_was_not_changed(source: Path, tmp_path: Path) -> None:
    club = tmp_path / "club"
    lay_out(source, club)
    (club / "tables" / "motor.csv").write_text("mine", "utf-8")
    (source / "start.ipynb").write_text("second", "utf-8")
    (source / "tables" / "motor.csv").write_text("c,d", "utf-8")
    done = lay_out(source, club)
    assert done.written == ("start.ipynb",)
    assert done.kept == ("tables/motor.csv",)
    assert (club / "tables" / "motor.csv").read_text("utf-8") == "mine"
    assert (club / "start.ipynb").read_text("utf-8") == "second"


def test_a_file_of_the_learners_own_is_kept(source: Path, tmp_path: Path) -> None:
    club = tmp_path / "club"
    club.mkdir()
    (club / "start.ipynb").write_text("my own notes", "utf-8")
    assert lay_out(source, club).kept == ("start.ipynb",)
    assert (club / "start.ipynb").read_text("utf-8") == "my own notes"


@pytest.mark.parametrize("damaged", ["{", "[]", ""])
def test_a_damaged_record_loses_nothing(source: Path, tmp_path: Path, damaged: str) -> None:
    club = tmp_path / "club"
    lay_out(source, club)
    (club / ".workbook" / "laid-out.json").write_text(damaged, "utf-8")
    (source / "start.ipynb").write_text("second", "utf-8")
    assert lay_out(source, club).kept == ("start.ipynb",)


@pytest.mark.parametrize(
    "damaged", ['{"start.ipynb": 3}', '{"start.ipynb": [3, null, {}]}', "[" * 99_999]
)
def test_a_record_of_another_shape_is_none(source: Path, tmp_path: Path, damaged: str) -> None:
    (tmp_path / "club" / ".workbook").mkdir(parents=True)
    (tmp_path / "club" / ".workbook" / "laid-out.json").write_text(damaged, "utf-8")
    assert lay_out(source, tmp_path / "club").written == ("start.ipynb", "tables/motor.csv")


@pytest.mark.parametrize("half", ["", "fir"])
def test_a_copy_that_was_broken_off_is_repaired(source: Path, tmp_path: Path, half: str) -> None:
    club = tmp_path / "club"
    club.mkdir()
    (club / "start.ipynb").write_text(half, "utf-8")
    assert lay_out(source, club).written == ("start.ipynb", "tables/motor.csv")
    assert (club / "start.ipynb").read_text("utf-8") == "first"


def test_a_run_that_was_ended_between_two_versions_is_gone_on_with(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second version is written in part, and a third comes: nothing of it is taken for the learner's."""
    club = tmp_path / "club"
    lay_out(source, club)
    (source / "start.ipynb").write_text("second", "utf-8")
    (source / "tables" / "motor.csv").write_text("c,d", "utf-8")

    def ended(target: Path, data: bytes) -> bool:
        if target.name == "motor.csv":
            raise KeyboardInterrupt
        return put(target, data)

    put = opening._write_if_changed
    with monkeypatch.context() as patched:
        patched.setattr(opening, "_write_if_changed", ended)
        with pytest.raises(KeyboardInterrupt):
            lay_out(source, club)
    assert (club / "start.ipynb").read_text("utf-8") == "second"
    (source / "start.ipynb").write_text("third", "utf-8")
    done = lay_out(source, club)
    assert done.written == ("start.ipynb", "tables/motor.csv")
    assert done.kept == ()


def test_what_is_no_file_is_left(source: Path, tmp_path: Path) -> None:
    (tmp_path / "club" / "start.ipynb").mkdir(parents=True)
    assert lay_out(source, tmp_path / "club").kept == ("start.ipynb",)


LAYER = """
import sys
from pathlib import Path
from workbook.data.notebooks import notebooks_source
from workbook.opening import home, lay_out
print("ready", flush=True)
lay_out(notebooks_source(), Path(sys.argv[1]))
"""


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("kills", [3, pytest.param(30, marks=pytest.mark.long)])
def test_a_laying_out_killed_at_any_moment_is_made_good_by_the_next(
    tmp_path: Path, kills: int
) -> None:
    moments = random.Random(kills)
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[1])}
    for number in range(kills):
        club = tmp_path / f"club {number}"
        with subprocess.Popen(
            [sys.executable, "-c", LAYER, str(club)], stdout=subprocess.PIPE, env=environment
        ) as layer:
            assert layer.stdout is not None
            layer.stdout.readline()
            time.sleep(moments.uniform(0.0, 0.15))
            layer.kill()
        assert lay_out(notebooks_source(), club).kept == ()
        laid = {p.relative_to(club): p.read_bytes() for p in club.rglob("*") if p.is_file()}
        laid = {place: held for place, held in laid.items() if place.parts[0] != ".workbook"}
        assert laid
        assert laid == {place: (notebooks_source() / place).read_bytes() for place in laid}


def test_a_file_in_place_of_the_folder_is_refused(source: Path, tmp_path: Path) -> None:
    (tmp_path / "club").write_text("", "utf-8")
    with pytest.raises(InputError, match="a folder is needed"):
        lay_out(source, tmp_path / "club")


@pytest.mark.skipif(os.name != "posix", reason="Windows has no HOME")
@pytest.mark.parametrize("place", ["", "nowhere"])
def test_without_a_home_jupyter_has_one_for_the_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / place) if place else "")
    with writable_home():
        lent = Path(os.environ["HOME"])
        assert os.access(lent, os.W_OK)
    assert not lent.exists()
    monkeypatch.setenv("HOME", str(tmp_path))
    with writable_home():
        assert os.environ["HOME"] == str(tmp_path)


def leave_traps(folder: Path, *names: str) -> None:
    """What a stranger left in a shared folder: files named as modules."""
    for name in names:
        (folder / f"{name}.py").write_text(f"raise SystemExit('ran {name}')\n", "utf-8")


def test_a_kernel_imports_nothing_from_the_folder_of_its_notebook(tmp_path: Path) -> None:
    leave_traps(tmp_path, "numpy", "pandas", "ipywidgets", "workbook", "ipython_config", "csv")
    manager, client = start_new_kernel(
        cwd=str(tmp_path), env={**os.environ, "PYTHONSAFEPATH": "1", "PYTHONPATH": str(PROJECT)}
    )
    try:
        texts: list[str] = []
        code = "import numpy, csv, os, workbook; print(os.getcwd(), workbook.__file__)"
        client.execute_interactive(
            code, timeout=30, output_hook=lambda message: texts.append(str(message["content"]))
        )
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)
    assert str(tmp_path) in "".join(texts)
    assert str(PROJECT) in "".join(texts)
    assert "ran " not in "".join(texts)


HEARS_A_HANGUP = (
    "import signal; hangup = getattr(signal, 'SIGHUP', None)\n"
    "if hangup: signal.signal(hangup, signal.SIG_DFL)\n"
)
"""A test that runs under nohup starts what it starts without."""


@contextmanager
def opened(folder: Path, log: Path) -> Iterator[subprocess.Popen[bytes]]:
    """`workbook open .` in that folder, as the installed command runs it."""
    code = f"{HEARS_A_HANGUP}import sys; from workbook.cli import main; sys.exit(main())"
    with log.open("wb") as out:
        server = subprocess.Popen(
            [sys.executable, "-P", "-c", code, "open", ".", "--no-browser"],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(PROJECT)},
            stdout=out,
            stderr=subprocess.STDOUT,
        )
    try:
        yield server
    finally:
        if server.poll() is None:
            server.kill()
            server.wait(30)


def _address(log: Path) -> tuple[str, str]:
    """Where the server answers, and the token that it wants."""
    for _ in range(300):
        output = log.read_text("utf-8", "replace")
        if found := re.search(r"(http://127\.0\.0\.1:\d+)/\S*token=(\w+)", output):
            return found[1], found[2]
        time.sleep(0.2)
    raise AssertionError(output)


def _children(process: int) -> list[int]:
    listed = subprocess.check_output(["ps", "-eo", "pid=,ppid="], text=True).splitlines()
    return [int(line.split()[0]) for line in listed if int(line.split()[1]) == process]


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.long
@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("stop", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_a_shared_folder_runs_nothing_and_a_signal_leaves_no_child(
    tmp_path: Path, stop: str
) -> None:
    club = tmp_path / "club"
    club.mkdir()
    leave_traps(club, "jupyterlab", "tornado", "numpy", "jupyter_server_config", "sitecustomize")
    log = tmp_path / "log"
    with opened(club, log) as server:
        address, token = _address(log)
        asked = urllib.request.Request(
            f"{address}/api/kernels", b"{}", {"Authorization": f"token {token}"}, method="POST"
        )
        with urllib.request.urlopen(asked, timeout=30) as answer:
            assert answer.status == 201
        kernels = _children(server.pid)
        assert len(kernels) == 1
        server.send_signal(getattr(signal, stop))
        assert server.wait(30) == 0
        assert not any(_runs(kernel) for kernel in kernels)
    text = log.read_text("utf-8", "replace")
    assert "ran " not in text
    assert not re.search(r"\[I |Warning", text), text  # nothing of the server's own talk
    assert (club / "01_craft_asks.ipynb").exists()
