"""One craft on two packs: how its cells are divided, what each pack carries, and how the two may be joined.

All cells together stay one `Pack`, which is what flight and limits are sized with. A `Joining` says into how many
packs the cells are divided; packs in parallel that differ share the current unevenly.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import Any, Literal, TypeAlias

import numpy as np

from workbook.battery.cell import Cell
from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.battery.spread import open_circuit_line
from workbook.numbers import FloatArray, Number

Joined: TypeAlias = Literal["parallel", "series"]

STEPS = 50
"""Steps through a flight, shortest at both ends, where the currents change fast: within 0.1 % of a general solver's."""


@dataclass(frozen=True)
class Joining:
    """Into how many equal packs all cells are divided, how these are joined, and how far they may differ.

    Attributes:
        packs: 1 or 2.
        joined: "parallel" or "series"; of no meaning with one pack.
        apart_resistance_pct: from one pack to the other, percent of their mean.
        apart_capacity_pct: likewise.
        apart_cell_v: of the cells' voltages at rest when the packs are joined.

    Source of the usual differences: common practice, no source.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> whole = Pack(find_cell("Bittern"), 6, 4, extra_mass_g=120.0, joint_mohm=4.0)
        >>> one = Joining(2, "parallel").one_of(whole)
        >>> one.series, one.parallel, one.extra_mass_g, one.joint_mohm
        (6, 2, 60.0, 8.0)
    """

    packs: int = 1
    joined: Joined = "parallel"
    apart_resistance_pct: float = 10.0
    apart_capacity_pct: float = 3.0
    apart_cell_v: float = 0.02

    @property
    def several(self) -> bool:
        """Whether there is more than one pack."""
        return self.packs > 1

    @property
    def in_parallel(self) -> bool:
        """Whether packs share the current."""
        return self.several and self.joined == "parallel"

    def over(self, whole: Pack) -> Number:
        """Cells that are left over when the packs are made equal, in series or in parallel."""
        cells: Number = whole.series if self.joined == "series" else whole.parallel
        left: Number = np.mod(cells, self.packs)[()]
        return left

    def one_of(self, whole: Pack) -> Pack:
        """One of the equal packs that all cells together are divided into."""
        return self._scaled(whole, _part, self.packs) if self.several else whole

    def whole_of(self, one: Pack) -> Pack:
        """All cells together, of packs like this one: what the craft sees."""
        return self._scaled(one, operator.mul, self.packs)

    def _scaled(self, pack: Pack, by: Callable[[Number, int], Number], packs: int) -> Pack:
        """A pack with its cells, and what else it has of them, divided or multiplied."""
        cells: dict[str, Any] = {self.joined: by(getattr(pack, self.joined), packs)}
        across = by(1.0, packs) if self.joined == "series" else 1.0 / by(1.0, packs)
        return replace(
            pack,
            **cells,
            extra_mass_g=by(pack.extra_mass_g, packs),
            joint_mohm=pack.joint_mohm * across,
        )


def _part(cells: Number, packs: int) -> Number:
    """A pack's share of a count of cells, a whole number where it is one."""
    return cells // packs if isinstance(cells, int) and cells % packs == 0 else cells / packs


ONE_PACK = Joining()


