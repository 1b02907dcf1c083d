"""A fixed wing through the main chain: closed forms, what must hold for any, and each limit broken."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from tests.conftest import power_law_table
from tests.sizing.same_limits import assert_same_limits
from tests.sizing.wings import POLAR, wing
from workbook.craft.craft_types import FixedWing
from workbook.craft.flight_power import WingPower, best_speeds
from workbook.craft.wing import Polar, wing_speeds
from workbook.sizing.design import BEST_ENDURANCE, BEST_RANGE, Allowances
from workbook.sizing.limits import limits
from workbook.sizing.size import size
from workbook.sizing.wing_point import STALL_MARGIN, wing_point

FEW = settings(max_examples=30, deadline=None)
SLICK = Polar(0.4, 2.0, 0.03, 0.8, 9.0)
"""A polar whose stall is out of the way, so that the closed forms are met as they stand."""


def test_range_speed_is_1_316_of_endurance_speed_without_electronics() -> None:
    """Closed form for a simple polar: 3^(1/4); Anderson, chapter 6 (from memory)."""
    craft = FixedWing(
        name="slick",
        motors=1,
        mass_without_pack_g=1400.0,
        payload_g=0.0,
        avionics_w=0.0,
        polar=SLICK,
    )
    speeds = wing_speeds(craft.polar, 2000.0, 1.225)
    assert speeds.range_m_s / speeds.endurance_m_s == pytest.approx(3**0.25, rel=1e-12)


def test_speed_goes_as_root_of_mass_and_power_as_mass_to_the_three_halves() -> None:
    """Same lift coefficient, so the same L/D; closed form."""
    for asked in (BEST_RANGE, BEST_ENDURANCE):
        light, heavy = (
            wing_point(wing(polar=SLICK, avionics_w=0.0, payload_g=g, cruise_m_s=asked))
            for g in (0.0, 900.0)
        )
        mass = float(heavy.all_up_mass_g / light.all_up_mass_g)
        assert heavy.cruise_m_s / light.cruise_m_s == pytest.approx(mass**0.5, rel=1e-9)
        assert heavy.speeds.stall_m_s / light.speeds.stall_m_s == pytest.approx(mass**0.5, rel=1e-9)
        assert heavy.power_w / light.power_w == pytest.approx(mass**1.5, rel=1e-9)


def test_best_range_speed_with_electronics_is_where_a_minimiser_finds_it() -> None:
    """scipy.optimize.minimize_scalar on watts per metre, and the grid search of missions."""
    craft = wing().craft
    power = WingPower(craft)
    found = minimize_scalar(
        lambda v: float(power.flight_w(2500.0, v)) / v, bounds=(9.2, 25.0), method="bounded",
        options={"xatol": 1e-9},
    )  # fmt: skip
    speeds = wing_speeds(craft.polar, 2500.0, 1.225, craft.avionics_w * craft.drive_efficiency)
    assert float(speeds.range_m_s) == pytest.approx(found.x, abs=1e-4)
    assert float(speeds.range_m_s) == pytest.approx(best_speeds(power, 2500.0).range_m_s, abs=0.006)


def test_endurance_and_range_by_hand() -> None:
    """Drag by the polar's formula, energy by scipy.integrate.quad over the straight cell."""
    design = wing(joint_mohm=0.0)
    point = wing_point(design)
    mass_kg = (1400 + 250 + 8 * 70 * 1.1 + 60) / 1000
    weight, rho, v = mass_kg * 9.80665, 1.225, 12.0
    c_l = 2 * weight / (rho * v**2 * 0.4)
    c_d = 0.03 + c_l**2 / (np.pi * 0.8 * 10)
    power = 0.5 * rho * v**2 * 0.4 * c_d * v / (0.6 * 0.8) + 8.0
    assert float(point.power_w) == pytest.approx(power, rel=1e-4)
    cell_w = power / 8

    def volts(depth: float) -> float:
        u = 3.0 + 1.2 * (1 - depth)
        return (u + (u**2 - 4 * cell_w * 0.030) ** 0.5) / 2

    # constant power down to the reserve of 10 %: t = Q int V dz / p
    energy_wh, _ = quad(volts, 0.0, 0.9)
    minutes = 60 * 5.0 * energy_wh / cell_w
    assert float(point.endurance_min) == pytest.approx(minutes, rel=1e-3)
    assert float(point.range_km) == pytest.approx(minutes * 60 * 12.0 / 1000, rel=1e-3)
    assert float(point.energy_wh_km) == pytest.approx(power / (3.6 * 12.0), rel=1e-4)


