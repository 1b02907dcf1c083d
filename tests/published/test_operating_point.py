"""The main chain against the outside: independent integration, a general library, closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

from tests.conftest import lossless, straight_cell
from workbook.battery.pack import Pack
from workbook.craft.craft_types import Multirotor
from workbook.craft.thrust_table import ThrustTable
from workbook.numbers import STANDARD_GRAVITY_M_S2
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design, Flight


def test_endurance_equals_an_independent_integration_in_time(six_rotor: Design) -> None:
    """dq/dt = P / V with V from the circuit's quadratic, by scipy's solve_ivp, tolerances 1e-9."""
    point = operate(six_rotor)
    pack, flight = six_rotor.pack, six_rotor.flight
    power_w = float(point.power_w)
    resistance = (0.030 * 6 / 3) + 0.008  # cells in the pack, and the joints

    def volts(charge_ah: float) -> float:
        u = 6 * (4.2 - 1.2 * charge_ah / 15.0)
        return 0.5 * (u + np.sqrt(u * u - 4 * power_w * resistance))

    def cell_volts(charge_ah: float) -> float:
        return volts(charge_ah) / 6

    landing = lambda t, q: cell_volts(q[0]) - flight.landing_v  # noqa: E731
    reserve = lambda t, q: q[0] - 0.9 * 15.0  # noqa: E731
    landing.terminal = reserve.terminal = True
    run = solve_ivp(
        lambda t, q: [power_w / volts(q[0]) / 3600], (0, 1e5), [0.0],
        rtol=1e-9, atol=1e-9, events=(landing, reserve),
    )  # fmt: skip
    assert float(point.endurance_min) == pytest.approx(run.t[-1] / 60, rel=1e-3)
    assert bool(point.run.landed) == bool(len(run.t_events[0]))
    assert pack.cells == 18


def test_endurance_equals_a_general_battery_library(six_rotor: Design) -> None:
    """PyBaMM's Thevenin model with the same constants: straight open-circuit voltage, one resistance."""
    pybamm = pytest.importorskip("pybamm")
    design = six_rotor.changed(landing_v=3.2, reserve_pct=0.0, joint_mohm=0.0)
    point = operate(design)
    values = pybamm.ParameterValues("ECM_Example")
    values.update(
        {
            "Cell capacity [A.h]": 5.0,
            "Nominal cell capacity [A.h]": 5.0,
            "Initial SoC": 0.9999,
            "R0 [Ohm]": lambda temperature, current, soc: pybamm.Scalar(0.030),
            "R1 [Ohm]": lambda temperature, current, soc: pybamm.Scalar(1e-9),
            "C1 [F]": lambda temperature, current, soc: pybamm.Scalar(1e3),
            "Open-circuit voltage [V]": lambda soc: 3.0 + 1.2 * soc,
            "Entropic change [V/K]": lambda voltage, temperature: pybamm.Scalar(0.0),
            "Lower voltage cut-off [V]": 2.0,
            "Upper voltage cut-off [V]": 4.3,
        },
        check_already_exists=False,
    )
    power = float(point.cell_power_w)
    simulation = pybamm.Simulation(
        pybamm.equivalent_circuit.Thevenin(),
        parameter_values=values,
        experiment=pybamm.Experiment([f"Discharge at {power:.9f} W until 3.2 V"]),
    )
    solution = simulation.solve()
    minutes = float(solution["Time [s]"].entries[-1]) / 60
    # It starts 0.01 % below full, since exactly full trips the library's own event.
    assert float(point.endurance_min) == pytest.approx(minutes, rel=1e-3)


def test_best_pack_mass_is_twice_the_rest() -> None:
    """Closed form: power as weight^1.5 and fixed specific energy peak at pack = 2 x the rest.

    Gatti, Giulietti, Turci, Aerospace Science and Technology 45 (2015), from memory; derived anew:
    t ~ m_b / (m_0 + m_b)^1.5, dt/dm_b = 0 at m_b = 2 m_0.
    """
    bare = {
        "mass_without_pack_g": 2400.0,
        "payload_g": 0.0,
        "overhead_pct": 0.0,
        "extra_mass_g": 0.0,
    }
    # no loss: every pack gives the same energy per gram
    design = lossless(**bare, landing_v=2.6, reserve_pct=10.0, thrust_reserve=1.0)

    def minutes(parallel: float) -> float:
        return float(operate(design.changed(parallel=parallel)).endurance_min)

    best = minimize_scalar(lambda p: -minutes(p), bounds=(1, 60), method="bounded").x
    assert best * 6 * 70.0 == pytest.approx(2 * 2400.0, rel=0.01)
    # At pack = rest the time is 91.9 % of the maximum: (1/2^1.5) / (2/3^1.5).
    assert minutes(2400 / 420) / minutes(best) == pytest.approx(0.9186, rel=2e-3)


def test_hover_point_against_measured_propeller_rows() -> None:
    """Hover on a table built from an open static run, a point between its rows known from the same run.

    UIUC Propeller Database, volume 1 (Brandt, Deters, Ananda, Dantsker, Selig), slow-fly 10 x 4.7:
    rpm, C_T, C_P. T = C_T rho n^2 D^4, P = C_P rho n^3 D^5. The table leaves out the row at
    5147 rpm (T = 473.3 gf, P = 40.88 W at the shaft); the hover point must find it again.
    """
    rows = np.array(
        [
            (2377, 0.1059, 0.0431), (2947, 0.1079, 0.0437), (3494, 0.1117, 0.0450),
            (4029, 0.1158, 0.0466), (4590, 0.1200, 0.0484), (5715, 0.1263, 0.0513),
            (6226, 0.1286, 0.0524),
        ]
    )  # fmt: skip
    n, ct, cp = rows[:, 0] / 60, rows[:, 1], rows[:, 2]
    thrust_gf = ct * 1.225 * n**2 * 0.254**4 / STANDARD_GRAVITY_M_S2 * 1000
    shaft_w = cp * 1.225 * n**3 * 0.254**5
    volts, blank = np.full(7, 11.1), np.full(7, np.nan)
    table = ThrustTable(
        "shaft power", "10x4.7", thrust_gf, shaft_w / volts, volts, shaft_w, blank, blank
    )
    pack = Pack(straight_cell(), 4, 1, 0.0, 0.0, 0.0)
    craft = Multirotor(
        name="four",
        rotors=4,
        mass_without_pack_g=4 * 473.3 - float(pack.mass_g),
        payload_g=0.0,
        table=table,
        avionics_w=0.0,
        flight_factor=1.0,
    )
    point = operate(Design("four", craft, pack, Flight(3.0, 10.0, 1.0)))
    assert float(point.thrust_per_motor_gf) == pytest.approx(473.3, abs=0.05)
    assert float(point.power_per_motor_w) == pytest.approx(40.88, rel=0.005)
    assert float(point.power_w) == pytest.approx(4 * 40.88, rel=0.005)
