"""A class's folder is furnished with the shipped notebooks, the club's rules and a seed."""

from __future__ import annotations

import pytest

from tests.conftest import NOTEBOOKS
from workbook.errors import InputError
from workbook.exercises.progress import Progress
from workbook.lessons.teaching.classroom import furnish


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
