"""Heat transfer against a general library's correlations, and heat against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from tests.reference.simulate import Segment, Until, simulate
from workbook.battery.heat import HeatPath, still_air_w_m2_k, stream_w_m2_k
from workbook.battery.model import CellModel


@pytest.mark.parametrize(
    ("diameter_mm", "film"),
    # `ht` (Nu_cylinder_Churchill_Bernstein), air at 35 C, 2, 5, 10, 15 m/s, printed once
    [(18.3, (35.3, 57.1, 83.4, 104.8)), (21.3, (32.8, 53.3, 78.0, 98.2))],
)
def test_stream(diameter_mm: float, film: tuple[float, ...]) -> None:
    speeds = np.array([2.0, 5.0, 10.0, 15.0])
    assert stream_w_m2_k(diameter_mm, speeds, 35.0) == pytest.approx(film, rel=2e-3)


@pytest.mark.parametrize(
    ("diameter_mm", "film"),
    # `ht` (Nu_horizontal_cylinder_Churchill_Chu), film at 35 C, surface 10, 20, 30 K above the air
    [(18.3, (5.48, 6.45, 7.11)), (21.3, (5.24, 6.18, 6.83))],
)
def test_still_air(diameter_mm: float, film: tuple[float, ...]) -> None:
    above = np.array([10.0, 20.0, 30.0])
    low, high = 308.15 - above / 2, 308.15 + above / 2
    radiation = 0.9 * 5.670374419e-8 * (high**4 - low**4) / (high - low)
    found = still_air_w_m2_k(diameter_mm, above, 35.0 - above / 2) - radiation
    assert found == pytest.approx(film, rel=3e-3)


def steady_cell(current_a: float, path: HeatPath, duration_s: float, air_c: float = 25.0):
    """A cell whose heat is constant: I^2 R at constant current and constant resistance."""
    depth = np.linspace(0.0, 1.0, 201)
    model = CellModel(depth, np.full(201, 3.7), np.full(201, 30.0), 50.0, "curves")
    return simulate(
        model,
        [Segment(duration_s, "current", current_a)],
        Until(),
        heat=path,
        air_c=air_c,
        cold=False,
    )


def test_warming_in_closed_form() -> None:
    """T = T_air + I^2 R / G (1 - exp(-t G / C)): 10 A, 30 mohm = 3 W; G = 1/(2 + 18) W/K; C = 65 J/K."""
    path = HeatPath(65.0, 2.0, 18.0)
    found = steady_cell(10.0, path, 900.0)
    assert found.end_c == pytest.approx(25.0 + 60.0 * (1.0 - np.exp(-900.0 / 1300.0)), abs=1e-4)


def test_too_hot_is_found_inside_the_step() -> None:
    """Nothing shed: 3 W into 65 J/K reaches 25 + 20 K after 20 x 65 / 3 = 433.33 s."""
    depth = np.linspace(0.0, 1.0, 201)
    model = CellModel(depth, np.full(201, 3.7), np.full(201, 30.0), 50.0, "curves")
    found = simulate(
        model,
        [Segment(float("inf"), "current", 10.0)],
        Until(highest_c=45.0),
        heat=HeatPath(65.0, 2.0, np.inf),
        cold=False,
        step_s=50.0,
    )
    assert found.end_text == "too hot"
    assert found.time_s == pytest.approx(1300.0 / 3.0, abs=1e-6)
