"""What is at the bench where nothing is said: the usual, which bounds nothing."""

from math import inf

import numpy as np
import pytest

from workbook.bench.bench_settings import (
    SIDES,
    STRIPS,
    Bay,
    BenchSettings,
    centre_of_gravity_shift_mm,
)


def test_what_is_left_out_bounds_nothing():
    settings = BenchSettings()
    assert settings.bay is None
    assert settings.strip is None
    assert settings.charge_c_rate == inf
    assert settings.packs == 1


def test_strips_are_tried_from_the_one_easiest_to_weld():
    areas = [strip.width_mm * strip.thickness_mm for strip in STRIPS]
    for material in ("nickel 200", "copper"):
        of_it = [a for a, s in zip(areas, STRIPS, strict=True) if s.material == material]
        assert of_it == sorted(of_it)
    assert [s.material for s in STRIPS] == sorted((s.material for s in STRIPS), reverse=True)


def test_the_room_is_given_along_across_and_up():
    bay = Bay(190.0, 85.0, 80.0)
    assert dict(zip(SIDES, bay.room_mm, strict=True)) == {
        "length": 190.0,
        "width": 85.0,
        "height": 80.0,
    }
    assert bay.cell_axes == SIDES


def test_balance_of_the_craft():
    # moments by hand: 1800 g at 10 mm behind, 600 g put 30 mm ahead of the wanted point
    moved = np.array([-20.0, 0.0, 20.0])
    shift = centre_of_gravity_shift_mm(600.0, 2400.0, moved)
    place = 30.0 + moved
    assert shift == pytest.approx((1800.0 * -10.0 + 600.0 * place) / 2400.0)
