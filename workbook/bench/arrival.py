"""A delivery of cells against its datasheet: is it what was ordered, and what may a plan count on?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.battery.cell import Cell
from workbook.bench.cell_inspection import (
    ARRIVAL_QUESTION_V,
    InspectionReport,
    MeasuredCells,
    inspect_cells,
)
from workbook.bench.matching import Matching, deal_usable
from workbook.bench.sampling import CONFIDENCE, SampleVerdict, cells_to_test, judge_sample, most_bad
from workbook.data.tables import data_rows
from workbook.errors import InputError, Problem, refuse
from workbook.notices import notice
from workbook.numbers import FloatArray, rounded
from workbook.quantities import unit_of
from workbook.units import with_unit
from workbook.working import Step, step

FULL_ARRIVAL_V = 3.8
"""Makers ship cells part charged, at 3.4 to 3.7 V; fuller ones were charged by somebody since.
Common practice, no source."""
MASS_OFF_PCT = 3.0
"""From the datasheet's mass. Common practice, no source."""
FRESH_PCT = 30.0
"""Resistance above that of the datasheet's curves that a fresh cell does not have. Common practice, no source."""
AC_PCT = 25.0
"""Resistance below it that a direct current does not read: a meter with 1 kHz reads 50 to 70 % of it.
Common practice, no source."""
OVER_TYPICAL_PCT = 5.0
"""Charge above the typical that speaks against the meter. Common practice, no source."""
MOST_DELIVERED = 10_000
"""Cells of a delivery: ten of the largest packs."""
ONE_LOT_V = 0.015
"""Standard deviation of the voltages on arrival of cells from one lot, at most. Common practice, no source."""


@dataclass(frozen=True)
class Window:
    """Where a figure of a good delivery lies.

    Attributes:
        key: of `MeasuredCells`.
        label: in words.
        decimals: that it is printed with.
        low, high: ends.
        below, above: what it means where the delivery lies beyond, a sentence each.
    """

    key: str
    label: str
    decimals: int
    low: float
    high: float
    below: str
    above: str

    def text(self, value: float) -> str:
        """A value as it is printed."""
        return with_unit(value, unit_of(self.key), self.decimals)


def datasheet_windows(cell: Cell) -> tuple[Window, ...]:
    """What the datasheet lets a fresh delivery show.

    Args:
        cell: as its datasheet has it.

    Source: the cell's datasheet; how far from it: common practice, no source.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> mass = datasheet_windows(find_cell("Sedge"))[0]
        >>> mass.label, mass.text(mass.low), mass.text(mass.high)
        ('mass', '65.2 g', '69.2 g')
    """
    direct_mohm = float(cell.datasheet_model.resistance_at(0.5))
    off, charge_ah = MASS_OFF_PCT / 100.0, cell.typical_capacity_ah
    ends = {
        "mass_g": (cell.mass_g * (1.0 - off), cell.mass_g * (1.0 + off)),
        "arrival_v": (ARRIVAL_QUESTION_V, FULL_ARRIVAL_V),
        "resistance_mohm": (
            direct_mohm * (1.0 - AC_PCT / 100.0),
            direct_mohm * (1.0 + FRESH_PCT / 100.0),
        ),
        "capacity_ah": (cell.rated_capacity_ah, charge_ah * (1.0 + OVER_TYPICAL_PCT / 100.0)),
    }
    words = {row["key"]: row for row in data_rows("arrival.csv")}
    return tuple(
        Window(key, row["label"], int(row["decimals"]), *ends[key], row["below"], row["above"])
        for key, row in words.items()
    )


