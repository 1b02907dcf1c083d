"""Constant-power endurance of one cell worked out beforehand, as a bound for millions of designs at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from workbook.battery.discharge import constant_power
from workbook.battery.model import CellModel
from workbook.errors import InputError
from workbook.numbers import FloatArray, Number, flat

ROUNDING = 1e-6
"""Two sums over the same curve, cut at other places, differ by less than this share."""


@dataclass(frozen=True, eq=False)
class EnduranceTable:
    """Mean voltage times depth drawn, over power and extra resistance, for one cell and one landing.

    A cell whose resistance is f times as high, with an extra resistance x, behaves at power P as the
    plain one at P f with x / f; so two axes hold every design, and capacity is a factor.

    Attributes:
        model, landing_v, last_depth_of_discharge: the cell and its ends, as in `constant_power`.
        power_w, extra_mohm: evenly spaced axes from 0, shapes (M,) and (N,).
    """

    model: CellModel
    landing_v: float
    last_depth_of_discharge: float
    power_w: FloatArray
    extra_mohm: FloatArray

    @cached_property
    def area_v(self) -> FloatArray:
        """Integral of V over depth until the end, for every power with every extra resistance, shape (M, N)."""
        run = constant_power(
            self.model,
            self.power_w[:, None],
            self.landing_v,
            self.last_depth_of_discharge,
            extra_mohm=self.extra_mohm,
        )
        return np.asarray(run.energy_wh / self.model.capacity_ah)

    def longest_s(
        self,
        power_w: Number,
        *,
        extra_mohm: Number = 0.0,
        resistance_factor: Number = 1.0,
        capacity_factor: Number = 1.0,
    ) -> FloatArray:
        """A time that the exact one is never above, by at most one step of the table.

        More power or more resistance never lengthens a flight, so the node below in both bounds it,
        also where time leaps (a start at the landing voltage). Beyond the table its last node bounds it.

        Args:
            power_w, extra_mohm, resistance_factor, capacity_factor: as in `constant_power`; NaN stays NaN.

        Example:
            >>> from workbook.battery.discharge import constant_power
            >>> from workbook.files.cell_file import find_cell
            >>> model = find_cell("Bittern").model
            >>> table = endurance_table(model, 3.0, 0.9, highest_w=25.0)
            >>> exact = constant_power(model, 10.01, 3.0, 0.9)
            >>> bool(1.0 < table.longest_s(10.01) / exact.time_s < 1.002)
            True
        """
        shape, (p, x, f, q) = flat(power_w, extra_mohm, resistance_factor, capacity_factor)
        row, column = (
            np.nan_to_num((values - axis[0]) * ((axis.size - 1) / (axis[-1] - axis[0])))
            .clip(0, axis.size - 1)
            .astype(np.int32)
            for axis, values in ((self.power_w, p * f), (self.extra_mohm, x / f))
        )
        area = self.area_v[row, column]
        whole_s = 3600.0 * self.model.capacity_ah * (1.0 + ROUNDING)
        return np.asarray((area * q * whole_s / p).reshape(shape)[()])


def endurance_table(
    model: CellModel,
    landing_v: float,
    last_depth_of_discharge: float = 1.0,
    *,
    highest_w: float,
    highest_extra_mohm: float = 10.0,
    powers: int = 1025,
    extras: int = 33,
) -> EnduranceTable:
    """The endurance table of one cell; its nodes are worked out when it is first read.

    Args:
        model: the cell.
        landing_v, last_depth_of_discharge: as in `constant_power`, one of each.
        highest_w: end of the range of power x resistance factor, from 0, W.
        highest_extra_mohm: end of the range of extra resistance / resistance factor, from 0, mohm.
        powers, extras: nodes along each axis.

    Raises:
        InputError: an empty range.

    Source: `constant_power` at the nodes.
    """
    if not highest_w > 0.0 or not highest_extra_mohm > 0.0:
        raise InputError(
            f"A table to {highest_w:g} W and {highest_extra_mohm:g} mΩ is empty; both ends above 0 are needed."
        )
    return EnduranceTable(
        model,
        landing_v,
        last_depth_of_discharge,
        np.linspace(0.0, highest_w, powers),
        np.linspace(0.0, highest_extra_mohm, extras),
    )
