"""Cell inspection: which of the bought cells may be built in, and what to check before joining."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from workbook.bench.sampling import judge_sample
from workbook.errors import InputError
from workbook.notices import notice
from workbook.numbers import FloatArray, Number
from workbook.units import with_unit
from workbook.working import Step, step

ARRIVAL_REJECT_V = 2.5
"""A cell that arrives below this is rejected. Common practice, no source; near the cutoff that
datasheets print."""
ARRIVAL_QUESTION_V = 3.0
"""Below this on arrival a cell has been stored long or low. Common practice, no source."""
SELF_DISCHARGE_MV_PER_WEEK = 10.0
"""More than the batch's median by this much in a week at rest is an outlier (5 to 10 mV is usual).
Common practice, no source."""
CAPACITY_PCT = 3.0
"""Distance from the batch's median capacity that is let pass. Common practice, no source."""
RESISTANCE_PCT = 10.0
"""The same for resistance. Common practice, no source."""
MASS_PCT = 2.0
"""The same for mass; a light cell may not be what its label says. Common practice, no source."""
MODIFIED_Z = 3.5
"""Largest modified z-score. Source: Iglewicz and Hoaglin, How to Detect and Handle Outliers (1993):
0.6745 (x - median)/MAD beyond 3.5."""
JOIN_V = 0.010
"""Cells are joined in parallel when their voltages lie within 10 mV. Common practice, no source."""


def _empty() -> FloatArray:
    return np.empty(0)


@dataclass(frozen=True)
class MeasuredCells:
    """Bought cells as measured; NaN where a figure was not taken, arrays of one length.

    Attributes:
        name: mark on each cell.
        capacity_ah: at the batch's one test current, to the cutoff.
        resistance_mohm: by one method for all.
        arrival_v: before any charge.
        rest_first_v: at rest, first reading after charging and settling.
        rest_last_v: at rest, last reading.
        rest_days: days between the two.
        mass_g: on the scale.
    """

    name: tuple[str, ...]
    capacity_ah: FloatArray = field(default_factory=_empty)
    resistance_mohm: FloatArray = field(default_factory=_empty)
    arrival_v: FloatArray = field(default_factory=_empty)
    rest_first_v: FloatArray = field(default_factory=_empty)
    rest_last_v: FloatArray = field(default_factory=_empty)
    rest_days: float = 7.0
    mass_g: FloatArray = field(default_factory=_empty)

    def __post_init__(self) -> None:
        """Fill what was not measured with NaN."""
        for key in _FIGURES:
            values = np.array(getattr(self, key), float).ravel()
            if values.size == 0:
                values = np.full(len(self.name), np.nan)
            object.__setattr__(self, key, values)

    @property
    def self_discharge_mv_per_week(self) -> FloatArray:
        """Voltage lost at rest, for a week."""
        return (self.rest_first_v - self.rest_last_v) * 1000.0 * 7.0 / self.rest_days

    def only(self, index: FloatArray | list[int]) -> MeasuredCells:
        """The cells at these places, in this order."""
        places = np.asarray(index, np.intp)
        return MeasuredCells(
            name=tuple(self.name[i] for i in places),
            rest_days=self.rest_days,
            **{key: getattr(self, key)[places] for key in _FIGURES},
        )

    def names_of(self, groups: NDArray[np.intp]) -> list[list[str]]:
        """Marks of the cells at these places, one row a group."""
        return [[self.name[i] for i in row] for row in groups]


_FIGURES = ("capacity_ah", "resistance_mohm", "arrival_v", "rest_first_v", "rest_last_v", "mass_g")


@dataclass(frozen=True)
class CellVerdict:
    """What to do with one cell.

    Attributes:
        name: mark on the cell.
        verdict: "use", "set aside" (measure again, or another pack) or "reject" (recycle).
        reasons: one sentence each; empty for "use" with every figure taken.
    """

    name: str
    verdict: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class InspectionReport:
    """The batch after inspection.

    Attributes:
        cells: one verdict a cell, in the order given.
        usable: place of each cell with the verdict "use".
        unmeasured: figures that were taken of no cell.
        notes: figures that some cells lack, and a batch below its rating, in words.
    """

    cells: tuple[CellVerdict, ...]
    usable: tuple[int, ...]
    unmeasured: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def not_measured(self) -> tuple[str, ...]:
        """What was left out, one sentence each."""
        return (
            *(notice("cells", "on_none", label=label) for label in self.unmeasured),
            *self.notes,
        )


