"""Constant-power endurance of one cell worked out beforehand, for millions of designs at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.discharge import constant_power
from workbook.battery.model import CellModel
from workbook.errors import InputError
from workbook.numbers import FloatArray, Number

BLOCK = 16384
"""Designs read at a time, so that what is in between stays in the processor's cache."""


@dataclass(frozen=True, eq=False)
class EnduranceTable:
    """Mean voltage times depth drawn, over power and extra resistance, for one cell and one landing.

    A cell whose resistance is f times as high, with an extra resistance x, behaves at power P as the
    plain one at P f with x / f; so two axes hold every design, and capacity is a factor.

    Attributes:
        capacity_ah: of the model.
        power_w, extra_mohm: evenly spaced axes, shapes (M,) and (N,).
        area_v: integral of V over depth until the end, shape (M, N).
        relative_error: largest difference from `constant_power` seen at the centre of any cell of the
            grid, where reading straight between nodes is worst.
    """

    capacity_ah: float
    power_w: FloatArray
    extra_mohm: FloatArray
    area_v: FloatArray
    relative_error: float

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
            >>> table = endurance_table(find_cell("Bittern 50E").model, 3.0, 0.9, highest_w=25.0)
            >>> (table.time_s([10.0, 20.0]) / 60).round(1), table.relative_error < 5e-4
            (array([99.7, 48.8]), True)
        """
        arrays = np.broadcast_arrays(
            *(
                np.asarray(a, dtype=float)
                for a in (power_w, extra_mohm, resistance_factor, capacity_factor)
            )
        )
        plain = np.ndim(resistance_factor) == 0 and resistance_factor == 1.0
        flat = [a.ravel() for a in arrays]
        time_s = np.empty(flat[0].size)
        for first in range(0, time_s.size, BLOCK):
            at = slice(first, first + BLOCK)
            p, x, f, q = (a[at] for a in flat)
            area = self._area(p, x) if plain else self._area(p * f, x / f)
            area *= q
            area *= 3600.0 * self.capacity_ah
            np.divide(area, p, out=time_s[at])
        return np.asarray(time_s.reshape(arrays[0].shape)[()])

    def _area(self, power_w: FloatArray, extra_mohm: FloatArray) -> FloatArray:
        """Read straight between the four nodes around each design."""
        row, row_part = _place(self.power_w, power_w, "power_w x resistance_factor", "W")
        column, column_part = _place(
            self.extra_mohm, extra_mohm, "extra_mohm / resistance_factor", "mohm"
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
    """Work out an endurance table, and how far it is from the exact figures.

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
            f"A table from {lowest_w:g} to {highest_w:g} W and 0 to {highest_extra_mohm:g} mohm is "
            "empty; each range must rise."
        )
    power_w = np.linspace(lowest_w, highest_w, powers)
    extra_mohm = np.linspace(0.0, highest_extra_mohm, extras)

    def area(p: FloatArray, x: FloatArray) -> FloatArray:
        run = constant_power(model, p[:, None], landing_v, last_depth_of_discharge, extra_mohm=x)
        return np.asarray(run.energy_wh / model.capacity_ah)

    table = EnduranceTable(
        model.capacity_ah, power_w, extra_mohm, area(power_w, extra_mohm), np.nan
    )
    p = 0.5 * (power_w[1:] + power_w[:-1])
    x = 0.5 * (extra_mohm[1:] + extra_mohm[:-1])
    exact = area(p, x)
    grid_p, grid_x = (a.ravel() for a in np.broadcast_arrays(p[:, None], x))
    read = table._area(grid_p, grid_x).reshape(exact.shape)
    drawn = exact > 0.02 * exact.max()  # near no endurance at all a ratio says nothing
    error = float(np.max(np.abs(read[drawn] / exact[drawn] - 1.0)))
    return EnduranceTable(table.capacity_ah, power_w, extra_mohm, table.area_v, error)


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
