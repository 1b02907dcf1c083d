"""A pack under constant power from full to its landing: minutes by the sag and by Ah over A."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.discharge import (
    PowerRun,
    SagCurve,
    constant_power,
    most_power_w,
    naive_minutes,
    sag_curve,
)
from workbook.battery.pack import Pack
from workbook.battery.thresholds import Thresholds, thresholds
from workbook.working import Step

CIRCUIT = "source with a resistance; power = voltage x current"


@dataclass(frozen=True)
class SaggingFlight:
    """One pack under one load. Currents are the pack's, voltages a cell's.

    Attributes:
        pack, power_w, landing_v, reserve_pct, factor: what was asked; factor is on the resistance.
        run: the discharge of one cell down to the end of the flight.
        curve, fresh: the whole sag curve of one cell, as it is and with a factor of 1.
        thresholds: alarm, return, land and cut.
        flight_min: minutes by the sag.
        naive_min: minutes by Ah over A: rated charge less the reserve over the current at take-off.
        start_a, end_a: current at take-off and at the end.
        end_mohm: resistance of one cell at the end, with its share of the joints.
        most_w: the most power that the pack could give at the end of the flight.
    """

    pack: Pack
    power_w: float
    landing_v: float
    reserve_pct: float
    factor: float
    run: PowerRun
    curve: SagCurve
    fresh: SagCurve
    thresholds: Thresholds
    flight_min: float
    naive_min: float
    start_a: float
    end_a: float
    end_mohm: float
    most_w: float

    @property
    def ends_by(self) -> str:
        """Which end came first."""
        if not self.run.time_s > 0:
            return "no take-off"
        return "landing voltage" if self.run.landed else "reserve"

    @property
    def collapses(self) -> bool:
        """Whether the pack can no longer give the power before it is empty."""
        return bool(np.isfinite(self.curve.collapse_depth_of_discharge))

    @property
    def collapse_ah(self) -> float:
        """Charge taken from the pack when it can no longer give the power; NaN where it always can."""
        model = self.pack.cell.model
        return float(
            self.curve.collapse_depth_of_discharge * model.capacity_ah * self.pack.parallel
        )

    @property
    def reserve_from_ah(self) -> float:
        """Charge taken from the pack when its reserve begins."""
        whole = self.pack.cell.model.capacity_ah * self.pack.parallel
        return float((1.0 - self.reserve_pct / 100.0) * whole)

    @property
    def highest_shown_a(self) -> float:
        """Upper end of an axis that shows the flight's current and the continuous limit."""
        seen = np.array([1.25 * float(self.pack.continuous_a), 1.25 * self.end_a])
        return float(np.ceil(np.nanmax(seen) / 10.0) * 10.0)

    def cautions(self) -> tuple[str, ...]:
        """What must be said, in words; empty where nothing must."""
        cell, end_a = self.pack.cell, self.end_a / float(self.pack.parallel)
        said = [str(notice) for notice in self.thresholds.notices]
        if end_a > cell.continuous_a:
            said.append(
                f"each cell carries {end_a:.1f} A at the end; its maker allows {cell.continuous_a:g} A continuous. "
                "It can overheat, vent and burn."
            )
        return tuple(f"{sentence[0].upper()}{sentence[1:]}" for sentence in said)

    def text(self) -> str:
        """What happens, in words."""
        run, cells = self.run, float(self.pack.cells)
        if not run.time_s > 0:
            return (
                f"Even full the pack cannot carry {self.power_w:.0f} W above {self.landing_v:g} V a cell: "
                "no take-off."
            )
        less = float(run.end_open_circuit_v - run.end_v)
        said = (
            f"Lands after {self.flight_min:.1f} min at {float(run.end_v):.2f} V loaded, which is "
            f"{float(run.end_open_circuit_v):.2f} V at rest: {less:.2f} V of sag at {self.end_a / float(self.pack.parallel):.1f} A "
            f"a cell. The {self.ends_by} came first."
        )
        if self.collapses:
            said += (
                f" After {self.collapse_ah:.1f} Ah no voltage gives {self.power_w / cells:.1f} W a cell: "
                "it collapses."
            )
        return said


