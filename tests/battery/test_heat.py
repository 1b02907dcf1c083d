"""How a cell stores heat and sheds it: by hand, by place, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from workbook.battery.heat import HeatPath, heat_path, surface_m2
from workbook.errors import InputError
from workbook.files.cell_file import find_cell


def test_a_path_is_that_of_a_hand_calculation() -> None:
    # 2 + 18 K/W: 0.05 W/K, 65 J/K x 20 K/W
    path = HeatPath(65.0, 2.0, 18.0)
    assert path.loss_w_k == pytest.approx(0.05)
    assert path.time_constant_s == pytest.approx(1300.0)


def test_surface_is_that_of_a_cylinder_with_its_ends() -> None:
    cell = replace(find_cell("Bittern"), diameter_mm=20.0, height_mm=70.0)
    assert surface_m2(cell) == pytest.approx(np.pi * (0.02 * 0.07 + 0.02**2 / 2))


def test_a_stream_cools_best_and_neighbours_worst() -> None:
    losses = [
        heat_path(find_cell("Bittern"), air).loss_w_k for air in ("forced", "still", "wrapped")
    ]
    assert losses == sorted(losses, reverse=True)


def test_heat_needs_a_size() -> None:
    cell = find_cell("Bittern")
    with pytest.raises(InputError, match="no diameter and height"):
        heat_path(replace(cell, diameter_mm=0.0))


@given(st.floats(-6.0, 9.0))
def test_warmth_over_a_parabola_of_heat_for_any_time_constant(decades: float) -> None:
    """Over 10 s 4 + 0.3 t - 0.05 t^2 W; T(10) = T0 e^(-10/tau) + integral of e^(-(10 - t)/tau) heat / C, by quadrature
    in four parts, so that a short time constant is not stepped over."""
    tau = 10.0**decades
    path = HeatPath(65.0, 0.25 * tau / 65.0, 0.75 * tau / 65.0)

    def heat_w(t: float) -> float:
        return 4.0 + 0.3 * t - 0.05 * t**2

    made_j = 40.0 + 0.15 * 100.0 - 0.05 / 3.0 * 1000.0
    found = path.above_air_k(
        np.array([0.0, 10.0]), np.array([heat_w(0.0), heat_w(10.0)]), np.array([made_j]), 7.0
    )
    spans = np.clip([0.0, 10.0 - 30.0 * tau, 10.0 - 5.0 * tau, 10.0 - tau, 10.0], 0.0, 10.0)
    kept = sum(
        quad(lambda t: np.exp((t - 10.0) / tau) * heat_w(t) / 65.0, a, b, epsrel=1e-12)[0]
        for a, b in pairwise(spans)
    )
    assert found[-1] == pytest.approx(7.0 * np.exp(-10.0 / tau) + kept, rel=1e-8)
    halves = path.above_air_k(
        np.array([0.0, 4.0, 4.0, 10.0]),
        np.array([heat_w(0.0), heat_w(4.0), heat_w(4.0), heat_w(10.0)]),
        np.array([16.0 + 0.15 * 16.0 - 0.05 / 3.0 * 64.0, 0.0, made_j - 18.4 + 3.2 / 3.0]),
        7.0,
    )
    assert halves[-1] == pytest.approx(found[-1], rel=1e-9)