@dataclass(frozen=True, eq=False)
class PairFlight:
    """Two packs in parallel through a flight at constant power, in every way in which they may differ.

    Current, voltage and depth are of one cell of each pack, along the last axis; the axis before it has the
    ways. The pack of less resistance comes first.

    Attributes:
        cell: of both packs.
        joint_mohm: of each pack's own strips, leads and connector, as seen by one of its cells.
        factor: on the cells' resistance, shape (ways, 2).
        charge_share: of the flight's charge gone, shape (K,).
        depth_of_discharge: shape (K, ..., ways, 2).
        cell_a: shape (K, ..., ways, 2); NaN once the packs cannot give the power.
        hours: since take-off, shape (K, ..., ways).
    """

    cell: Cell
    joint_mohm: FloatArray
    factor: FloatArray
    charge_share: FloatArray
    depth_of_discharge: FloatArray
    cell_a: FloatArray
    hours: FloatArray

    @cached_property
    def highest_a(self) -> FloatArray:
        """Most that a cell of either pack carries, of the leading shape; NaN where the power gives out."""
        return np.asarray(self.cell_a.max(axis=(0, -2, -1)))

    @property
    def highest_share(self) -> FloatArray:
        """The same over the mean of both packs at that instant, 1 to 2."""
        with np.errstate(invalid="ignore"):
            mean = self.cell_a.mean(axis=-1, keepdims=True)
            return np.asarray((self.cell_a / mean).max(axis=(0, -2, -1)))

    @property
    def deepest(self) -> FloatArray:
        """Depth of discharge of the emptier pack at the end of the flight."""
        return np.asarray(self.depth_of_discharge[-1].max(axis=(-2, -1)))

    @property
    def worst_way(self) -> tuple[FloatArray, FloatArray]:
        """Hours since take-off and currents of both packs, shapes (K,) and (K, 2), in the way in which one of
        them carries most; of a single flight."""
        way = int(np.nan_to_num(self.cell_a).max(axis=(0, -1)).argmax())
        return self.hours[:, way], self.cell_a[:, way]

    def highest_a_at(self, charge_share: float, mean_a: Number) -> FloatArray:
        """Most that a cell of either pack carries at an instant of the flight under another load.

        Args:
            charge_share: of the flight's charge gone, 0 to 1.
            mean_a: the load, as current of a cell were both packs alike.
        """
        k = int(np.abs(self.charge_share - charge_share).argmin())
        depth = self.depth_of_discharge[k]
        u, r_ohm, _ = _sources(self.cell.model, depth, self.factor, self.joint_mohm)
        mean = np.asarray(mean_a, dtype=float)[..., None]
        volts = ((u / r_ohm).sum(axis=-1) - 2.0 * mean) / (1.0 / r_ohm).sum(axis=-1)
        return np.asarray(((u - volts[..., None]) / r_ohm).max(axis=(-2, -1)))


def _ways(joining: Joining, model: CellModel) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Factors on resistance and on capacity, and depth at the start, of both packs in each way: (4, 2)."""
    apart = np.array([-0.5, 0.5])
    signs = np.array(list(product((1.0, -1.0), repeat=2)))
    factor = np.broadcast_to(1.0 + apart * joining.apart_resistance_pct / 100.0, (4, 2))
    capacity = 1.0 + signs[:, :1] * apart * joining.apart_capacity_pct / 100.0
    full_v = model.open_circuit_v
    lower_v = full_v[0] - joining.apart_cell_v
    lower = np.interp(-lower_v, -full_v, model.depth_of_discharge)
    start = np.where(signs[:, 1:] * apart > 0.0, lower, 0.0)
    return np.array(factor), capacity, start


def _sources(
    model: CellModel, depth: FloatArray, factor: FloatArray, joint_mohm: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Open-circuit voltage, resistance and slope of the voltage of both packs, of one cell each."""
    u, slope = open_circuit_line(model, depth)
    _, own_mohm = model.voltage_and_resistance_at(np.maximum(depth, 0.0))
    own = np.maximum(own_mohm, 1e-3) * factor
    return u, (own + joint_mohm) / 1000.0, slope


def _both(figure: FloatArray) -> FloatArray:
    """The sum over both packs."""
    return np.asarray(figure[..., 0] + figure[..., 1])


def _at_power(u: FloatArray, r_ohm: FloatArray, cell_w: FloatArray) -> FloatArray:
    """Current of each of two sources in parallel that give twice `cell_w` together; NaN where they cannot."""
    conducts, drives = _both(1.0 / r_ohm), _both(u / r_ohm)
    with np.errstate(invalid="ignore"):
        volts = (drives + np.sqrt(drives**2 - 8.0 * conducts * cell_w)) / (2.0 * conducts)
    return np.asarray((u - volts[..., None]) / r_ohm)


