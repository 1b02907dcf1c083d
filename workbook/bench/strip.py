"""Strip: what it is made of, its resistance, what current it may carry and how warm it gets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from workbook.data.tables import data_rows
from workbook.errors import Problem, refuse
from workbook.numbers import FINITE, JUST_ABOVE_0, Number, range_problems
from workbook.working import Step, step


@dataclass(frozen=True)
class StripMaterial:
    """A metal that strip is sold in.

    Attributes:
        name: as used in the calls.
        ohm_m: resistivity at 20 °C.
        per_k: temperature coefficient at 20 °C.
        w_per_m_k: thermal conductivity near 20 °C, from memory.
        g_per_mm3: density, from memory.
        source: of the resistivity.
    """

    name: str
    ohm_m: float
    per_k: float
    w_per_m_k: float
    g_per_mm3: float
    source: str


def _materials() -> dict[str, StripMaterial]:
    rows: list[dict[str, Any]] = [*data_rows("strip_materials.csv")]
    figures = ("ohm_m", "per_k", "w_per_m_k", "g_per_mm3")
    return {r["name"]: StripMaterial(**r | {key: float(r[key]) for key in figures}) for r in rows}


MATERIALS = _materials()
"""Strip sold as pure nickel is mostly the alloy N02200 or N02201 (8.5e-8), 23 to 39 % above the pure
metal: the careful figure is the first."""

RULE_A_PER_MM2 = 5.0
"""Nickel strip in a wrapped pack, A per mm2 of section: inside the ranges that builders keep to
(0.15 x 8 mm 5 to 7 A, 0.2 x 8 mm 7 to 10 A, 0.2 x 10 mm 10 to 12 A). Common practice, no source."""

WRAPPED_W_PER_M2_K = 10.0
"""Heat that strip under a sheet and a sleeve gives to the air, through its outer face only. Common
practice, no source."""

AIR_C = 35.0
"""Air around strips and leads, inside a craft in summer. Common practice, no source."""
CELL_END_C = 50.0
"""Temperature of the cell ends late in a flight. Common practice, no source."""
STRIP_C = 60.0
"""Strip temperature at which resistances are stated: a warm pack. Common practice, no source."""
MOST_C = 80.0
"""Hottest that a strip or a lead may get. Common practice, no source."""

ROUNDING = 1.01
"""A rule of thumb is not broken by a hundredth."""

STACK_MM = 0.3
"""Thickest stack that small spot welders join well. Common practice, no source: peel a test piece."""


def resistivity_ohm_m(material: str, temperature_c: Number = 20.0) -> Number:
    """Resistivity of a strip material, straight line in temperature.

    Args:
        material: a name in `MATERIALS`.
        temperature_c: strip temperature, 0 to 100 °C.

    Source: see `MATERIALS`.

    Example:
        >>> print(f"{resistivity_ohm_m('nickel 200', 60.0):.3e}")
        1.125e-07
    """
    metal = MATERIALS[material]
    return metal.ohm_m * (1.0 + metal.per_k * (np.asarray(temperature_c, float)[()] - 20.0))


@dataclass(frozen=True)
class Strip:
    """Strip off the reel.

    Attributes:
        material: a name in `MATERIALS`.
        width_mm: width.
        thickness_mm: thickness of one layer.

    Raises:
        InputError: an unknown material, or a size that is not above 0.
    """

    material: str = "nickel 200"
    width_mm: float = 8.0
    thickness_mm: float = 0.15

    nickel_or_steel: ClassVar[tuple[str, ...]] = (
        "A magnet tells nothing by itself: nickel and steel are both drawn to it, steel more strongly.",
        "Scratch a piece through, leave it in salt water overnight: steel rusts at the scratch, nickel "
        "does not.",
        "Hold an edge to a grinding wheel, away from cells, with eyes covered: steel throws bright "
        "bursting sparks, nickel a few short dull ones.",
        "Measure it: pass a known 2 A through half a metre of strip and read the voltage across a measured "
        "length. 0.15 x 8 mm nickel shows about 0.16 mV a millimetre, plated steel half as much again or "
        "more.",
        "Plated steel conducts two thirds as well at best, often half, and rusts under the sleeve: refuse "
        "it for a flight pack.",
    )
    """How to tell nickel from nickel-plated steel. Common practice, no source; the voltage is computed."""

    def __post_init__(self) -> None:
        """Refuse what is no strip."""
        above_0 = (JUST_ABOVE_0, FINITE, "a size above 0 mm")
        wrong = range_problems(
            {"width_mm": (self.width_mm, *above_0), "thickness_mm": (self.thickness_mm, *above_0)}
        )
        if self.material not in MATERIALS:
            known = ", ".join(MATERIALS)
            wrong.append(Problem(f"strip material is {self.material}; one of {known} is needed."))
        refuse(wrong)

    @property
    def section_mm2(self) -> float:
        """Of one layer."""
        return self.width_mm * self.thickness_mm

    @property
    def metal(self) -> StripMaterial:
        """What it is made of."""
        return MATERIALS[self.material]

    @property
    def allowed_a(self) -> float:
        """Continuous current that one layer may carry in a wrapped pack, by the current density rule.

        Another metal of the same section makes the same heat at the current that goes as one over
        the root of its resistivity. Layers on one another carry that many times as much.

        Source: common practice, no source (`RULE_A_PER_MM2`); I^2 R for the other metals.

        Example:
            >>> Strip("nickel 200", 8.0, 0.15).allowed_a
            6.0
        """
        share: float = np.sqrt(MATERIALS["nickel 200"].ohm_m / self.metal.ohm_m).item()
        return self.section_mm2 * RULE_A_PER_MM2 * share

    def resistance_mohm(
        self, length_mm: Number, layers: Number = 1, temperature_c: Number = 20.0
    ) -> Number:
        """Resistance of a piece between two welds.

        Args:
            length_mm: between the welds' middles.
            layers: welded on one another.
            temperature_c: of the strip.

        Source: R = resistivity x length / section.

        Example:
            20 mm of 0.15 x 8 mm strip; carrying 10 A it drops 16 mV:

            >>> float(Strip("nickel 200", 8.0, 0.15).resistance_mohm(20.0))
            1.6
        """
        section_mm2 = self.section_mm2 * np.asarray(layers, float)[()]
        resistivity = resistivity_ohm_m(self.material, temperature_c)
        resistance: Number = resistivity * 1e6 * length_mm / section_mm2
        return resistance

    def hottest_c(
        self,
        current_a: Number,
        length_mm: Number,
        layers: Number = 1,
        cell_c: Number = CELL_END_C,
        air_c: Number = AIR_C,
        film_w_per_m2_k: Number = WRAPPED_W_PER_M2_K,
    ) -> Number:
        """Estimated temperature of the hottest point of a piece at a steady current.

        The assumption: the heat made along the piece runs through the metal to its two ends, which
        the cells (or the cell and the lead) hold at `cell_c`, and through the outer face, that of one
        layer, to the air. The inner face gives nothing. A bad weld, which is hotter than any strip,
        is not in it.

        Args:
            current_a: steady current.
            length_mm: between the welds' middles.
            layers: welded on one another.
            cell_c: temperature of the cell ends.
            air_c: air around the pack.
            film_w_per_m2_k: heat loss of the outer face; 10 under a sheet and sleeve, 15 and more bare.

        Returns:
            Temperature in C, `cell_c` at least; infinite where the strip would warm without end.

        Source: one-dimensional fin with a steady heat source rising with temperature; film by common
            practice, no source.

        Example:
            >>> [round(float(Strip().hottest_c(a, 21.2))) for a in (6.0, 20.0)]
            [51, 74]
        """
        metal = self.metal
        warm = 1.0 + metal.per_k * (np.asarray(cell_c, float)[()] - 20.0)
        ohm_per_m = self.resistance_mohm(1000.0, layers) / 1000.0
        per_m = np.asarray(current_a, float)[()] ** 2 * ohm_per_m
        face = film_w_per_m2_k * self.width_mm / 1000.0
        along = metal.w_per_m_k * self.section_mm2 * np.asarray(layers, float)[()] * 1e-6
        half_m = np.asarray(length_mm, float)[()] / 2000.0
        # with u above cell_c: along u'' - lost u + net = 0, u = 0 at both ends
        net = per_m * warm - face * (np.asarray(cell_c, float)[()] - air_c)
        lost = face - per_m * metal.per_k
        x = half_m * np.sqrt(np.abs(lost) / along)
        small = x < 1e-3  # then both forms below tend to half_m^2 / (2 along)
        safe = np.where(small, 1.0, lost)
        held = (1.0 - 1.0 / np.cosh(np.minimum(x, 100.0))) / safe  # further, 1 / cosh is nothing
        runs = (1.0 - 1.0 / np.cos(np.minimum(x, 1.57))) / safe
        middle = np.where(small, half_m**2 / (2.0 * along), np.where(lost > 0.0, held, runs))
        rise = np.where((lost <= 0.0) & (x >= 1.57), np.inf, np.maximum(net, 0.0) * middle)
        return (cell_c + rise)[()]


def piece_steps(
    strip: Strip, length_mm: float, layers: int, current_a: float, temperature_c: float = STRIP_C
) -> tuple[Step, ...]:
    """Working of one piece of strip: section, what it may carry, resistance, drop.

    Args:
        strip: the strip.
        length_mm: between its welds.
        layers: on one another.
        current_a: in the piece.
        temperature_c: of the strip.

    Example:
        >>> print(piece_steps(Strip(), 21.2, 1, 8.0)[1].text())
        what it may carry = section x rule for this metal = 1.2 mm² x 5 A/mm² = 6 A  [common ...]
    """
    section, may_a = strip.section_mm2 * layers, strip.allowed_a * layers
    mohm = strip.resistance_mohm(length_mm, layers, temperature_c)
    mohm_mm = resistivity_ohm_m(strip.material, temperature_c) * 1e6
    return (
        step("strip_section_mm2", section, layers=layers, strip=strip),
        step(
            "strip_allowed_a",
            may_a,
            section=section,
            rule_a_mm2=may_a / section,
            rule_a_per_mm2=RULE_A_PER_MM2,
        ),
        step(
            "strip_mohm",
            mohm,
            mohm_mm=mohm_mm,
            length_mm=length_mm,
            section=section,
            strip=strip,
            temperature_c=temperature_c,
        ),
        step("strip_drop_mv", current_a * mohm, current_a=current_a, mohm=mohm),
    )


def series_piece_step(current_a: float, pieces: int) -> Step:
    """Working of the even share of one series piece.

    Args:
        current_a: pack current.
        pieces: side by side in the step.

    Example:
        >>> series_piece_step(24.0, 3).result
        8.0
    """
    return step("series_piece_a", current_a / pieces, current_a=current_a, pieces=pieces)


def layers_steps(strip: Strip, current_a: float) -> tuple[Step, ...]:
    """Working of the layers of strip that a current needs.

    Args:
        strip: the strip.
        current_a: steady current, above 0.

    Source: common practice, no source (see `Strip.allowed_a`).

    Example:
        >>> [s.result for s in layers_steps(Strip(), 20.0)]
        [1.2, 6.0, 4.0]
    """
    section, may = piece_steps(strip, 1.0, 1, current_a)[:2]
    count = math.ceil(current_a / (may.result * ROUNDING))
    layers = step("layers", count, current_a=current_a, may_a=may.result)
    return section, may, layers
