"""What is printed, set in the file, holds: every printed setting of random designs, put in and sized again."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.battery.charge import Charger
from workbook.bench.plan import BuildPlan
from workbook.bench.wire import allowed_a
from workbook.errors import InputError
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.quantities import RESULTS, Quantity
from workbook.sheet.build import expected_text
from workbook.sheet.plan import plan_build
from workbook.sheet.text import result_report, result_text
from workbook.sizing.design import Design
from workbook.sizing.limits import Limit
from workbook.sizing.size import SizingResult, size

CELLS = tuple(catalogue().values())
STARTS = ("survey_six", "light_quad", "survey_wing")

Result = SizingResult[Any]


def random_designs(count: int, seed: int) -> Iterator[Design[Any]]:
    """Designs about the demos, each with a cell, numbers, masses, temperature, air and ends of its own."""
    draw = np.random.default_rng(seed)
    for _ in range(count):
        start = read_design(DESIGNS / f"{draw.choice(STARTS)}.toml").design
        start = replace(start, today=None, mission=())
        mass_g = float(start.craft.mass_without_pack_g)
        found = start.changed(
            cell=CELLS[draw.integers(len(CELLS))],
            series=int(start.pack.series + draw.integers(-1, 2)),
            parallel=int(draw.integers(1, 7)),
            mass_without_pack_g=mass_g * draw.uniform(0.7, 1.2),
            payload_g=draw.uniform(0.0, 0.3) * mass_g,
            avionics_w=draw.uniform(2.0, 30.0),
            joint_mohm=draw.uniform(2.0, 30.0),
            landing_v=draw.uniform(2.9, 3.3),
            reserve_pct=draw.uniform(5.0, 30.0),
            continuous_share_pct=draw.uniform(60.0, 100.0),
            field_height_m=draw.uniform(0.0, 2500.0),
            air_temperature_c=draw.uniform(5.0, 35.0),
            pack_temperature_c=draw.uniform(10.0, 35.0),
            pack_cycles=draw.uniform(0.0, 200.0),
            wanted_min=None,
            wanted_km=None,
        )
        yield found


def printed(key: str, result: Result) -> float:
    """A figure as it is printed; NaN where there is none."""
    text = result_text(key, result.figures().get(key))
    number = re.match(r"-?[\d.]+", text)
    return float(number[0]) if number else float("nan")


def limit(result: Result, key: str) -> Limit | None:
    return next((x for x in result.limits if x.key == key), None)


def kept(result: Result, *keys: str) -> None:
    """None of these limits is broken, where the design has them."""
    for key in keys:
        found = limit(result, key)
        assert found is None or not found.broken, (key, found)


def try_caps(design: Design[Any], result: Result) -> int:
    """The printed throttle caps keep the currents that they are printed for."""
    tried = 0
    for key, state_limit in (
        ("burst_throttle_cap_pct", "burst"),
        ("throttle_cap_pct", "continuous"),
    ):
        cap = printed(key, result)
        if not 1.0 <= cap < 100.0:
            continue
        capped = size(design.changed(throttle_cap_pct=cap))
        allowed = float(design.pack.cell.burst_a)
        if state_limit == "continuous":
            allowed = float(
                design.pack.cell.continuous_a * design.flight.continuous_share_pct / 100.0
            )
        for state in capped.point.states:
            assert float(state.full_throttle.cell_a) <= allowed, (key, cap)
        kept(capped, "burst_cell_current")
        tried += 1
    return tried


def try_landing(design: Design[Any], result: Result) -> int:
    """Printed voltages to land at, of cell and pack, keep what the plan kept at its end."""
    levels, tried = result.thresholds(), 0
    if levels is None:
        return 0
    held = [
        key
        for key in (
            "continuous_cell_current",
            "landing_voltage",
            "hover_voltage",
            "thrust_to_weight",
        )
        if (found := limit(result, key)) is not None and not found.broken
    ]
    text = levels.land.text()
    cell_v = float(re.search(r"land: ([\d.]+) V per cell", text)[1])  # type: ignore[index]
    pack_v = float(re.search(r"\(([\d.]+) V pack", text)[1])  # type: ignore[index]
    for volts in (cell_v, pack_v / float(design.pack.series)):
        assert volts >= float(levels.land.loaded_v) - 1e-9
        if volts > 4.0:
            continue
        landed = size(design.changed(landing_v=volts))
        kept(landed, *held)
        used = float(landed.point.run.end_depth_of_discharge)
        assert used <= 1.0 - float(design.flight.reserve_pct) / 100.0 + 1e-9
        tried += 1
    for level in (levels.alarm, levels.return_home, levels.land, levels.cut):
        used_mah = float(re.search(r"([\d.]+) mAh used", level.text())[1])  # type: ignore[index]
        assert used_mah <= 1000.0 * float(level.used_ah) + 1e-6
    return tried


ASKED = {
    "endurance_min": ("wanted_min", "endurance"),
    "range_km": ("wanted_km", "range"),
    "thrust_to_weight_end": ("thrust_reserve", "thrust_to_weight"),
    "climb_counted_m_s": ("climb_m_s", "climb"),
    "all_up_mass_g": ("max_all_up_mass_g", "all_up_mass"),
    "pack_full_v": ("controller_max_v", "controller_voltage"),
}
"""Printed figures that are asked for when they are set, and the limit that then holds."""


def try_asked(design: Design[Any], result: Result) -> int:
    """Each figure as printed, asked for in the file, is kept; so is what half of the flights reach."""
    tried = 0
    for key, (figure, limit_key) in ASKED.items():
        value = printed(key, result)
        own = hasattr(design.craft, figure) or hasattr(design.flight, figure)
        if not np.isfinite(value) or value <= 0.0 or not own:
            continue
        if figure == "thrust_reserve" and value < 1.0:
            continue
        kept(size(design.changed(**{figure: value})), limit_key)
        tried += 1
    if result.flights is not None and result.flights.endurance_p50_min >= 0.1:
        half = float(RESULTS["endurance_p50_min"].number(result.flights.endurance_p50_min))
        kept(size(design.changed(wanted_min=half)), "endurance_half")
        tried += 1
    return tried


def try_lowest_hover(design: Design[Any], result: Result) -> int:
    """The printed lowest voltage with the thrust reserve, landed at, keeps the reserve.

    It is told for the end of the flight as planned; landing lower than that is another, deeper end.
    """
    volts = printed("lowest_hover_cell_v", result)
    deeper = result.point.run.landed and volts < float(design.flight.landing_v)
    if not 2.5 <= volts <= 4.0 or deeper:
        return 0
    landed = size(design.changed(landing_v=volts))
    if not float(landed.point.endurance_min) > 0.0:
        return 0
    kept(landed, "hover_voltage")
    return 1


def number(text: str) -> float:
    return float(text.replace("\xa0", " ").split()[0])


def try_bench(result: Result) -> int:
    """Charge current, fuse, and what is set on devices: none beyond the figure that it is printed for."""
    try:
        plan: BuildPlan = plan_build(result)
    except InputError:
        return 0
    charge_is_kept(plan)
    devices_are_kept(plan)
    return 1


def charge_is_kept(plan: BuildPlan) -> None:
    pack, charge = plan.pack, plan.charge
    shown = {key: number(RESULTS[key].text(value)) for key, value in charge.settings().items()}
    highest_a = int(pack.parallel) * pack.cell.max_charge_a
    for key in ("charge_current_a", "first_charge_a"):
        assert shown[key] <= charge.settings()[key] + 1e-9
        assert shown[key] <= highest_a + 1e-9
    assert shown["charge_v"] <= pack.cell.charge_v + 1e-9
    assert shown["charge_end_a"] >= charge.end_a - 1e-9
    for fuse in (f for f in (plan.fuse, plan.charge_fuse) if f and f.chosen_a is not None):
        ends = re.search(r"between ([\d.]+) A .* and ([\d.]+) A", fuse.why)
        assert ends is not None
        least_a, most_a = float(ends[1]), float(ends[2])
        assert least_a <= fuse.chosen_a <= most_a <= allowed_a(fuse.awg) + 1e-6
        if fuse is plan.charge_fuse:
            assert least_a >= 1.25 * charge.current_a - 1e-6
    if shown["charge_current_a"] == 0.0:  # too cold to charge: nothing to set
        return
    charger = Charger(500.0, 50_000.0, max(1, int(pack.series)))
    again = charger.plan(pack, current_a=shown["charge_current_a"])
    assert again.current_a == pytest.approx(shown["charge_current_a"])
    assert not [n for n in again.notices if "above" in n.what and "highest" in n.what]


def devices_are_kept(plan: BuildPlan) -> None:
    items = [] if plan.devices is None else [x for _, part in plan.devices.sections for x in part]
    set_v = {
        item.text.split(",")[0].split(" by voice")[0]: item for item in items if item.unit == "V"
    }
    every = (*items, *plan.first, *(plan.proof or ()))
    for item in (x for x in every if isinstance(x.expected, float) and x.safe != "nearest"):
        printed = number(expected_text(item))
        side = printed - item.expected if item.safe == "up" else item.expected - printed
        assert side >= -1e-6, item
    for item in (x for x in every if x.high not in (None, x.expected) and x.low is None):
        assert number(item.limits_text.removeprefix("up to ")) <= item.high + 1e-9
    levels = plan.thresholds
    if levels is None:
        return
    named = {"Alarm": levels.alarm, "Return": levels.return_home, "Land where it is": levels.land}
    for name, level in named.items():
        assert number(expected_text(set_v[name])) >= float(level.pack_loaded_v) - 1e-6, name
    timer = next(item for item in items if item.text.startswith("Timer"))
    assert number(expected_text(timer)) <= float(levels.return_home.flown_min) + 1e-6


def hold_for(count: int, seed: int) -> dict[str, int]:
    """How many of each setting were tried, over so many designs; each holds."""
    tried = dict.fromkeys(("caps", "landing", "asked", "lowest hover", "bench"), 0)
    for design in random_designs(count, seed):
        result = size(design)
        if not float(result.point.endurance_min) > 0.0:
            continue
        tried["caps"] += try_caps(
            design.changed(throttle_cap_pct=100.0), size(design.changed(throttle_cap_pct=100.0))
        )
        tried["landing"] += try_landing(design, result)
        tried["asked"] += try_asked(design, result)
        tried["lowest hover"] += try_lowest_hover(design, result)
        if result.holds:
            tried["bench"] += try_bench(result)
    return tried


def test_printed_settings_hold_when_they_are_set() -> None:
    tried = hold_for(25, seed=1)
    assert min(tried[name] for name in ("caps", "landing", "asked", "lowest hover")) >= 5, tried


@pytest.mark.long
def test_printed_settings_of_many_designs_hold() -> None:
    tried = hold_for(400, seed=2)
    assert min(tried.values()) >= 20, tried


@pytest.mark.parametrize("name", STARTS)
def test_settings_of_the_demos_at_the_bench_are_on_the_safe_side(name: str) -> None:
    design = read_design(DESIGNS / f"{name}.toml").design
    assert try_bench(size(replace(design, today=None, mission=())))


def test_every_quantity_has_a_side() -> None:
    """Where more is better it is rounded down, where less is better up, unless the table says otherwise."""
    sides = {"high": "down", "low": "up", "": "nearest"}
    unusual: list[Quantity] = [q for q in RESULTS.values() if q.safe != sides[q.better]]
    assert {q.key for q in unusual} >= {"landing_cell_v", "charge_current_a", "threshold_pack_v"}
    assert {q.safe for q in RESULTS.values()} == {"down", "up", "nearest"}


def try_limits(result: Result) -> int:
    """Each limit as it is printed: never less asked, never more there, and it holds of the printed figures too."""
    tried = 0
    for found in result.limits:
        demand, most = found.shown
        if "-" in (demand, most):
            continue
        asked, there = float(demand), float(most)
        assert asked >= float(found.demand) - 1e-8 * max(1.0, abs(float(found.demand))), found.key
        assert there <= float(found.limit) + 1e-8 * max(1.0, abs(float(found.limit))), found.key
        tried += 1
        if found.verdict not in ("holds", "close"):
            continue
        assert asked <= there, (found.key, demand, most)
        left = int(found.margin_shown.removesuffix(" %"))
        assert left <= float(found.margin_pct) + 1e-6, found.key
    return tried


def try_working(result: Result) -> int:
    """Each step of working as it is printed: rounded to the side of its figure."""
    tried = 0
    for step in result.working:
        number = re.match(r"-?[\d.]+", step.shown)
        if number is None or step.key not in RESULTS:
            continue
        shown, side = float(number[0]), RESULTS[step.key].safe
        spare = 1e-8 * max(1.0, abs(step.result))
        assert side != "up" or shown >= step.result - spare, step.key
        assert side != "down" or shown <= step.result + spare, step.key
        tried += 1
    return tried


def test_limits_and_working_of_random_designs_are_printed_to_the_safe_side() -> None:
    results = [size(design) for design in random_designs(12, seed=8)]
    assert sum(map(try_limits, results)) > 100
    assert sum(map(try_working, results)) > 100


def test_nothing_that_cannot_be_a_figure_is_printed() -> None:
    """One cell in each pack: it does not fly, and nothing is told of it in percents by the thousand."""
    for start in STARTS:
        design = read_design(DESIGNS / f"{start}.toml").design.changed(series=1, parallel=1)
        text = result_report(size(design), with_working=True)
        odd = re.search(r"\b(nan|inf)\b|\d{7,}|e[+-]\d\d|-0(\.0+)? |\d{4,} %", text)
        assert odd is None, (start, text[max(0, odd.start() - 60) : odd.end() + 20])
