"""One design in other situations: payload, wind, cold, heat, height, age; each against the plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.sizing.budget_lines import STANDARD_LINES
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Allowances, Design
from workbook.sizing.figures import plain
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.sizing.size import SizingResult, size
from workbook.units import with_unit

WINDS_M_S = (6.0, 12.0)
PAYLOAD_SHARES = (0.0, 0.5, 1.5)
COLD_C = (10.0, 0.0, -10.0)
HOT_C = (35.0,)
HEIGHTS_M = (1500.0, 3000.0)
AGES = (100.0, 300.0)


@dataclass(frozen=True)
class Situation:
    """A design somewhere else, or later.

    Attributes:
        name: what is changed, in words.
        result: the design sized there.
        range_km: over ground, with the wind against it where there is wind; NaN of a craft without a range.
    """

    name: str
    result: SizingResult
    range_km: float = np.nan

    @property
    def why(self) -> str:
        """The first reason why it does not hold; empty where it does."""
        return self.result.reasons[0] if self.result.reasons else ""

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix; None where a figure is undefined."""
        figures = self.result.figures()
        reserve_key = self.result.craft_type.reserve_key
        return {
            "situation": self.name,
            "endurance_min": figures["endurance_min"],
            **plain({reserve_key: self.result.point.reserve, "range_km": self.range_km}),
            "end_cell_temperature_c": figures["end_cell_temperature_c"],
            "verdict": self.result.verdict,
            "holds": self.result.holds,
            "reasons": list(self.result.reasons),
        }


def situations(design: Design[Any]) -> tuple[Situation, ...]:
    """A single design as planned, then in each other situation, one thing changed at a time.

    Cells start as cold or as warm as the air. A fixed wing flies against the wind; a multirotor spends in
    wind and gusts what the margin budget gives to them.

    Args:
        design: the design; its mission and reference pack are left out.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> plan, *others = situations(six)
        >>> loaded = next(s for s in others if s.name == "payload 525 g")
        >>> bool(loaded.result.point.endurance_min < plan.result.point.endurance_min)
        True
    """
    alone = replace(design, today=None, mission=())
    plan = _situation("as planned", alone)
    changed = (_situation(name, alone.changed(**values)) for name, values in _changes(alone))
    return (plan, *_in_wind(alone), *changed)


def _changes(design: Design[Any]) -> Iterator[tuple[str, dict[str, float]]]:
    payload, flight = float(design.craft.payload_g), design.flight
    for share in PAYLOAD_SHARES if payload else ():
        yield f"payload {with_unit(payload * share, 'g', 0)}", {"payload_g": payload * share}
    for cells_c in (*COLD_C, *HOT_C):
        yield (
            f"air and cells at {with_unit(cells_c, '°C', 0)}",
            {"pack_temperature_c": cells_c, "air_temperature_c": cells_c},
        )
    for height_m in HEIGHTS_M:
        if height_m > flight.field_height_m:
            yield f"field at {with_unit(height_m, 'm', 0)}", {"field_height_m": height_m}
    for cycles in AGES:
        if cycles > flight.pack_cycles:
            yield f"pack after {cycles:.0f} cycles", {"pack_cycles": cycles}


def _situation(
    name: str, design: Design[Any], allowances: Allowances = NO_ALLOWANCES, wind_m_s: float = 0.0
) -> Situation:
    result = size(design, allowances)
    figures = result.figures()
    far, speed = figures.get("range_km"), figures.get("cruise_m_s")
    if not isinstance(far, float) or not isinstance(speed, float):
        return Situation(name, result)
    return Situation(name, result, far * max(0.0, 1.0 - wind_m_s / speed))


def _in_wind(design: Design[Any]) -> Iterator[Situation]:
    """Against a headwind, or with the watts that the margin budget gives to wind and gusts."""
    if craft_type_of(design).test_airspeed:
        for wind in WINDS_M_S:
            yield _situation(f"headwind of {with_unit(wind, 'm/s', 0)}", design, wind_m_s=wind)
        return
    line = next(line for line in STANDARD_LINES if line.key == "wind")
    for taken_pct in (line.expected, line.high):
        factor = Allowances(power_factor=1.0 + taken_pct / 100.0)
        yield _situation(f"{line.name}, watts up by {taken_pct:.0f} %", design, factor)
