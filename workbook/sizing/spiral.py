"""The weight spiral: endurance against pack size, computed and by the textbook's ideal."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from workbook.battery.discharge import PowerRun
from workbook.numbers import FloatArray, Number
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.working import Step, step

POWER_MASS_EXPONENT = 1.5
"""Hover power against all-up mass. Source: momentum theory, a rotor that hovers."""


@dataclass(frozen=True)
class IdealEndurance:
    """Endurance on paper: energy in proportion to pack mass, power as all-up mass^exponent.

    Left out: avionics that draw power whatever the mass, leads that weigh the same at any P, and sag.

    Attributes:
        rest_g: mass of all but the pack, above 0.
        exponent: of power against mass, above 1.

    Source: calculus; minutes go as pack mass / (rest + pack mass)^exponent.

    Example:
        >>> ideal = IdealEndurance(1000.0)
        >>> ideal.best_pack_g, ideal.share_of_longest([500.0, 1000.0, 2000.0, 4000.0]).round(3)
        (2000.0, array([0.707, 0.919, 1.   , 0.93 ]))
    """

    rest_g: float
    exponent: float = POWER_MASS_EXPONENT

    @property
    def best_pack_g(self) -> float:
        """Pack mass of the longest flight, where the derivative is zero: twice the rest at 1.5."""
        return self.rest_g / (self.exponent - 1.0)

    def share_of_longest(self, pack_g: Number) -> FloatArray:
        """Endurance over that of the best pack mass, 0 to 1, of packs of 0 g or more."""
        best, pack = self.best_pack_g, np.asarray(pack_g, dtype=float)
        lifted = (self.rest_g + pack) / (self.rest_g + best)
        return np.asarray(pack / best / lifted**self.exponent)


@dataclass(frozen=True, eq=False)
class Spiral:
    """The same craft and cell with 1, 2, 3 ... cells in parallel, shape (K,).

    Attributes:
        design: the single design that was varied.
        parallel: cells in parallel.
        run: the steady flights, NaN where the thrust table does not reach.
        all_up_mass_g: with that pack.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> curve = spiral(six, 3)
        >>> curve.gained_min.round(1), curve.best_parallel
        (array([13.7, 12.4,  7.7]), 3.0)
    """

    design: Design[Any]
    parallel: FloatArray
    run: PowerRun
    all_up_mass_g: FloatArray

    @cached_property
    def endurance_min(self) -> FloatArray:
        """Minutes of steady flight; NaN where the thrust table does not reach."""
        return np.asarray(self.run.time_s / 60.0)

    @cached_property
    def best_parallel(self) -> float:
        """The number in parallel with the longest endurance of those computed; NaN without any."""
        if np.all(np.isnan(self.endurance_min)):
            return np.nan
        return float(self.parallel[np.nanargmax(self.endurance_min)])

    @property
    def gained_min(self) -> FloatArray:
        """Minutes that each string adds to the one before; the first adds all of its own."""
        return np.diff(self.endurance_min, prepend=0.0)

    @property
    def here_min(self) -> float:
        """Endurance of the design as it is."""
        return float(self.endurance_min[self._here])

    @property
    def gained_here_min(self) -> float:
        """Minutes gained by the last string of the design as it is."""
        return float(self.gained_min[self._here])

    @property
    def longest_min(self) -> float:
        """The longest flight of those computed."""
        return float(np.nanmax(self.endurance_min))

    @cached_property
    def point(self) -> Any:
        """The operating point of the design as it is, which flies one of these flights."""
        return craft_type_of(self.design).operate(self.design, run=self.run.of(self._here))

    @property
    def _here(self) -> int:
        """Place of the design as it is."""
        return int(self.design.pack.parallel) - 1

    @property
    def ideal(self) -> IdealEndurance:
        """The textbook's endurance of this craft and payload."""
        craft = self.design.craft
        return IdealEndurance(float(craft.all_up_mass_g(0.0)))

    @property
    def pack_over_rest(self) -> float:
        """Pack mass over that of the rest, of the design as it is."""
        return float(self.design.pack.mass_g) / self.ideal.rest_g

    @cached_property
    def ideal_min(self) -> FloatArray:
        """The ideal curve through the longest flight of those computed, wherever the design stands on the curve."""
        best = self.best_parallel
        if np.isnan(best):
            return np.full_like(self.parallel, np.nan)
        grown_g = self.design.pack.extra_mass_g + self.string_g * self.parallel
        share = self.ideal.share_of_longest(grown_g)
        return np.asarray(self.longest_min * share / share[int(best) - 1])

    @property
    def ideal_parallel(self) -> float:
        """Cells in parallel that weigh as much as the ideal's best pack; no whole number."""
        fixed_g = float(self.design.pack.extra_mass_g)
        return (self.ideal.best_pack_g - fixed_g) / self.string_g

    @property
    def string_g(self) -> float:
        """What each string weighs."""
        pack = self.design.pack
        return float((pack.mass_g - pack.extra_mass_g) / pack.parallel)

    def working(self) -> tuple[Step, ...]:
        """The working of the design's own place on the spiral, which must reach so far."""
        own = craft_type_of(self.design).working(self.design, self.point)
        steps = [s for s in own if s.key in ("pack_mass_g", "all_up_mass_g", "endurance_min")]
        parallel, ideal, minutes = int(self.design.pack.parallel), self.ideal, self.endurance_min
        if parallel > 1:
            gained = step(
                "gained_min",
                self.gained_min[parallel - 1],
                parallel=parallel,
                fewer=parallel - 1,
                minutes=minutes[parallel - 1],
                minutes_before=minutes[parallel - 2],
            )
            steps.append(gained)
        pack_g = float(self.design.pack.mass_g)
        best = step("best_pack_g", ideal.best_pack_g, ideal=ideal)
        share = step(
            "share_of_longest",
            ideal.share_of_longest(pack_g).item(),
            pack_g=pack_g,
            ideal=ideal,
            spiral=self,
        )
        return (*steps, best, share)


def spiral(design: Design[Any], most_parallel: int = 12) -> Spiral:
    """Endurance and all-up mass of a single design against cells in parallel, all else equal.

    Args:
        design: a single design, of any craft type.
        most_parallel: cells in parallel to go up to.
    """
    parallel = np.arange(1.0, most_parallel + 1.0)
    load = craft_type_of(design).load(design.changed(parallel=parallel))
    return Spiral(design, parallel, load.discharge(load.power_w), load.all_up_mass_g)
