"""Many discharges to a last depth, expanded about a grid, against each worked out by itself."""

from __future__ import annotations

from dataclasses import fields
from unittest.mock import patch

import numpy as np
import pytest

from workbook.battery.discharge import MANY, constant_power
from workbook.battery.whole_discharges import WholeDischarges
from workbook.files.cell_file import catalogue, find_cell
from workbook.numbers import Number


@pytest.mark.parametrize("landing_v", [3.3, 3.0, 2.5, 1.0])
@pytest.mark.parametrize("last", [1.0, 0.853, 0.004, 0.0])
@pytest.mark.parametrize("name", ["Sandpiper", "Bittern"])
def test_many_are_what_each_is_by_itself(name: str, last: float, landing_v: float) -> None:
    """Random loads, some of none, some unknown, some beyond what the cell can give; rounding leaves 1e-11."""
    same_as_alone(name, last, landing_v)


@pytest.mark.parametrize("landing_v", [3.3, 3.0, 1.0])
@pytest.mark.parametrize("reaches", [(0.75, 0.8), (0.3, 1.0), (0.0, 0.9), (0.99, 0.9999)])
def test_many_that_end_at_depths_of_their_own(
    reaches: tuple[float, float], landing_v: float
) -> None:
    """The same, each with a last depth between two."""
    last = np.random.default_rng(6).uniform(*reaches, MANY)
    same_as_alone("Bittern", last, landing_v)
    last[7] = np.nan
    same_as_alone("Bittern", last, landing_v)


def same_as_alone(name: str, last: Number, landing_v: float) -> None:
    model, rng, many = find_cell(name).model, np.random.default_rng(4), MANY
    power_w = rng.uniform(0.0, 60.0, many)
    power_w[:2] = 0.0, np.nan
    asked = {
        "extra_mohm": rng.uniform(0.0, 14.0, many),
        "resistance_factor": rng.uniform(0.8, 2.0, many),
        "capacity_factor": rng.uniform(0.7, 1.0, many),
    }
    run = constant_power(model, power_w, landing_v, last, **asked)
    with patch("workbook.battery.discharge.MANY", many + 1):
        alone = constant_power(model, power_w, landing_v, last, **asked)
    for field in fields(run):
        here, there = getattr(run, field.name), getattr(alone, field.name)
        np.testing.assert_allclose(here, there, rtol=1e-11, err_msg=field.name)


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_nearly_all_that_reach_their_last_depth_are_expanded(name: str) -> None:
    """Random loads of each cell at a usual landing voltage and reserve."""
    model, rng = find_cell(name).model, np.random.default_rng(5)
    power_w, extra_mohm = rng.uniform(0.1, 40.0, 4096), rng.uniform(0.0, 10.0, 4096)
    run = constant_power(model, power_w, 3.0, 0.85, extra_mohm=extra_mohm)
    whole = WholeDischarges(model, 3.0, 0.85)
    expanded = ~np.isnan(whole.area_v(power_w / 1000.0, power_w * extra_mohm / 1000.0))
    assert not (expanded & run.landed).any()
    assert np.count_nonzero(expanded) > 0.98 * np.count_nonzero(~run.landed)
