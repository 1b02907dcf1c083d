"""Wire, strip and connector follow the plan's own currents with a margin; the cells' stand beside them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.conftest import straight_cell
from workbook.battery.pack import Pack
from workbook.bench.flight_load import FlightLoad, PartCurrents, part_currents

LOAD = FlightLoad(300.0, 15.0, 40.0, 500.0, 80.0, 3.1, 20.0, 3.3, 12.0, 48.0, steady_a=16.1)
NAN = float("nan")


def made(**changed: float) -> PartCurrents:
    """3 cells of 15 A, 25 A for 10 s, in parallel."""
    return part_currents(Pack(straight_cell(), 6, 3), replace(LOAD, **changed))


@pytest.mark.parametrize(
    ("changed", "continuous_a", "burst_a"),
    [
        # 1.25 x 16.1 = 20.125 and 1.25 x 40 = 50: arithmetic, rounded up
        ({}, 20.2, 50.0),
        # the mean stands in for a steady current that is not stated: 1.25 x 15
        ({"steady_a": NAN}, 18.8, 50.0),
        # no more than the cells are rated for, 45 A and 75 A
        ({"steady_a": 40.0, "highest_a": 70.0}, 45.0, 75.0),
        # but never less than the plan draws
        ({"steady_a": 50.0, "highest_a": 80.0}, 50.0, 80.0),
        # a plan without a burst still has its steady current
        ({"highest_a": 10.0}, 20.2, 20.2),
    ],
)
def test_the_plan_and_a_quarter_more_within_the_cells_rating(
    changed: dict[str, float], continuous_a: float, burst_a: float
) -> None:
    found = made(**changed)
    assert (found.continuous_a, found.burst_a) == (continuous_a, burst_a)
    assert found.is_known


def test_what_the_cells_could_give_is_shown_too() -> None:
    """80 % of 3 x 15 A, and 3 x 25 A."""
    found = made()
    assert (found.cells_continuous_a, found.cells_burst_a) == (36.0, 75.0)
    for figure in ("20.2 A", "50.0 A", "16.1 A", "40.0 A", "36.0 A", "75.0 A", "25 %"):
        assert figure in found.text


def test_without_a_known_draw_the_cells_count() -> None:
    found = made(highest_a=NAN)
    assert found.burst_a == 75.0
    assert not found.is_known
    assert "gives no currents of its own" in found.text
    nothing = made(steady_a=NAN, mean_a=NAN, highest_a=NAN)
    # the share that the flight allows, 36 A, with the margin: at most the rated 45 A
    assert (nothing.continuous_a, nothing.burst_a) == (45.0, 75.0)
