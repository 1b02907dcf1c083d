"""Laying the notebooks out overwrites nothing that the learner changed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.opening import lay_out


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


def test_a_file_in_place_of_the_folder_is_refused(source: Path, tmp_path: Path) -> None:
    (tmp_path / "club").write_text("", "utf-8")
    with pytest.raises(InputError, match="a folder is needed"):
        lay_out(source, tmp_path / "club")


@pytest.mark.long
@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_a_module_in_the_shared_folder_is_not_run_and_a_signal_ends_the_server(
    tmp_path: Path,
) -> None:
    club = tmp_path / "club"
    club.mkdir()
    for name in ("jupyterlab", "tornado", "notebook"):
        (club / f"{name}.py").write_text("print('ran what a stranger left here')\n", "utf-8")
    log = tmp_path / "log"
    with log.open("wb") as out:
        server = subprocess.Popen(
            [sys.executable, "-m", "workbook", "open", ".", "--no-browser"],
            cwd=club,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[1])},
            stdout=out,
            stderr=subprocess.STDOUT,
        )
        try:
            for _ in range(300):
                if "/lab/tree/start.ipynb" in log.read_text("utf-8", "replace"):
                    break
                time.sleep(0.2)
        finally:
            server.send_signal(signal.SIGTERM)
    server.wait(30)
    told = log.read_text("utf-8", "replace")
    assert "/lab/tree/start.ipynb" in told
    assert "ran what a stranger left here" not in told
    assert (club / "01_craft_asks.ipynb").exists()