def sagging_flight(
    pack: Pack,
    power_w: float,
    landing_v: float,
    reserve_pct: float,
    resistance_factor: float = 1.0,
) -> SaggingFlight:
    """Fly a single pack at constant power down to its landing voltage or its reserve.

    Args:
        pack: one pack, S and P plain numbers.
        power_w: of the whole pack, above 0.
        landing_v: cell voltage under load, 2.5 to 4.0.
        reserve_pct: share of the charge that stays, 0 to below 100.
        resistance_factor: on the cells' own resistance (cold, age), above 0.

    Raises:
        InputError: a figure that cannot be.

    Source: `workbook.battery.discharge.constant_power`.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> flight = sagging_flight(Pack(find_cell("Bittern 50E"), 4, 2), 250.0, 3.1, 15.0)
        >>> flight.flight_min < flight.naive_min, flight.start_a < flight.end_a
        (True, True)
    """
    model, cells, parallel = pack.cell.model, float(pack.cells), float(pack.parallel)
    cell_w, extra = power_w / cells, float(pack.joint_mohm_per_cell)
    last = 1.0 - reserve_pct / 100.0
    run = constant_power(
        model, cell_w, landing_v, last, extra_mohm=extra, resistance_factor=resistance_factor
    )
    end_mohm = float(model.resistance_at(run.end_depth_of_discharge)) * resistance_factor + extra
    start_a = float(run.start_a) * parallel
    return SaggingFlight(
        pack,
        power_w,
        landing_v,
        reserve_pct,
        resistance_factor,
        run,
        sag_curve(model, cell_w, extra_mohm=extra, resistance_factor=resistance_factor),
        sag_curve(model, cell_w, extra_mohm=extra),
        thresholds(
            pack,
            power_w,
            landing_v=landing_v,
            land_depth_of_discharge=last,
            resistance_factor=resistance_factor,
        ),
        float(run.time_s) / 60.0,
        float(naive_minutes(last * float(pack.capacity_ah), start_a)),
        start_a,
        float(run.end_a) * parallel,
        end_mohm,
        float(most_power_w(run.end_open_circuit_v, end_mohm)) * cells,
    )


def sagging_steps(flight: SaggingFlight) -> tuple[Step, ...]:
    """The working of a flight under constant power; where there is no take-off, why not."""
    pack, run = flight.pack, flight.run
    cells, parallel = float(pack.cells), float(pack.parallel)
    cell_w = flight.power_w / cells
    rest = float(run.end_open_circuit_v)
    delivered = float(run.energy_wh) * cells
    steps = (
        Step("cell_power_w", "power of one cell", "power of the flight / cells",
             f"{flight.power_w:.4g} W / {cells:g}", cell_w, "W", "arithmetic"),
        Step("end_v", "cell voltage under load at the end", "(U + sqrt(U^2 - 4 p R)) / 2",
             f"({rest:.3f} V + sqrt({rest:.3f}^2 - 4 x {cell_w:.2f} W x {flight.end_mohm / 1000:.4f} ohm)) / 2",
             float(run.end_v), "V", CIRCUIT),
        Step("end_a", "current of one cell at the end", "power of one cell / its voltage under load",
             f"{cell_w:.4g} W / {float(run.end_v):.3f} V", flight.end_a / parallel, "A", CIRCUIT),
        Step("flight_min", "flight time", "60 x energy delivered / power of the flight",
             f"60 x {delivered:.1f} Wh / {flight.power_w:.4g} W", flight.flight_min, "min",
             "the cell's voltage summed over charge, down to the end"),
        Step("naive_min", "the same by Ah over A", "60 x rated capacity x (1 - reserve) / current at take-off",
             f"60 x {float(pack.capacity_ah):g} Ah x {1 - flight.reserve_pct / 100:.2f} / {flight.start_a:.4g} A",
             flight.naive_min, "min", "arithmetic; takes the current for constant and every volt for reached"),
        Step("most_w", "the most power at the end, all cells", "cells x U^2 / (4 R)",
             f"{cells:g} x {rest:.3f}^2 / (4 x {flight.end_mohm / 1000:.4f} ohm)", flight.most_w, "W",
             "maximum power transfer theorem; above it voltage collapses"),
    )  # fmt: skip
    if not np.isfinite(run.start_v):  # the power cannot be had at any voltage
        return steps[0], steps[-1]
    return steps