@dataclass(frozen=True)
class Finding:
    """One figure of a delivery beside its datasheet.

    Attributes:
        window: where it should lie.
        values: of the cells tested, NaN where it was not taken.
        sample: what they say of the delivery's mean; None of fewer than two.
    """

    window: Window
    values: FloatArray
    sample: SampleVerdict | None

    @property
    def outside(self) -> tuple[int, ...]:
        """Places of the cells that lie outside the window."""
        window = self.window
        off = (self.values < window.low) | (self.values > window.high)
        return tuple(int(i) for i in np.flatnonzero(off))

    @property
    def side(self) -> str:
        """Where the delivery's mean lies, 95 times in 100: "below", "above", "inside" or "open"."""
        if self.sample is None:
            return "open"
        if self.sample.high < self.window.low:
            return "below"
        if self.sample.low > self.window.high:
            return "above"
        inside = self.sample.low >= self.window.low and self.sample.high <= self.window.high
        return "inside" if inside else "open"

    @property
    def axis_ends(self) -> tuple[float, float]:
        """Ends of an axis that shows the window and every cell."""
        known = self.values[np.isfinite(self.values)]
        every = [*known.tolist(), self.window.low, self.window.high]
        room = 0.1 * (max(every) - min(every))
        return min(every) - room, max(every) + room

    def step(self) -> Step | None:
        """How the interval of its mean comes about; None without one."""
        if self.sample is None:
            return None
        known = self.values[np.isfinite(self.values)]
        window, low = self.window, self.sample.low
        return step(
            "low_mean",
            low,
            window=window,
            sample=self.sample,
            freedom=known.size - 1,
            deviation=known.std(ddof=1),
            known=known,
        )

    @property
    def text(self) -> str:
        """What it says of the delivery, in words."""
        window, sample = self.window, self.sample
        ends = f"{window.text(window.low)} to {window.text(window.high)}"
        if sample is None:
            return notice("arrival", "not_measured", window=window, ends=ends)
        interval = {key: window.text(getattr(sample, key)) for key in ("mean", "low", "high")}
        tested = {"count": np.isfinite(self.values).sum(), "found_pct": 100.0 * CONFIDENCE}
        text = notice("arrival", "measured", window=window, ends=ends, **interval, **tested)
        meaning = {
            "below": window.below,
            "above": window.above,
            "inside": "",
            "open": "Too near to the edge to tell: test more cells.",
        }
        return f"{text} {meaning[self.side]}".rstrip()


@dataclass(frozen=True)
class MeasuredForPlan:
    """What a plan may count on of each cell, and how surely, by the keys of a design file.

    Attributes:
        figures: of what was measured on two cells or more: `cell_capacity_ah`, rounded down: share of one cell in
            the weakest group where they are dealt, else what cells like these hold at least in the mean;
            `cell_resistance_mohm`, mean of the good cells, rounded up.
        uncertainty_pct: of each, to either side, 95 times in 100.
        cells: good cells behind it.
    """

    figures: dict[str, float]
    uncertainty_pct: dict[str, float]
    cells: int


