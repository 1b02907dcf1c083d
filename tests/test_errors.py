"""One sentence for each problem, with its place."""

from __future__ import annotations

import pytest

from workbook.errors import CONTROL, InputError, Problem, naming, visible


def test_every_problem_is_kept_and_told_on_a_line_of_its_own() -> None:
    mass = Problem("mass is -5 g; above 0 g is needed.", "craft.mass_g")
    fault = InputError([mass, "series is 0; 1 to 24 is needed."])
    assert fault.problems == (mass, Problem("series is 0; 1 to 24 is needed."))
    assert str(fault).splitlines() == [
        "craft.mass_g: mass is -5 g; above 0 g is needed.",
        "series is 0; 1 to 24 is needed.",
    ]


def test_what_is_repeated_of_the_input_is_short_and_shows_no_more_than_itself() -> None:
    text = str(Problem("name is " + "y" * 5000 + "\x1b[2K\rHOLDS; a text is needed.", "d/" * 3000))
    assert len(text) < 400
    assert text.endswith("; a text is needed.")
    assert not CONTROL.search(text)
    assert visible("3.7\ufeff\u200b") == "3.7\\ufeff\\u200b"
    assert visible("a\u202eb\nc") == "a\\u202eb\\nc"


def test_a_place_is_put_before_every_problem_that_has_one_or_has_none() -> None:
    with pytest.raises(InputError) as caught, naming("a.toml"):
        raise InputError([Problem("no headway.", "phase 2"), "it cannot fly."])
    assert caught.value.lines == ("a.toml, phase 2: no headway.", "a.toml: it cannot fly.")


def test_a_place_is_named_once() -> None:
    with pytest.raises(InputError) as caught, naming("a.toml"):
        raise InputError([Problem("no cell.", "a.toml, pack.cell"), Problem("no TOML.", "a.toml")])
    assert caught.value.lines == ("a.toml, pack.cell: no cell.", "a.toml: no TOML.")
