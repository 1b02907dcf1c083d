"""C-rate: amperes over ampere-hours, the same for a cell and for its pack, against the cell's limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.charge import (
    CHARGE_RESISTANCE,
    ChargePlan,
    Charger,
    at_charge,
    charge_settings,
)
from workbook.battery.pack import Pack
from workbook.numbers import FloatArray, Number
from workbook.working import Step

IT = "IEC 61960-3: It = capacity / 1 h"


@dataclass(frozen=True)
class RateAsk:
    """A C-rate in amperes, and the cell's limits as C-rates. Figures of one shape.

    Attributes:
        c_rate: asked for, 1/h of the rated capacity.
        cell_a, pack_a: the same in amperes, of one cell and of the pack.
        minutes: until the rated capacity is gone at that rate, nothing held back.
        continuous_c, burst_c: the cell's limits in discharge as C-rates.
        allowed_a: share of the cell's continuous current that may be used.
        allowed_c: the same as a C-rate.
        standard_charge_c, max_charge_c: the cell's limits in charge as C-rates.
    """

    c_rate: Number
    cell_a: Number
    pack_a: Number
    minutes: Number
    continuous_c: float
    burst_c: float
    allowed_a: Number
    allowed_c: Number
    standard_charge_c: float
    max_charge_c: float

    @property
    def discharge_words(self) -> str:
        """What a single discharge at that rate means for the cell."""
        amps = f"{float(self.cell_a):.1f} A a cell"
        if self.c_rate > self.burst_c:
            return f"{amps} is above the burst current: unsafe at any length, the cell can vent and burn."
        if self.c_rate > self.continuous_c:
            return f"{amps} is above the continuous current: for the seconds of a burst only."
        if self.cell_a > self.allowed_a:
            return f"{amps} is within the continuous current, but above the share of it that is allowed."
        return f"{amps} is within what is allowed without end."


def rate_ask(pack: Pack, c_rate: Number, continuous_share_pct: Number = 100.0) -> RateAsk:
    """A C-rate as amperes of a pack, beside the limits of its cell.

    Args:
        pack: the pack.
        c_rate: discharge current over rated capacity, 0 or more.
        continuous_share_pct: share of the continuous current that may be used.

    Source: IEC 61960-3 (It); limits from the cell's datasheet.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> ask = rate_ask(Pack(find_cell("Bittern 50E"), 4, 3), 2.0)
        >>> round(ask.cell_a, 2), round(ask.pack_a, 2), float(ask.minutes)
        (9.7, 29.1, 30.0)
    """
    cell = pack.cell
    rated = cell.rated_capacity_ah
    allowed_a = cell.continuous_a * continuous_share_pct / 100.0
    with np.errstate(divide="ignore"):
        minutes = np.divide(60.0, c_rate)[()]
    return RateAsk(
        c_rate, c_rate * rated, c_rate * pack.capacity_ah, minutes, cell.continuous_a / rated,
        cell.burst_a / rated, allowed_a, allowed_a / rated, cell.standard_charge_a / rated,
        cell.max_charge_a / rated,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class PlannedCharge:
    """A charge of a single pack and how it runs.

    Attributes:
        asked_a: the current that the C-rate asks for, of the pack.
        plan: the settings, their cautions, the times.
        time_min: since the start, shape (K,).
        cell_v: voltage of one cell on the charger.
        pack_a: current into the pack.
        charged_pct: of the cell's capacity that is in it.
    """

    asked_a: float
    plan: ChargePlan
    time_min: FloatArray
    cell_v: FloatArray
    pack_a: FloatArray
    charged_pct: FloatArray


def planned_charge(
    pack: Pack,
    charger: Charger,
    c_rate: float,
    *,
    cell_v: float = 4.2,
    left_pct: float = 0.0,
    temperature_c: float = 25.0,
    points: int = 240,
) -> PlannedCharge:
    """A charge at a C-rate within the limits of cell and charger, with its course in time.

    Args:
        pack: a single pack.
        charger: its limits.
        c_rate: of the rated capacity, above 0.
        cell_v: constant voltage per cell.
        left_pct: charge in the pack at the start.
        temperature_c: of the cells.
        points: of the course.

    Source: `charge_settings` and the charge balance, Q dz = I dt.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> pack = Pack(find_cell("Bittern 50E"), 4, 2)
        >>> done = planned_charge(pack, Charger(10.0, 200.0), 0.3)
        >>> round(done.asked_a, 2), bool(abs(done.time_min[-1] - done.plan.minutes_full) < 0.5)
        (2.91, True)
    """
    from_depth = 1.0 - left_pct / 100.0
    asked_a = c_rate * float(pack.capacity_ah)
    plan = charge_settings(
        pack, charger, current_a=asked_a, cell_v=cell_v, from_depth_of_discharge=from_depth,
        temperature_c=temperature_c,
    )  # fmt: skip
    cell, parallel = pack.cell, float(pack.parallel)
    model = at_charge(cell.model, cell.charge_v)
    last = from_depth - plan.charge_ah / parallel / model.capacity_ah
    # closer together towards the end, where the current fades
    depth = last + (from_depth - last) * np.linspace(1.0, 0.0, points) ** 2
    rest_v = model.open_circuit_at(depth)
    ohm = (
        model.resistance_at(depth) * CHARGE_RESISTANCE + float(pack.joint_mohm_per_cell)
    ) / 1000.0
    cell_w = charger.max_w / float(pack.cells)
    by_power = 2.0 * cell_w / (rest_v + np.sqrt(rest_v**2 + 4.0 * ohm * cell_w))
    by_voltage = (plan.cell_v - rest_v) / ohm
    amps = np.minimum(np.minimum(plan.current_a / parallel, by_power), by_voltage)
    amps = np.maximum(amps, plan.end_a / parallel * 0.99)
    step_ah = model.capacity_ah * -np.diff(depth)
    mean = 2.0 / (1.0 / amps[1:] + 1.0 / amps[:-1])
    minutes = np.concatenate([[0.0], np.cumsum(60.0 * step_ah / mean)])
    return PlannedCharge(
        asked_a, plan, minutes, rest_v + amps * ohm, amps * parallel, 100.0 * (1.0 - depth)
    )


def rate_steps(pack: Pack, ask: RateAsk, continuous_share_pct: float) -> tuple[Step, ...]:
    """The working of a single C-rate in discharge."""
    cell, c, p = pack.cell, float(ask.c_rate), float(pack.parallel)
    return (
        Step(
            "cell_a", "current of one cell", "C-rate x cell's rated capacity",
            f"{c:g} 1/h x {cell.rated_capacity_ah:g} Ah", float(ask.cell_a), "A", IT,
        ),
        Step(
            "pack_a", "current of the pack", "C-rate x pack's capacity, which is P x the cell's",
            f"{c:g} 1/h x {p:g} x {cell.rated_capacity_ah:g} Ah", float(ask.pack_a), "A", IT,
        ),
        Step(
            "minutes", "time until the rated capacity is gone", "60 min / C-rate", f"60 min / {c:g}",
            float(ask.minutes), "min", "arithmetic; no reserve, no landing voltage",
        ),
        Step(
            "continuous_c", "continuous current as a C-rate", "continuous current / rated capacity",
            f"{cell.continuous_a:g} A / {cell.rated_capacity_ah:g} Ah", ask.continuous_c, "1/h",
            "the cell's datasheet",
        ),
        Step(
            "allowed_a", "current allowed of one cell", "continuous current x allowed share",
            f"{cell.continuous_a:g} A x {continuous_share_pct:g} %", float(ask.allowed_a), "A",
            "the club's rule; 50 to 80 % inside a wrapped block is common practice, no source",
        ),
    )  # fmt: skip
