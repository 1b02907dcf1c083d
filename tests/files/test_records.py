"""TOML and the checks of records: one sentence for each fault."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import pytest
from pydantic import Field

from workbook.errors import InputError
from workbook.files.records import Part, check, input_field, parse_toml
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


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"name": "a\x1b[2K"}, 'name is "a\\u001b[2K"; a text without the control character \\x1b'),
        ({"name": "two\nlines"}, 'name is "two\\nlines"; a text without the control character \\n'),
        ({"names": ["a", "b\u202e"]}, "names 2 is"),
        ({"note": "two\n\tlines"}, ""),
        ({"note": "a\x07"}, "note is"),
        ({"mission": [{**GOOD["inner"], "kind": "one\x00"}]}, "mission phase 1, kind is"),
    ],
)
def test_a_text_has_no_control_character_and_one_line_but_a_note(
    change: dict[str, object], named: str
) -> None:
    class Named(Outer):
        names: list[str] = Field(default_factory=list)
        note: str = ""

    if not named:
        assert check(Named, GOOD | change, "a.toml")
        return
    with pytest.raises(InputError) as fault:
        check(Named, GOOD | change, "a.toml")
    (sentence,) = fault.value.problems
    assert sentence.what.startswith(named)
    assert "without the control character" in sentence.what


def test_a_long_value_is_cut() -> None:
    (sentence,) = sentences_of(
        GOOD | {"inner": {"kind": "one", "series": 3, "payload_g": -(10**400)}}
    )
    assert len(sentence) < 300


@pytest.mark.parametrize("text", ["= 3", "x = " + "[" * 100_000, "x = " + "9" * 5000])
def test_what_is_not_toml(text: str) -> None:
    with pytest.raises(InputError, match="not TOML"):
        parse_toml(text, "a.toml")


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
