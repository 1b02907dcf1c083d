"""One design's answer as plain numbers, and nothing else of it touched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from workbook.numbers import FINITE, JUST_ABOVE_0, plain, range_problems, rounded


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
        "mass_g: 0 is not possible; above 0 is needed.",
        "power_w: inf is not possible; above 0 is needed.",
        "height_m: nan is not possible; 0 to 9 m is needed.",
    ]
    assert len(range_problems(given, nan_passes=True)) == 2


@pytest.mark.parametrize(
    ("value", "decimals", "down", "up", "nearest"),
    [
        (68.97, 0, 68.0, 69.0, 69.0),
        (3.101, 2, 3.10, 3.11, 3.10),
        (4 * 3.6, 1, 14.4, 14.4, 14.4),  # 14.4 by hand, a little less in binary
        (3 * 1.1, 1, 3.3, 3.3, 3.3),  # 3.3 by hand, a little more in binary
        (-0.04, 1, -0.1, 0.0, 0.0),
        (0.0, 2, 0.0, 0.0, 0.0),
    ],
)
def test_a_figure_is_rounded_to_its_side(
    value: float, decimals: int, down: float, up: float, nearest: float
) -> None:
    """By hand; what arithmetic leaves over does not count as more or less."""
    assert rounded(value, decimals, "down") == down
    assert rounded(value, decimals, "up") == up
    assert rounded(value, decimals) == nearest


def test_what_is_not_finite_stays() -> None:
    assert rounded(float("inf"), 1, "up") == float("inf")
    assert np.isnan(rounded(float("nan"), 1, "down"))


def test_a_figure_of_next_to_nothing_is_left_as_it_is() -> None:
    """5e-324 is the least float above 0; a power of ten for its decimals would be none."""
    assert rounded(5e-324, 330, "up") == 5e-324
