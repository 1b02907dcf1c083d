"""The plan of a flight as it was flown: as long, from the same charge; with what the margin budget left room for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.battery.discharge import voltage_under_power
from workbook.errors import refuse
from workbook.numbers import JUST_ABOVE_0, FloatArray, range_problems
from workbook.quantities import INPUTS
from workbook.sizing.budget_lines import apply, draw_lines
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.origins import lines_of

DRAWS = 255
"""Flights drawn from the margin budget beside the plan itself."""
NODES = 161
BAND_POINTS = 121
LOW_PCT, HIGH_PCT = 5.0, 95.0
"""Ends of a band: one flight in twenty lies below, one above."""


@dataclass(frozen=True, eq=False)
class Band:
    """Voltage of the pack under the steady power over the minutes since take-off, arrays of shape (K,).

    Attributes:
        time_min: since take-off.
        plan_v: by the plan.
        low_v, high_v: between them the margin budget has nine flights in ten; NaN where fewer still fly.
    """

    time_min: FloatArray
    plan_v: FloatArray
    low_v: FloatArray
    high_v: FloatArray


@dataclass(frozen=True, eq=False)
class PlannedFlight:
    """A flight by the plan and by its margin budget, arrays of shape (1 + draws,), the plan itself first.

    Attributes:
        figures: by key, as the lines of a comparison have them.
        band: for a chart.
    """

    figures: dict[str, FloatArray]
    band: Band

    def plan(self, key: str) -> float:
        """The plan's own figure."""
        return float(self.figures[key][0])

    def ends(self, key: str) -> tuple[float, float]:
        """Between which the margin budget has nine flights in ten; NaN where none flies."""
        drawn = self.figures[key][1:]
        drawn = drawn[np.isfinite(drawn)]
        if not drawn.size:
            return np.nan, np.nan
        low, high = np.percentile(drawn, (LOW_PCT, HIGH_PCT))
        return float(low), float(high)


def as_flown(
    design: Design[Any],
    mass_g: float | None = None,
    pack_temperature_c: float | None = None,
    air_temperature_c: float | None = None,
) -> Design[Any]:
    """The design with the mass and the temperatures of a flight, where they are known.

    Args:
        design: the plan.
        mass_g: all-up mass as flown, above 0.
        pack_temperature_c, air_temperature_c: at take-off, as a design may state them.

    Raises:
        InputError: one of them that cannot be.
    """
    stated = {"pack_temperature_c": pack_temperature_c, "air_temperature_c": air_temperature_c}
    changes = {key: value for key, value in stated.items() if value is not None}
    ranges = {}
    for key, value in changes.items():
        least, most = INPUTS[key].least, INPUTS[key].most
        ranges[key] = (value, least, most, f"{least:g} to {most:g} °C")
    if mass_g is not None:
        ranges["mass_g"] = (mass_g, JUST_ABOVE_0, np.inf, "more than 0 g")
        own_g = design.craft.all_up_mass_g(design.pack.mass_g)
        changes["payload_g"] = design.craft.payload_g + mass_g - own_g
    refuse(range_problems(ranges))
    return replace(design, today=None, mission=()).changed(**changes)


def planned_flight(design: Design[Any], minutes: float, start_depth: float = 0.0) -> PlannedFlight:
    """What a design and its margin budget expect of a flight of so many minutes.

    Args:
        design: as flown.
        minutes: in the air.
        start_depth: depth of discharge at take-off, 0 full.

    Source: the operating point of each drawn design (JCGM 101:2008), its discharge at constant power by the
        trapezoid rule over depth.
    """
    lines = lines_of(design)
    values = np.concatenate([np.zeros((len(lines), 1)), draw_lines(lines, DRAWS, seed=1)], axis=1)
    applied = apply(design, lines, values)
    point = craft_type_of(design).operate(applied.design, applied.allowances)
    load, pack, draws = point.load, design.pack, DRAWS + 1

    def wide(figure: Any) -> FloatArray:
        return np.array(np.broadcast_to(np.asarray(figure, dtype=float), (draws,)))

    power_w = wide(point.power_w)
    depth = np.linspace(min(start_depth, 0.95), 1.0, NODES)[:, None]
    mohm = np.broadcast_to(load.resistance_mohm(depth), (NODES, draws))
    rest_v = pack.cell.model.open_circuit_at(depth)
    with np.errstate(invalid="ignore", divide="ignore"):
        cell_v = voltage_under_power(rest_v, mohm, power_w / pack.cells)
        capacity_ah = pack.cell.model.capacity_ah * wide(load.capacity_factor(power_w))
        hours_a_depth = capacity_ah * cell_v / (power_w / pack.cells)
    steps = np.diff(depth, axis=0) * (hours_a_depth[1:] + hours_a_depth[:-1]) / 2.0
    time_min = 60.0 * np.concatenate([np.zeros((1, draws)), np.cumsum(steps, axis=0)])
    end_depth, end_v, end_rest, mean_mohm = np.full((4, draws), np.nan)
    for k in range(draws):
        end_depth[k] = np.interp(minutes, time_min[:, k], depth[:, 0], right=np.nan)
        end_v[k] = np.interp(end_depth[k], depth[:, 0], cell_v[:, k])
        end_rest[k] = np.interp(end_depth[k], depth[:, 0], rest_v[:, 0])
        flown = np.linspace(start_depth, end_depth[k], 61)
        mean_mohm[k] = np.mean(np.interp(flown, depth[:, 0], mohm[:, k]))
    figures = {
        "energy_wh": power_w * minutes / 60.0,
        "charge_ah": (end_depth - start_depth) * capacity_ah * pack.parallel,
        "mean_power_w": power_w,
        "steady_power_w": power_w,
        "peak_cell_a": wide(point.peak_cell_a) * applied.cell_share_factor,
        "peak_power_w": wide(
            point.full.full_throttle.cell_a * point.full.full_throttle.cell_v * pack.cells
        ),
        "pack_resistance_mohm": mean_mohm * pack.series / pack.parallel,
        "full_cell_v": wide(design.pack.cell.charge_v),
        "lowest_cell_v": wide(np.nan),  # not planned: a climb's depth is the pilot's
        "landing_cell_v": end_v,
        "landing_rest_cell_v": end_rest,
        "reserve_min": wide(point.endurance_min),
        "temperature_c": wide(point.hottest_cell_c),
        "avionics_w": wide(load.avionics_w),
        "flight_factor": wide(applied.allowances.power_factor)
        * float(getattr(design.craft, "flight_factor", 1.0)),
    }
    return PlannedFlight(figures, _band(time_min, cell_v * pack.series, minutes))


def _band(time_min: FloatArray, pack_v: FloatArray, minutes: float) -> Band:
    grid_min = np.linspace(0.0, minutes, BAND_POINTS)
    flights = zip(time_min.T, pack_v.T, strict=True)
    drawn = np.array([np.interp(grid_min, min_, volts, right=np.nan) for min_, volts in flights])
    known = np.isfinite(drawn)
    enough = known[1:].mean(axis=0) >= HIGH_PCT / 100.0
    filled = np.where(known, drawn, 0.0)
    low, high = np.percentile(filled[1:], (LOW_PCT, HIGH_PCT), axis=0)
    return Band(grid_min, drawn[0], np.where(enough, low, np.nan), np.where(enough, high, np.nan))
