"""A pack at constant power against hand sums; a trace against the operating point it belongs to."""

from __future__ import annotations

import pytest

from tests.conftest import straight_cell
from tests.sizing.wings import wing
from workbook.battery.discharge import naive_minutes
from workbook.battery.pack import Pack
from workbook.errors import InputError
from workbook.sizing.constant_power_flight import constant_power_flight, flight_trace
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.sizing.wing_point import wing_point


def test_trace_starts_and_ends_with_the_run(six_rotor: Design) -> None:
    point = operate(six_rotor)
    trace = flight_trace(six_rotor, point)
    assert trace.cell_v[0] == pytest.approx(float(point.run.start_v))
    assert trace.cell_v[-1] == pytest.approx(float(point.run.end_v))
    assert trace.time_min[-1] == pytest.approx(float(point.endurance_min), rel=1e-4)


def test_a_wing_has_a_trace_too() -> None:
    design = wing()
    point = wing_point(design)
    trace = flight_trace(design, point)
    assert trace.time_min[-1] == pytest.approx(float(point.endurance_min), rel=1e-4)


def test_trace_of_a_cold_pack_ends_with_its_run(six_rotor: Design) -> None:
    cold = six_rotor.changed(pack_temperature_c=0.0, pack_cycles=150.0)
    point = operate(cold)
    trace = flight_trace(cold, point)
    assert trace.cell_v[0] == pytest.approx(float(point.run.start_v))
    assert trace.time_min[-1] == pytest.approx(float(point.endurance_min), rel=1e-4)


def test_ah_over_amperes_is_too_long_at_constant_power() -> None:
    pack = Pack(straight_cell(), 4, 2)
    flight = constant_power_flight(pack, 250.0, 3.0, 15.0)
    # by hand: 60 x 10 Ah x 0.85 over the take-off current
    assert flight.naive_min == pytest.approx(60 * 10 * 0.85 / flight.start_a)
    assert float(naive_minutes(10.0, 20.0)) == 30.0
    assert flight.flight_min < flight.naive_min
    assert flight.end_a > flight.start_a


def test_energy_over_power_and_steps_agree() -> None:
    flight = constant_power_flight(
        Pack(straight_cell(), 6, 3, joint_mohm=8.0), 430.0, 3.1, 20.0, 1.5
    )
    steps = {s.key: s.result for s in flight.working()}
    assert steps["flight_min"] == pytest.approx(
        60 * float(flight.run.energy_wh) * 18 / 430.0, rel=1e-9
    )
    # by hand: R = 1.5 x 30 mohm + 8 mohm x 3 / 6 = 49 mohm
    assert flight.end_mohm == pytest.approx(49.0, rel=1e-3)
    v, a = steps["end_v"], steps["end_a"]
    assert v == pytest.approx(float(flight.run.end_open_circuit_v) - a * 0.049, rel=1e-3)
    assert v * a == pytest.approx(430 / 18)


def test_which_end_comes_first() -> None:
    pack = Pack(straight_cell(), 4, 2)
    assert constant_power_flight(pack, 100.0, 2.6, 30.0).ends_by == "reserve"
    cold = constant_power_flight(pack, 250.0, 3.1, 10.0, 3.0)
    assert cold.ends_by == "landing voltage"
    assert "landing voltage came first" in cold.text()
    never = constant_power_flight(pack, 1500.0, 3.1, 10.0, 3.0)
    assert never.ends_by == "no take-off"
    assert "no take-off" in never.text()
    assert [s.key for s in never.working()] == ["cell_power_w", "most_w"]
    assert any("must not fly" in c for c in never.cautions())


def test_too_much_current_is_stated() -> None:
    # by hand: 4 x 1 cells at 60 W each near 3.4 V carry about 18 A; the cell's limit is 15 A
    text = constant_power_flight(Pack(straight_cell(), 4, 1), 240.0, 2.6, 50.0).cautions()
    assert any("15 A continuous" in c and "vent" in c for c in text)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="landing_v"):
        constant_power_flight(Pack(straight_cell(), 4, 2), 250.0, 2.2, 15.0)
