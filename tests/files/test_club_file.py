"""A club's own rules, or those shipped."""

from __future__ import annotations

import shutil

from tests.conftest import NOTEBOOKS
from workbook.files.club_file import club_rules, read_club


def test_club_rules_come_from_the_clubs_file_or_say_why_not(tmp_path):
    shutil.copy(NOTEBOOKS / "club.toml", tmp_path)
    assert club_rules(tmp_path).problem == ""
    text = (tmp_path / "club.toml").read_text("utf-8")
    (tmp_path / "club.toml").write_text(text.replace("landing_v = 3.1", "landing_v = 3.3"), "utf-8")
    assert club_rules(tmp_path).rules.landing_v == 3.3
    for wrong, shown in (
        (
            text.replace("landing_v = 3.1", "landing_v = 31"),
            "landing_v is 31; a number from 2.5 up to 3.99",
        ),
        (text.replace("landing_v = 3.1", ""), "landing_v is missing"),
        (text + "\ncolour = 1\n", "colour is not a key"),
        ("= 3", "not TOML"),
    ):
        (tmp_path / "club.toml").write_text(wrong, "utf-8")
        found = club_rules(tmp_path)
        assert shown in found.problem
        assert found.rules == read_club(NOTEBOOKS / "club.toml")
