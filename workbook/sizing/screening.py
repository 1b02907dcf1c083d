"""What mass, power and an endurance table say of a candidate before it is sized."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.battery.endurance_table import EnduranceTable, endurance_table
from workbook.battery.model import CellModel
from workbook.numbers import FloatArray
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.limits import RULES, Limit, Subject

MANY = 4096
"""Candidates of one cell, left when mass, bay and the like are judged, from which an endurance table pays:
its nodes cost what sizing about a thousand does, and it sets aside a third or more."""

DECIDED = ("endurance", "range")
"""Limits that are decided so, by their keys."""


@dataclass(frozen=True)
class Forecast:
    """The best that the steady flight of designs can come to.

    Attributes:
        endurance_min: flight time that the exact one is never above; infinite where power is not known.
        cruise_m_s: airspeed; NaN for a craft that hovers.
    """

    endurance_min: FloatArray
    cruise_m_s: FloatArray

    @property
    def range_km(self) -> FloatArray:
        """Distance in still air that the exact one is never above."""
        return np.asarray(self.endurance_min * 60.0 * self.cruise_m_s / 1000.0)


def screening_table(model: CellModel, landing_v: float, reserve_pct: float) -> EnduranceTable:
    """An endurance table over every power with which a full cell takes off at all.

    Args:
        model: the cell.
        landing_v: loaded cell voltage that ends the flight.
        reserve_pct: share of the charge that stays.

    Source: at a voltage V the source gives V (U - V) / R, at most where V is U / 2.
    """
    rest_v, own_mohm = model.open_circuit_at(0.0).item(), model.resistance_at(0.0).item()
    lowest_v = np.clip(landing_v, rest_v / 2.0, 0.99 * rest_v).item()
    return endurance_table(
        model,
        landing_v,
        1.0 - reserve_pct / 100.0,
        highest_w=lowest_v * (rest_v - lowest_v) / (own_mohm / 1000.0),
        highest_extra_mohm=own_mohm,
        powers=257,
        extras=17,
    )


def forecast_limits(designs: Design[Any], table: EnduranceTable) -> tuple[Limit, ...]:
    """The limits that mass, power and the table decide; broken in one of them, a design is broken sized too.

    Args:
        designs: arrays of designs of the table's cell, landing voltage and reserve.
        table: of `screening_table`.

    Returns:
        `DECIDED`, those that the designs ask for; their margin is never below the exact one.
    """
    load = craft_type_of(designs).load(designs)
    longest_s = table.longest_s(
        load.power_w / load.pack.cells,
        extra_mohm=load.joint_mohm,
        resistance_factor=load.allowances.resistance_factor,
        capacity_factor=load.allowances.capacity_factor,
    )
    cruise_m_s = np.asarray(getattr(load, "cruise_m_s", np.nan))
    forecast: Any = Forecast(np.nan_to_num(longest_s / 60.0, nan=np.inf), cruise_m_s)
    found = (rule.of(Subject(designs, forecast)) for rule in RULES if rule.key in DECIDED)
    return tuple(limit for limit in found if limit is not None)
