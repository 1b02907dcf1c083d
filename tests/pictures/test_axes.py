"""Known points to axes: straight with two on each, turned with a third."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.errors import InputError
from workbook.pictures.axes import ACROSS, UP, KnownPoint, fit_axes


def known(turned_deg: float, *, third: str = "", off_px: float = 0.0) -> list[KnownPoint]:
    """Points of a graph with 100 px an Ah and 200 px a volt, its 0 Ah and 2.5 V at (50, 500), turned about there."""
    turn = np.radians(turned_deg)

    def pixel_of(ah: float, volts: float) -> tuple[float, float]:
        x, y = 100.0 * ah, -200.0 * (volts - 2.5)
        return (
            50 + x * np.cos(turn) + y * np.sin(turn) + off_px,
            500 - x * np.sin(turn) + y * np.cos(turn),
        )

    points = [
        KnownPoint(*pixel_of(0, 2.5), ACROSS, 0.0),
        KnownPoint(*pixel_of(5, 2.5), ACROSS, 5.0),
    ]
    points += [KnownPoint(*pixel_of(0, 2.5), UP, 2.5), KnownPoint(*pixel_of(0, 4.0), UP, 4.0)]
    if third:
        points.append(KnownPoint(*pixel_of(5, 4.0), third, 5.0 if third == ACROSS else 4.0))
    return points


def test_two_points_on_each_axis_make_a_straight_graph() -> None:
    axes = fit_axes(known(0.0))
    assert axes.figures(np.array([[250.0, 300.0]])) == pytest.approx(np.array([[2.0, 3.5]]))
    assert axes.pixels(np.array([[2.0, 3.5]])) == pytest.approx(np.array([[250.0, 300.0]]))
    assert axes.off_px == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("third", [ACROSS, UP])
@pytest.mark.parametrize("turned_deg", [-2.0, 0.5, 3.0])
def test_a_third_point_on_either_axis_tells_the_turn_for_both(
    third: str, turned_deg: float
) -> None:
    axes = fit_axes(known(turned_deg, third=third))
    turn = np.radians(turned_deg)
    x, y = 200.0, -200.0  # 2 Ah, 3.5 V
    seen = [50 + x * np.cos(turn) + y * np.sin(turn), 500 - x * np.sin(turn) + y * np.cos(turn)]
    assert axes.figures(np.array([seen])) == pytest.approx(np.array([[2.0, 3.5]]), abs=1e-6)


def test_how_far_the_points_disagree_is_reported() -> None:
    points = [*known(0.0), KnownPoint(252.0, 500.0, ACROSS, 2.0)]  # 2 px to the right of 2 Ah
    assert 0.3 < fit_axes(points).off_px < 2.0


@pytest.mark.parametrize(
    ("points", "expected"),
    [
        (known(0.0)[:3], "the voltage axis has 1 known points; two are needed"),
        (known(0.0)[2:], "the axis from left to right has 0 known points"),
        ([*known(0.0)[:3], KnownPoint(0, 0, UP, 2.5)], "all have the value 2.5"),
        ([*known(0.0)[:3], KnownPoint(50, 499, UP, 4.0)], "on top of each other"),
    ],
)
def test_points_that_say_too_little_are_refused(points: list[KnownPoint], expected: str) -> None:
    with pytest.raises(InputError, match=expected):
        fit_axes(points)
