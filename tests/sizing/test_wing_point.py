"""A fixed wing's operating point: closed forms, by hand, and what must hold for any."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from tests.conftest import DESIGNS, power_law_table
from tests.sizing.wings import POLAR, STATIC, wing
from workbook.craft.craft_types import FixedWing
from workbook.craft.flight_power import WingPower, best_speeds
from workbook.craft.wing import STALL_MARGIN, Polar, level_flight, wing_speeds
from workbook.files.design_file import read_design
from workbook.sizing.design import BEST_ENDURANCE, BEST_RANGE, Allowances
from workbook.sizing.size import size
from workbook.sizing.wing_point import wing_point

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


def test_climb_is_spare_thrust_over_weight() -> None:
    """By insertion: full throttle at the climb speed, thrust less drag over weight, times speed."""
    point = wing_point(wing(table=STATIC))
    state, speed = point.full, float(point.climb_speed_m_s)
    mass_g = float(point.all_up_mass_g)
    drag_n = float(level_flight(POLAR, mass_g, speed).drag_n)
    thrust_n = float(state.in_flight(speed).thrust_gf) * 9.80665 / 1000
    rate = speed * (thrust_n - drag_n) / (mass_g / 1000 * 9.80665)
    assert float(state.full_throttle.climb_m_s) == pytest.approx(rate, rel=1e-9)
    assert speed == pytest.approx(STALL_MARGIN * float(point.speeds.stall_m_s))


def test_climb_is_never_more_than_spare_power_pays_for() -> None:
    """By hand at a poor efficiency: (full power - level flight) x 0.3 x 0.8 / W."""
    design = wing(table=STATIC, propeller_efficiency=0.3)
    point = wing_point(design)
    mass_kg, speed = float(point.all_up_mass_g) / 1000, float(point.climb_speed_m_s)
    level_w = float(WingPower(design.craft).flight_w(mass_kg * 1000, speed))
    full = point.full.full_throttle
    rate = (float(full.power_w) - level_w) * 0.3 * 0.8 / (mass_kg * 9.80665)
    assert float(full.climb_m_s) == pytest.approx(rate, rel=1e-3)


def test_climb_is_not_computed_without_a_table_or_the_propellers_size() -> None:
    for table in (None, power_law_table(voltage_v=14.8, highest_gf=2000.0)):
        point = wing_point(wing(table=table))
        for limited in (point.end.continuous, point.end.burst, point.end.full_throttle):
            assert np.isnan(limited.climb_m_s)
        assert point.endurance_min > 0


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


@given(st.floats(0, 1500), st.floats(1, 800))
def test_a_heavier_wing_never_flies_longer_or_farther_at_its_best_speed(
    payload_g: float, more_g: float
) -> None:
    light = wing_point(wing(payload_g=payload_g, table=STATIC))
    heavy = wing_point(wing(payload_g=payload_g + more_g, table=STATIC))
    assert heavy.longest_min <= light.longest_min
    assert heavy.farthest_km <= light.farthest_km
    climb_m_s = heavy.end.burst.climb_m_s
    assert np.isnan(climb_m_s) or climb_m_s <= light.end.burst.climb_m_s + 1e-9


@given(st.floats(9.0, 22.0))
def test_no_cruise_speed_beats_the_best_speeds(cruise_m_s: float) -> None:
    """Least power lasts longest; least energy for a kilometre is at the best range speed."""
    point = wing_point(wing(cruise_m_s=cruise_m_s))
    best = wing_point(wing(cruise_m_s=float(point.speeds.range_m_s)))
    assert point.endurance_min <= point.longest_min * (1 + 1e-9)
    assert point.energy_wh_km >= best.energy_wh_km * (1 - 1e-9)


@given(st.lists(st.integers(1, 5), min_size=3, max_size=3), st.booleans())
def test_an_array_of_wings_gives_the_answers_one_by_one(parallel: list[int], tabled: bool) -> None:
    table = STATIC if tabled else None
    many = wing(parallel=np.array(parallel), table=table)
    together = wing_point(many)
    for k, p in enumerate(parallel):
        one = wing(parallel=p, table=table)
        alone = wing_point(one)
        for name in ("endurance_min", "range_km", "power_w", "mean_current_a", "farthest_km"):
            assert getattr(together, name)[k] == pytest.approx(float(getattr(alone, name))), name
        for state in ("continuous", "burst", "full_throttle"):
            assert getattr(together.end, state).climb_m_s[k] == pytest.approx(
                float(getattr(alone.end, state).climb_m_s), rel=1e-9, nan_ok=True
            )


def test_allowances_work_in_the_direction_of_their_names() -> None:
    plan = wing_point(wing(table=STATIC))
    for name, factor in (
        ("mass_factor", 1.05), ("power_factor", 1.1), ("avionics_factor", 1.5),
        ("capacity_factor", 0.9), ("resistance_factor", 1.5), ("joint_factor", 3.0),
    ):  # fmt: skip
        worse = wing_point(wing(table=STATIC), Allowances(**{name: factor}))
        assert worse.endurance_min < plan.endurance_min, name
        assert worse.end.burst.climb_m_s <= plan.end.burst.climb_m_s, name
    weak = wing_point(wing(table=STATIC), Allowances(thrust_factor=0.9))
    assert weak.full.full_throttle.climb_m_s < plan.full.full_throttle.climb_m_s


def test_lift_over_drag_never_beats_the_polars_best() -> None:
    point = wing_point(wing(cruise_m_s=np.linspace(9.2, 20.0, 50)))
    assert (point.lift_over_drag <= POLAR.best_glide * (1 + 1e-12)).all()


def test_currents_are_those_of_the_table_and_the_result() -> None:
    design = read_design(DESIGNS / "survey_wing.toml").design
    answer = size(design)
    found = answer.point.currents()
    figures = answer.figures()
    assert found.cruise_a == figures["cruise_current_a"]
    assert found.launch_a == figures["launch_current_a"]
    assert (found.bench_full_a, found.bench_full_v) == (22.5, 14.62)  # last row of the table
    # weight over lift over drag, by hand: 2016.4 g / 10.639
    assert found.cruise_thrust_gf == pytest.approx(2016.4 / 10.639, rel=1e-3)
    # between the rows of 166 gf, 1.0 A and 295 gf, 2.0 A
    share = (found.cruise_thrust_gf - 166) / (295 - 166)
    assert found.bench_at_thrust_a == pytest.approx(1.0 + share * 1.0)
    assert answer.point.over_ground_km(5.0) == pytest.approx(
        figures["endurance_min"] / 60 * (13 - 5) * 3.6
    )
    assert answer.point.over_ground_km(15.0) == 0.0
