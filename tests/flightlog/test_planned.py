"""The plan of a flight as long as the flight was."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.discharge import constant_power
from workbook.flightlog.planned import as_flown, planned_flight
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design


def test_the_plan_is_the_operating_point_flown_for_the_minutes(census_six: Design) -> None:
    """Against `constant_power`, which finds the end in closed form: depth, voltage and charge after 20 minutes."""
    found, point = planned_flight(census_six, 20.0), operate(census_six)
    power = float(point.power_w)
    assert found.plan("steady_power_w") == pytest.approx(power)
    assert found.plan("energy_wh") == pytest.approx(power * 20.0 / 60.0)
    assert found.plan("reserve_min") == pytest.approx(float(point.endurance_min))
    pack = census_six.pack
    run = constant_power(
        pack.cell.model,
        power / pack.cells,
        2.5,
        found.plan("charge_ah") / 3.0 / pack.cell.model.capacity_ah,
        extra_mohm=pack.joint_mohm_per_cell,
    )
    assert float(run.time_s) / 60.0 == pytest.approx(20.0, rel=1e-3)
    assert found.plan("landing_cell_v") == pytest.approx(float(run.end_v), abs=0.002)


def test_the_budget_leaves_room_beside_the_plan(census_six: Design) -> None:
    found = planned_flight(census_six, 15.0)
    low, high = found.ends("steady_power_w")
    assert found.plan("steady_power_w") < low < high  # wind, climb and scale all take
    assert found.ends("reserve_min")[1] < found.plan("reserve_min")


def test_a_pack_that_was_not_full_ends_lower(census_six: Design) -> None:
    full, used = (planned_flight(census_six, 10.0, start) for start in (0.0, 0.3))
    assert used.plan("landing_cell_v") < full.plan("landing_cell_v") - 0.1


def test_beyond_the_packs_end_nothing_is_planned(census_six: Design) -> None:
    found = planned_flight(census_six, 90.0)
    assert np.isnan(found.plan("landing_cell_v"))
    assert np.isnan(found.band.low_v[-1])


def test_mass_and_temperature_of_the_flight(census_six: Design) -> None:
    flown = as_flown(census_six, mass_g=4000.0, pack_temperature_c=5.0, air_temperature_c=2.0)
    assert flown.craft.all_up_mass_g(flown.pack.mass_g) == pytest.approx(4000.0)
    assert (flown.flight.pack_temperature_c, flown.flight.air_temperature_c) == (5.0, 2.0)
    assert flown.today is None
