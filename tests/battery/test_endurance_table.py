"""The endurance table against the discharge that it stands for."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.discharge import constant_power
from workbook.battery.endurance_table import endurance_table
from workbook.errors import InputError
from workbook.files.cell_file import find_cell


def test_an_empty_table_is_refused() -> None:
    with pytest.raises(InputError, match="A table to 0 W and 10 mΩ is empty"):
        endurance_table(find_cell("Sandpiper").model, 3.0, highest_w=0.0)


def test_at_a_node_the_bound_is_the_exact_time() -> None:
    """But for the rounding that keeps it a bound; a shape of its own for one figure, factors as of a worn cell."""
    bent = find_cell("Sandpiper").model
    table = endurance_table(bent, 3.0, 0.9, highest_w=40.0, powers=41, extras=11)
    worn = {"extra_mohm": 4.4, "resistance_factor": 1.1, "capacity_factor": 0.9}
    exact = constant_power(bent, 20.0 / 1.1, 3.0, 0.9, **worn)
    assert table.longest_s(20.0 / 1.1 * (1 + 1e-9), **worn) == pytest.approx(exact.time_s, rel=3e-6)
    assert table.longest_s(20.0).shape == ()


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
