"""The bench plan as a whole: its parts agree with each other, and it says what cannot be made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.battery.charge import Charger
from workbook.battery.pack import Pack
from workbook.bench.bench_settings import Bay
from workbook.bench.cell_inspection import MeasuredCells
from workbook.bench.flight_load import FlightLoad
from workbook.bench.plan import (
    ARRIVAL_V,
    STRIPS,
    BenchSettings,
    BuildPlan,
    group_cells,
    plan_bench,
)
from workbook.bench.strip import Strip
from workbook.errors import InputError
from workbook.files.design_file import (
    bench_settings,
)
from workbook.files.design_parts import BenchPart, PricesPart
from workbook.numbers import rounded

LOAD = FlightLoad(300.0, 15.0, 40.0, 500.0, 80.0, 3.1, 20.0, 3.3, 12.0, 48.0)
NAN = float("nan")


def pack(series: int = 6, parallel: int = 3) -> Pack:
    return Pack(straight_cell(), series, parallel, 10.0, 75.0, 8.0)


def plan(**changed: object) -> BuildPlan:
    return plan_bench(pack(), replace(LOAD, **changed))  # type: ignore[arg-type]


def test_parts_are_made_for_the_currents_of_the_flight() -> None:
    """15 A and 40 A of the plan, each with 25 %: 18.8 A rounded up, and 50 A: arithmetic."""
    made = plan()
    assert (made.current_a, made.burst_a) == (18.8, 50.0)
    assert made.strips is not None
    assert made.strips.current_a == 18.8
    assert made.wire.chosen is not None
    assert made.wire.chosen.temperature_c <= 80.0
    assert made.connector is not None
    assert made.connector.chosen is not None
    assert made.connector.chosen.class_a >= 50.0
    assert made.connector.chosen.thickest_awg <= made.wire.chosen.awg
    assert made.label.continuous_a == 18.8
    assert made.label.burst_a == 50.0


def test_joints_are_the_sum_of_strips_leads_and_connector() -> None:
    made = plan()
    assert made.strips is not None
    assert made.wire.chosen is not None
    assert made.connector is not None
    assert made.connector.chosen is not None
    assert made.joint_mohm == pytest.approx(
        made.strips.joint_mohm
        + made.wire.chosen.resistance_mohm
        + made.connector.chosen.contact_mohm
    )
    # 6 cells of 30 mohm in series, 3 in parallel: 60 mohm by arithmetic
    assert made.resistance_mohm == pytest.approx(60.0 + made.joint_mohm, rel=1e-6)


def test_mass_is_the_sum_of_its_parts_with_the_strips_as_cut() -> None:
    made = plan()
    by_name = {line.name: line.mass_g for line in made.masses}
    assert by_name["cells"] == pytest.approx(18 * 70.0)
    assert made.strips is not None
    assert by_name["strips"] == pytest.approx(made.strips.mass_g)
    assert "leads and connector" not in by_name
    assert made.mass_g == pytest.approx(sum(by_name.values()))


def test_acceptance_is_against_what_the_plan_found() -> None:
    made = plan()
    expected = {item.text: item.expected for item in made.acceptance}
    assert expected["mass"] == pytest.approx(made.mass_g)
    assert expected["resistance of the pack"] == pytest.approx(made.resistance_mohm)
    assert expected["charge delivered"] == 12.0


def test_the_first_strip_that_will_do_is_taken() -> None:
    made = plan()
    assert made.strips is not None
    before = STRIPS[: STRIPS.index(made.strips.strip)]
    for strip in before:
        other = plan_bench(pack(), LOAD, BenchSettings(strip=strip))
        assert other.strips is not None
        assert not other.strips.ok
    assert any("first listed" in line for line in made.assumed)


def test_a_strip_of_ones_own_is_kept_and_its_fault_stated() -> None:
    made = plan_bench(pack(), LOAD, BenchSettings(strip=Strip("nickel 200", 4.0, 0.1)))
    assert made.strips is not None
    assert made.strips.strip.width_mm == 4.0
    assert any("strip at junction" in fault for fault in made.faults)


def test_the_weld_spots_to_count_are_those_of_the_strips() -> None:
    made = plan()
    assert made.strips is not None
    assert next(i.expected for i in made.welds if i.unit == "spots") == made.strips.welds


def test_copper_comes_with_its_caution() -> None:
    made = plan_bench(pack(), LOAD, BenchSettings(strip=Strip("copper", 8.0, 0.15)))
    assert any("Copper strip" in line for line in made.cautions)


def test_a_bay_that_is_too_small_is_a_fault_in_words() -> None:
    made = plan_bench(pack(), LOAD, BenchSettings(bay=Bay(100.0, 60.0, 40.0)))
    assert made.layout is not None
    assert not made.layout.fits
    assert any("does not fit its bay" in fault for fault in made.faults)
    assert not plan_bench(pack(), LOAD, BenchSettings(bay=Bay(300.0, 200.0, 100.0))).faults


def test_a_charger_for_fewer_cells_is_a_fault() -> None:
    made = plan_bench(pack(8, 2), LOAD, BenchSettings(charger=Charger(10.0, 300.0, 6)))
    assert any("balances 6 cells" in fault for fault in made.faults)


def test_without_a_charger_the_cells_own_current_is_taken() -> None:
    """3 x 1.5 A, their standard charge current."""
    made = plan()
    assert made.charge.current_a == pytest.approx(4.5)
    assert not made.charge.notices
    assert any("No charger was stated" in line for line in made.assumed)


def test_voltages_of_the_devices_are_those_of_the_thresholds() -> None:
    made = plan()
    assert made.thresholds is not None
    assert made.devices is not None
    volts = [item.expected for item in made.devices.come_home if item.unit == "V"]
    levels = (made.thresholds.return_home, made.thresholds.land)
    assert volts == [rounded(float(level.pack_loaded_v), 1, "up") for level in levels]
    assert made.devices.know[0].expected == 6


def test_the_balance_table_and_the_running_voltages_agree() -> None:
    made = plan()
    steps = [item.expected for item in made.insulation[:6]]
    assert steps == pytest.approx([pin.arrival_v for pin in made.balance[1:]])
    assert steps[-1] == pytest.approx(6 * ARRIVAL_V)


def test_what_cannot_be_planned_is_stated_and_the_rest_is_there() -> None:
    made = plan(steady_w=NAN, mean_a=NAN, end_v=NAN, used_ah=NAN)
    assert made.thresholds is None
    assert made.devices is None
    assert made.proof == ()
    assert made.layout is not None
    assert any("No alarm can be set" in fault for fault in made.faults)


def test_a_pack_too_wide_to_lay_out_says_so() -> None:
    made = plan_bench(pack(6, 40), LOAD)
    assert made.layout is None
    assert made.strips is None
    assert made.masses == ()
    assert any("parallel: 40 is not possible" in fault for fault in made.faults)


def test_prices_meet_their_lines() -> None:
    settings = bench_settings(
        BenchPart(prices=PricesPart(cell=5.0, strip_m=2.0, holder=9.0), currency="EUR")
    )
    made = plan_bench(pack(), LOAD, settings)
    cost = {line.key: line.cost for line in made.bill.lines}
    buy = {line.key: line.buy for line in made.bill.lines}
    assert cost["cells"] == pytest.approx(5.0 * 20)  # 18 and a tenth, at least 2
    assert cost["strip"] == pytest.approx(2.0 * buy["strip"])
    assert "holders" not in cost  # none on the bill without a gap between cans


def test_groups_hold_every_cell_once_and_name_the_bad_one() -> None:
    rng = np.random.default_rng(1)
    names = tuple(f"C{k}" for k in range(20))
    capacity = 5.0 + 0.02 * rng.standard_normal(20)
    capacity[7] = 4.2  # 16 % low
    groups = group_cells(pack(), MeasuredCells(names, capacity), lambda ah: 2.0 * ah)
    dealt = [name for row in groups.names for name in row]
    assert len(dealt) == len(set(dealt)) == 18
    assert [name for name, _ in groups.left_out] == ["C7"]
    assert set(dealt) | {"C7"} | set(groups.spare) == set(names)
    by_name = dict(zip(names, capacity, strict=True))
    charges = [sum(by_name[n] for n in row) for row in groups.names]
    assert groups.matching.group_ah == pytest.approx(charges)
    assert groups.ways[2].gain_min == pytest.approx(2.0 * groups.ways[2].gain_ah)


def test_too_few_good_cells_are_counted_in_words() -> None:
    with pytest.raises(InputError, match=r"17 of 17 cells are good .* need 18"):
        group_cells(pack(), MeasuredCells(tuple(map(str, range(17))), np.full(17, 5.0)), float)
