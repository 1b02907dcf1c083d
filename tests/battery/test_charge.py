"""Charging against a closed form, a published cell model and the trade's bounds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.battery.cell import Cell
from workbook.battery.charge import (
    CHARGE_RESISTANCE,
    SPREAD_S,
    Charger,
    at_charge,
    charge,
)
from workbook.battery.model import CellModel, DischargeCurve
from workbook.battery.pack import Pack
from workbook.errors import InputError
from workbook.files.cell_file import catalogue, find_cell

NODES = np.linspace(0, 1, 201)
STRAIGHT = CellModel(NODES, 4.2 - 1.2 * NODES, np.full(201, 20.0), 3.0, "curves")


def test_straight_cell_against_the_closed_form():
    """U = 3 + 1.2 s, R = 20 mohm, 3 Ah, 1.5 A: s_cc = 1 - I R / 1.2 = 0.975, t_cc = 3600 Q s_cc / I,
    t_cv = 3600 Q R / 1.2 x ln(1.5 / 0.15), s_end = 1 - 0.15 x 0.02 / 1.2."""
    run = charge(STRAIGHT, 1.5, 4.2, 0.15)
    assert run.current_s == pytest.approx(7020.0, abs=1e-6)
    assert run.full_s - run.current_s == pytest.approx(180.0 * np.log(10.0), rel=1e-9)
    assert 1.0 - run.end_depth_of_discharge == pytest.approx(0.9975, rel=1e-12)
    assert np.interp(run.current_s, run.course_s, run.course_depth) == pytest.approx(0.025)
    assert run.charge_ah == pytest.approx(0.9975 * 3.0)
    assert run.share_s == pytest.approx(3600.0 * 3.0 * 0.8 / 1.5)
    # energy of the constant-current part: mean of U from 3.0 to 4.17 V, plus I R, times charge;
    # then 4.2 V times the rest
    expected = (0.5 * (3.0 + 4.17) + 0.03) * 2.925 + 4.2 * 3.0 * 0.0225
    assert run.energy_wh == pytest.approx(expected, rel=1e-6)
    # stored: the integral of U over s from 0 to 0.9975
    stored = 3.0 * (3.0 * 0.9975 + 0.6 * 0.9975**2)
    lost_v = run.course_a * 0.02
    loss_wh = -3.0 * np.trapezoid(lost_v, run.course_depth)
    assert run.energy_wh - loss_wh == pytest.approx(stored, rel=1e-6)


def test_constant_power_against_quadrature():
    """A charger of 5 W per cell on the straight cell: I from V I = 5 W, time by scipy's quad."""
    from scipy.integrate import quad

    def seconds(s: float) -> float:
        u, r = 3.0 + 1.2 * s, 0.02
        by_power = (-u + np.sqrt(u * u + 4 * r * 5.0)) / (2 * r)
        return 3600.0 * 3.0 / min(2.0, by_power, (4.2 - u) / r)

    s_end = 1.0 - 0.15 * 0.02 / 1.2
    # 5 W / 4.2 V = 1.1905 A holds until U = 4.2 - 1.1905 x 0.02
    expected = quad(seconds, 0.0, s_end, points=[0.9801587], limit=200)[0]
    run = charge(STRAIGHT, 2.0, 4.2, 0.15, power_w=5.0)
    assert run.full_s == pytest.approx(expected, rel=1e-6)


def test_arrays_and_single_designs_agree():
    current = np.array([[0.5], [1.5], [3.0]])
    start = np.array([1.0, 0.6, 0.3, 0.0])
    together = charge(STRAIGHT, current, 4.2, 0.15, from_depth_of_discharge=start, power_w=10.0)
    assert together.full_s.shape == (3, 4)
    for i in range(3):
        for j in range(4):
            alone = charge(
                STRAIGHT,
                float(current[i, 0]),
                4.2,
                0.15,
                from_depth_of_discharge=float(start[j]),
                power_w=10.0,
            )
            for field in ("full_s", "share_s", "current_s", "energy_wh", "end_depth_of_discharge"):
                assert getattr(together, field)[i, j] == pytest.approx(
                    getattr(alone, field), rel=1e-12, nan_ok=True
                )
    assert (together.full_s[:, 3] == 0.0).all()  # full already: nothing to put in
    assert (np.diff(together.full_s[:, :3], axis=1) < 0).all()  # a fuller cell takes less time
    assert (np.diff(together.full_s[:, 0]) < 0).all()  # more current takes less time


