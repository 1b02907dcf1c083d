"""Records written over a document: its comments stay, whatever is changed or taken out."""

from __future__ import annotations

import pytest
import tomlkit

from workbook.errors import InputError
from workbook.files.commented import parse_document, record_text
from workbook.files.records import parse_toml


@pytest.mark.parametrize("text", ["= 3", "a = 1\na = 2", "[a]\nb.c = 1\nb = 2"])
def test_what_is_not_toml(text: str) -> None:
    with pytest.raises(InputError, match="not TOML"):
        parse_document(text, "a.toml")


def test_comments_stay_where_a_record_is_written_again() -> None:
    old = tomlkit.parse("a = 1  # first\n[b]\nc = 2  # second\n[[mission]]\nd = 3  # third\n")
    new = record_text({"a": 1, "b": {"c": 5}, "mission": [{"d": 3}, {"d": 4}]}, old)
    for kept in ("a = 1  # first", "c = 5  # second", "d = 3  # third", "d = 4"):
        assert kept in new


OLD = """# the club's own
a = 1  # first
b = 2  # how many
# between

[today]  # the pack that it replaces
# weighed on Monday
name = "x"  # its name

# what is at the bench
[bench]
lead = 1
[bench.prices]  # of the shop
lead = 3  # a metre

[[line]]  # one
key = "gusts"  # from the west
high = 2

# two
[[line]]
key = "cold"
high = 3  # in March
"""
REMARKS = [line.partition("#")[2] for line in OLD.splitlines() if "#" in line]


@pytest.mark.parametrize(
    "new",
    [
        {"a": 1},
        {"a": 5, "bench": {"lead": 2}},
        {"today": {"name": "y"}, "line": []},
        {"new": 7, "line": [{"key": "cold", "high": 3}]},
        {"line": [{"key": "cold", "high": 3}, {"key": "gusts", "high": 9}]},
        {"line": [{"key": "gusts", "high": 2}, {"key": "rain", "high": 1}]},
        {"line": [{"key": "rain", "high": 1}]},
        {},
    ],
)
def test_no_comment_is_lost_whatever_is_taken_out(new: dict[str, object]) -> None:
    text = record_text(new, tomlkit.parse(OLD))
    assert parse_toml(text, "a.toml") == new
    assert [remark for remark in REMARKS if f"#{remark}" not in text] == []


def test_a_line_keeps_its_own_remark_when_another_goes_or_they_change_places() -> None:
    turned = {"line": [{"key": "cold", "high": 5}, {"key": "gusts", "high": 2}]}
    text = record_text(turned, tomlkit.parse(OLD))
    assert "high = 5  # in March" in text
    assert text.index("in March") < text.index("from the west")