@dataclass(frozen=True)
class Arrival:
    """A delivery after its test.

    Attributes:
        cell: what was ordered.
        cells: as measured.
        batch: cells delivered, tested ones among them.
        inspection: each cell against the others.
        findings: each figure against the datasheet.
    """

    cell: Cell
    cells: MeasuredCells
    batch: int
    inspection: InspectionReport
    findings: tuple[Finding, ...]

    @property
    def bad(self) -> tuple[int, ...]:
        """Places of the cells that are not to be built in."""
        return tuple(sorted(set(range(len(self.cells.name))) - set(self.good)))

    @property
    def good(self) -> tuple[int, ...]:
        """Places of the cells that may be built in."""
        outside = {i for finding in self.findings for i in finding.outside}
        return tuple(i for i in self.inspection.usable if i not in outside)

    @property
    def signs(self) -> tuple[str, ...]:
        """Signs of a counterfeit, a used or a mixed delivery, one sentence each."""
        sentences = [f.text for f in self.findings if f.side in ("below", "above")]
        arrived = self.cells.arrival_v[np.isfinite(self.cells.arrival_v)]
        spread_v = _robust_spread(arrived)
        if arrived.size > 3 and spread_v > ONE_LOT_V:
            spread_mv, one_lot_mv = 1000.0 * spread_v, 1000.0 * ONE_LOT_V
            mixed = notice("arrival", "lots_mixed", spread_mv=spread_mv, one_lot_mv=one_lot_mv)
            sentences.append(mixed)
        return tuple(sentences)

    @property
    def as_ordered(self) -> bool:
        """Whether nothing speaks against the delivery: no sign, and no bad cell in the sample."""
        return not self.signs and not self.bad

    @property
    def enough(self) -> bool:
        """Whether so many were tested that a delivery in which one in five is bad would be found out."""
        return len(self.cells.name) >= cells_to_test(self.batch)

    @property
    def holds(self) -> bool:
        """Whether the delivery may be built in: enough was tested, and nothing speaks against it."""
        return self.as_ordered and self.enough

    @property
    def verdict(self) -> str:
        """What to do with the delivery, in words."""
        tested, found_pct = len(self.cells.name), 100.0 * CONFIDENCE
        every = tested == self.batch
        if self.signs:
            return notice("arrival", "not_as_ordered")
        if self.bad:
            counts = {"bad": len(self.bad), "tested": tested}
            if every:
                return notice("arrival", "leave_out", **counts)
            return notice("arrival", "leave_out_and_test", **counts)
        if not self.enough:
            counts = {"tested": tested, "needed": cells_to_test(self.batch), "batch": self.batch}
            return notice("arrival", "too_few", **counts, found_pct=found_pct)
        if every:
            return notice("arrival", "all_good")
        return notice("arrival", "sample_good", found_pct=found_pct, left=self.most_bad_left)

    @property
    def most_bad_left(self) -> int:
        """How many of the cells that were not tested may be bad at most, 95 times in 100."""
        bad = len(self.bad)
        return most_bad(self.batch, len(self.cells.name), bad) - bad

    def for_plan(self, matching: Matching | None = None) -> MeasuredForPlan:
        """What a plan may count on.

        Args:
            matching: its good cells dealt into groups, where there are enough.
        """
        good = self.cells.only(list(self.good))
        charge, mohm = _mean_of(good.capacity_ah), _mean_of(good.resistance_mohm)
        figures, sure = {}, {}
        if charge is not None:
            weakest_ah = charge.low if matching is None else matching.weakest_cell_ah
            figures["cell_capacity_ah"] = rounded(weakest_ah, 2, "down")
            sure["cell_capacity_ah"] = _uncertainty_pct(charge)
        if mohm is not None:
            figures["cell_resistance_mohm"] = rounded(mohm.mean, 1, "up")
            sure["cell_resistance_mohm"] = _uncertainty_pct(mohm)
        return MeasuredForPlan(figures, sure, len(self.good))

    def working(self) -> tuple[Step, ...]:
        """How the judgement comes about."""
        steps = [made for finding in self.findings if (made := finding.step()) is not None]
        tested, bad = len(self.cells.name), len(self.bad)
        left = step(
            "most_bad_left", float(self.most_bad_left), bad=bad, tested=tested, arrived=self
        )
        return (*steps, left)

    def as_dict(self, matching: Matching | None = None) -> dict[str, Any]:
        """All of it, in plain types.

        Args:
            matching: its good cells dealt into groups, where there are enough.
        """
        plan = self.for_plan(matching)
        return {
            "cell": self.cell.name,
            "batch": self.batch,
            "tested": len(self.cells.name),
            "holds": self.holds,
            "as_ordered": self.as_ordered,
            "verdict": self.verdict,
            "signs": list(self.signs),
            "most_bad_left": self.most_bad_left,
            "figures": {f.window.key: _finding_dict(f) for f in self.findings},
            "cells": [
                {
                    "name": one.name,
                    "verdict": self.verdict_of(i),
                    "reasons": list(self.reasons(i)),
                }
                for i, one in enumerate(self.inspection.cells)
            ],
            "groups": [] if matching is None else self.cells.names_of(matching.groups),
            "for_plan": {**plan.figures, "uncertainty_pct": plan.uncertainty_pct},
        }

    def deal(self, series: int, parallel: int) -> Matching | None:
        """Its good cells dealt into the groups of a pack; None where too few have a capacity."""
        return deal_usable(self.cells, self.good, series, parallel)

    def verdict_of(self, place: int) -> str:
        """Of one cell, beside the others and the datasheet: "use", "set aside" or "reject"."""
        if place in self.good:
            return "use"
        beside = self.inspection.cells[place].verdict
        return "set aside" if beside == "use" else beside

    def reasons(self, place: int) -> tuple[str, ...]:
        """Why a cell is not to be built in, against the others and against the datasheet."""
        beside = tuple(
            f"Its {f.window.label}, {f.window.text(float(f.values[place]))}, is outside "
            f"{f.window.text(f.window.low)} to {f.window.text(f.window.high)}."
            for f in self.findings
            if place in f.outside
        )
        return self.inspection.cells[place].reasons or beside


