"""What the pack lets a multirotor do besides hovering: climb, hold against wind, lose a motor."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from workbook.battery.discharge import voltage_under_power
from workbook.craft import rotor
from workbook.craft.climb import SLOWEST, Propellers, climb_rate_m_s, stream_of
from workbook.numbers import FloatArray
from workbook.sizing.hover_point import HoverPoint, HoverState
from workbook.units import with_unit


@dataclass(frozen=True, eq=False)
class ClimbRates:
    """Fastest vertical climb; NaN where the craft cannot hover, its full throttle or its propeller's
    diameter and pitch are not known.

    Attributes:
        continuous_m_s: at the allowed continuous current; burst_m_s: at the burst current.
    """

    continuous_m_s: FloatArray
    burst_m_s: FloatArray


def climb_rates(state: HoverState, point: HoverPoint, kind: Propellers = SLOWEST) -> ClimbRates:
    """How fast the craft can climb at a state of the pack, within each current limit.

    The throttle cap holds as well. The body's drag is left out.

    Args:
        state: of the pack.
        point: of the craft.
        kind: of its size: the slowest propeller, on which limits count, or the usual one, which is expected.

    Source: `workbook.craft.climb`.
    """
    load = state.load
    stream = stream_of(load.craft.table.propeller, kind)
    if stream is None:
        unknown = np.full(np.shape(state.steady_v), np.nan)
        return ClimbRates(unknown, unknown)
    bench_gf = load.thrust_per_motor_gf / load.thrust_kept
    full = state.full_throttle

    limits = (state.continuous, state.burst)
    cell_v, cell_a = (
        np.stack(np.broadcast_arrays(*(getattr(x, k) for x in limits)))
        for k in ("cell_v", "cell_a")
    )
    motor_w = (cell_a * cell_v * load.pack.cells - load.avionics_w) / load.motors
    # climbing takes less than full throttle at rest, so the pack has this voltage at least
    pack_v = np.maximum(cell_v, full.cell_v) * load.pack.series
    throttle_gf = load.at_cap(pack_v).thrust_gf
    continuous, burst = climb_rate_m_s(
        load.drive, stream, bench_gf, throttle_gf, motor_w, load.density_ratio
    )
    return ClimbRates(continuous, np.fmax(continuous, burst))


def gust_note(point: HoverPoint) -> str:
    """What is left over hover at the end of a single flight, in words; empty where nothing is.

    Source: balance of forces, cos tilt = weight / thrust.
    """
    ratio = point.reserve
    if not ratio > 1:
        return ""
    tilt_deg = np.degrees(np.arccos(1.0 / ratio))
    return (
        f"At the end of the flight {100 * (ratio - 1):.0f} % of the weight is left as thrust over hover: tilted by {tilt_deg:.0f}° "
        "it just carries its weight. Wind, gusts and turns all take from that."
    )


@dataclass(frozen=True, eq=False)
class MotorOutHover:
    """A single design at the end of its flight with one motor stopped.

    Attributes:
        possible: whether the motors that are left can hover the craft, level, to land at once.
        thrust_per_motor_gf: what the busiest motor must give; full_throttle_gf: what it can.
        cell_current_a: current of one cell.
        within_continuous, within_burst: whether the cell's ratings allow it.
        text: the same in words.
    """

    possible: bool
    thrust_per_motor_gf: float
    full_throttle_gf: float
    cell_current_a: float
    within_continuous: bool
    within_burst: bool
    text: str

    def as_dict(self) -> dict[str, Any]:
        """Plain values; None where a figure cannot be computed."""
        return {
            key: None if isinstance(value, float) and not np.isfinite(value) else value
            for key, value in asdict(self).items()
        }


def motor_out(point: HoverPoint) -> MotorOutHover:
    """Whether a single design still hovers with one motor out, at the end of the flight.

    Source: balance of forces and moments (`workbook.craft.rotor.motor_out`); power as thrust^1.5.
    """
    load, cell, end = point.load, point.load.pack.cell, point.end
    rotors = int(load.motors)
    full_gf = float(end.full_throttle.thrust_gf)
    text = ""
    if rotors < 6 or rotors % 2:
        text = f"With one motor out a craft of {rotors} rotors cannot stay level: it comes down."
    elif np.isnan(full_gf):
        text = "Hover with one motor out is not checked: the thrust at full throttle is not known."
    if text:
        return MotorOutHover(False, np.nan, full_gf, np.nan, False, False, text)
    out = rotor.motor_out(rotors, float(point.all_up_mass_g), full_gf)
    cell_w = float(point.motors_w * out.power_ratio + point.avionics_w) / float(load.pack.cells)
    cell_a = cell_w / float(voltage_under_power(end.open_circuit_v, end.resistance_mohm, cell_w))
    needed = float(out.highest_thrust_gf)
    possible = bool(out.possible) and cell_a <= cell.burst_a
    words = (
        f"One motor out, at the end of the flight: the busiest motor must give {with_unit(needed, 'gf', 0)}; "
        f"full throttle{' (or its cap)' if np.any(load.flight.throttle_cap_pct < 100) else ''} "
        f"gives {with_unit(full_gf, 'gf', 0)}. "
    )
    if np.isnan(cell_a):
        words += "The pack cannot give the power: it comes down."
    elif not out.possible:
        words += "It comes down."
    elif not possible:
        words += f"Each cell would carry {cell_a:.1f} A, over its burst current of {cell.burst_a:g} A: it comes down."
    else:
        words += f"Each cell carries {cell_a:.1f} A, " + (
            f"within its continuous {cell.continuous_a:g} A. "
            if cell_a <= cell.continuous_a
            else f"over its continuous {cell.continuous_a:g} A: {cell.burst_s:g} s at most. "
        )
        words += "It hovers but may turn without control: land at once."
    return MotorOutHover(
        possible,
        needed,
        full_gf,
        cell_a,
        cell_a <= cell.continuous_a,
        cell_a <= cell.burst_a,
        words,
    )
