"""Thrust, current and voltage along the throttle, the pack sagging under each, full to almost empty."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray, rounded
from workbook.quantities import RESULTS
from workbook.sizing.design import Design
from workbook.sizing.hover_point import FullThrottle, HoverPoint, hover_point
from workbook.sizing.limits import LEAST_THRUST_TO_WEIGHT
from workbook.working import Step, step

CURVE_POINTS = 76
"""Of the curves along all of the throttle."""


@dataclass(frozen=True)
class ThrottleCurves:
    """What each throttle does, shape (K,), at three states of the pack.

    Attributes:
        throttle_pct: throttle.
        full, half, end: thrust per motor, cell current and voltage at that throttle; NaN where the
            thrust table says nothing about it.
    """

    throttle_pct: FloatArray
    full: FullThrottle
    half: FullThrottle
    end: FullThrottle


def throttle_curves(point: HoverPoint, throttle_pct: FloatArray) -> ThrottleCurves:
    """What a single design does at each throttle, the pack settled under it, whatever its cap.

    Args:
        point: of a single design; its thrust table needs a throttle column.
        throttle_pct: shape (K,), 0 to 100.

    Source: as `workbook.sizing.hover_point.hover_point`, asked with every throttle as the cap.
    """
    throttle, states = np.asarray(throttle_pct, dtype=float), point.together
    design = states.load.design.changed(throttle_cap_pct=throttle)
    found = replace(states, load=replace(states.load, design=design)).full_throttle
    # without a cap anywhere there is one figure for all
    shape = (len(point.states), *throttle.shape)
    figures = [np.broadcast_to(getattr(found, f.name), shape) for f in fields(found)]
    return ThrottleCurves(throttle, *(FullThrottle(*rows) for rows in zip(*figures, strict=True)))


@dataclass(frozen=True)
class ThrottleResponse:
    """A single design with its stick at one place.

    Attributes:
        design, point: the design and its operating point.
        stick_pct: where the stick is.
        throttle_pct: what the cap lets through of it.
        curves: along all of the throttle, whatever the cap.
        here: at the throttle let through, shape (1,).
        allowed_a: allowed share of the cell's continuous current.
    """

    design: Design
    point: HoverPoint
    stick_pct: float
    throttle_pct: float
    curves: ThrottleCurves
    here: ThrottleCurves
    allowed_a: float

    @property
    def continuous_cap_pct(self) -> float:
        """The throttle cap that keeps the allowed continuous current over the whole flight."""
        return float(self.point.throttle_cap_pct("continuous"))

    @property
    def burst_cap_pct(self) -> float:
        """The throttle cap that keeps the burst current over the whole flight."""
        return float(self.point.throttle_cap_pct("burst"))

    @property
    def held_by_cap(self) -> bool:
        """Whether the stick is above the cap."""
        return self.throttle_pct < self.stick_pct

    @property
    def lowest_hover_cell_v(self) -> float:
        """Cell voltage in hover below which the asked thrust is out of reach; NaN where it always is."""
        lowest = float(self.point.lowest_hover_cell_v)
        return lowest if lowest <= float(self.point.full.steady_v) else np.nan

    def cautions(self) -> tuple[str, ...]:
        """What is to be said about the cap, in words."""
        cell, full_a = self.design.pack.cell, self.point.full.full_throttle.cell_a
        found = []
        if full_a > cell.burst_a:
            found.append(
                f"With this cap a full pack gives {full_a:.1f} A per cell, over its burst current of {cell.burst_a:g} A: "
                "it overheats and can vent. Lower the cap."
            )
        return (*found, *self._reserve_cautions(), *self._voltage_cautions())

    def _reserve_cautions(self) -> Iterator[str]:
        ratio, wanted = self.point.reserve, self.design.flight.thrust_reserve
        almost_empty = (
            f"Almost empty, thrust is {rounded(float(ratio), 2, 'down'):.2f} times weight"
        )
        fix = (
            "Raise the cap where the burst current allows it, land earlier, add cells in parallel or "
            "take mass off."
        )
        if ratio < 1.0:
            yield f"{almost_empty}: the craft cannot hold itself up and comes down. {fix}"
        elif ratio < LEAST_THRUST_TO_WEIGHT:
            yield (
                f"{almost_empty}, under {LEAST_THRUST_TO_WEIGHT:g}: the craft may not be able to stop "
                f"its own descent. {fix}"
            )
        elif ratio < wanted:
            yield f"{almost_empty}; {wanted:g} is asked."

    def _voltage_cautions(self) -> Iterator[str]:
        lowest, end_v = self.lowest_hover_cell_v, self.point.run.end_v
        if np.isnan(lowest):
            yield "The thrust to weight asked for is out of reach even on a full pack."
        elif end_v < lowest:
            yield (
                f"The flight ends at {end_v:.2f} V per cell in hover; from "
                f"{RESULTS['lowest_hover_cell_v'].text(float(lowest))} down the asked "
                f"thrust is out of reach, stopped by the {self.point.lowest_hover_binds}."
            )


def throttle_response(
    design: Design, stick_pct: float, known: ThrottleResponse | None = None
) -> ThrottleResponse:
    """What a single design does with its stick at one place, and along all of the throttle.

    Args:
        design: a single design; its thrust table needs a throttle column.
        stick_pct: 0 to 100; above the design's throttle cap it is held there.
        known: of the same design but for its cap, allowed current and asked thrust: these leave the curves as they are,
            and the stick the operating point too.

    Raises:
        InputError: the thrust table has no throttle column, or does not reach the hover thrust.
    """
    table = design.craft.table
    if not table.has_throttle:
        what = "the table has no throttle column; a throttle for every row is needed."
        raise InputError(what, table.source)
    same_flight = known is not None and known.design.flight == design.flight
    point = known.point if known and same_flight else hover_point(design)
    table.rows_around(float(point.thrust_per_motor_gf))
    throttle = min(float(stick_pct), float(design.flight.throttle_cap_pct))
    along_pct = np.linspace(float(table.throttle_pct[0]), 100.0, CURVE_POINTS)
    return ThrottleResponse(
        design,
        point,
        float(stick_pct),
        throttle,
        known.curves if known else throttle_curves(point, along_pct),
        throttle_curves(point, np.array([throttle])),
        float(design.pack.cell.continuous_a * design.flight.continuous_share_pct) / 100.0,
    )


def throttle_steps(flight: ThrottleResponse) -> tuple[Step, ...]:
    """The working of the ceiling almost empty, of the cap and of the thrust that is left."""
    point, load, pack = flight.point, flight.point.load, flight.design.pack
    end, full, craft = point.end, point.full, flight.design.craft
    ceiling, cells = end.continuous, pack.cells
    pack_w = cells * ceiling.cell_a * ceiling.cell_v
    motor_w = (pack_w - load.avionics_w) / craft.rotors
    bench_gf = ceiling.thrust_gf / load.thrust_kept
    found = "thrust at that power, from the thrust table"
    if ceiling.throttle_pct >= 100.0:
        found = "full throttle, which asks for less than the limit"
    return (
        step(
            "ceiling_cell_v",
            ceiling.cell_v,
            end=end,
            ceiling=ceiling,
            ohm=end.resistance_mohm / 1000.0,
        ),
        step("ceiling_power_w", motor_w, cells=cells, ceiling=ceiling, load=load, craft=craft),
        step(
            "continuous_thrust_gf",
            ceiling.thrust_gf,
            rule=found,
            motor_w=motor_w,
            bench_gf=bench_gf,
            craft=craft,
        ),
        step(
            "continuous_cap_pct",
            flight.continuous_cap_pct,
            full=full,
            pack_v=full.continuous.cell_v * pack.series,
        ),
        step(
            "capped_thrust_to_weight_end",
            end.thrust_to_weight,
            craft=craft,
            end=end,
            point=point,
        ),
    )
