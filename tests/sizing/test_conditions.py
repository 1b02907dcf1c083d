"""Cold, age and warmth in the main chain."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from workbook.battery.heat import Air, heat_path
from workbook.battery.model import DischargeCurve
from workbook.files.cell_file import find_cell
from workbook.sizing.conditions import derate
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Allowances, Design, MissionPhase
from workbook.sizing.size import size


def test_a_cold_pack_is_the_same_as_its_factors_put_in_by_hand(six_rotor: Design) -> None:
    """Factors at 0 C as battery.temperature states them: 2.09 on resistance, 0.896 on charge."""
    cold = operate(six_rotor.changed(pack_temperature_c=0.0))
    factor = np.exp(20_000 / 8.314462618 * (1 / 273.15 - 1 / 298.15))
    by_hand = operate(six_rotor, Allowances(capacity_factor=0.896, resistance_factor=factor))
    assert float(cold.endurance_min) == pytest.approx(float(by_hand.endurance_min), rel=1e-9)
    assert cold.end.thrust_to_weight < operate(six_rotor).end.thrust_to_weight


def test_an_old_pack_flies_shorter_and_sags_more(six_rotor: Design) -> None:
    """100 cycles and one year: 0.92 of the charge, 1.17 of the resistance, the stated allowance."""
    old = operate(six_rotor.changed(pack_cycles=100.0, pack_years=1.0))
    by_hand = operate(six_rotor, Allowances(capacity_factor=0.92, resistance_factor=1.17))
    assert float(old.endurance_min) == pytest.approx(float(by_hand.endurance_min), rel=1e-9)


def test_cold_and_age_broadcast_and_multiply_allowances(six_rotor: Design) -> None:
    many = operate(
        six_rotor.changed(pack_temperature_c=np.array([25.0, 10.0, 0.0])),
        Allowances(resistance_factor=1.2),
    )
    assert (np.diff(many.endurance_min) < 0).all()
    one = operate(six_rotor.changed(pack_temperature_c=10.0), Allowances(resistance_factor=1.2))
    assert many.endurance_min[1] == pytest.approx(float(one.endurance_min), rel=1e-12)


def test_the_caution_about_cold_stands_beside_a_cold_plan(six_rotor: Design) -> None:
    assert any(n.topic == "cold" for n in size(six_rotor.changed(pack_temperature_c=5.0)).notes)
    assert not any(n.topic == "cold" for n in size(six_rotor).notes)


def test_the_hottest_cell_is_checked_and_moving_air_cools_it(six_rotor: Design) -> None:
    hot = six_rotor.changed(air_temperature_c=35.0, pack_temperature_c=35.0, payload_g=2500.0)
    answer = size(hot)
    limit = next(limit for limit in answer.limits if limit.key == "cell_temperature")
    assert float(limit.demand) == pytest.approx(float(answer.point.end_cell_c))
    assert limit.limit == 60.0
    windy = operate(hot.changed(pack_airflow="forced"))
    assert 35.0 < float(windy.end_cell_c) < float(answer.point.end_cell_c)


def test_thresholds_follow_the_cold_and_end_where_the_flight_does(six_rotor: Design) -> None:
    for design in (six_rotor, six_rotor.changed(pack_temperature_c=0.0)):
        answer = size(design)
        found = answer.thresholds()
        assert found is not None
        assert float(found.land.loaded_v) == pytest.approx(float(answer.point.run.end_v), abs=0.02)
        levels = answer.as_dict()["thresholds"]
        assert [at["name"] for at in levels] == ["alarm", "return", "land", "cut"]
        loaded = [at["loaded_cell_v"] for at in levels]
        assert loaded == sorted(loaded, reverse=True)


def integrated_c(design: Design[Any], air: Air) -> np.ndarray:
    """Temperature inside a cell through steady flight, by scipy's integrator on charge and heat."""
    point, pack, flight = operate(design), design.pack, design.flight
    model, path = pack.cell.model, heat_path(pack.cell, air)
    taken = derate(flight, Allowances(), model)
    watts, joints = float(point.cell_power_w), pack.joint_mohm * pack.parallel / pack.series / 1e3
    charge_as = 3600.0 * model.capacity_ah * float(taken.capacity_factor)

    def rate(_: float, y: np.ndarray) -> list[float]:
        rest_v = float(np.interp(y[0], model.depth_of_discharge, model.open_circuit_v))
        own = np.interp(y[0], model.depth_of_discharge, model.resistance_mohm) / 1e3
        own = float(own * taken.resistance_factor)
        volts = 0.5 * (rest_v + (rest_v**2 - 4.0 * watts * (own + joints)) ** 0.5)
        amps = watts / volts
        shed_w = float(path.loss_w_k) * (y[1] - flight.air_temperature_c)
        return [amps / charge_as, (amps**2 * own - shed_w) / float(path.stored_j_k)]

    whole = (0.0, float(point.run.time_s))
    start = [0.0, float(flight.pack_temperature_c)]
    return solve_ivp(rate, whole, start, rtol=1e-8, atol=1e-8, max_step=20.0).y[1]


