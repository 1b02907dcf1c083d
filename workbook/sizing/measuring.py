"""Which figures of a design it would pay most to measure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from workbook.quantities import RESULTS
from workbook.sizing.craft_types import craft_type_of, operate
from workbook.sizing.design import Design, Origin
from workbook.sizing.flight_times import flight_times
from workbook.sizing.origins import BEARINGS


@dataclass(frozen=True)
class WorthMeasuring:
    """One figure that is not measured yet.

    Attributes:
        key, label: the figure.
        low_min: what nineteen flights in twenty last at least, as it stands.
        measured_low_min: the same with that figure measured and found as it is.
    """

    key: str
    label: str
    low_min: float
    measured_low_min: float

    @property
    def gains(self) -> bool:
        """Whether that is longer, in the digits that are shown."""
        minutes = RESULTS["endurance_p05_min"]
        shown, measured_shown = minutes.text(self.low_min), minutes.text(self.measured_low_min)
        return self.measured_low_min > self.low_min and measured_shown != shown

    @property
    def text(self) -> str:
        """In a sentence."""
        minutes = RESULTS["endurance_p05_min"]
        return (
            f"{self.label}: if it is measured and proves right, nineteen flights in twenty last "
            f"{minutes.text(self.measured_low_min)} or more instead of {minutes.text(self.low_min)}."
        )


def worth_measuring(design: Design[Any], most: int = 3) -> tuple[WorthMeasuring, ...]:
    """The figures whose measurement would make the flight time surest, the best first.

    Args:
        design: a single design.
        most: how many at most.

    Returns:
        None for a design that does not fly as planned, or of which everything is measured.

    Source: the margin budget's draws with the line of one figure at a time as a careful measurement leaves it
        (`workbook.sizing.origins`).

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> assumed = replace(six, origins=(Origin("avionics_w", "assumed"),))
        >>> [found.key for found in worth_measuring(assumed)]
        ['flight_factor', 'joint_mohm', 'avionics_w']
    """
    plan_min = float(operate(design).endurance_min)
    now = flight_times(design, plan_min)
    if now is None:
        return ()
    stated = {origin.key: origin.origin for origin in design.origins}
    measured = {
        BEARINGS[key].line or key for key in stated if stated[key] == "measured" and key in BEARINGS
    }
    found: dict[str, WorthMeasuring] = {}
    for key, bearing in BEARINGS.items():
        line = bearing.line or key
        open_line = bearing.line or stated.get(key) == "assumed"
        if line in measured or line in found or not open_line or not _measurable(design, key):
            continue
        others = tuple(origin for origin in design.origins if origin.key != key)
        origin = Origin(key, "measured", bearing.measured_pct)
        measured_times = flight_times(replace(design, origins=(*others, origin)), plan_min)
        if measured_times is None:
            continue
        worth = WorthMeasuring(
            key, bearing.label, now.endurance_p05_min, measured_times.endurance_p05_min
        )
        if worth.gains:
            found[line] = worth
    return tuple(sorted(found.values(), key=lambda worth: -worth.measured_low_min)[:most])


def _measurable(design: Design[Any], key: str) -> bool:
    """Whether the craft has that figure; a test flight measures what any craft takes in the air."""
    if key in craft_type_of(design).measured_in_flight:
        return True
    return any(getattr(part, key, None) for part in (design.craft, design.pack))