def modified_z(values: FloatArray) -> FloatArray:
    """Distance from the median in robust standard deviations; NaN stays NaN.

    Where more than half the figures are equal (MAD of 0) the mean absolute deviation is used instead.

    Args:
        values: one figure a cell.

    Source: Iglewicz and Hoaglin (1993); 0.6745 x deviation/MAD, or deviation/(1.2533 x mean).

    Example:
        >>> modified_z(np.array([1.0, 2.0, 3.0, 4.0, 100.0])).round(2)
        array([-1.35, -0.67,  0.  ,  0.67, 65.43])
    """
    values = np.asarray(values, float)
    known = np.isfinite(values)
    if not known.any():
        return np.full(values.shape, np.nan)
    off = values - np.median(values[known])
    size = np.abs(off[known])
    scale = np.median(size) / 0.6745
    if scale == 0.0:
        scale = 1.253314 * size.mean()
    return off / scale if scale > 0.0 else np.where(known, 0.0, np.nan)


def _median(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else np.nan


def inspect_cells(cells: MeasuredCells, rated_capacity_ah: float | None = None) -> InspectionReport:
    """Judge every cell of a batch against its batch, and say why.

    A figure is an outlier when it lies both beyond the trade's distance from the median and beyond
    3.5 robust standard deviations, or beyond twice the trade's distance whatever the batch does. So
    a tight batch is not thinned for nothing and a wild batch does not excuse its worst cells.

    Args:
        cells: the batch; one model, one age.
        rated_capacity_ah: the maker's minimum, if known; a note says so where the cells as a whole are below it.

    Source: limits: common practice, no source; outliers: Iglewicz and Hoaglin (1993). The maker's
        datasheet takes precedence.

    Example:
        >>> batch = MeasuredCells(
        ...     ("a", "b", "c", "d"),
        ...     capacity_ah=[3.0, 2.99, 3.01, 2.6],
        ...     arrival_v=[3.5, 3.5, 2.2, 3.5],
        ... )
        >>> for cell in inspect_cells(batch).cells:
        ...     print(cell.name, cell.verdict, *cell.reasons)
        a use
        b use
        c reject It arrived at 2.20 V; below 2.5 V a cell may be damaged inside.
        d set aside Its capacity, 2.600 Ah, is 13.2 % below the batch's 2.995 Ah.
    """
    count = len(cells.name)
    reject: list[list[str]] = [[] for _ in range(count)]
    aside: list[list[str]] = [[] for _ in range(count)]
    drift = cells.self_discharge_mv_per_week
    usual = _median(drift)
    for i, volts in enumerate(cells.arrival_v):
        if volts < ARRIVAL_REJECT_V:
            empty = notice("cells", "arrived_empty", volts=volts, least_v=ARRIVAL_REJECT_V)
            reject[i].append(empty)
        elif volts < ARRIVAL_QUESTION_V:
            low = notice("cells", "arrived_low", volts=volts, least_v=ARRIVAL_QUESTION_V)
            aside[i].append(low)
        if drift[i] - usual > SELF_DISCHARGE_MV_PER_WEEK:
            reject[i].append(notice("cells", "leaks", lost_mv=drift[i], usual_mv=usual))
    for figure in _COMPARED:
        for i, reason in figure.outliers(cells):
            aside[i].append(reason)
    verdicts = tuple(
        CellVerdict(name, "reject" if worst else "set aside" if odd else "use", (*worst, *odd))
        for name, worst, odd in zip(cells.name, reject, aside, strict=True)
    )
    unmeasured, notes = _batch_notes(cells, rated_capacity_ah)
    return InspectionReport(
        cells=verdicts,
        usable=tuple(i for i, v in enumerate(verdicts) if v.verdict == "use"),
        unmeasured=unmeasured,
        notes=notes,
    )


@dataclass(frozen=True)
class _Compared:
    """A figure in which a cell is held against the median of its batch."""

    key: str
    label: str
    unit: str
    decimals: int
    limit_pct: float
    caution: str = ""

    def outliers(self, cells: MeasuredCells) -> list[tuple[int, str]]:
        """Places of the cells too far from the batch, each with its reason."""
        values: FloatArray = getattr(cells, self.key)
        middle = _median(values)
        off_pct = 100.0 * (values / middle - 1.0)
        far = (np.abs(off_pct) > self.limit_pct) & (np.abs(modified_z(values)) > MODIFIED_Z)
        odd = np.flatnonzero(far | (np.abs(off_pct) > 2.0 * self.limit_pct)).tolist()
        return [(i, self._reason(values[i], middle, off_pct[i])) for i in odd]

    def _reason(self, value: float, middle: float, off_pct: float) -> str:
        shown = {"value": self._text(value), "middle": self._text(middle)}
        side = "above" if off_pct > 0 else "below"
        return notice("cells", "odd", of=self, off_pct=abs(off_pct), side=side, **shown)

    def _text(self, value: float) -> str:
        return with_unit(value, self.unit, self.decimals)


_COMPARED = (
    _Compared("capacity_ah", "capacity", "Ah", 3, CAPACITY_PCT),
    _Compared("resistance_mohm", "resistance", "mΩ", 1, RESISTANCE_PCT),
    _Compared("mass_g", "mass", "g", 1, MASS_PCT, " It may not be what its label says."),
)


def _batch_notes(
    cells: MeasuredCells, rated_capacity_ah: float | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Figures that no cell has, and notes on the batch."""
    unmeasured, notes, count = [], [], len(cells.name)
    for label, values in (
        ("arrival voltage", cells.arrival_v),
        ("self-discharge", cells.self_discharge_mv_per_week),
        ("capacity", cells.capacity_ah),
        ("resistance", cells.resistance_mohm),
        ("mass", cells.mass_g),
    ):
        blank = np.count_nonzero(~np.isfinite(values))
        if blank == count:
            unmeasured.append(label)
        elif blank:
            notes.append(notice("cells", "on_some", label=label, blank=blank, count=count))
    tested_ah = cells.capacity_ah[np.isfinite(cells.capacity_ah)]
    if rated_capacity_ah is not None and tested_ah.size:
        found = judge_sample(tested_ah)
        if found.high < rated_capacity_ah:
            figures = {"count": tested_ah.size, "found": found, "rated_ah": rated_capacity_ah}
            notes.append(notice("cells", "below_rated", **figures))
    return tuple(unmeasured), tuple(notes)


def joining_current_a(
    difference_v: Number, resistance_mohm: Number, other_mohm: Number | None = None
) -> Number:
    """Current that flows between two cells at the moment of joining them in parallel.

    Args:
        difference_v: open-circuit voltage of one less the other's.
        resistance_mohm: of one cell.
        other_mohm: of the other; the same if left out.

    Source: Ohm's law around the loop of both cells.

    Example:
        100 mV between two 25 mΩ cells push 2 A; 10 mV push 0.2 A.

        >>> float(joining_current_a(0.100, 25.0))
        2.0
    """
    other = resistance_mohm if other_mohm is None else other_mohm
    loop_ohm = (np.asarray(resistance_mohm, float)[()] + other) / 1000.0
    current: Number = np.asarray(difference_v, float)[()] / loop_ohm
    return current


@dataclass(frozen=True)
class JoiningCheck:
    """Whether the cells of a group may be joined now.

    Attributes:
        current_a: the largest current between any two of them at the moment of joining.
        ready: whether the spread is within the limit.
        why: the reason in words.
    """

    current_a: float
    ready: bool
    why: str


def check_joining(
    voltage_v: FloatArray | list[float], resistance_mohm: FloatArray | list[float] | float
) -> JoiningCheck:
    """Check the cells of one parallel group before they are welded together.

    Args:
        voltage_v: at rest, measured with one meter within minutes.
        resistance_mohm: one for all, or one each.

    Raises:
        InputError: a voltage or resistance that is missing or not above zero.

    Example:
        >>> check_joining([3.602, 3.598, 3.671], 25.0).why
        'The cells differ by 73 mV; 10 mV is the limit. Joining them now would push about 1.5 A ...'
    """
    volts = np.asarray(voltage_v, float).ravel()
    mohm = np.broadcast_to(np.asarray(resistance_mohm, float), volts.shape)
    if volts.size == 0 or not (np.all(volts > 0) and np.all(mohm > 0)):
        raise InputError("every cell's voltage (V) and resistance (mΩ) above 0 is needed.")
    spread_v = float(np.ptp(volts))
    between = np.abs(
        joining_current_a(volts[:, None] - volts[None, :], mohm[:, None], mohm[None, :])
    )
    current_a = float(between.max())
    ready = spread_v <= JOIN_V + 1e-9
    figures = {"spread_mv": 1000.0 * spread_v, "most_mv": 1000.0 * JOIN_V, "current_a": current_a}
    why = notice("cells", "not_yet", **figures)
    if ready:
        why = notice("cells", "join", **figures)
    return JoiningCheck(current_a, ready, why)


def joining_step(difference_v: float, resistance_mohm: float) -> Step:
    """Working of the current at the moment two equal cells are joined in parallel.

    Args:
        difference_v: one voltage less the other.
        resistance_mohm: of one cell.

    Example:
        >>> joining_step(0.1, 25.0).result
        2.0
    """
    return step(
        "joining_a",
        difference_v / (2.0 * resistance_mohm / 1000.0),
        difference_mv=1000.0 * difference_v,
        resistance_mohm=resistance_mohm,
    )
