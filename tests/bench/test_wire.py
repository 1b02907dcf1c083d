"""Wire: heat balance, bursts and the choice."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from workbook.bench import wire
from workbook.errors import InputError


def test_heat_balance_closes():
    # made in a metre = lost from a metre, each worked out here from first principles
    temperature = wire.temperature_c(14, 25.0, 20.0)
    ohm_per_m = 1.02 * 0.017241 / 2.0809 * (1 + 0.00393 * (temperature - 20))
    made = 25.0**2 * ohm_per_m
    inner, outer = 1.6277e-3 / np.sqrt(0.77), 3.5e-3
    resistance = np.log(outer / inner) / (2 * np.pi * 0.24) + 1 / (np.pi * outer * 15)
    assert made == pytest.approx((temperature - 20) / resistance, rel=1e-4)


def test_runaway_is_infinite():
    assert wire.temperature_c(22, 100.0) == np.inf


@pytest.mark.parametrize(
    ("awg", "outside_mm", "start_c", "amps", "seconds"),
    [(12, 4.5, 50, 80, 10), (14, 3.5, 70, 30, 60)],
)
def test_burst_against_integration(awg, outside_mm, start_c, amps, seconds):
    # scipy solve_ivp on c dT/dt = made - lost
    across = 0.127 * 92 ** ((36 - awg) / 39)
    area = np.pi / 4 * across**2
    per_m = 1.02 * 0.017241 / area
    wall = np.log(outside_mm / (across / np.sqrt(0.77))) / (2 * np.pi * 0.24)
    lost = 1 / (wall + 1 / (np.pi * outside_mm / 1000 * 15))

    def slope(_, t):
        made = amps**2 * per_m * (1 + 0.00393 * (t - 20))
        return (made - lost * (t - 25)) / (8960 * 385 * area * 1e-6)

    want = solve_ivp(slope, (0, seconds), [start_c], rtol=1e-10, atol=1e-10).y[0, -1]
    got = wire.temperature_after_burst_c(awg, start_c, amps, seconds)
    assert got == pytest.approx(want, rel=1e-7)


def test_long_burst_ends_at_the_steady_temperature():
    steady = wire.temperature_c(12, 40.0)
    assert wire.temperature_after_burst_c(12, 25.0, 40.0, 1e5) == pytest.approx(steady)
    assert wire.temperature_after_burst_c(12, 50.0, 40.0, 0.0) == pytest.approx(50.0)


def test_choice_keeps_every_limit_and_the_next_does_not():
    choice = wire.choose_wire(22.0, 40.0, 150.0)
    assert choice.chosen is not None
    chosen_row = choice.rows.index(choice.chosen)
    assert choice.chosen.temperature_c <= 80
    assert choice.chosen.burst_temperature_c <= 80
    assert choice.chosen.drop_mv <= 150
    assert not choice.rows[chosen_row + 1].fits
    # drop is current x resistance, loss is current x drop
    assert choice.chosen.drop_mv == pytest.approx(22 * choice.chosen.resistance_mohm)
    assert choice.chosen.loss_w == pytest.approx(22 * choice.chosen.drop_mv / 1000)


def test_drop_can_decide():
    short = wire.choose_wire(10.0, 10.0, 100.0)
    far = wire.choose_wire(10.0, 10.0, 1500.0)
    assert far.chosen.awg < short.chosen.awg
    assert "drops" in far.why


def test_too_much_current_is_stated_not_hidden():
    choice = wire.choose_wire(200.0, 300.0, 200.0)
    assert choice.chosen is None
    assert "No listed gauge" in choice.why


def test_common_practice_currents():
    # common practice, no source: silicone lead 16 AWG about 20 A, 14 about 30, 12 about 45 (short
    # runs, some air moving); the heat balance must not promise much more at 100 C
    for awg, amps in ((16, 20), (14, 30), (12, 45)):
        assert (
            wire.temperature_c(awg, 0.8 * amps, 30.0)
            < 100.0
            < wire.temperature_c(awg, 1.5 * amps, 30.0)
        )


def test_lead_resistance_is_that_of_the_electrical_code():
    # NFPA 70, chapter 9, table 8: 12 AWG stranded, uncoated copper, 75 C: 1.98 ohm per 1000 ft
    row = wire.choose_wire(10.0, 10.0, 500.0).row(12)
    step = wire.lead_steps(row, 10.0, 500.0)[1]
    per_m = step.result / 1.0 / (1 + 0.00393 * (row.temperature_c - 20)) * (1 + 0.00393 * 55)
    assert per_m == pytest.approx(1.98 / 0.3048, rel=0.02)


def test_bad_input_lists_everything():
    with pytest.raises(InputError) as error:
        wire.choose_wire(-1.0, -2.0, 0.0, air_c=90.0)
    assert len(error.value.problems) == 4
