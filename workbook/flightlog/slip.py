"""A charger's slip: what a flight without a log leaves behind, and the power and charge of the flight by it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.errors import InputError, Problem, refuse, shortened, visible
from workbook.numbers import range_problems
from workbook.parse import parse_number
from workbook.sizing.calibration import COVERAGE, Readings, TestFlight
from workbook.sizing.conditions import flown_state
from workbook.sizing.design import Design

REST_MV = 10.0
"""How far a voltage at rest may be off an hour after the flight (one standard deviation): meter and recovery.
Common practice, no source."""
CHARGE_SHARE_OFF = 1.5
"""Of the share that a charger gives back, percent, 95 times in 100. Common practice, no source."""


@dataclass(frozen=True)
class ChargerSlip:
    """What is known of a flight without a log.

    Attributes:
        minutes: in the air, above 0.
        charge_ah: what the charger counted until the pack was as before, above 0.
        before_v, after_v: of the pack at rest, before the flight and half an hour after it or later.
        felt_c: temperature of the pack after landing, by hand or thermometer.
        charge_share_pct: of the charge that the charger counted, what the flight had taken; the rest went into
            balancing and heat. 98 % is common practice, no source.

    Raises:
        InputError: a figure that cannot be.

    Example:
        >>> ChargerSlip(18.5, 5.9).taken_ah
        5.782
    """

    minutes: float
    charge_ah: float
    before_v: float | None = None
    after_v: float | None = None
    felt_c: float | None = None
    charge_share_pct: float = 98.0

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        of_pack = (1.0, 130.0, "1 to 130 V, of the whole pack")
        problems = range_problems(
            {
                "minutes": (self.minutes, 0.1, 1440.0, "0.1 to 1440 min"),
                "charge_ah": (self.charge_ah, 0.01, 500.0, "0.01 to 500 Ah"),
                "before_v": (self.before_v, *of_pack),
                "after_v": (self.after_v, *of_pack),
                "felt_c": (self.felt_c, -40.0, 120.0, "-40 to 120 °C"),
                "charge_share_pct": (self.charge_share_pct, 80.0, 100.0, "80 to 100 %"),
            }
        )
        if self.before_v and self.after_v and self.after_v >= self.before_v:
            problems.append(
                Problem(
                    f"{self.after_v:g} V after the flight is not below {self.before_v:g} V before it; are they swapped?",
                    "after_v",
                )
            )
        refuse(problems)

    @property
    def name(self) -> str:
        """What to call it beside logs."""
        return f"slip of {self.minutes:g} min and {self.charge_ah:g} Ah"

    @property
    def taken_ah(self) -> float:
        """Charge that the flight took."""
        return self.charge_ah * self.charge_share_pct / 100.0

    def mean_power_w(self, design: Design[Any]) -> float:
        """Mean power of the pack in the air, W.

        Raises:
            InputError: more charge than the pack has, or in less time than it can give it.
        """
        flight = TestFlight(1.0, design.pack, time_min=self.minutes, charge_ah=self.taken_ah)
        return flight.measured_w()

    def charge_off_pct(self, readings: Readings) -> float:
        """How far off the charge taken may be, percent, 95 times in 100."""
        return float(np.hypot(readings.charge_pct, CHARGE_SHARE_OFF))

    def depths(self, design: Design[Any]) -> tuple[float, float, float] | None:
        """Depth of discharge before and after by the voltages at rest, and one standard deviation of their distance.

        None without a voltage after the flight. Without one before, the pack was full.
        """
        if self.after_v is None:
            return None
        pack = design.pack
        depth = np.linspace(0.0, 1.0, 1001)
        curve = pack.cell.model.open_circuit_at(depth)
        slope = np.abs(np.gradient(curve, depth))

        def depth_of(pack_v: float) -> tuple[float, float]:
            found = float(np.interp(-pack_v / float(pack.series), -curve, depth))
            return found, REST_MV / 1000.0 / max(float(np.interp(found, depth, slope)), 0.05)

        first, first_off = (0.0, 0.01) if self.before_v is None else depth_of(self.before_v)
        last, last_off = depth_of(self.after_v)
        return first, last, float(np.hypot(first_off, last_off))

    def capacity_factor(
        self, design: Design[Any], power_w: float, readings: Readings
    ) -> tuple[float, float] | None:
        """Charge of the pack over the plan's, and one standard deviation; None where the voltages do not show it.

        Source: charge taken over the change of depth of discharge; first-order propagation, JCGM 100:2008, 5.1.2.
        """
        depths = self.depths(design)
        if depths is None or depths[1] - depths[0] < 0.15:
            return None
        swing = depths[1] - depths[0]
        fresh_ah = design.pack.parallel * design.pack.cell.model.capacity_ah
        whole_ah = float(fresh_ah * flown_state(design, power_w).capacity_factor)
        factor = self.taken_ah / swing / whole_ah
        off = np.hypot(depths[2] / swing, self.charge_off_pct(readings) / COVERAGE / 100.0)
        return factor, float(factor * off)


_PIECE = re.compile(r"(?:(before|after|felt|charger)\s*[:=]?\s*)?(.*)", re.I)
_NAMED = {
    "before": ("before_v", "V"),
    "after": ("after_v", "V"),
    "felt": ("felt_c", "°C"),
    "charger": ("charge_share_pct", "%"),
}


EXAMPLE_SLIP = "A slip reads as: 18.5 min; 5900 mAh; after 22.8 V."


def parse_slip(text: str) -> ChargerSlip:
    """A slip as it is typed: minutes and charge, then what else is known, each with its unit.

    Args:
        text: pieces between commas or semicolons.

    Raises:
        InputError: a piece that cannot be read; no minutes, or no charge.

    Example:
        >>> parse_slip("18.5 min; 5900 mAh; after 22.8 V; felt 38 °C").taken_ah
        5.782
    """
    found: dict[str, float] = {}
    for piece in re.split(r";|,(?!\d)", text):
        named = _PIECE.fullmatch(piece.strip())
        if named is None or not piece.strip():
            continue
        key, unit = _NAMED.get((named[1] or "").casefold(), ("", ""))
        if not key:
            minutes = re.search(
                r"\d\s*(min|minutes?|s|sec|seconds?|h|hours?)$", piece.strip(), re.I
            )
            key, unit = ("minutes", "min") if minutes else ("charge_ah", "Ah")
            if re.fullmatch(r"[\d.,]+", piece.strip()):
                raise InputError(
                    f"'{_quoted(piece)}' has no unit; write 21 min for the minutes flown, 7200 mAh for the charge."
                )
        try:
            value = parse_number(named[2], unit)
        except InputError as fault:
            raise InputError(f"{fault} {EXAMPLE_SLIP}") from None
        if key in found:
            raise InputError(f"'{_quoted(piece)}' repeats a figure that stands before it.")
        found[key] = value
    missing = [
        words
        for key, words in (("minutes", "the minutes flown"), ("charge_ah", "the charge put back"))
        if key not in found
    ]
    if missing:
        raise InputError(
            f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing. {EXAMPLE_SLIP}"
        )
    return ChargerSlip(**found)


def _quoted(piece: str) -> str:
    return shortened(visible(piece.strip()), 40)