def test_a_lower_voltage_puts_in_less():
    """To 4.10 V on the straight cell: s_end = (1.1 - 0.15 x 0.02) / 1.2 = 0.91417."""
    run = charge(STRAIGHT, 1.5, 4.1, 0.15)
    assert 1.0 - run.end_depth_of_discharge == pytest.approx((1.1 - 0.003) / 1.2)
    assert np.isnan(charge(STRAIGHT, 1.5, 3.8, 0.15).share_s)  # ends under 80 %


# The Chen2020 cell model (Chen et al., J. Electrochem. Soc. 167, 080534, 2020), a 5 Ah 21700 cell,
# solved as a full electrochemical model by a general battery library, isothermal at 25 C.
# Discharge: A; V at the start; V at 0.25, 1, 2, 2.5, 3, 4, 4.5, 4.75 Ah; Ah at 2.5 V.
CHEN_DISCHARGE = [
    (0.5, 4.1767, (4.0908, 4.0168, 3.8234, 3.7355, 3.6532, 3.4777, 3.3502, 3.1845), 5.1342),
    (2.5, 4.1076, (4.0021, 3.9053, 3.7207, 3.6283, 3.5578, 3.3820, 3.2309, 3.0571), 5.0691),
    (5.0, 4.0547, (3.9294, 3.7961, 3.6001, 3.5196, 3.4529, 3.2760, 3.0970, 2.9166), 4.9919),
    (7.5, 4.0153, (3.8629, 3.6999, 3.4911, 3.4197, 3.3463, 3.1608, 2.9561, 2.7617), 4.9057),
]
# Charge from empty: A; minutes to 4.2 V; Ah by then; minutes to 0.05 It; Ah; Wh to 0.02 It (PyBaMM 26.10.1.1).
CHEN_CHARGE = [
    (1.5, 190.4, 4.751, 220.0, 5.077, 19.4993),
    (2.5, 106.3, 4.413, 146.9, 5.076, 19.7424),
    (3.5, 67.7, 3.949, 119.2, 5.075, 19.9418),
    (5.0, 42.8, 3.539, 100.8, 5.073, 20.1992),
]


@pytest.fixture(scope="module")
def chen() -> Cell:
    charge_ah = (0.25, 1.0, 2.0, 2.5, 3.0, 4.0, 4.5, 4.75)
    curves = tuple(
        DischargeCurve(a, (0.0, *charge_ah, end), (first, *volts, 2.5))
        for a, first, volts, end in CHEN_DISCHARGE
    )
    return replace(find_cell("Bittern"), curves=curves, typical_capacity_ah=5.13)


@pytest.mark.parametrize(("a", "min_cc", "ah_cc", "min_full", "ah_full", "wh"), CHEN_CHARGE)
def test_against_a_published_cell_model(chen, a, min_cc, ah_cc, min_full, ah_full, wh):
    """Only discharge curves are given to the cell; the charge is foretold.

    Constant-current time and charge come within 8 %, charge put in within 2 %, energy within 2 %.
    The time to full lies within the two ends that are stated, a cell of slow grains near the longer.
    """
    cell, r = at_charge(chen.datasheet_model), CHARGE_RESISTANCE
    run = charge(cell, a, 4.2, 0.25, resistance_factor=r)
    slow = charge(cell, a, 4.2, 0.25, resistance_factor=r, spread_s=SPREAD_S)
    assert run.current_s / 60 == pytest.approx(min_cc, rel=0.08)
    in_ah = cell.capacity_ah * (1.0 - np.interp(run.current_s, run.course_s, run.course_depth))
    assert in_ah == pytest.approx(ah_cc, rel=0.08)
    assert run.charge_ah == pytest.approx(ah_full, rel=0.02)
    to_100_ma = charge(cell, a, 4.2, 0.1, resistance_factor=r)
    assert to_100_ma.energy_wh == pytest.approx(wh, rel=0.02)
    assert run.full_s / 60 < min_full < slow.full_s / 60
    assert slow.full_s / 60 == pytest.approx(min_full, rel=0.08)


