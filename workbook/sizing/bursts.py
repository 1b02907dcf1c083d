"""Bursts of a mission counted together: splitting one, or resting a little between two, changes nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from workbook.battery.cell import Cell


@dataclass(frozen=True, eq=False)
class Burst:
    """How far a cell's burst is used up at the end of a phase.

    Attributes:
        over_s: how long the current has been above the allowed continuous one, without a break.
        used_pct: share of one whole burst that is used up and not yet recovered.
    """

    over_s: float
    used_pct: float


NO_BURST = Burst(0.0, 0.0)


def count_bursts(
    cell: Cell, continuous_a: float, phases: Iterable[tuple[float, float]]
) -> list[Burst]:
    """The burst of a cell through phases of constant current.

    A whole burst is (burst^2 - continuous^2) x burst time. What a current adds is the same difference
    of its square over its time; a current below the continuous one takes away in the same measure.

    Args:
        cell: its burst current and burst time.
        continuous_a: continuous current that is allowed.
        phases: seconds and highest cell current of each phase, in order.

    Source: I2t overload counting, common practice of motor drives; no source for cells.

    Example:
        >>> from workbook.files.cell_file import catalogue
        >>> cell = next(iter(catalogue().values()))
        >>> whole = [(cell.burst_s, cell.burst_a)]
        >>> halves = [(cell.burst_s / 2, cell.burst_a)] * 2
        >>> [
        ...     round(count_bursts(cell, cell.continuous_a, phases)[-1].used_pct)
        ...     for phases in (whole, halves)
        ... ]
        [100, 100]
    """
    allowed = (cell.burst_a**2 - continuous_a**2) * cell.burst_s
    found, over_s, used = [], 0.0, 0.0
    for duration_s, cell_a in phases:
        over_s = over_s + duration_s if cell_a > continuous_a else 0.0
        used = max(0.0, used + (cell_a**2 - continuous_a**2) * duration_s)
        share = used / allowed if allowed > 0 else float("inf") if used > 0 else 0.0
        found.append(Burst(over_s, round(100.0 * share, 9)))
    return found
