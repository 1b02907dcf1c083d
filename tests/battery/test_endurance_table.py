"""The endurance table against the discharge that it stands for."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.discharge import constant_power
from workbook.battery.endurance_table import endurance_table
from workbook.errors import InputError
from workbook.files.cell_file import find_cell


def test_endurance_table_keeps_its_word() -> None:
    bent = find_cell("Sandpiper").model
    table = endurance_table(bent, 3.0, 0.9, lowest_w=3.0, highest_w=40.0)
    rng = np.random.default_rng(2)
    power, extra = rng.uniform(4, 30, 20_000), rng.uniform(0, 7, 20_000)
    r, q = rng.uniform(0.8, 1.3, 20_000), rng.uniform(0.7, 1.0, 20_000)
    exact = constant_power(
        bent, power, 3.0, 0.9, extra_mohm=extra, resistance_factor=r, capacity_factor=q
    )
    read = table.time_s(power, extra_mohm=extra, resistance_factor=r, capacity_factor=q)
    assert np.abs(read / exact.time_s - 1).max() <= 1.05 * table.relative_error
    assert table.relative_error < 1e-3
    assert table.time_s(power[0]).shape == ()
    with pytest.raises(InputError, match="reaches from 3 to 40 W"):
        table.time_s([10.0, 50.0])
    with pytest.raises(InputError, match="must rise"):
        endurance_table(bent, 3.0, highest_w=0.0)


@pytest.mark.parametrize("name", ["Sandpiper", "Bittern"])
def test_the_longest_time_is_never_below_the_exact_one(name: str) -> None:
    """Random loads within and beyond a coarse table, among them such that cannot take off."""
    model, rng, many = find_cell(name).model, np.random.default_rng(4), 20_000
    table = endurance_table(model, 3.1, 0.85, highest_w=90.0, powers=129, extras=17)
    power, extra = rng.uniform(0.5, 110.0, many), rng.uniform(0.0, 14.0, many)
    factors = {
        "resistance_factor": rng.uniform(0.8, 2.0, many),
        "capacity_factor": rng.uniform(0.7, 1.0, many),
    }
    exact = constant_power(model, power, 3.1, 0.85, extra_mohm=extra, **factors).time_s
    longest = table.longest_s(power, extra_mohm=extra, **factors)
    assert (longest >= exact).all()
    assert np.median(longest[exact > 0] / exact[exact > 0]) < 1.1
    assert np.isnan(table.longest_s(np.array([np.nan, 10.0]))).tolist() == [True, False]