def test_the_time_added_is_by_the_folds_of_the_current():
    """1.5 A down to 0.15 A is ln 10 e-folds; at 1.5 A none; a charge that never fades takes none."""
    quick, slow = (charge(STRAIGHT, 1.5, 4.2, 0.15, spread_s=s) for s in (0.0, 100.0))
    assert slow.full_s - quick.full_s == pytest.approx(100.0 * np.log(10.0))
    assert slow.current_s == quick.current_s
    held = [charge(STRAIGHT, 1.5, 4.4, 0.15, spread_s=s).full_s for s in (0.0, 100.0)]
    assert held[0] == held[1]


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_half_it_takes_about_what_datasheets_say(name):
    """0.5 It to 0.02 It: 2.5 to 3.5 h by cell datasheets; a resistance model may read 20 % short."""
    cell = find_cell(name)
    it = cell.rated_capacity_ah
    model = at_charge(cell.model)
    run = charge(model, 0.5 * it, 4.2, 0.02 * it, resistance_factor=CHARGE_RESISTANCE)
    assert 2.0 < run.full_s / 3600 < 3.5
    # the other way round, energy out over energy in at 0.5 It is about 0.92 (the model above)
    lost_v = run.course_v - model.open_circuit_at(run.course_depth)
    loss_wh = -model.capacity_ah * np.trapezoid(lost_v, run.course_depth)
    assert 0.9 < 1.0 - 2.0 * loss_wh / run.energy_wh < 0.99


BITTERN = Pack(find_cell("Bittern"), 4, 2)


def test_plan_takes_the_least_of_the_limits():
    # 2 x 1.6 A standard; the charger's 3 A is less; 2 x 3.2 A highest
    assert Charger(10.0, 300.0).plan(BITTERN).current_a == pytest.approx(3.2)
    small = Charger(3.0, 300.0).plan(BITTERN)
    assert (small.current_a, small.bound_by) == (3.0, "the charger's highest current")
    asked = Charger(10.0, 300.0).plan(BITTERN, current_a=6.0)
    assert asked.current_a == 6.0
    assert "age faster" in str(asked.notices[0])
    over = Charger(10.0, 300.0).plan(BITTERN, current_a=8.0)
    assert over.current_a == 6.4
    assert "unsafe" in str(over.notices[0])
    assert "8 A is above 6.4 A" in str(over.notices[0])


def test_plan_of_a_pack_is_that_of_its_cells():
    one = Charger(10.0, 300.0).plan(Pack(BITTERN.cell, 1, 1))
    many = Charger(10.0, 300.0).plan(BITTERN)
    assert many.pack_v == pytest.approx(4 * one.pack_v)
    assert many.charge_ah == pytest.approx(2 * one.charge_ah)
    assert many.energy_wh == pytest.approx(8 * one.energy_wh)
    assert many.minutes_full == pytest.approx(one.minutes_full)
    assert many.end_a == pytest.approx(0.05 * 5.04 * 2)  # 0.05 It of the pack


def test_charger_power_holds_the_current():
    slow = Charger(10.0, 40.0).plan(BITTERN)
    fast = Charger(10.0, 300.0).plan(BITTERN)
    assert slow.minutes_full > 1.15 * fast.minutes_full
    assert "40 W holds it to 2.4 A" in str(slow.notices[0])  # 40 W / 16.8 V


@pytest.mark.parametrize("temperature_c", [-0.1, 45.1])
def test_outside_the_window_it_says_do_not(temperature_c):
    plan = Charger(10.0, 300.0).plan(BITTERN, temperature_c=temperature_c)
    assert "Do not charge" in plan.text()