def _mean_of(values: FloatArray) -> SampleVerdict | None:
    """Mean of the values that are known, with its interval; None of fewer than two."""
    known = values[np.isfinite(values)]
    return judge_sample(known) if known.size > 1 else None


def _uncertainty_pct(sample: SampleVerdict) -> float:
    return max(0.1, rounded(100.0 * (sample.high - sample.mean) / sample.mean, 1, "up"))


def _finding_dict(finding: Finding) -> dict[str, Any]:
    return {
        "least": finding.window.low,
        "most": finding.window.high,
        **{key: getattr(finding.sample, key, np.nan) for key in ("mean", "low", "high")},
        "side": finding.side,
    }


def _robust_spread(values: FloatArray) -> float:
    """Standard deviation of most of the values: 1.4826 x median of the distances from the median; 0 of none."""
    if not values.size:
        return 0.0
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def judge_arrival(cells: MeasuredCells, cell: Cell, batch: int | None = None) -> Arrival:
    """Judge what arrived: each cell against the others, the delivery against the datasheet.

    Args:
        cells: as measured, a random sample or all of the delivery.
        cell: as its datasheet has it.
        batch: cells delivered; those measured where left out.

    Raises:
        InputError: no cells, fewer delivered than measured, or more than anyone buys.

    Source: `workbook.bench.cell_inspection`, `workbook.bench.sampling`, and the cell's datasheet.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> light = MeasuredCells(("a", "b", "c"), mass_g=[58.1, 58.4, 58.2])
        >>> arrived = judge_arrival(light, find_cell("Sedge"), batch=20)
        >>> arrived.as_ordered, arrived.findings[0].side
        (False, 'below')
    """
    count = len(cells.name)
    delivered = count if batch is None else batch
    if not count <= delivered <= MOST_DELIVERED:
        message = f"{count} cells are measured and {delivered} delivered; as many are needed, or more, up to {MOST_DELIVERED}."
        raise InputError(message, "batch")
    findings = []
    for window in datasheet_windows(cell):
        values: FloatArray = getattr(cells, window.key)
        known = values[np.isfinite(values)]
        sample = judge_sample(known) if known.size > 1 else None
        findings.append(Finding(window, values, sample))
    report = inspect_cells(cells, rated_capacity_ah=cell.rated_capacity_ah)
    return Arrival(cell, cells, delivered, report, tuple(findings))


# resistance by direct current -------------------------------------------------------------------

METER_V = 0.001
"""Last digit of a usual meter in the range up to 6 V. Common practice, no source."""
METER_A_PCT = 1.0
"""What a usual meter reads a current to. Common practice, no source."""


