"""The log of a flight: its columns as arrays, what was left out of them, and which rows to draw."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workbook.numbers import FloatArray

SERIES = (
    "voltage_v",
    "current_a",
    "charge_ah",
    "throttle_pct",
    "height_m",
    "speed_m_s",
    "temperature_c",
)
"""Columns with one figure a row, beside the time."""


@dataclass(frozen=True)
class LogFinding:
    """One thing found wrong in a log.

    Attributes:
        kind: "gap", "glitch", "frozen", "saturated", "restart", "zero offset", "time" or "text".
        column: the column's key; empty for whole rows.
        start_s, end_s: on the log's own clock.
        rows: left out; 0 where it is only shown.
        text: the sentence to show.
    """

    kind: str
    text: str
    rows: int = 0
    column: str = ""
    start_s: float = np.nan
    end_s: float = np.nan


@dataclass(frozen=True, eq=False)
class FlightLog:
    """A log in plain units; NaN is "not known" or "left out".

    Attributes:
        name: of the file.
        time_s: rising, the first row at 0; shape (n,).
        voltage_v, current_a: of the pack under load, discharge above 0; shape (n,).
        charge_ah: taken from the pack since the counter's start, where logged.
        throttle_pct, height_m, speed_m_s, temperature_c: where logged.
        cells_v: voltage of each group of cells, shape (groups, n), where logged.
        headings: key to the heading that it was read from.
        notes: what was taken as read, a sentence each.
        findings: what was found wrong.
    """

    name: str
    time_s: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    charge_ah: FloatArray | None = None
    throttle_pct: FloatArray | None = None
    height_m: FloatArray | None = None
    speed_m_s: FloatArray | None = None
    temperature_c: FloatArray | None = None
    cells_v: FloatArray | None = None
    headings: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    findings: tuple[LogFinding, ...] = ()

    def __len__(self) -> int:
        """Number of rows."""
        return len(self.time_s)

    @property
    def power_w(self) -> FloatArray:
        """Of the pack."""
        return np.asarray(self.voltage_v * self.current_a)

    @property
    def duration_s(self) -> float:
        """From the first row to the last."""
        return float(self.time_s[-1] - self.time_s[0])

    @property
    def step_s(self) -> float:
        """The usual time between two rows."""
        return float(np.median(np.diff(self.time_s)))

    @property
    def sentences(self) -> tuple[str, ...]:
        """What was taken as read, then what was found wrong."""
        return (*self.notes, *(finding.text for finding in self.findings))

    def known(self, key: str) -> FloatArray | None:
        """A column by its key; None where it was not logged."""
        values: FloatArray | None = getattr(self, key)
        return values

    def kept(self, rows: np.ndarray | slice) -> FlightLog:
        """The log with some of its rows only, its clock unchanged."""
        series: dict[str, Any] = {
            key: v[rows] for key in SERIES if (v := self.known(key)) is not None
        }
        cells = None if self.cells_v is None else self.cells_v[:, rows]
        return replace(self, time_s=self.time_s[rows], cells_v=cells, **series)

    def between(self, start_s: float, end_s: float) -> FlightLog:
        """The rows from one time to another, both included, on the log's own clock."""
        first, last = np.searchsorted(self.time_s, (start_s, np.nextafter(end_s, np.inf)))
        return self.kept(slice(int(first), int(last)))


def counted_text(count: int, noun: str, words: str) -> str:
    """A sentence about so many of something, in the singular where there is one.

    Args:
        count: of them.
        noun: of one.
        words: as of several.

    Example:
        >>> counted_text(2, "row", "were left out."), counted_text(1, "row", "were left out.")
        ('2 rows were left out.', '1 row was left out.')
    """
    if count == 1:
        return f"1 {noun} {words.replace('were', 'was').replace('their', 'its')}"
    return f"{count} {noun}s {words}"


def reduced(time_s: FloatArray, *series: FloatArray, points: int = 2000) -> NDArray[np.intp]:
    """Rows to draw: the first, the last, and in each of equal times the least and the greatest of each series.

    Args:
        time_s: rising, shape (n,).
        series: what is drawn over it, shape (n,) each; NaN is passed over.
        points: about how many rows may come out, 10 or more; no fewer than two a series and time.

    Returns:
        Row numbers, rising, each once.

    Source: minimum and maximum of each bin, common practice of drawing logs.

    Example:
        >>> time = np.arange(1000.0)
        >>> wave = np.where(time == 321, 9.0, 1.0)
        >>> rows = reduced(time, wave, points=20)
        >>> len(rows) <= 22, 321 in rows
        (True, True)
    """
    count = len(time_s)
    if count <= points or not series:
        return np.arange(count)
    bins = max(1, points // (2 * len(series)))
    edges = np.searchsorted(time_s, np.linspace(time_s[0], time_s[-1], bins + 1)[:-1])
    starts = np.unique(edges)
    wanted = [np.array([0, count - 1])]
    bin_of = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, count)))
    for values in series:
        for filler, pick in ((np.inf, np.minimum), (-np.inf, np.maximum)):
            known = np.where(np.isnan(values), filler, values)
            ends = pick.reduceat(known, starts)
            hit = np.flatnonzero((known == ends[bin_of]) & np.isfinite(known))
            wanted.append(hit[np.unique(bin_of[hit], return_index=True)[1]])
    return np.asarray(np.unique(np.concatenate(wanted)))
