"""A flight at constant power: against hand sums, what ends it, and what is refused."""

from __future__ import annotations

import pytest

from tests.conftest import straight_cell
from workbook.battery.discharge import naive_minutes
from workbook.battery.pack import Pack
from workbook.errors import InputError
from workbook.sizing.sagging_flight import sagging_flight, sagging_steps


def test_ah_over_amperes_is_too_long_at_constant_power() -> None:
    pack = Pack(straight_cell(), 4, 2)
    flight = sagging_flight(pack, 250.0, 3.0, 15.0)
    # by hand: 60 x 10 Ah x 0.85 over the take-off current
    assert flight.naive_min == pytest.approx(60 * 10 * 0.85 / flight.start_a)
    assert float(naive_minutes(10.0, 20.0)) == 30.0
    assert flight.flight_min < flight.naive_min
    assert flight.end_a > flight.start_a


def test_energy_over_power_and_steps_agree() -> None:
    flight = sagging_flight(Pack(straight_cell(), 6, 3, joint_mohm=8.0), 430.0, 3.1, 20.0, 1.5)
    steps = {s.key: s.result for s in sagging_steps(flight)}
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
    assert sagging_flight(pack, 100.0, 2.6, 30.0).ends_by == "reserve"
    cold = sagging_flight(pack, 250.0, 3.1, 10.0, 3.0)
    assert cold.ends_by == "landing voltage"
    assert "landing voltage came first" in cold.text()
    never = sagging_flight(pack, 1500.0, 3.1, 10.0, 3.0)
    assert never.ends_by == "no take-off"
    assert "no take-off" in never.text()
    assert [s.key for s in sagging_steps(never)] == ["cell_power_w", "most_w"]
    assert any("must not fly" in c for c in never.cautions())


def test_too_much_current_is_said() -> None:
    # by hand: 4 x 1 cells at 60 W each near 3.4 V carry about 18 A; the cell's limit is 15 A
    said = sagging_flight(Pack(straight_cell(), 4, 1), 240.0, 2.6, 50.0).cautions()
    assert any("15 A continuous" in c and "vent" in c for c in said)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="landing_v"):
        sagging_flight(Pack(straight_cell(), 4, 2), 250.0, 2.2, 15.0)