WARM_FLIGHTS: tuple[dict[str, Any], ...] = (
    {},
    {"joint_mohm": 20.0},
    {"joint_mohm": 60.0, "payload_g": 2500.0},
    {"payload_g": 2500.0, "air_temperature_c": 35.0, "pack_temperature_c": 35.0},
    {"payload_g": 1500.0, "air_temperature_c": -10.0, "pack_temperature_c": 20.0},
    {"air_temperature_c": 0.0, "pack_temperature_c": 0.0, "joint_mohm": 20.0},
    {"payload_g": 2500.0, "pack_airflow": "forced", "air_temperature_c": 30.0},
    {"pack_airflow": "still", "pack_temperature_c": 45.0, "air_temperature_c": 5.0},
)


@pytest.mark.parametrize("changes", WARM_FLIGHTS)
@pytest.mark.parametrize("cell", ["Straight", "Bittern", "Lapwing"])
def test_warmth_agrees_with_an_independent_integration(
    six_rotor: Design, changes: dict[str, Any], cell: str
) -> None:
    """Within 0.2 K, in steady flight and in the mission of the same flight, and never low by more than 0.05."""
    design = six_rotor.changed(**changes)
    if cell != "Straight":
        design = replace(design, pack=replace(design.pack, cell=find_cell(cell)))
    point = operate(design)
    expected = integrated_c(design, design.flight.pack_airflow)
    assert -0.05 < float(point.end_cell_c) - expected[-1] < 0.2
    assert -0.05 < float(point.hottest_cell_c) - expected.max() < 0.2
    outer: Air = "forced" if design.flight.pack_airflow == "forced" else "still"
    assert float(point.coldest_cell_c) == pytest.approx(integrated_c(design, outer).min(), abs=0.2)
    same = MissionPhase("hover", duration_s=float(point.run.time_s) - 0.01)
    mission = size(replace(design, mission=(same,))).mission
    assert mission is not None
    assert -0.05 < mission.hottest_cell_c - expected.max() < 0.2
    assert mission.coldest_cell_c == pytest.approx(float(point.coldest_cell_c), abs=0.2)
    assert mission.phases[0].joint_heat_w == pytest.approx(float(point.joint_heat_w), rel=1e-3)


def test_heat_of_joints_is_not_made_inside_the_cells(six_rotor: Design) -> None:
    """20 mohm of joints: what their sag costs in current, 2 %, warms the cells by less than 1 K.

    Their own 8.5 W, 0.47 W per cell that sheds 0.017 W/K and stores 67 J/K, would be 10 K within 1,764 s.
    """
    both = (six_rotor.changed(joint_mohm=r, reserve_pct=40.0) for r in (0.0, 20.0))
    plain, joined = map(operate, both)
    assert 0.0 < float(joined.end_cell_c - plain.end_cell_c) < 1.0
    # I^2 R: the pack's current at the end squared, times 20 mohm
    assert float(joined.joint_heat_w) == pytest.approx(float(joined.end.steady_a * 3) ** 2 * 0.020)


