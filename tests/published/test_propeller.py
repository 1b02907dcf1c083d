"""Propeller rows as measured, the disc limit in a stream, and the evidence for the exponents."""

import numpy as np
import pytest

from tests.published.measured_propellers import (
    ELECTRIC_9X6,
    ELECTRIC_11X55,
    IN_A_STREAM_10X47,
    SHARES,
    SLOW_FLY_10X47,
    runs_in_a_stream,
)
from workbook.craft.motor import Motor, run
from workbook.craft.rotor import climb, disc_area_m2, figure_of_merit
from workbook.craft.voltage import (
    DENSITY_EXPONENT,
    POWER_THRUST_EXPONENT,
    THRUST_VOLTAGE_EXPONENT,
)
from workbook.sizing.doubts import DOUBT_RULES

# rpm, thrust N, shaft W, torque N m, figure of merit: from the printed C_T and C_P at 1.225 kg/m3,
# which carry 4 and 3 digits, so 1 in 1000 is the rounding
STATIC = [
    (SLOW_FLY_10X47, 2377, 0.8475, 3.4707, 0.01394, 0.6380),
    (SLOW_FLY_10X47, 4029, 2.6624, 18.2738, 0.04331, 0.6747),
    (SLOW_FLY_10X47, 5147, 4.6414, 40.8774, 0.07584, 0.6943),
    (SLOW_FLY_10X47, 6528, 7.8404, 88.5698, 0.12956, 0.7035),
    (ELECTRIC_11X55, 3095, 1.6646, 8.8748, 0.02738, 0.6244),
    (ELECTRIC_11X55, 4968, 4.4680, 37.0598, 0.07123, 0.6575),
    (ELECTRIC_11X55, 6473, 7.8458, 84.5929, 0.12480, 0.6703),
    (ELECTRIC_9X6, 3145, 1.0304, 5.7931, 0.01759, 0.5693),
    (ELECTRIC_9X6, 6717, 4.9012, 55.3655, 0.07871, 0.6180),
]


@pytest.mark.parametrize("row", STATIC)
def test_static_rows(row):
    propeller, rpm, thrust_n, shaft_w, torque_nm, merit = row
    thrust_gf = propeller.thrust_gf(rpm)
    assert float(thrust_gf) == pytest.approx(thrust_n * 1000 / 9.80665, rel=1e-3)
    assert float(propeller.shaft_power_w(rpm)) == pytest.approx(shaft_w, rel=1e-3)
    assert float(propeller.torque_nm(rpm)) == pytest.approx(torque_nm, rel=1e-3)
    found = figure_of_merit(thrust_gf, propeller.shaft_power_w(rpm), propeller.diameter_m)
    assert float(found) == pytest.approx(merit, rel=1e-3)
    assert float(propeller.speed_for_thrust(thrust_gf)) == pytest.approx(rpm, rel=1e-9)


def test_no_measured_row_in_a_stream_beats_the_ideal_disc():
    # T V / P of the wind tunnel against T V / (T (V + v)) of momentum theory, 10x4.7 at 6512 rpm
    advance, c_t, c_p, printed = IN_A_STREAM_10X47.T
    n, d, rho = 6512 / 60, 0.254, 1.225
    speed, thrust = advance * n * d, c_t * rho * n**2 * d**4
    ideal = thrust * speed / climb(thrust, disc_area_m2(d), speed).ideal_power_w
    measured = advance * c_t / c_p
    assert (measured < ideal).all()
    np.testing.assert_allclose(measured, printed, atol=0.003)
    # Glauert's closed form of the same limit: 2 / (1 + sqrt(1 + 8 C_T / (pi J^2)))
    np.testing.assert_allclose(ideal, 2 / (1 + np.sqrt(1 + 8 * c_t / (np.pi * advance**2))))


def test_few_measured_propellers_reach_the_efficiency_that_is_doubted():
    """eta = J C_T / C_P at the shares of the thrust at rest that were measured; best of each of 191."""
    best: dict[float, float] = {}
    for run_of in runs_in_a_stream():
        at_rest = run_of["rest_thrust_coefficient"] / run_of["rest_power_coefficient"]
        found = [
            share
            * at_rest
            * run_of[f"advance_{100 * share:.0f}"]
            / run_of[f"power_{100 * share:.0f}"]
            for share in SHARES
        ]
        best[run_of["propeller"]] = np.nanmax([best.get(run_of["propeller"], 0.0), *found])
    doubted = next(rule for rule in DOUBT_RULES if rule.key == "propeller_efficiency")
    values = np.array(list(best.values()))
    assert len(values) == 191
    assert doubted.least < np.median(values) < doubted.most
    assert 0.0 < np.mean(values > doubted.most) < 0.05


def test_the_exponents_of_the_voltage_approximation_are_those_of_measured_propellers():
    """600 first-order motors of 68 to 90 % on three measured propellers, 0.8 of full voltage."""
    rng = np.random.default_rng(1)
    found = []
    for propeller in (SLOW_FLY_10X47, ELECTRIC_11X55, ELECTRIC_9X6):
        top_rpm = 0.97 * propeller.speed_rpm[-1]
        shaft = float(propeller.shaft_power_w(top_rpm))
        for _ in range(200):
            drop, idle = rng.uniform(0.08, 0.28), rng.uniform(0.01, 0.06)  # I R / V and I0 / I
            volts = 11.1
            amps = shaft / ((1 - idle) * (1 - drop) * volts)
            motor = Motor(top_rpm / (volts * (1 - drop)), 1000 * drop * volts / amps, idle * amps)
            full, low = run(motor, propeller, volts), run(motor, propeller, 0.8 * volts)
            thin = run(motor, propeller, volts, 1.0, 0.8 * 1.225)
            found.append(
                [
                    low.thrust_gf / full.thrust_gf,
                    low.power_w / full.power_w,
                    thin.thrust_gf / full.thrust_gf,
                    thin.power_w / full.power_w,
                ]
            )
    exponents = np.log(np.array(found)) / np.log(0.8)
    median = np.median(exponents, axis=0)
    power_by_voltage = THRUST_VOLTAGE_EXPONENT * POWER_THRUST_EXPONENT
    chosen = [THRUST_VOLTAGE_EXPONENT, power_by_voltage, DENSITY_EXPONENT]
    np.testing.assert_allclose(median[:3], chosen, atol=0.05)
    # power in thin air: at equal thrust as 1/sqrt(density), so with density^0.7 of thrust as ^0.55
    assert 0.5 < median[3] < 0.75
    # the scatter that the constants' notes state
    low, high = np.percentile(exponents, [5, 95], axis=0)
    np.testing.assert_allclose(low[:2], [1.69, 2.56], atol=0.02)
    np.testing.assert_allclose(high[:2], [1.98, 2.93], atol=0.02)