def fly_pair(
    joining: Joining,
    whole: Pack,
    power_w: Number,
    end_depth_of_discharge: Number,
    *,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
    joint_factor: Number = 1.0,
) -> PairFlight:
    """Fly two packs in parallel that differ, at constant power, until the planned charge is taken.

    Both are at one voltage V: I_i = (U(z_i) - V) / R_i with V (I_1 + I_2) = P, so V is the upper root of
    V^2 sum(1/R) - V sum(U/R) + P. Each pack's own leads and connector are in its R. The pack of less resistance
    leads, empties faster, and hands the current over. Steps by the midpoint rule, the midpoint found linearly
    implicit.

    Args:
        joining: two packs in parallel, and how far they differ; each way of it is flown.
        whole: all cells together; figures may be arrays.
        power_w: of the whole, above 0.
        end_depth_of_discharge: mean of both packs at the end, 0 to 1.
        resistance_factor, capacity_factor: cold and age, of both packs.
        joint_factor: on the joints.

    Source: Kirchhoff's laws with the cell's U(z) and R(z).

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> whole = Pack(find_cell("Bittern"), 6, 4, joint_mohm=4.0)
        >>> flight = fly_pair(Joining(2, "parallel"), whole, 400.0, 0.8)
        >>> bool(1.05 < flight.highest_share < 1.25)
        True
    """
    model = whole.cell.model
    apart_factor, capacity, start = _ways(joining, model)

    def by_way(figure: Number) -> FloatArray:
        return np.asarray(figure, dtype=float)[..., None]

    cell_w = by_way(np.asarray(power_w, dtype=float) / whole.cells)
    joint = by_way(by_way(whole.joint_mohm_per_cell * joint_factor))
    cell_ah = model.capacity_ah * by_way(by_way(capacity_factor)) * capacity
    # the whole flight's charge, of one cell of each pack on the mean
    flight_ah = by_way(model.capacity_ah * np.asarray(capacity_factor) * end_depth_of_discharge)
    charge_share = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, STEPS + 1))
    factor = by_way(by_way(resistance_factor)) * apart_factor
    depth = start + 0.0 * (cell_ah + cell_w[..., None] + flight_ah[..., None] + joint)
    depths, amps, hours = [depth], [], [np.zeros(depth.shape[:-1])]
    for step in np.diff(charge_share):
        step_ah = step * flight_ah
        u, r_ohm, slope = _sources(model, depth, factor, joint)
        now = _at_power(u, r_ohm, cell_w)
        amps.append(now)
        # half a step ahead each voltage is U + U' z' h / 2, so U' stiffens the resistance
        half_h = (step_ah / _both(now))[..., None]
        ahead = _at_power(u, r_ohm + np.maximum(-slope * half_h / cell_ah, 0.0), cell_w)
        u, r_ohm, _ = _sources(model, depth + ahead * half_h / cell_ah, factor, joint)
        middle = _at_power(u, r_ohm, cell_w)
        mean = 0.5 * _both(middle)
        depth = depth + middle / mean[..., None] * step_ah[..., None] / cell_ah
        depths.append(depth)
        hours.append(hours[-1] + step_ah / mean)
    u, r_ohm, _ = _sources(model, depth, factor, joint)
    amps.append(_at_power(u, r_ohm, cell_w))
    return PairFlight(
        whole.cell,
        joint,
        factor,
        charge_share,
        np.array(depths),
        np.array(amps),
        np.array(hours),
    )


@dataclass(frozen=True, eq=False)
class JoiningCurrents:
    """What flows when two packs are joined in parallel that are not at one voltage. Of whole packs.

    Attributes:
        loop_mohm: both packs with their leads and connectors, where their resistance is least.
        apart_v: the difference that the plan counts on.
        apart_a: what it pushes from one pack into the other at first.
        most_a: what a pack may be charged with.
        most_v: the difference that pushes so much.
    """

    loop_mohm: Number
    apart_v: Number
    apart_a: Number
    most_a: Number
    most_v: Number


def joining_currents(joining: Joining, whole: Pack) -> JoiningCurrents:
    """The difference of voltage up to which two packs may be joined in parallel.

    Args:
        joining: two packs in parallel.
        whole: all cells together; figures may be arrays.

    Source: Ohm's law around the loop of both packs, I = dV / (R1 + R2); the cell maker's highest charge
        current. Cells new and warm, at the depth where their resistance is least, which errs on the side of less.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> whole = Pack(find_cell("Bittern"), 6, 4, joint_mohm=4.0)
        >>> found = joining_currents(Joining(2, "parallel"), whole)
        >>> bool(found.apart_a < found.most_a), bool(found.most_v < 0.2 * 6)
        (True, True)
    """
    one, cell = joining.one_of(whole), whole.cell
    own_mohm = float(cell.model.resistance_mohm.min()) * one.series / one.parallel
    loop_mohm = 2.0 * (own_mohm + one.joint_mohm)
    apart_v = joining.apart_cell_v * one.series
    most_a = cell.max_charge_a * one.parallel
    return JoiningCurrents(
        loop_mohm, apart_v, 1000.0 * apart_v / loop_mohm, most_a, most_a * loop_mohm / 1000.0
    )
