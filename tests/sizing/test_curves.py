"""Curves agree with the operating point they belong to."""

from __future__ import annotations

import pytest

from tests.sizing.wings import wing
from workbook.sizing.curves import flight_trace, spiral
from workbook.sizing.design import Design
from workbook.sizing.operating_point import operate
from workbook.sizing.wing_point import operate_wing


def test_trace_starts_and_ends_with_the_run(six_rotor: Design) -> None:
    point = operate(six_rotor)
    trace = flight_trace(six_rotor, point)
    assert trace.cell_v[0] == pytest.approx(float(point.run.start_v))
    assert trace.cell_v[-1] == pytest.approx(float(point.run.end_v))
    assert trace.time_min[-1] == pytest.approx(float(point.endurance_min), rel=1e-4)


def test_spiral_holds_the_single_answers(six_rotor: Design) -> None:
    curve = spiral(six_rotor, 6)
    assert curve.endurance_min[2] == pytest.approx(float(operate(six_rotor).endurance_min))
    assert (curve.all_up_mass_g[1:] > curve.all_up_mass_g[:-1]).all()
    assert curve.best_parallel == 6.0


def test_a_wing_has_the_same_curves() -> None:
    design = wing()
    point = operate_wing(design)
    trace = flight_trace(design, point)
    assert trace.time_min[-1] == pytest.approx(float(point.endurance_min), rel=1e-4)
    curve = spiral(design, 6)
    assert curve.endurance_min[1] == pytest.approx(float(point.endurance_min), rel=1e-9)


def test_trace_of_a_cold_pack_ends_with_its_run(six_rotor: Design) -> None:
    cold = six_rotor.changed(pack_temperature_c=0.0, pack_cycles=150.0)
    point = operate(cold)
    trace = flight_trace(cold, point)
    assert trace.cell_v[0] == pytest.approx(float(point.run.start_v))
    assert trace.time_min[-1] == pytest.approx(float(point.endurance_min), rel=1e-4)
