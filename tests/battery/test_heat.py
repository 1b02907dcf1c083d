"""How a cell stores heat and sheds it: by hand, by place, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from workbook.battery.heat import HeatPath, heat_path, stream_w_m2_k, surface_m2
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


def test_heat_needs_a_place_and_a_size() -> None:
    cell = find_cell("Bittern")
    with pytest.raises(InputError, match="'breezy'; 'still', 'forced' or 'wrapped'"):
        heat_path(cell, "breezy")
    with pytest.raises(InputError, match="no diameter and height"):
        heat_path(replace(cell, diameter_mm=0.0))
    with pytest.raises(InputError, match="air_speed_m_s is -1"):
        stream_w_m2_k(21.0, -1.0, 25.0)
