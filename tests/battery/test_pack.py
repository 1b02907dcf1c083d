"""What a pack carries: its currents and voltages by hand, and C-rates against the cell's limits."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.battery.pack import Pack


def test_wiring_is_that_of_a_hand_calculation():
    # 4S2P, 20 A: 10 A per cell of 5 Ah is 2 1/h; joints at 0, 3.6 ... 14.4 V
    pack = Pack(straight_cell(), 4, 2)
    found = pack.wiring(20.0)
    assert found.joint_v == pytest.approx([0.0, 3.6, 7.2, 10.8, 14.4])
    assert (found.cell_a, found.cell_c_rate) == (10.0, 2.0)
    assert [s.result for s in found.steps()] == [10.0, 2.0]


def test_a_pack_is_its_cells_times_s_and_p():
    # 12 cells of 70 g with 10 % overhead and 75 g of leads; joints of 8 mohm are 8 x 3 / 4 for one cell
    pack = Pack(straight_cell(), 4, np.array([2, 3]), 10.0, 75.0, 8.0)
    assert pack.mass_g == pytest.approx([8 * 77.0 + 75.0, 12 * 77.0 + 75.0])
    assert pack.energy_wh == pytest.approx([144.0, 216.0])
    assert pack.joint_mohm_per_cell == pytest.approx([4.0, 6.0])
    assert pack.burst_a == pytest.approx([50.0, 75.0])


def test_rates_broadcast_and_are_those_of_a_hand_calculation():
    # 3P of 5 Ah: 2 C is 10 A per cell and 30 A of the pack, empty in 30 min; 15 A continuous is 3 C.
    ask = Pack(straight_cell(), 4, np.array([1, 3])).rate(2.0, 80.0)
    assert ask.pack_a.tolist() == [10.0, 30.0]
    assert ask.cell_a == 10.0
    assert ask.minutes == 30.0
    assert (ask.continuous_c, ask.allowed_a, ask.allowed_c) == pytest.approx((3.0, 12.0, 2.4))


@pytest.mark.parametrize(
    ("c_rate", "words"),
    [
        (2.0, "within the allowed"),
        (2.7, "above the share"),
        (4.0, "seconds of a burst"),
        (6.0, "unsafe"),
    ],
)
def test_what_a_discharge_means_is_shown_in_words(c_rate, words):
    # 5 Ah, 15 A continuous (3 C), 25 A burst (5 C), 80 % allowed (2.4 C)
    assert words in Pack(straight_cell(), 4, 2).rate(c_rate, 80.0).meaning
