"""The entry that works before anything is installed: what it mends, and what it must not run."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from workbook import __main__ as entry

PROJECT = Path(entry.PROJECT)


def test_a_file_in_the_current_folder_is_never_run(tmp_path: Path) -> None:
    for name in ("argparse", "jupyterlab", "numpy", "subprocess", "tornado"):
        (tmp_path / f"{name}.py").write_text(f"print('ran {name}')\n", "utf-8")
    found = subprocess.run(
        [sys.executable, "-m", "workbook", "--version"],
        cwd=tmp_path,
        env={"PYTHONPATH": str(PROJECT), "PATH": ""},
        capture_output=True,
        text=True,
        check=True,
    )
    assert found.stdout.startswith("workbook ")
    assert "ran" not in found.stdout + found.stderr


def test_the_environment_finds_the_project_after_both_were_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packages = tmp_path / ".venv" / "lib" / "python3" / "site-packages"
    packages.mkdir(parents=True)
    (packages / "_editable_impl_workbook.pth").write_text("/where/it/was/once", "utf-8")
    monkeypatch.setattr(entry, "ENVIRONMENT", tmp_path / ".venv")
    monkeypatch.setattr(entry, "PROJECT", str(tmp_path))
    entry._find_by_relative_path()
    found = (packages / "_editable_impl_workbook.pth").read_text("utf-8").strip()
    assert (packages / found).resolve() == tmp_path.resolve()
    assert not Path(found).is_absolute()


def test_a_python_that_is_not_there_does_not_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(entry, "ENVIRONMENT", tmp_path / "nothing")
    assert not entry._works("-c", "pass")
