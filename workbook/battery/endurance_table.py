"""Constant-power endurance of one cell worked out beforehand, for millions of designs at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from workbook.battery.discharge import constant_power
from workbook.battery.model import CellModel
from workbook.errors import InputError
from workbook.numbers import FloatArray, Number, flat

BLOCK = 16384
"""Designs read at a time, so that what is in between stays in the processor's cache."""

ROUNDING = 1e-6
"""Two sums over the same curve, cut at other places, differ by less than this share."""


@dataclass(frozen=True, eq=False)
class EnduranceTable:
    """Mean voltage times depth drawn, over power and extra resistance, for one cell and one landing.

    A cell whose resistance is f times as high, with an extra resistance x, behaves at power P as the
    plain one at P f with x / f; so two axes hold every design, and capacity is a factor.

    Attributes:
        model, landing_v, last_depth_of_discharge: the cell and its ends, as in `constant_power`.
        power_w, extra_mohm: evenly spaced axes, shapes (M,) and (N,).
    """

    model: CellModel
    landing_v: float
    last_depth_of_discharge: float
    power_w: FloatArray
    extra_mohm: FloatArray

    @cached_property
    def area_v(self) -> FloatArray:
        """Integral of V over depth until the end, shape (M, N)."""
        return self._exact_area(self.power_w, self.extra_mohm)

    @cached_property
    def relative_error(self) -> float:
        """Largest difference of `time_s` from `constant_power` seen at the centre of any cell of the
        grid, where reading straight between nodes is worst; measured when it is first asked for."""
        p = 0.5 * (self.power_w[1:] + self.power_w[:-1])
        x = 0.5 * (self.extra_mohm[1:] + self.extra_mohm[:-1])
        exact = self._exact_area(p, x)
        read = self._area(*(a.ravel() for a in np.broadcast_arrays(p[:, None], x)))
        drawn = exact > 0.02 * exact.max()  # near no endurance at all a ratio says nothing
        return float(np.max(np.abs(read.reshape(exact.shape)[drawn] / exact[drawn] - 1.0)))

    def time_s(
        self,
        power_w: Number,
        *,
        extra_mohm: Number = 0.0,
        resistance_factor: Number = 1.0,
        capacity_factor: Number = 1.0,
    ) -> FloatArray:
        """Time to the end; all arguments broadcast.

        Args:
            power_w: per cell, above 0.
            extra_mohm, resistance_factor, capacity_factor: as in `constant_power`.

        Raises:
            InputError: power x resistance factor, or extra / resistance factor, outside the table.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> table = endurance_table(find_cell("Bittern").model, 3.0, 0.9, highest_w=25.0)
            >>> (table.time_s([10.0, 20.0]) / 60).round(1), table.relative_error < 5e-4
            (array([100.3,  49. ]), True)
        """
        shape, (p, x, f, q) = flat(power_w, extra_mohm, resistance_factor, capacity_factor)
        plain = np.ndim(resistance_factor) == 0 and resistance_factor == 1.0
        time_s = np.empty(p.size)
        for first in range(0, time_s.size, BLOCK):
            at = slice(first, first + BLOCK)
            area = self._area(p[at], x[at]) if plain else self._area(p[at] * f[at], x[at] / f[at])
            area *= q[at]
            area *= 3600.0 * self.model.capacity_ah
            np.divide(area, p[at], out=time_s[at])
        return np.asarray(time_s.reshape(shape)[()])

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
        also where time leaps (a start at the landing voltage) and `time_s` reads across the leap.
        Beyond the table its last node bounds it.

        Args:
            power_w, extra_mohm, resistance_factor, capacity_factor: as in `time_s`; NaN stays NaN.

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

    def _exact_area(self, power_w: FloatArray, extra_mohm: FloatArray) -> FloatArray:
        """The integral for every power with every extra resistance."""
        run = constant_power(
            self.model,
            power_w[:, None],
            self.landing_v,
            self.last_depth_of_discharge,
            extra_mohm=extra_mohm,
        )
        return np.asarray(run.energy_wh / self.model.capacity_ah)

    def _area(self, power_w: FloatArray, extra_mohm: FloatArray) -> FloatArray:
        """Read straight between the four nodes around each design."""
        row, row_part = _place(self.power_w, power_w, "power_w x resistance_factor", "W")
        column, column_part = _place(
            self.extra_mohm, extra_mohm, "extra_mohm / resistance_factor", "mΩ"
        )
        width = self.extra_mohm.size
        row *= width
        row += column
        nodes = self.area_v.ravel()
        near, far = nodes[row], nodes[row + width]
        near += (nodes[row + 1] - near) * column_part
        far += (nodes[row + (width + 1)] - far) * column_part
        far -= near
        far *= row_part
        far += near
        return far


def endurance_table(
    model: CellModel,
    landing_v: float,
    last_depth_of_discharge: float = 1.0,
    *,
    highest_w: float,
    lowest_w: float = 0.0,
    highest_extra_mohm: float = 10.0,
    powers: int = 1025,
    extras: int = 33,
) -> EnduranceTable:
    """The endurance table of one cell; its nodes are worked out when it is first read.

    Args:
        model: the cell.
        landing_v, last_depth_of_discharge: as in `constant_power`, one of each.
        lowest_w, highest_w: range of power x resistance factor, W.
        highest_extra_mohm: end of the range of extra resistance / resistance factor, from 0, mohm.
        powers, extras: nodes along each axis.

    Raises:
        InputError: an empty range.

    Source: bilinear interpolation of `constant_power`; the error is measured, not assumed.
    """
    if not 0.0 <= lowest_w < highest_w or not highest_extra_mohm > 0.0:
        raise InputError(
            f"A table from {lowest_w:g} to {highest_w:g} W and 0 to {highest_extra_mohm:g} mΩ is "
            "empty; each range must rise."
        )
    return EnduranceTable(
        model,
        landing_v,
        last_depth_of_discharge,
        np.linspace(lowest_w, highest_w, powers),
        np.linspace(0.0, highest_extra_mohm, extras),
    )


def _place(
    axis: FloatArray, values: FloatArray, name: str, unit: str
) -> tuple[np.ndarray[tuple[int], np.dtype[np.int32]], FloatArray]:
    """Which interval of an even axis each value lies in, and how far along it."""
    low, high = float(axis[0]), float(axis[-1])
    if not (values.min() >= low and values.max() <= high):
        worst = values[~((values >= low) & (values <= high))][0]
        raise InputError(
            f"{name} is {worst:g} {unit}; this table reaches from {low:g} to {high:g} {unit}."
        )
    along = values - low
    along *= (axis.size - 1) / (high - low)
    index = along.astype(np.int32)
    np.minimum(index, axis.size - 2, out=index)
    along -= index
    return index, along
