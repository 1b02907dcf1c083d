"""Cold, age and warmth in the main chain."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.sizing.craft_types import operate
from workbook.sizing.design import Allowances, Design
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
    assert any(
        "in the cold is only roughly predicted" in n
        for n in size(six_rotor.changed(pack_temperature_c=5.0)).notes
    )
    assert not any("in the cold" in n for n in size(six_rotor).notes)


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
        told = answer.as_dict()["thresholds"]
        assert [at["name"] for at in told] == ["alarm", "return", "land", "cut"]
        loaded = [at["loaded_cell_v"] for at in told]
        assert loaded == sorted(loaded, reverse=True)
