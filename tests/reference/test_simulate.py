"""Stepping a load profile: ends found exactly, cold and heat, arrays, what is recorded."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.reference.simulate import RcBranch, Segment, Until, simulate
from workbook.battery.derating import capacity_at_temperature, resistance_at_temperature
from workbook.battery.discharge import constant_current, constant_power
from workbook.battery.heat import HeatPath, heat_path
from workbook.battery.model import CellModel
from workbook.errors import InputError
from workbook.files.cell_file import find_cell

DEPTH = np.linspace(0.0, 1.0, 201)
LINE = CellModel(DEPTH, 4.2 - 1.2 * DEPTH, np.full(201, 30.0), 5.0, "curves")
TO_THE_END = float("inf")


@pytest.mark.parametrize("step_s", [1.0, 7.0, 60.0])
@pytest.mark.parametrize("power_w", [8.0, 25.0])
def test_constant_power_equals_the_closed_form(step_s: float, power_w: float) -> None:
    """`constant_power` uses no time step; whatever the step here, the end is the same."""
    model = find_cell("Bittern").model
    found = simulate(
        model, [Segment(TO_THE_END, "power", power_w)], Until(landing_v=3.0), step_s=step_s
    )
    exact = constant_power(model, power_w, 3.0)
    assert found.time_s == pytest.approx(exact.time_s, rel=2e-5)
    assert found.end_depth_of_discharge == pytest.approx(exact.end_depth_of_discharge, abs=2e-5)
    assert found.end_v == pytest.approx(3.0, abs=1e-9)
    assert found.energy_wh == pytest.approx(power_w * found.time_s / 3600, rel=1e-6)


@pytest.mark.parametrize(
    ("until", "load", "text", "time_s"),
    [
        # by hand: 10 A draws depth at 1/1800 a second; V = 3.9 - 1.2 z, U = 4.2 - 1.2 z
        (Until(landing_v=3.3), ("current", 10.0), "landing voltage", 1800 * 0.5),
        (Until(rest_v=3.3), ("current", 10.0), "rest voltage", 1800 * 0.75),
        (Until(last_depth_of_discharge=0.4321), ("current", 10.0), "reserve", 1800 * 0.4321),
        (
            Until(landing_v=3.3, rest_v=3.3, last_depth_of_discharge=0.6),
            ("current", 10.0),
            "landing voltage",
            900,
        ),
        # U^2 = 4 P R at z = 0.61325 for 100 W, the time from the closed form
        (
            Until(),
            ("power", 100.0),
            "power out of reach",
            float(constant_power(LINE, 100, 0.1).time_s),
        ),
    ],
)
def test_each_end_is_found_inside_the_step(until, load, text, time_s) -> None:
    found = simulate(LINE, [Segment(TO_THE_END, *load)], until, step_s=13.0)
    assert found.end_text == text
    assert found.time_s == pytest.approx(time_s, rel=1e-4 if load[0] == "power" else 1e-9)


def test_a_step_of_load_ends_it_at_once() -> None:
    """After 60 s at 5 A the cell cannot carry 40 A above 3.3 V: 4.2 - 1.2 x 60/3600 - 1.2 = 2.98 V."""
    found = simulate(
        LINE, [Segment(60.0, "current", 5.0), Segment(10.0, "current", 40.0)], Until(landing_v=3.3)
    )
    assert found.time_s == pytest.approx(60.0)
    assert found.end_text == "landing voltage"
    assert found.end_v == pytest.approx(2.98)
    assert found.highest_a == 40.0
    assert found.charge_ah == pytest.approx(5.0 / 60)


def test_rest_lets_the_delayed_voltage_come_back() -> None:
    """R = 30 mohm, two thirds delayed by 20 s: after 1 min at 10 A, v = 0.2 (1 - e^-3), then v e^(-t/20)."""
    found = simulate(
        LINE,
        [Segment(60.0, "current", 10.0), Segment(40.0, "rest")],
        Until(),
        branch=RcBranch(2 / 3, 20.0),
        step_s=2.0,
    )
    left = 0.2 * (1 - np.exp(-3)) * np.exp(-2)
    assert found.end_text == "profile flown"
    assert found.end_v == pytest.approx(4.2 - 1.2 / 30 - left, abs=1e-6)
    assert found.end_a == 0.0


def test_a_branch_only_delays() -> None:
    """Long after the load is on, the voltage is that of the whole resistance."""
    plain = constant_current(LINE, 5.0, 3.3)
    late = simulate(
        LINE,
        [Segment(TO_THE_END, "current", 5.0)],
        Until(landing_v=3.3),
        branch=RcBranch(0.4, 15.0),
    )
    assert late.time_s == pytest.approx(float(plain.time_s), rel=1e-6)


def test_cold_raises_resistance_and_takes_charge() -> None:
    """At a steady 0 C: the model with both factors put in by hand."""
    found = simulate(
        LINE, [Segment(TO_THE_END, "power", 15.0)], Until(landing_v=3.0), air_c=0.0, step_s=10.0
    )
    exact = constant_power(
        LINE,
        15.0,
        3.0,
        resistance_factor=resistance_at_temperature(0.0),
        capacity_factor=capacity_at_temperature(0.0),
    )
    assert found.time_s == pytest.approx(float(exact.time_s), rel=1e-5)
    assert found.time_s < 0.9 * constant_power(LINE, 15.0, 3.0).time_s


def test_a_warmed_pack_flies_longer_in_the_cold() -> None:
    path = heat_path(find_cell("Bittern"), "wrapped")
    load, until = [Segment(TO_THE_END, "power", 15.0)], Until(landing_v=3.0)
    soaked = simulate(LINE, load, until, heat=path, air_c=-5.0)
    warmed = simulate(LINE, load, until, heat=path, air_c=-5.0, start_c=25.0)
    assert warmed.time_s > 1.02 * soaked.time_s
    assert soaked.trace.temperature_c[0] == -5.0
    assert warmed.trace.temperature_c[0] == 25.0


def test_better_cooling_is_cooler_and_none_is_hottest() -> None:
    cell = find_cell("Bittern")
    load, until = [Segment(TO_THE_END, "power", 25.0)], Until(landing_v=3.0)
    paths = [heat_path(cell, "forced"), heat_path(cell, "still"), heat_path(cell, "wrapped")]
    paths.append(replace(paths[0], surface_k_w=np.inf))
    ends = [float(simulate(cell.model, load, until, heat=p).highest_c) for p in paths]
    assert ends == sorted(ends)
    assert ends[0] > 26.0


def test_energy_is_conserved_in_an_insulated_cell() -> None:
    """Heat stored = charge-weighted U less what was delivered: C (T - T0) = integral of I (U - V) dt."""
    found = simulate(
        LINE,
        [Segment(TO_THE_END, "power", 30.0)],
        Until(landing_v=3.0),
        heat=HeatPath(65.0, 2.0, np.inf),
        cold=False,
    )
    z = float(found.end_depth_of_discharge)
    given_j = 5.0 * 3600 * (4.2 * z - 0.6 * z**2)  # integral of U over charge
    assert 65.0 * (found.end_c - 25.0) == pytest.approx(given_j - 3600 * found.energy_wh, rel=1e-4)


def test_arrays_equal_single_calls() -> None:
    power = np.array([[6.0, 12.0, 25.0], [40.0, 90.0, 150.0]])
    profile = [Segment(45.0, "power", power), Segment(20.0, "rest"), Segment(600.0, "power", power)]
    arguments = {
        "heat": HeatPath(65.0, 2.0, 20.0),
        "air_c": np.array([0.0, 10.0, 20.0]),
        "branch": RcBranch(0.3, 12.0),
    }
    until = Until(landing_v=3.0, last_depth_of_discharge=np.array([[0.9], [0.8]]), highest_c=40.0)
    whole = simulate(LINE, profile, until, **arguments)
    assert whole.trace.time_s.shape[1:] == (2, 3)
    for i, j in np.ndindex(2, 3):
        one = simulate(
            LINE,
            [
                Segment(p.duration_s, p.kind, np.broadcast_to(p.value, (2, 3))[i, j])
                for p in profile
            ],
            Until(3.0, None, until.last_depth_of_discharge[i, 0], 40.0),
            **(arguments | {"air_c": arguments["air_c"][j]}),
        )
        assert one.end == whole.end[i, j]
        for name in ("time_s", "energy_wh", "end_v", "end_c", "lowest_v", "highest_c"):
            assert getattr(one, name) == pytest.approx(getattr(whole, name)[i, j], rel=1e-9)
    assert len(np.unique(whole.end)) >= 3  # the designs end for several reasons


def test_the_trace_ends_where_the_design_does() -> None:
    found = simulate(
        LINE, [Segment(TO_THE_END, "power", np.array([10.0, 40.0]))], Until(landing_v=3.0)
    )
    trace = found.trace
    assert trace.time_s[-1] == pytest.approx(found.time_s)
    assert trace.voltage_v[-1] == pytest.approx([3.0, 3.0])
    assert (np.diff(trace.time_s, axis=0) >= 0).all()
    assert trace.voltage_v * trace.current_a == pytest.approx(
        np.tile([10.0, 40.0], (len(trace.time_s), 1))
    )
    assert simulate(LINE, [Segment(5.0, "rest")], Until(), record=False).trace is None


@pytest.mark.parametrize(
    ("profile", "extra", "words"),
    [
        ([], {}, "at least one segment"),
        ([Segment(10.0, "torque", 1.0)], {}, "kind is 'torque'"),
        ([Segment(0.0, "power", 1.0)], {}, "segment 1: duration is 0 s"),
        ([Segment(TO_THE_END, "power", 1.0), Segment(1.0, "rest")], {}, "only the last"),
        ([Segment(5.0, "power", [3.0, -2.0])], {}, "value of -2 is not possible; 0 or more"),
        ([Segment(5.0, "power", float("nan"))], {}, "value of nan"),
        ([Segment(TO_THE_END, "rest")], {}, "No end is reached"),
        ([Segment(5.0, "rest")], {"step_s": 0.0}, "step_s"),
        (
            [Segment(5.0, "rest")],
            {"start_depth_of_discharge": 1.5},
            "start_depth_of_discharge: 1.5",
        ),
        ([Segment(5.0, "rest")], {"air_c": 300.0}, "air_c: 300"),
        ([Segment(5.0, "rest")], {"branch": RcBranch(1.0, 5.0)}, "share: 1 is not possible"),
    ],
)
def test_what_cannot_be_is_refused(profile, extra, words: str) -> None:
    with pytest.raises(InputError, match=words):
        simulate(LINE, profile, Until(), **({"step_s": 1000.0} | extra))