def test_climb_is_spare_power_over_weight() -> None:
    """By hand at launch power: (180 W/kg x m - level flight) x 0.48 / W."""
    point = wing_point(wing())
    mass_kg = float(point.all_up_mass_g) / 1000
    level = float(WingPower(wing().craft).flight_w(mass_kg * 1000, float(point.climb_speed_m_s)))
    spare = 180 * mass_kg + 8.0 - level
    assert float(point.full.full_throttle.climb_m_s) == pytest.approx(
        spare * 0.48 / (mass_kg * 9.80665), rel=1e-3
    )
    assert float(point.climb_speed_m_s) == pytest.approx(
        STALL_MARGIN * float(point.speeds.stall_m_s)
    )


def test_launch_from_a_static_table_settles_where_pack_and_motor_agree() -> None:
    """V = U - I R with the table's watts carried as voltage^2.7 (1.8 x 1.5): checked by insertion."""
    table = power_law_table(watts_at_1000_gf=110.0, voltage_v=14.8, highest_gf=2000.0)
    point = wing_point(wing(table=table))
    full = point.full.full_throttle
    pack_v = float(full.cell_v) * 4
    motor = table.power_w[-1] * (pack_v / 14.8) ** 2.7
    assert float(full.power_w) == pytest.approx(motor + 8.0, rel=2e-3)
    u, r = float(point.full.open_circuit_v), float(point.full.resistance_mohm) / 1000
    assert float(full.cell_v) == pytest.approx(u - float(full.cell_a) * r, rel=1e-9)
    assert float(full.cell_a) == pytest.approx(
        float(full.power_w) / 8 / float(full.cell_v), rel=1e-9
    )


@FEW
@given(st.floats(0, 1500), st.floats(1, 800))
def test_a_heavier_wing_never_flies_longer_or_farther_at_its_best_speed(
    payload_g: float, more_g: float
) -> None:
    light = wing_point(wing(payload_g=payload_g))
    heavy = wing_point(wing(payload_g=payload_g + more_g))
    assert heavy.longest_min <= light.longest_min
    assert heavy.farthest_km <= light.farthest_km
    assert heavy.end.burst.climb_m_s <= light.end.burst.climb_m_s + 1e-9


@FEW
@given(st.floats(9.0, 22.0))
def test_no_cruise_speed_beats_the_best_speeds(cruise_m_s: float) -> None:
    point = wing_point(wing(cruise_m_s=cruise_m_s))
    if np.isfinite(point.power_w):
        assert point.endurance_min <= point.longest_min * (1 + 1e-9)
        assert point.range_km <= point.farthest_km * (1 + 1e-9)


@FEW
@given(st.lists(st.integers(1, 5), min_size=3, max_size=3), st.booleans())
def test_an_array_of_wings_gives_the_answers_one_by_one(parallel: list[int], tabled: bool) -> None:
    table = power_law_table(voltage_v=14.8, highest_gf=2000.0) if tabled else None
    many = wing(parallel=np.array(parallel), table=table, wanted_km=40.0, climb_m_s=2.0)
    together = wing_point(many)
    every = limits(many, together)
    for k, p in enumerate(parallel):
        one = wing(parallel=p, table=table, wanted_km=40.0, climb_m_s=2.0)
        alone = wing_point(one)
        for name in ("endurance_min", "range_km", "power_w", "mean_current_a", "farthest_km"):
            assert getattr(together, name)[k] == pytest.approx(float(getattr(alone, name))), name
        for state in ("continuous", "burst", "full_throttle"):
            assert getattr(together.end, state).climb_m_s[k] == pytest.approx(
                float(getattr(alone.end, state).climb_m_s), rel=1e-9, nan_ok=True
            )
        assert_same_limits(limits(one, alone), every, k)


