"""Transport: flags, words, refusals."""

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.battery.pack import Pack
from workbook.bench.transport import Transport, passenger_class, transport


def carried(series: int, parallel: int, cell_ah: float) -> Transport:
    """A pack of cells of 3.6 V nominal."""
    cell = replace(straight_cell(), rated_capacity_ah=cell_ah, nominal_v=3.6)
    return transport(Pack(cell, series, parallel))


def test_nominal_voltage_that_flips_the_answer_is_flagged():
    # 4S2P of 3.45 Ah: 99.36 Wh at 3.6 V, 102.12 Wh at 3.7 V
    assert "at 3.7 V 102.1 Wh: the class differs" in carried(4, 2, 3.45).by_size
    assert "the class differs" not in carried(4, 1, 5.0).by_size


def test_untested_pack_is_always_stated():
    for pack in (carried(3, 1, 3.0), carried(6, 2, 4.5)):
        assert "38.3" in pack.untested
        assert "Check the current rules and your operator" in pack.edition


@pytest.mark.parametrize(
    ("series", "parallel", "ah", "energy_wh", "words"),
    # watt-hours by hand: S x P x Ah x 3.6 V
    [
        (4, 1, 5.0, 72.0, "cabin baggage, no approval"),
        (6, 1, 5.0, 108.0, "with the operator's approval"),
        (6, 2, 4.5, 194.4, "not carried in passenger baggage"),
        (4, 2, 3.45, 99.36, "cabin baggage, no approval"),
    ],
)
def test_packs(series, parallel, ah, energy_wh, words):
    got = carried(series, parallel, ah)
    assert got.energy_wh == pytest.approx(energy_wh)
    assert words in got.by_size


def test_cargo_words():
    assert "are within the small" in carried(4, 2, 3.0).by_size  # 10.8 Wh a cell, 86.4 Wh
    assert "are over the small" in carried(6, 1, 5.0).by_size  # 108 Wh


def test_arrays():
    energy = np.linspace(0, 200, 1_000_000).reshape(1000, 1000)
    got = passenger_class(energy)
    assert got.shape == energy.shape
    np.testing.assert_array_equal(got == 2, energy > 160.0)
