"""Constant power down to a last depth of discharge, for thousands of designs at once.

Where the landing voltage is not met on the way, the voltage is a smooth function of two figures, the power and the
power times the extra resistance, and so is its integral over depth: it is expanded about the nodes of a grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import comb

import numpy as np

from workbook.battery.model import CellModel
from workbook.numbers import FloatArray

SIDE = 33
"""Nodes of the grid along each axis."""

ORDER = 5
"""Of the expansion."""

NEAR = 0.03
"""Half a step of the grid moves U^2 - 4 P R by no more than this share of it, or the expansion is not taken:
the root is then right to 2e-11, by its first term left out, (1/2 choose 6) x 0.03^6."""


@dataclass(frozen=True, eq=False)
class WholeDischarges:
    """Discharges of one cell down to a last depth, none ended sooner.

    What a design draws is given by `own`, power x resistance factor / 1000, and `extra_v2`, power x extra
    resistance / 1000, so that own x R + extra_v2 is P R of volts squared where R is the cell's in mohm.

    Attributes:
        model: the cell.
        landing_v: lowest voltage under load.
        last: the last depth of discharge.

    Source: trapezoids over the model's segments, Simpson's rule over the last, as `constant_power`; Taylor's theorem.
    """

    model: CellModel
    landing_v: float
    last: float

    @cached_property
    def rest(self) -> CellModel:
        """The cell from the last depth on, which is a node, as if it were full: in shares of that rest, of 1 Ah."""
        first = round(self.last * (len(self.model.depth_of_discharge) - 1))
        u, r_mohm = self.model.open_circuit_v[first:], self.model.resistance_mohm[first:]
        return CellModel(np.linspace(0.0, 1.0, len(u)), u, r_mohm, 1.0, self.model.basis)

    @cached_property
    def _points(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Open-circuit voltage, resistance and weight at each depth that is summed; the last two are in a part of a
        segment, the very last at its end."""
        count = len(self.model.depth_of_discharge) - 1
        whole = min(int(self.last * count), count)
        part = self.last - whole / count
        depth = np.append(np.arange(whole + 1), [0.0, 0.0]) / count
        depth[-2:] = self.last - 0.5 * part, self.last
        weight = np.zeros(depth.size)
        weight[:whole] += 0.5 / count
        weight[1 : whole + 1] += 0.5 / count
        weight[whole:] += np.array([1.0, 4.0, 1.0]) * part / 6.0
        return self.model.open_circuit_at(depth), self.model.resistance_at(depth), weight

    @cached_property
    def _reach(self) -> tuple[FloatArray, FloatArray]:
        """Nodes of `own`, and the most `extra_v2` at each with which every point is above the landing voltage.

        It is the least of straight lines, so that straight between two nodes it errs on the safe side.
        """
        u, r_mohm, _ = self._points
        most = np.where(2.0 * self.landing_v > u, self.landing_v * (u - self.landing_v), u**2 / 4.0)
        own = np.linspace(0.0, max(0.0, np.min(most / r_mohm)), SIDE)
        return own, (most - own[:, None] * r_mohm).min(axis=1)

    @cached_property
    def _grid(self) -> tuple[FloatArray, FloatArray, FloatArray, np.ndarray]:
        """Both axes, the coefficients at each node in the order of `area_v`, and whether they are near enough."""
        u, r_mohm, weight = self._points
        own, most = self._reach
        extra = np.linspace(0.0, max(0.0, most[0]), SIDE)
        left = u**2 - 4.0 * (own[:, None, None] * r_mohm + extra[:, None])
        left = left.reshape(SIDE**2, -1)
        moved = 2.0 * (own[1] * r_mohm + extra[1])
        near = (moved <= NEAR * left).all(axis=1)
        by_powers = {}
        with np.errstate(invalid="ignore", divide="ignore"):
            term, binomial = 0.5 * weight * np.sqrt(left), 1.0
            for n in range(ORDER + 1):
                for k in range(n + 1):
                    by_powers[k, n - k] = comb(n, k) * binomial * (term @ r_mohm**k)
                binomial *= -4.0 * (0.5 - n) / (n + 1)
                term = term / left
        by_powers[0, 0] += 0.5 * weight @ u
        return own, extra, np.array([by_powers[k] for k in sorted(by_powers, reverse=True)]), near

    def area_v(self, own: FloatArray, extra_v2: FloatArray) -> FloatArray:
        """Integral of the voltage over depth; NaN where the landing voltage may be met before the end.

        Args:
            own, extra_v2: see the class, 0 or more, of one shape (n,); NaN stays NaN.
        """
        own_nodes, extra_nodes, coefficients, near = self._grid
        nodes, most = self._reach
        reaches = extra_v2 < np.interp(own, nodes, most, right=-1.0)
        area = np.full(own.shape, np.nan)
        if not reaches.any():
            return area
        own, extra_v2 = own[reaches], extra_v2[reaches]
        row, column = np.rint(own / own_nodes[1]), np.rint(extra_v2 / extra_nodes[1])
        node = (row * SIDE + column).astype(np.intp)
        own -= row * own_nodes[1]
        extra_v2 -= column * extra_nodes[1]
        falling = iter(coefficients.take(node, axis=1))
        sums = next(falling)
        for power in range(1, ORDER + 1):  # Horner's rule in own, and in each coefficient in extra
            of_extra = next(falling)
            for _ in range(power):
                of_extra *= extra_v2
                of_extra += next(falling)
            sums *= own
            sums += of_extra
        area[reaches] = np.where(near[node], sums, np.nan)
        return area


def shared_depth(model: CellModel, last: FloatArray) -> float:
    """A depth to which all designs go that do not land: their last one where it is the same, else a node; 0 where
    one is not known.

    Args:
        model: the cell.
        last: depth of discharge at which each stops, 0 to 1.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> model = find_cell("Bittern").model
        >>> shared_depth(model, np.array([0.853, 0.871])), shared_depth(model, np.array([0.853]))
        (0.85, 0.853)
    """
    least, nodes = float(np.min(last)), len(model.depth_of_discharge) - 1
    if np.isnan(least):
        return 0.0
    return float(np.floor(least * nodes) / nodes) if np.ptp(last) else least


@lru_cache(maxsize=32)
def whole_discharges(model: CellModel, landing_v: float, last: float) -> WholeDischarges:
    """The whole discharges of a cell; kept, for a sweep asks for them slice by slice."""
    return WholeDischarges(model, landing_v, last)
