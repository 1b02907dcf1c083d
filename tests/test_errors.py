"""One sentence for each problem, with its place."""

from __future__ import annotations

from workbook.errors import InputError, Problem


def test_every_problem_is_kept_and_told_on_a_line_of_its_own() -> None:
    mass = Problem("mass is -5 g; above 0 g is needed.", "craft.mass_g")
    fault = InputError([mass, "series is 0; 1 to 24 is needed."])
    assert fault.problems == (mass, Problem("series is 0; 1 to 24 is needed."))
    assert str(fault).splitlines() == [
        "craft.mass_g: mass is -5 g; above 0 g is needed.",
        "series is 0; 1 to 24 is needed.",
    ]
