"""Where the notebooks are."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbook.data import notebooks
from workbook.errors import InputError
from workbook.opening import lay_out


def test_the_packed_notebooks_come_first_and_none_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(notebooks, "PACKED_NOTEBOOKS", tmp_path / "packed")
    monkeypatch.setattr(notebooks, "CHECKOUT_NOTEBOOKS", tmp_path / "checkout")
    with pytest.raises(InputError, match="holds no notebooks"):
        notebooks.notebooks_source()
    for name in ("checkout", "packed"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "start.ipynb").write_text("{}", "utf-8")
        assert notebooks.notebooks_source() == tmp_path / name


def test_what_its_owner_keeps_is_neither_copied_nor_laid_out(tmp_path):
    source = tmp_path / "source"
    for name in ("start.ipynb", "designs/demo.toml", "designs/mine.toml", "cells/own.toml", ".x/y"):
        (source / name).parent.mkdir(parents=True, exist_ok=True)
        (source / name).write_text("{}", "utf-8")
    copied = tmp_path / "copied"
    notebooks.copy_notebooks(source, copied)
    files = sorted(p.relative_to(copied).as_posix() for p in copied.rglob("*") if p.is_file())
    assert files == ["designs/demo.toml", "start.ipynb"]
    assert list(lay_out(source, tmp_path / "laid").written) == files


def test_a_file_of_the_working_folder_comes_before_the_shipped_one(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shipped = notebooks.here_or_shipped(Path("club.toml"))
    assert shipped == notebooks.notebooks_source() / "club.toml"
    (tmp_path / "club.toml").write_text("mine", "utf-8")
    assert notebooks.here_or_shipped(Path("club.toml")).read_text("utf-8") == "mine"
