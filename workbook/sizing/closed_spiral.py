"""The weight spiral on paper: endurance against pack mass where power goes as mass^1.5."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.numbers import FloatArray, Number
from workbook.sizing.curves import Spiral
from workbook.sizing.design import Design
from workbook.sizing.operating_point import OperatingPoint
from workbook.sizing.working import CIRCUIT, mass_step
from workbook.working import Step

POWER_MASS_EXPONENT = 1.5
"""Hover power against all-up mass. Source: momentum theory, a rotor that hovers."""


def best_pack_mass_g(rest_g: Number, exponent: Number = POWER_MASS_EXPONENT) -> FloatArray:
    """Pack mass of the longest hover: rest / (exponent - 1), which is twice the rest at 1.5.

    Minutes go as pack mass / (rest + pack mass)^exponent; the derivative is zero there.

    Args:
        rest_g: mass of all but the pack, above 0.
        exponent: of power against mass, above 1.

    Source: calculus; energy in proportion to pack mass, power as mass^exponent.

    Example:
        >>> float(best_pack_mass_g(1000.0))
        2000.0
    """
    return np.asarray(np.asarray(rest_g, dtype=float) / (np.asarray(exponent) - 1.0))


def share_of_longest(
    pack_g: Number, rest_g: Number, exponent: Number = POWER_MASS_EXPONENT
) -> FloatArray:
    """Endurance over that of the best pack mass, 0 to 1.

    Args:
        pack_g: pack mass, 0 or more.
        rest_g: mass of all but the pack, above 0.
        exponent: of power against mass, above 1.

    Source: as `best_pack_mass_g`.

    Example:
        >>> share_of_longest([500.0, 1000.0, 2000.0, 4000.0], 1000.0).round(3)
        array([0.707, 0.919, 1.   , 0.93 ])
    """
    best = best_pack_mass_g(rest_g, exponent)

    def minutes(pack: Number) -> FloatArray:
        pack = np.asarray(pack, dtype=float)
        return np.asarray(pack / (np.asarray(rest_g) + pack) ** np.asarray(exponent))

    return np.asarray(minutes(pack_g) / minutes(best))


@dataclass(frozen=True)
class ClosedSpiral:
    """The paper curve of a single design, through the design's own point.

    Attributes:
        parallel: cells in parallel, shape (K,).
        endurance_min: on paper, shape (K,); NaN where the design's own point cannot be told.
        rest_g: craft and payload.
        best_pack_g: pack mass of the longest flight on paper.
        best_parallel: cells in parallel that weigh so much; no whole number.
        pack_over_rest: of the design as it is.
    """

    parallel: FloatArray
    endurance_min: FloatArray
    rest_g: float
    best_pack_g: float
    best_parallel: float
    pack_over_rest: float


def closed_spiral(design: Design, point: OperatingPoint, parallel: Number) -> ClosedSpiral:
    """The closed form beside a single design's own spiral; the two meet at the design's point.

    Left out on paper: avionics that draw power whatever the mass, leads that weigh the same at any P,
    sag, and an exponent other than 1.5.

    Args:
        design: a single design.
        point: its operating point.
        parallel: cells in parallel at which to draw the curve.
    """
    pack, craft = design.pack, design.craft
    rest = float(craft.mass_without_pack_g + craft.payload_g)
    own, fixed = float(pack.mass_g), float(pack.extra_mass_g)
    string_g = (own - fixed) / float(pack.parallel)
    at = np.asarray(parallel, dtype=float)
    here = share_of_longest(own, rest)
    minutes = point.endurance_min * share_of_longest(fixed + string_g * at, rest) / here
    best = float(best_pack_mass_g(rest))
    return ClosedSpiral(at, np.asarray(minutes), rest, best, (best - fixed) / string_g, own / rest)


def gained_min(spiral: Spiral) -> FloatArray:
    """Minutes that each string adds to the one before; the first adds all of its own. Shape (K,).

    Example:
        >>> gained_min(Spiral(np.array([1.0, 2, 3]), np.array([9.0, 15, 14]), np.ones(3)))
        array([ 9.,  6., -1.])
    """
    return np.diff(spiral.endurance_min, prepend=0.0)


def spiral_steps(
    design: Design, point: OperatingPoint, curve: Spiral, closed: ClosedSpiral
) -> tuple[Step, ...]:
    """The working of a single design's place on the spiral.

    Args:
        design, point: a single design and its operating point.
        curve: its spiral, reaching its own number in parallel or further.
        closed: the paper curve beside it.
    """
    pack, parallel = design.pack, int(design.pack.parallel)
    minutes = curve.endurance_min
    delivered = float(point.run.energy_wh * pack.cells)
    steps = [
        Step(
            "pack_mass_g", "pack mass", "cells x cell mass x (1 + overhead) + leads and connector",
            f"{float(pack.cells):g} x {pack.cell.mass_g:g} g x {1 + float(pack.overhead_pct) / 100:g} + {float(pack.extra_mass_g):g} g",
            float(pack.mass_g), "g", "scale",
        ),
        mass_step(design, point),
        Step(
            "endurance_min", "endurance", "60 x energy delivered / hover power",
            f"60 x {delivered:.1f} Wh / {float(point.power_w):.1f} W", float(point.endurance_min), "min", CIRCUIT,
        ),
    ]  # fmt: skip
    if parallel > 1:
        steps.append(
            Step(
                "gained_min", f"gained by string {parallel}", f"endurance at P = {parallel} - endurance at P = {parallel - 1}",
                f"{float(minutes[parallel - 1]):.2f} min - {float(minutes[parallel - 2]):.2f} min",
                float(gained_min(curve)[parallel - 1]), "min", "arithmetic",
            )
        )  # fmt: skip
    rest, k = closed.rest_g, POWER_MASS_EXPONENT
    own = float(pack.mass_g)
    steps += [
        Step(
            "best_pack_g", "pack mass of the longest flight, on paper", "rest / (1.5 - 1) = 2 x rest",
            f"2 x {rest:.0f} g", closed.best_pack_g, "g", "calculus; power as mass^1.5 (momentum theory)",
        ),
        Step(
            "share_of_longest", "share of the longest flight, on paper",
            "(p / (1 + p)^1.5) / (2 / 3^1.5), p = pack mass / rest", f"p = {own:.0f} g / {rest:.0f} g = {own / rest:.3f}",
            float(share_of_longest(own, rest, k)), "", "as above",
        ),
    ]  # fmt: skip
    return tuple(steps)