def test_allowances_work_in_the_direction_of_their_names() -> None:
    plan = wing_point(wing())
    for name, factor in (
        ("mass_factor", 1.05), ("power_factor", 1.1), ("avionics_factor", 1.5),
        ("capacity_factor", 0.9), ("resistance_factor", 1.5), ("joint_factor", 3.0),
    ):  # fmt: skip
        worse = wing_point(wing(), Allowances(**{name: factor}))
        assert worse.endurance_min < plan.endurance_min, name
        assert worse.end.burst.climb_m_s <= plan.end.burst.climb_m_s, name
    weak = wing_point(wing(), Allowances(thrust_factor=0.9))
    assert weak.full.full_throttle.climb_m_s < plan.full.full_throttle.climb_m_s


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"cruise_m_s": 9.0}, "stall_margin"),
        ({"parallel": 1, "cruise_m_s": 26.0}, "continuous_cell_current"),
        ({"parallel": 1, "launch_w_per_kg": 260.0}, "burst_cell_current"),
        ({"landing_v": 2.6, "reserve_pct": 0.0, "cruise_m_s": 20.0}, "landing_voltage"),
        ({"climb_m_s": 30.0}, "climb"),
        ({"wanted_km": 500.0}, "range"),
        ({"wanted_min": 900.0}, "endurance"),
        ({"max_all_up_mass_g": 2000.0}, "all_up_mass"),
        ({"controller_max_v": 16.0}, "controller_voltage"),
        ({"controller_max_a": 10.0}, "controller_current"),
    ],
)  # fmt: skip
def test_each_limit_breaks_when_it_should(change: dict[str, float], key: str) -> None:
    answer = size(wing(**change))
    assert key in {limit.key for limit in answer.broken}
    assert not answer.holds


def test_a_sound_wing_holds_every_limit() -> None:
    answer = size(wing(wanted_km=50.0, climb_m_s=3.0, parallel=3))
    assert answer.holds, [limit.name for limit in answer.broken] + list(answer.stops)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"cruise_m_s": 5.0}, "below the stall speed"),
        ({"launch_w_per_kg": 28.0}, "may not clear obstacles"),
        ({"parallel": 1, "cruise_m_s": 30.0}, "overheat, vent and burn"),
        ({"controller_max_v": 16.0}, "speed controllers allow"),
        ({"landing_v": 2.0}, "below 2.8 V"),
    ],
)  # fmt: skip
def test_an_unsafe_wing_is_stopped_in_words(change: dict[str, float], said: str) -> None:
    assert any(said in stop for stop in size(wing(**change)).stops)


def test_json_has_the_common_keys_and_cruise_in_place_of_hover() -> None:
    told = size(wing()).as_dict()
    assert told["craft"] == "fixed wing"
    for key in (
        "all_up_mass_g", "endurance_min", "range_km", "pack_mass_g", "pack_energy_wh",
        "pack_continuous_a", "cruise_power_w", "cruise_current_a", "cruise_c_rate", "stall_m_s",
        "best_endurance_m_s", "best_range_m_s", "launch_cell_current_a", "landing_cell_v",
    ):  # fmt: skip
        assert isinstance(told[key], float), key
    assert not any(key.startswith("hover_") for key in told)
    assert told["range_km"] == pytest.approx(told["cruise_m_s"] * told["endurance_min"] * 0.06)


def test_every_step_of_the_working_gives_the_figure_it_names() -> None:
    answer = size(wing())
    figures = answer.figures()
    for step in answer.working:
        assert step.result == pytest.approx(figures[step.key], rel=1e-9), step.key


def test_lift_over_drag_never_beats_the_polars_best() -> None:
    point = wing_point(wing(cruise_m_s=np.linspace(9.2, 20.0, 50)))
    assert (point.lift_over_drag <= POLAR.best_glide * (1 + 1e-12)).all()
