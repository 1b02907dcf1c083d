"""Visitors: a word each, a folder each, and doors that do not let anybody try for long."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.pages.visitors import WORDS, Turnstile, Visitors, as_word, new_word


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    (tmp_path / "designs").mkdir()
    (tmp_path / "designs" / "demo.toml").write_text("name = 'demo'\n", "utf-8")
    (tmp_path / "designs" / "mine.toml").write_text("name = 'the owner'\n", "utf-8")
    (tmp_path / "start.ipynb").write_text("{}", "utf-8")
    return tmp_path


def test_words_are_many_enough_short_and_distinct() -> None:
    assert len(set(WORDS)) == len(WORDS)
    assert (
        len(WORDS) ** 2 * 9000 / 30 / 60 / 60 / 24 > 35
    )  # thirty given out, 60 tries a minute: days
    assert max(map(len, WORDS)) <= 8
    assert len({new_word() for _ in range(200)}) == 200


@pytest.mark.parametrize("typed", ["Reed-Otter-4821", " reed otter 4821\n", "REED_OTTER_4821"])
def test_a_word_is_known_however_it_is_typed(typed: str) -> None:
    assert as_word(typed) == "reed-otter-4821"


def test_a_visitor_comes_back_to_what_was_kept_after_the_server_has_gone(shared: Path) -> None:
    visitors = Visitors(shared)
    visitor = visitors.welcome()
    visitors.furnish(visitor)
    (visitor.folder / "designs" / "mine.toml").write_text("kept", "utf-8")
    again = Visitors(shared)
    assert again.club == visitors.club
    back = again.back(visitor.word.upper())
    assert back == visitor
    assert again.of(visitor.id) == visitor
    again.furnish(visitor)
    assert (visitor.folder / "designs" / "mine.toml").read_text("utf-8") == "kept"


def test_a_folder_holds_the_demos_and_nothing_of_the_owner_s_or_of_others(shared: Path) -> None:
    visitors = Visitors(shared)
    first, second = visitors.welcome(), visitors.welcome()
    visitors.furnish(first)
    visitors.furnish(second)
    there = sorted(p.name for p in second.folder.rglob("*") if p.is_file())
    assert there == ["demo.toml", "laid-out.json", "word.txt"]


def test_neither_a_wrong_word_nor_a_path_finds_a_folder(shared: Path) -> None:
    visitors = Visitors(shared)
    visitor = visitors.welcome()
    assert visitor.word not in str(visitor.folder)
    for wrong in ("", "reed-otter-0000", visitor.id, "../visitors", f"{visitor.word}1"):
        assert visitors.back(wrong) is None
    for wrong in ("", "..", ".", "../..", visitor.word, "0" * 24):
        assert visitors.of(wrong) is None


def test_no_more_folders_are_begun_than_are_kept(shared: Path) -> None:
    visitors = Visitors(shared, most=1)
    visitors.welcome()
    with pytest.raises(InputError, match="1 folders are kept"):
        visitors.welcome()


@pytest.mark.parametrize("damaged", ["[]", '{"secret": "xx"}', '{"secret": 3, "club": "a"}'])
def test_a_damaged_record_is_said_and_left(shared: Path, damaged: str) -> None:
    record = shared / ".workbook" / "share.json"
    record.parent.mkdir()
    record.write_text(damaged, "utf-8")
    with pytest.raises(InputError, match=r"share\.json: .*Delete it"):
        Visitors(shared)
    assert record.read_text("utf-8") == damaged


@pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX")
def test_the_secret_is_the_owner_s_alone(shared: Path) -> None:
    Visitors(shared)
    for path, mode in (("share.json", 0o600), ("visitors", 0o700)):
        assert stat.S_IMODE((shared / ".workbook" / path).stat().st_mode) == mode


def test_a_turnstile_lets_so_many_pass_a_minute_and_no_more() -> None:
    now = [0.0]
    door = Turnstile(3, clock=lambda: now[0])
    assert [door.passes("a") for _ in range(4)] == [True, True, True, False]
    assert door.passes("b")
    now[0] = 61.0
    assert door.passes("a")