@pytest.mark.parametrize("temperature_c", [0.0, 25.0, 45.0])
def test_inside_the_window_it_says_nothing(temperature_c):
    assert Charger(10.0, 300.0).plan(BITTERN, temperature_c=temperature_c).notices == ()


@pytest.mark.parametrize("cell_v", [4.21, 4.35])
def test_no_voltage_above_the_cells_is_ever_set(cell_v):
    plan = Charger(10.0, 300.0).plan(BITTERN, cell_v=cell_v)
    assert plan.cell_v == 4.2
    assert "unsafe" in plan.text()


def test_a_charger_with_too_few_balance_steps_is_named():
    plan = Charger(10.0, 300.0, max_series=6).plan(Pack(BITTERN.cell, 8, 1))
    assert "must not be charged" in plan.text()


def test_storage_voltage_lies_where_the_trade_keeps_it():
    """30 to 50 % charge is about 3.6 to 3.7 V at rest (common practice, no source)."""
    for cell in catalogue().values():
        plan = Charger(10.0, 300.0).plan(Pack(cell, 4, 1))
        assert 3.55 <= plan.storage_v <= 3.75
        assert f"{plan.storage_v:.2f} V per cell" in plan.text()


def test_wrong_figures_are_named_together():
    with pytest.raises(InputError) as caught:
        Charger(0.0, -1.0).plan(BITTERN, current_a=-2.0, cell_v=3.0, left_pct=-100.0)
    assert len(caught.value.problems) == 5


def test_a_charge_of_a_straight_cell_is_that_of_a_hand_calculation():
    # U = 3 + 1.2 (1 - z) behind r = 30 mohm x CHARGE_RESISTANCE, 1.5 A: 4.2 V is met at 1.2 z = 1.5 r;
    # constant current until then, (1 - z) x 5 Ah / 1.5 A. Then I = 1.2 z / r fades as exp(-t / tau),
    # tau = r x 5 Ah / 1.2 V and SPREAD_S more, from 1.5 A to the end at 0.05 C, 0.25 A: tau ln 6.
    r = 0.030 * CHARGE_RESISTANCE
    steady_min = 60 * (1 - 1.5 * r / 1.2) * 5 / 1.5
    tau_min = 60 * r * 5 / 1.2 + SPREAD_S / 60
    pack = Pack(straight_cell(), 4, 2)
    plan = Charger(20.0, 1e6).plan(pack, current_a=0.3 * pack.capacity_ah)
    done = plan.course()
    assert plan.current_a == pytest.approx(3.0)
    assert done.time_min[-1] == pytest.approx(steady_min + tau_min * np.log(6), rel=2e-3)
    held = np.interp(steady_min - 0.3, done.time_min, done.pack_a)
    assert held == pytest.approx(3.0, rel=1e-6)
    assert np.interp(steady_min + tau_min, done.time_min, done.pack_a) == pytest.approx(
        3.0 / np.e, rel=0.02
    )


@pytest.mark.parametrize("cell", ["Bittern", "Lapwing", "Curlew"])
@pytest.mark.parametrize("watts", [60.0, 400.0])
@pytest.mark.parametrize("left_pct", [0.0, 15.0, 70.0])
def test_the_course_ends_when_the_plan_says(cell, watts, left_pct):
    pack = Pack(find_cell(cell), 6, 2)
    plan = Charger(20.0, watts).plan(pack, current_a=0.5 * pack.capacity_ah, left_pct=left_pct)
    done = plan.course()
    assert done.time_min[-1] == pytest.approx(plan.minutes_full)
    assert np.interp(80.0, done.charged_pct, done.time_min) == pytest.approx(plan.minutes_80)
    assert (np.diff(done.time_min) > 0).all()
    assert done.cell_v.max() <= 4.2 + 1e-9
    assert done.pack_a.max() <= plan.current_a + 1e-9
    watts_seen = done.pack_a * done.cell_v * 6
    assert watts_seen.max() <= watts * (1 + 1e-9)
