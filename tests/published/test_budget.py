"""The margin budget against closed forms, quadrature, and a published function."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import nquad
from scipy.optimize import brentq
from scipy.stats import norm

from tests.conftest import lossless, six_rotors
from workbook.sizing.budget import budget, evaluate
from workbook.sizing.budget_lines import BudgetLine, Effect, draw_lines
from workbook.sizing.sensitivity import variance_shares


def even(key: str, low: float, high: float, *effects: Effect) -> BudgetLine:
    return BudgetLine(key, key, low, (low + high) / 2, high, "uniform", effects)


BY_RESERVE = {"landing_v": 2.6, "reserve_pct": 20.0, "thrust_reserve": 1.0}
"""Ended by its reserve."""


def test_a_linear_case_is_propagated_as_in_the_guide() -> None:
    """Time in proportion to capacity, capacity the sum of two lines' effects to first order.

    JCGM 100:2008 (GUM), equation (10): the variance of a sum of c_i x_i is the sum of c_i^2 u_i^2,
    and by 6.3 a normal quantity has 5 % below mean - 1.6449 u. One line on the reserve is exactly
    linear here: energy is not, but capacity is. So: capacity_factor = 1 + x / 100 with x normal.
    """
    line = BudgetLine(
        "capacity", "capacity", -4.0, 0.0, 4.0, "normal", (Effect("capacity_factor"),)
    )
    found = budget(lossless(**BY_RESERVE), (line,), draws=2**15)
    time = found.reading("endurance_min")
    u = time.plan * 0.04 / norm.ppf(0.95)
    assert np.mean(found.samples["endurance_min"]) == pytest.approx(time.plan, rel=1e-4)
    assert np.std(found.samples["endurance_min"]) == pytest.approx(u, rel=2e-3)
    assert time.p05 == pytest.approx(time.plan * 0.96, rel=2e-4)
    assert time.p95 == pytest.approx(time.plan * 1.04, rel=2e-4)
    # the chance to last 98 % of the plan: Phi(2 % / u)
    asked = budget(lossless(**BY_RESERVE, wanted_min=time.plan * 0.98), (line,), draws=2**15)
    assert asked.met_pct == pytest.approx(100 * norm.cdf(0.02 * time.plan / u), abs=0.1)


def test_several_lines_of_a_linear_figure_add_their_variances() -> None:
    """All-up mass is linear in payload and bare mass: GUM (10) with evenly spread inputs, a^2 / 3."""
    lines = (
        even("payload", -30.0, 30.0, Effect("payload_g", 1.0, "plus")),
        even("bare", -80.0, 80.0, Effect("mass_without_pack_g", 1.0, "plus")),
        even("leads", -10.0, 10.0, Effect("extra_mass_g", 1.0, "plus")),
    )
    design = lossless(**BY_RESERVE).changed(max_all_up_mass_g=5000.0)
    values = draw_lines(lines, 2**15, 2)
    mass_g = 5000.0 * (1 - evaluate(design, lines, values).samples["all_up_mass_margin_pct"] / 100)
    assert np.mean(mass_g) == pytest.approx(2100 + 350 + 18 * 70 * 1.1 + 75, rel=1e-6)
    assert np.std(mass_g) == pytest.approx(np.sqrt((30**2 + 80**2 + 10**2) / 3), rel=1e-3)


def test_a_nonlinear_figure_equals_quadrature() -> None:
    """Mean and spread of the minutes over mass, power and capacity lines, by scipy's nquad.

    Without resistance t = q Q mean(U) n / P, P = n_m k (m / n_m)^1.5 f, in closed form beside the
    code: U falls straight from 4.2 V by 1.2 V over the depth, 0.8 of it used.
    """
    mass = even("mass", -5.0, 15.0, Effect("mass_factor"))
    power = even("power", 0.0, 30.0, Effect("power_factor"))
    charge = even("charge", -20.0, 0.0, Effect("capacity_factor"))
    found = budget(lossless(**BY_RESERVE), (mass, power, charge), draws=2**15)

    def minutes(m: float, p: float, q: float) -> float:
        all_up_g = (2100 + 350 + 18 * 70 * 1.1 + 75) * (1 + m / 100)
        watts = 6 * 110.0 * (all_up_g / 6 / 1000) ** 1.5 * (1 + p / 100)
        watt_hours = 18 * 5.0 * (1 + q / 100) * 0.8 * (4.2 - 1.2 * 0.4)
        return 60 * watt_hours / watts

    volume = 20.0 * 30.0 * 20.0
    ranges = [(-5.0, 15.0), (0.0, 30.0), (-20.0, 0.0)]
    mean = nquad(minutes, ranges)[0] / volume
    square = nquad(lambda *x: minutes(*x) ** 2, ranges)[0] / volume
    drawn = found.samples["endurance_min"]
    # the table runs as a power law between its rows, so its 1.5 is exact; draws are quasi-random
    assert np.mean(drawn) == pytest.approx(mean, rel=1e-4)
    assert np.std(drawn) == pytest.approx(np.sqrt(square - mean**2), rel=2e-3)
    worst = minutes(15.0, 30.0, -20.0)
    assert found.reading("endurance_min").worst == pytest.approx(worst, rel=1e-4)

    # 5 % point: the volume of the box in which the minutes stay below it, over capacity in closed form
    def below(limit: float) -> float:
        def share(m: float, p: float) -> float:
            q = 100 * (limit / minutes(m, p, 0.0) - 1)
            return min(max(q + 20.0, 0.0), 20.0) / 20.0

        grid_m, grid_p = np.linspace(-5, 15, 201), np.linspace(0, 30, 201)
        told = [[share(m, p) for p in grid_p] for m in grid_m]
        return float(np.trapezoid(np.trapezoid(told, grid_p), grid_m) / 600.0)

    p05 = brentq(lambda t: below(t) - 0.05, worst, minutes(0, 0, 0), xtol=1e-3)
    assert found.reading("endurance_min").p05 == pytest.approx(p05, rel=1e-3)


def test_shares_of_the_ishigami_function() -> None:
    """Ishigami and Homma (1990), a = 7, b = 0.1, x even on (-pi, pi): the analytic indices.

    First order 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437. Variance a^2/8 + b pi^4/5 +
    b^2 pi^8/18 + 1/2.
    """
    lines = tuple(even(f"x{k}", -np.pi, np.pi, Effect("power_factor")) for k in (1, 2, 3))
    found = variance_shares(
        lambda x: {"y": np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])},
        lines,
        draws=2**14,
    )["y"]
    for key, first, total in (
        ("x1", 0.3139, 0.5576),
        ("x2", 0.4424, 0.4424),
        ("x3", 0.0, 0.2437),
    ):
        assert found.share(key).first_order == pytest.approx(first, abs=0.003)
        assert found.share(key).total == pytest.approx(total, abs=0.003)
    assert [s.line.key for s in found.shares] == ["x1", "x2", "x3"]
    variance = 49 / 8 + 0.1 * np.pi**4 / 5 + 0.01 * np.pi**8 / 18 + 0.5
    assert found.standard_deviation == pytest.approx(np.sqrt(variance), rel=5e-3)
    alone = sum(share.first_order for share in found.shares)
    assert 1 - alone == pytest.approx(1 - 0.3139 - 0.4424, abs=0.005)


def test_a_corner_of_the_temperature_is_a_first_order_answer() -> None:
    """End temperature against scipy's integration of m c dT/dt = I (U - V) - (T - air) / resistance."""
    from scipy.integrate import solve_ivp

    from workbook.battery.heat import heat_path
    from workbook.sizing.craft_types import operate

    design = six_rotors(joint_mohm=0.0, **BY_RESERVE)
    point = operate(design)
    path, watts = heat_path(design.pack.cell), float(point.cell_power_w)

    def both(t: float, y: np.ndarray) -> list[float]:
        u = 4.2 - 1.2 * y[0] / 5.0
        v = 0.5 * (u + np.sqrt(u * u - 4 * watts * 0.030))
        amps = watts / v
        heat = amps * (u - v) - float(path.loss_w_k) * (y[1] - 15.0)
        return [amps / 3600, heat / float(path.stored_j_k)]

    run = solve_ivp(both, (0, float(point.run.time_s)), [0.0, 25.0], rtol=1e-9, atol=1e-9)
    told = float(point.end_cell_c)
    assert told == pytest.approx(run.y[1, -1], abs=0.1)
    assert told > 30.0
