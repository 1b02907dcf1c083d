"""Candidates of a sweep one by one: in words, by reason, and how they stand to each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.sizing.sweep import Sweep
from workbook.working import Step


@dataclass(frozen=True)
class Candidate:
    """One pack that was tried.

    Attributes:
        cell: name of its cell; cell_format and kind: of the cell.
        series, parallel: how many.
        pack_mass_g, all_up_mass_g: of the pack, and of everything that flies.
        endurance_min: flight time; NaN where it was set aside before that was worked out.
        margin_pct: the tightest margin; -inf where it cannot be told.
        binds: the limit that has it, in words.
        holds: whether every limit holds.
        reason: why it fell out, in words; empty where it holds.
    """

    cell: str
    cell_format: str
    kind: str
    series: int
    parallel: int
    pack_mass_g: float
    all_up_mass_g: float
    endurance_min: float
    margin_pct: float
    binds: str
    holds: bool
    reason: str

    @property
    def name(self) -> str:
        """Cell, series and parallel: `Teal 30P 6S4P`."""
        return f"{self.cell} {self.series}S{self.parallel}P"

    @property
    def key(self) -> tuple[str, int, int]:
        """What finds it again in another sweep."""
        return (self.cell, self.series, self.parallel)


def candidates(found: Sweep, most: int | None = None) -> tuple[Candidate, ...]:
    """The rows of a sweep, in its order; the first `most` of them where that is given."""
    rows = range(len(found) if most is None else min(most, len(found)))
    return tuple(candidate(found, row) for row in rows)


def candidate(found: Sweep, row: int) -> Candidate:
    """One row of a sweep."""
    cell = found.cells[int(found["cell"][row])]
    return Candidate(
        cell.name,
        cell.cell_format,
        cell.kind,
        int(found["series"][row]),
        int(found["parallel"][row]),
        float(found["pack_mass_g"][row]),
        float(found["all_up_mass_g"][row]),
        float(found["endurance_min"][row]),
        float(found["margin_pct"][row]),
        found.limits[int(found["binds"][row])][1],
        bool(found["broken"][row] == 0),
        found.reason(row),
    )


def row_of(found: Sweep, key: Sequence[object]) -> int | None:
    """Row of a candidate by cell name, series and parallel; None where it is not there."""
    if len(key) != 3:
        return None
    names = np.array([cell.name for cell in found.cells], dtype=object)
    same = (
        (names[found["cell"]] == key[0])
        & (found["series"] == key[1])
        & (found["parallel"] == key[2])
    )
    rows = np.flatnonzero(same)
    return int(rows[0]) if len(rows) else None


def rejected_by(found: Sweep, limit: str) -> Sweep:
    """The rows that break a limit, by its key.

    Raises:
        InputError: the sweep has no such limit.
    """
    keys = [key for key, _, _ in found.limits]
    if limit not in keys:
        raise InputError(Problem(f"no such limit; there are {', '.join(keys)}.", limit))
    return found.where((found["broken"] >> np.uint32(keys.index(limit)) & np.uint32(1)) == 1)


def minutes_per_100_g(
    mass_g: FloatArray | Sequence[float], time_min: FloatArray | Sequence[float]
) -> FloatArray:
    """What each heavier pack adds in minutes for each 100 g more than the one before it.

    Args:
        mass_g: rising, shape (n,), n of 2 or more.
        time_min: shape (n,).

    Returns:
        Shape (n - 1,).

    Example:
        >>> minutes_per_100_g([1000.0, 1200.0], [20.0, 23.0])
        array([1.5])
    """
    mass, time = np.asarray(mass_g, dtype=float), np.asarray(time_min, dtype=float)
    return np.asarray(100.0 * np.diff(time) / np.diff(mass))


def front_steps(front: Sweep) -> tuple[Step, ...]:
    """What each step along the front buys: minutes for 100 g more."""
    listed = candidates(front)
    steps = []
    for lighter, heavier in pairwise(listed):
        more_g = heavier.all_up_mass_g - lighter.all_up_mass_g
        if not more_g > 0:
            continue
        gain = minutes_per_100_g(
            [lighter.all_up_mass_g, heavier.all_up_mass_g],
            [lighter.endurance_min, heavier.endurance_min],
        )
        steps.append(
            Step(
                f"gain {heavier.name}",
                f"{lighter.name} to {heavier.name}",
                "100 x more minutes / more grams",
                f"100 x ({heavier.endurance_min:.1f} - {lighter.endurance_min:.1f}) min / {more_g:.0f} g",
                float(gain[0]), "min per 100 g", "arithmetic",
            )
        )  # fmt: skip
    return tuple(steps)
