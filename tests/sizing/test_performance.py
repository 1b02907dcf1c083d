"""Climb at the pack's limits and hover with a motor out: by momentum theory's own formulas."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.conftest import power_law_table, six_rotors, straight_cell
from workbook.craft.climb import rest_speed_m_s, stream_of
from workbook.craft.craft_types import Multirotor
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.sizing.performance import climb_rates, gust_note, motor_out
from workbook.sizing.size import size


def craft(**changes: Any) -> Design[Multirotor]:
    table = replace(power_law_table(), propeller="15x5")
    return six_rotors(**{"table": table} | changes)


def test_climbing_at_the_rate_found_takes_the_power_of_the_limit() -> None:
    """Put back: at that rate the stream leaves a share of the thrust, and that speed of rotation takes
    the power of the continuous current."""
    design = craft()
    point = operate(design)
    rate = float(climb_rates(point.end, point).continuous_m_s)
    load, stream = point.load, stream_of("15x5")
    assert stream is not None
    bench_gf = float(load.thrust_per_motor_gf / load.thrust_kept)
    still = float(rest_speed_m_s(bench_gf, 15 * 0.0254, load.density_ratio))
    share = float(stream.thrust_share_in_climb(rate / still))
    taken = load.drive.in_stream(bench_gf / share, stream.power_share(share), load.density_ratio)
    pack_w = 6 * float(taken.power_w) + 14.0
    assert rate > 0
    assert pack_w / 18 / float(point.end.continuous.cell_v) == pytest.approx(15.0, rel=1e-3)


def test_climb_falls_through_the_discharge_and_burst_gives_more() -> None:
    design = craft()
    point = operate(design)
    rates = [climb_rates(s, point) for s in (point.full, point.half, point.end)]
    continuous = [float(r.continuous_m_s) for r in rates]
    assert continuous == sorted(continuous, reverse=True)
    assert all(float(r.burst_m_s) > float(r.continuous_m_s) for r in rates)


def test_no_climb_is_shown_without_the_propellers_size_or_the_power_to_hover() -> None:
    design = craft(table=power_law_table())
    point = operate(design)
    assert np.isnan(climb_rates(point.end, point).burst_m_s)
    weak = craft(continuous_share_pct=10.0)
    point = operate(weak)
    assert np.isnan(climb_rates(point.end, point).continuous_m_s)


def test_climb_rates_of_many_designs_are_those_of_each() -> None:
    many = craft(parallel=np.array([2, 3, 5]))
    point = operate(many)
    together = climb_rates(point.half, point).burst_m_s
    for k, p in enumerate((2, 3, 5)):
        one = craft(parallel=p)
        alone = operate(one)
        assert together[k] == pytest.approx(float(climb_rates(alone.half, alone).burst_m_s))


def test_six_rotors_with_one_out_carry_a_quarter_each_on_1_2247_of_the_power() -> None:
    """Four rotors left with W/4 each against six with W/6: 4 (1/4)^1.5 / (6 (1/6)^1.5) = 1.2247."""
    design = craft()
    point = operate(design)
    out = motor_out(point)
    assert out.possible
    assert out.thrust_per_motor_gf == pytest.approx(float(point.all_up_mass_g) / 4)
    cell_w = (float(point.motors_w) * 1.5**0.5 + 14.0) / 18
    u, r = float(point.end.open_circuit_v), float(point.end.resistance_mohm) / 1000
    volts = (u + (u**2 - 4 * cell_w * r) ** 0.5) / 2
    assert out.cell_current_a == pytest.approx(cell_w / volts, rel=1e-9)
    assert out.within_continuous is (out.cell_current_a <= 15.0)


@pytest.mark.parametrize(
    ("design", "sentence"),
    [
        (craft(), "land at once"),
        (craft(throttle_cap_pct=24.0), "It comes down."),
        (craft(parallel=2, mass_without_pack_g=3000.0), "10 s at most"),
        (
            craft(parallel=2, mass_without_pack_g=3000.0, cell=straight_cell(burst_a=16.0)),
            "over its burst current",
        ),
        (craft(rotors=4), "cannot stay level"),
    ],
)  # fmt: skip
def test_one_motor_out_is_stated_in_words(design: Design[Multirotor], sentence: str) -> None:
    answer = size(design)
    assert any(sentence in note.text for note in answer.notes)
    assert sentence in answer.as_dict()["motor_out"]["text"]


def test_what_is_left_over_hover_by_hand() -> None:
    """Thrust twice the weight leaves all of the weight, and cos 60° is one half."""
    note = gust_note(SimpleNamespace(reserve=np.asarray(2.0)))  # type: ignore[arg-type]
    assert "100 % of the weight is left" in note
    assert "tilted by 60°" in note
    assert gust_note(SimpleNamespace(reserve=np.asarray(0.9))) == ""  # type: ignore[arg-type]
