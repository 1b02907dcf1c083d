"""One design's answer as plain numbers, and nothing else of it touched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.numbers import FINITE, JUST_ABOVE_0, plain, range_problems


@dataclass(frozen=True)
class Inner:
    power_w: object
    name: str = "hover"


@dataclass(frozen=True)
class Outer:
    inner: Inner
    parts: tuple[Inner, ...]
    figures: dict[str, object]
    curve: object


def test_figures_of_one_design_become_numbers_wherever_they_stand() -> None:
    curve = np.array([1.0, 2.0])
    given = Outer(
        Inner(np.asarray(120.5)), (Inner(np.float64(2.0)),), {"holds": np.bool_(True)}, curve
    )
    made = plain(given)
    assert type(made.inner.power_w) is float
    assert made.inner.power_w == 120.5
    assert type(made.parts[0].power_w) is float
    assert made.figures["holds"] is True
    assert made.curve is curve
    assert isinstance(given.inner.power_w, np.ndarray), "the record given stays as it is"


def test_a_plain_record_is_handed_back_itself() -> None:
    given = Inner(1.0)
    assert plain(given) is given
    assert plain((given, "text")) == (given, "text")
    assert plain(Inner) is Inner


def test_figures_out_of_range_are_named_together() -> None:
    above_0 = (JUST_ABOVE_0, FINITE, "above 0")
    given = {
        "mass_g": (0.0, *above_0),
        "power_w": (np.array([5.0, np.inf]), *above_0),
        "height_m": (np.nan, 0.0, 9.0, "0 to 9 m"),
        "max_w": (np.inf, JUST_ABOVE_0, np.inf, "above 0 W"),
    }
    assert [str(problem) for problem in range_problems(given)] == [
        "mass_g: 0 cannot be; above 0 is needed.",
        "power_w: inf cannot be; above 0 is needed.",
        "height_m: nan cannot be; 0 to 9 m is needed.",
    ]
    assert len(range_problems(given, nan_passes=True)) == 2