@dataclass(frozen=True)
class TwoLoads:
    """The resistance of a cell by direct current, from its voltage at two loads.

    Attributes:
        low_a, low_v: the lighter load, and the cell's voltage under it.
        high_a, high_v: the heavier load.
        stated_mohm: what the datasheet's curves give, for comparison.
        ac_mohm: a 1 kHz meter's reading; None where there is none.
    """

    low_a: float
    low_v: float
    high_a: float
    high_v: float
    stated_mohm: float
    ac_mohm: float | None = None

    @property
    def resistance_mohm(self) -> float:
        """Voltage lost over current added."""
        return 1000.0 * (self.low_v - self.high_v) / (self.high_a - self.low_a)

    def volts_at(self, current_a: FloatArray, mohm: float | None = None) -> FloatArray:
        """Voltage at a current, from the lighter load on.

        Args:
            current_a: any.
            mohm: the resistance to count with; that of the two loads where left out.
        """
        ohm = (self.resistance_mohm if mohm is None else mohm) / 1000.0
        return np.asarray(self.low_v - (np.asarray(current_a) - self.low_a) * ohm)

    @property
    def uncertainty_mohm(self) -> float:
        """To either side, by the meter's last digit and the currents' accuracy."""
        amps = self.high_a - self.low_a
        volt_mohm = 1000.0 * np.sqrt(2.0) * METER_V / amps
        amp_mohm = self.resistance_mohm * METER_A_PCT / 100.0
        return float(np.hypot(volt_mohm, amp_mohm))

    @property
    def text(self) -> str:
        """What the two loads say, beside datasheet and 1 kHz meter."""
        mohm, off = self.resistance_mohm, self.uncertainty_mohm
        text = (
            f"{rounded(mohm, 1, 'up'):.1f} mΩ by direct current, give or take {rounded(off, 1, 'up'):.1f} for the "
            f"meters; the datasheet's curves give {self.stated_mohm:.1f} mΩ."
        )
        if off > 0.1 * mohm:
            text += " That is loose: take a heavier second load, or a meter with one digit more."
        if self.ac_mohm is not None:
            share = 100.0 * self.ac_mohm / mohm
            text += (
                f" A 1 kHz meter's {self.ac_mohm:g} mΩ is {share:.0f} % of it: it sees the metal and the electrolyte "
                "only, and none of what builds up in seconds. It compares cells; the plan needs the two loads."
            )
        return text

    def working(self) -> tuple[Step, ...]:
        """How it comes about."""
        return (
            step("cell_dc_mohm", self.resistance_mohm, loads=self),
            step(
                "cell_dc_off_mohm",
                self.uncertainty_mohm,
                meter_mv=1000 * METER_V,
                more_a=self.high_a - self.low_a,
                meter_a_pct=METER_A_PCT,
                loads=self,
            ),
        )


def two_loads(
    low_a: float,
    low_v: float,
    high_a: float,
    high_v: float,
    cell: Cell,
    ac_mohm: float | None = None,
) -> TwoLoads:
    """The resistance of a cell by direct current, from its voltage at two loads held for some seconds.

    Args:
        low_a, low_v: the lighter load, 0 or more, and the voltage under it.
        high_a, high_v: the heavier load, and the voltage under it, about 10 s after it was put on.
        cell: as its datasheet has it.
        ac_mohm: a 1 kHz meter's reading, where there is one.

    Raises:
        InputError: a heavier load that is not heavier, or under which the voltage does not fall.

    Source: Ohm's law; IEC 61960-3 measures a cell's internal d.c. resistance at two currents (from memory).

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> found = two_loads(1.0, 3.602, 9.0, 3.402, find_cell("Sedge"))
        >>> round(found.resistance_mohm, 3), round(found.uncertainty_mohm, 2)
        (25.0, 0.31)
    """
    problems = []
    if not 0.0 <= low_a < high_a:
        message = f"{high_a:g} A is not above {low_a:g} A; a heavier second load is needed."
        problems.append(Problem(message, "second load"))
    if not high_v < low_v:
        message = f"{high_v:g} V is not below {low_v:g} V; under the heavier load it must fall. Are they swapped?"
        problems.append(Problem(message, "second voltage"))
    refuse(problems)
    stated_mohm = float(cell.datasheet_model.resistance_at(0.5))
    return TwoLoads(low_a, low_v, high_a, high_v, stated_mohm, ac_mohm)
