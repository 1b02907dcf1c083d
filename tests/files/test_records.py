"""Text files, TOML and the checks of records: one sentence for each fault, files whole or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import pytest
import tomlkit
from pydantic import Field

from workbook.errors import InputError
from workbook.files.records import Part, check, input_field, parse_toml, record_text
from workbook.quantities import INPUTS


class Inner(Part):
    kind: Literal["one", "two"]
    series: int
    payload_g: float = 5.0


class Outer(Part):
    name: str
    inner: Inner
    mission: list[Inner] = Field(default_factory=list)


GOOD = {"name": "x", "inner": {"kind": "one", "series": 3}}


def sentences_of(data: object) -> list[str]:
    with pytest.raises(InputError) as fault:
        check(Outer, data, "a.toml")
    return [str(problem) for problem in fault.value.problems]


def test_range_and_help_of_a_key_come_from_the_table_of_inputs() -> None:
    schema = Inner.model_json_schema()["properties"]["payload_g"]
    of = INPUTS["payload_g"]
    assert schema["minimum"] == of.least
    assert schema["maximum"] == of.most
    assert schema["description"] == of.help
    assert schema["default"] == 5.0
    assert input_field("glide_ratio").metadata[0].gt == INPUTS["glide_ratio"].least


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"name": 5}, "a.toml: name is 5; a text is needed."),
        ({"nam": "y"}, "a.toml: nam is not a key of this file; did you mean name?"),
        ({"zzzz": 1}, "a.toml: zzzz is not a key of this file; remove it or correct its name."),
        ({"series": 1}, "a.toml: series is not a key of this section; remove it or correct its name."),
        ({"inner": 3}, "a.toml: inner is 3; a section [inner] is needed."),
        ({"mission": 3}, "a.toml: mission is 3; sections [[mission]] are needed."),
        ({"inner": {"kind": "one"}},
         "a.toml: inner.series is missing; a whole number from 1 up to 24 (cells in series, S) is needed."),
        ({"inner": {"kind": "three", "series": 3}},
         'a.toml: inner.kind is "three"; "one" or "two" is needed.'),
        ({"mission": [GOOD["inner"], {"kind": "two", "series": 99}]},
         "a.toml: mission phase 2, series is 99; a whole number from 1 up to 24 (cells in series, S) is needed."),
    ],
)  # fmt: skip
def test_each_fault_has_one_sentence(change: dict[str, object], sentence: str) -> None:
    assert sentences_of(GOOD | change) == [sentence]


def test_a_long_value_is_cut() -> None:
    (sentence,) = sentences_of(
        GOOD | {"inner": {"kind": "one", "series": 3, "payload_g": -(10**400)}}
    )
    assert len(sentence) < 300


@pytest.mark.parametrize("text", ["= 3", "x = " + "[" * 100_000, "x = " + "9" * 5000])
def test_what_is_not_toml(text: str) -> None:
    with pytest.raises(InputError, match="not TOML"):
        parse_toml(text, "a.toml")


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


@dataclass(frozen=True)
class Rated:
    payload_g: float = 5.0
    motor_max_a: float | None = None
    unheard_of: float | None = None


def test_a_section_takes_the_optional_figures_of_its_record_without_declaring_them() -> None:
    class RatedPart(Part, record=Rated):
        payload_g: float

    assert list(RatedPart.model_fields) == [
        "payload_g",
        "motor_max_a",
    ]  # what no table knows is no key
    of = INPUTS["motor_max_a"]
    schema = RatedPart.model_json_schema()["properties"]["motor_max_a"]
    assert (schema["anyOf"][0]["maximum"], schema["default"]) == (of.most, None)
