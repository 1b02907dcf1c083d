"""One design with each thrust table of a file: which propeller and voltage hovers on least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from workbook.craft.craft_types import Multirotor
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError
from workbook.sizing.design import Design
from workbook.sizing.figures import plain
from workbook.sizing.size import size


@dataclass(frozen=True)
class TableRow:
    """A single design hovering by one thrust table; figures are NaN outside the table.

    Attributes:
        motor, propeller, table_v: which table: names, and the voltage at which it was taken.
        in_use: whether it is the table of the design.
        hover_thrust_per_motor_gf: the same for every table.
        hover_efficiency_gf_w: thrust per watt of one motor on the bench, at any voltage.
        hover_efficiency_gf_a: thrust per ampere at the pack's mean voltage in flight.
        hover_power_w, endurance_min: of the craft in hover.
        hover_throttle_full_pct, hover_throttle_end_pct: NaN without a throttle column.
        thrust_to_weight_end: thrust over weight at the end of the flight.
        full_throttle_cell_current_a: at a full pack, at the throttle cap.
        holds: whether every limit holds; broken: the names of those that do not.
    """

    motor: str
    propeller: str
    table_v: float
    in_use: bool
    hover_thrust_per_motor_gf: float
    hover_efficiency_gf_w: float
    hover_efficiency_gf_a: float
    hover_power_w: float
    endurance_min: float
    hover_throttle_full_pct: float
    hover_throttle_end_pct: float
    thrust_to_weight_end: float
    full_throttle_cell_current_a: float
    holds: bool
    broken: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix; None where a figure cannot be told."""
        told = asdict(self)
        kept = {key: told.pop(key) for key in ("in_use", "holds")}
        broken = list(told.pop("broken"))
        return {**plain(told), **kept, "broken": broken}


def compare_tables(
    design: Design[Multirotor], tables: Sequence[ThrustTable]
) -> tuple[TableRow, ...]:
    """Size a single multirotor design with each thrust table in turn, all else equal.

    The craft's mass stays as it is: motors and propellers of another mass need another design. A
    throttle cap does not count for a table without throttle.

    Raises:
        InputError: the craft is not a multirotor.

    Example:
        >>> from workbook.battery.pack import Pack
        >>> from workbook.files.cell_file import find_cell
        >>> from workbook.sizing.design import Flight
        >>> thrust = np.array([200.0, 600.0, 1200.0, 2400.0])
        >>> def table(propeller, watts):
        ...     power = watts * (thrust / 1000) ** 1.5
        ...     return ThrustTable(
        ...         "m", propeller, thrust, power / 22.2, thrust * 0 + 22.2, power,
        ...         np.array([15.0, 40.0, 65.0, 100.0]), thrust * np.nan
        ...     )  # fmt: skip
        >>> small, large = table("13x4", 130.0), table("15x5", 110.0)
        >>> six = Multirotor(
        ...     name="six",
        ...     rotors=6,
        ...     mass_without_pack_g=2100.0,
        ...     payload_g=350.0,
        ...     table=small,
        ...     avionics_w=12.0,
        ...     flight_factor=1.1,
        ... )
        >>> pack = Pack(find_cell("Sedge 48E"), 6, 3, 10.0, 75.0, 8.0)
        >>> for row in compare_tables(Design("six", six, pack, Flight(3.1, 20.0)), (small, large)):
        ...     print(row.propeller, round(row.hover_efficiency_gf_w, 1), round(row.endurance_min))
        13x4 9.6 33
        15x5 11.3 39
    """
    if not isinstance(design.craft, Multirotor):
        raise InputError(
            "thrust tables are compared in hover; a fixed wing does not hover. Compare its designs "
            "by their cruise and launch figures."
        )
    return tuple(_row(design, table) for table in tables)


def _row(design: Design[Multirotor], table: ThrustTable) -> TableRow:
    flight = design.flight
    if not table.has_throttle:
        flight = replace(flight, throttle_cap_pct=100.0)
    craft = replace(design.craft, table=table)
    answer = size(replace(design, craft=craft, flight=flight, today=None, mission=()))
    point, pack = answer.point, design.pack
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_v = float(pack.series * point.run.energy_wh / point.run.charge_ah)
    thrust = float(point.thrust_per_motor_gf)
    used = design.craft.table
    same = table is used or (
        (table.motor, table.propeller, table.source) == (used.motor, used.propeller, used.source)
        and bool(np.array_equal(table.thrust_gf, used.thrust_gf))
    )
    bench_w = float(table.power_at_thrust(thrust))
    return TableRow(
        table.motor,
        table.propeller,
        float(table.supply_v if np.isfinite(table.supply_v) else table.voltage_v.max()),
        same,
        thrust,
        thrust / bench_w,
        thrust * mean_v / bench_w,
        float(point.power_w),
        float(point.endurance_min),
        float(point.full.steady_throttle_pct),
        float(point.end.steady_throttle_pct),
        float(point.end.thrust_to_weight),
        float(point.full.full_throttle.cell_a),
        answer.holds,
        tuple(limit.name for limit in answer.broken),
    )
