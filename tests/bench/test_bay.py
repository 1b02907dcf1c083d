"""The room for the pack: its sides, and the balance of the craft."""

import numpy as np
import pytest

from workbook.bench.bay import SIDES, Bay, centre_of_gravity_shift_mm


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