def test_a_cell_without_a_size_has_no_temperature(six_rotor: Design) -> None:
    cell = replace(six_rotor.pack.cell, diameter_mm=0.0, height_mm=0.0, cell_format="pouch")
    design = replace(six_rotor, pack=replace(six_rotor.pack, cell=cell))
    point = operate(design)
    assert np.isnan([point.end_cell_c, point.hottest_cell_c, point.coldest_cell_c]).all()
    mission = size(replace(design, mission=(MissionPhase("hover", duration_s=60.0),))).mission
    assert mission is not None
    assert np.isnan([mission.hottest_cell_c, mission.coldest_cell_c]).all()
    assert mission.phases[0].joint_heat_w > 0


def in_the_cold(design: Design, *curves: DischargeCurve) -> Design:
    cell = replace(design.pack.cell, curves=(*design.pack.cell.curves, *curves))
    pack = replace(design.pack, cell=cell)
    return replace(design, pack=pack).changed(pack_temperature_c=0.0)


def at_0_c(of_charge: float, amps: float = 5.0) -> DischargeCurve:
    """The straight cell behind 1.5 times its 30 mohm, with so much of its charge."""
    z = np.linspace(0.0, 1.0, 21)
    volts = 4.2 - 1.2 * z - amps * 0.045
    return DischargeCurve(amps, tuple(5.0 * of_charge * z), tuple(volts), 0.0)


def test_curves_in_the_cold_take_the_place_of_the_usual_law_and_of_the_caution(
    six_rotor: Design,
) -> None:
    cold = in_the_cold(six_rotor, at_0_c(0.96, 1.0), at_0_c(0.96, 8.0))
    by_hand = operate(six_rotor, Allowances(capacity_factor=0.96, resistance_factor=1.5))
    assert float(operate(cold).endurance_min) == pytest.approx(
        float(by_hand.endurance_min), rel=5e-3
    )
    assert not any("cold" in str(note) for note in size(cold).notes)
    far = size(in_the_cold(six_rotor, at_0_c(0.96, 1.0)))
    assert any("at 0 °C end at 1 A" in str(note) for note in far.notes)


def test_a_cell_that_runs_short_in_the_cold_does_so_at_the_flights_own_current(
    six_rotor: Design,
) -> None:
    """0.95 of the charge at 1 A and 0.55 at 10 A: between the two at what the flight carries near its end."""
    short = in_the_cold(six_rotor, at_0_c(0.95, 1.0), at_0_c(0.55, 10.0))
    point = operate(short)
    late_a = float(point.cell_power_w) / 3.1
    share = 0.95 - 0.40 * (late_a - 1.0) / 9.0
    assert float(point.run.charge_ah) < 5.0 * share
    assert float(point.run.charge_ah / point.run.end_depth_of_discharge) == pytest.approx(
        5.0 * share, rel=0.01
    )
    found = size(short).thresholds()
    assert found is not None
    assert float(found.land.loaded_v) == pytest.approx(float(point.run.end_v), abs=0.02)


def test_the_budget_leaves_less_open_where_curves_tell_the_cold(six_rotor: Design) -> None:
    """Cold bears twice as hard: the whole of it without curves, 15 % of it with them; at 25 C nothing."""
    harder = Allowances(cold_factor=2.0)
    warm = operate(six_rotor, harder).endurance_min
    assert float(warm) == float(operate(six_rotor).endurance_min)
    unknown = six_rotor.changed(pack_temperature_c=0.0)
    known = in_the_cold(six_rotor, at_0_c(0.96, 1.0), at_0_c(0.96, 8.0))
    lost = [
        1.0 - float(operate(d, harder).endurance_min / operate(d).endurance_min)
        for d in (unknown, known)
    ]
    assert lost[0] > 0.1
    assert 0.0 < lost[1] < 0.03
