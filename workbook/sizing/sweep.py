"""The choice: every cell by series by parallel (by thrust table, by any figure), sized and sieved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeAlias

import numpy as np

from workbook.battery.cell import Cell
from workbook.bench.transport import passenger_class
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError, Problem
from workbook.numbers import FINITE, FloatArray, Number, range_problems
from workbook.quantities import INPUTS
from workbook.sizing.candidates import LimitWords, Rejection, Sweep, with_parts
from workbook.sizing.conditions import has_size
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import NO_CONSTRAINTS, Constraints, Design, price
from workbook.sizing.flight_times import HalfOfFlights, half_of_flights
from workbook.sizing.limits import (
    RULES,
    Limit,
    Subject,
    flight_limits,
    ground_limits,
    limits_of_flights,
)
from workbook.sizing.parallel import Progress, parallel_map, slices

FIGURES = ("endurance_min", "power_w", "end_cell_a", "peak_cell_a", "landing_cell_v")
"""Columns that need the operating point, with what the craft type keeps in reserve; NaN in a row that
was set aside before."""

BOOLEAN_LIMITS = ("charge_voltage", "takes_off", "landing_setting", "packs_even")
"""Rules that are kept or not: a margin to them says nothing, so kept they never bind."""


CHUNK = 32768
"""Candidates worked at a time, at most: what any slice takes, whatever its length, is then some percent of the work."""

MOST_CANDIDATES, MOST_SIEVED = 2_000_000, 100_000_000
"""Packs that one sweep tries, and that it tries where only those that hold are kept: more is a slip in a range."""


def sweep(
    design: Design[Any],
    cells: Sequence[Cell],
    series: Sequence[int] | np.ndarray,
    parallel: Sequence[int] | np.ndarray,
    *,
    tables: Sequence[ThrustTable] = (),
    axes: Mapping[str, Sequence[float] | FloatArray] | None = None,
    constraints: Constraints = NO_CONSTRAINTS,
    screen: bool = True,
    only_survivors: bool = False,
    threads: int | None = None,
    progress: Progress | None = None,
    client: Any = None,
) -> Sweep:
    """Size every candidate and say which limits it breaks.

    Args:
        design: craft, flight and what the pack is made with; its own cell, S and P do not count.
        cells: cells to try.
        series, parallel: whole numbers of cells to try, each 1 or more.
        tables: thrust tables to try, one a motor and propeller; the craft's own, where none is given.
            The craft's mass stays as it is.
        axes: other figures of the design to vary, each with its values.
        constraints: what the choice must keep to beside the design's limits.
        screen: set a candidate aside as soon as mass, bay, money, transport or voltage rule it out,
            without its operating point. Its `binds` is then the most broken of these. Where there are `MANY`
            or more candidates of a cell, those are set aside too that miss the time asked for or distance. That
            is then counted as their only reason, though sized they may break another limit more; who survives
            and every figure shown are the same.
        only_survivors: keep the rows in which every limit holds, and of the others why they fell out: the
            memory that this takes does not grow with how many are tried.
        threads, progress, client: see `workbook.sizing.parallel`.

    Returns:
        The candidates. A row survives when `size` of its design says that it holds, and the
        constraints do. Flights are drawn only of rows that hold otherwise (`half_of_flights`); a mission
        is not flown for every candidate, only for `lightest`.

    Raises:
        InputError: nothing to try, more than `MOST_CANDIDATES` (`MOST_SIEVED`), or a figure that a design has not.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> file = read_design(notebooks_source() / "designs" / "survey_six.toml")
        >>> found = sweep(file.design, file.cells, range(4, 8), range(1, 9))
        >>> len(found), len(found.survivors()) > len(found.pareto()) > 0
        (384, True)
    """
    further = {name: np.asarray(values, dtype=float) for name, values in (axes or {}).items()}
    if not {"series", "parallel"}.isdisjoint(further):
        raise InputError(Problem("this is not a further figure to vary.", "axes"))
    varied = {"series": np.asarray(series), "parallel": np.asarray(parallel), **further}
    choices: tuple[ThrustTable | None, ...] = tuple(tables) or (design.craft.table,)
    _check(design, cells, varied)
    varied |= {name: varied[name].astype(np.int32) for name in ("series", "parallel")}
    grid = _Choices(design, tuple(cells), choices, varied, constraints)
    most = MOST_SIEVED if only_survivors else MOST_CANDIDATES
    if grid.asked > most:
        raise InputError(f"{grid.asked} packs are too many to try; at most {most} are.")
    limits = grid.limit_words()
    rows = grid.slices()
    work = partial(_work, grid, limits, screen, only_survivors)
    parts = parallel_map(work, rows, threads=threads, progress=progress, client=client)
    columns, worked = _Columns(0 if only_survivors else grid.asked), 0
    binds, breaks = np.zeros((2, len(limits)), dtype=int)
    for part, part_rows in zip(parts, rows, strict=False):
        columns.add(part.columns)
        binds, breaks, worked = binds + part.binds, breaks + part.breaks, part_rows.stop
    return Sweep(
        design,
        grid.cells,
        choices,
        tuple(varied)[2:],
        columns.filled,
        limits,
        grid.asked,
        worked,
        _rejections(limits, binds.tolist(), breaks.tolist()),
    )


@dataclass(frozen=True, eq=False)
class _Slice:
    """A slice of candidates, worked.

    Attributes:
        columns: of its rows, or of those that survive.
        binds, breaks: how many candidates each limit binds and breaks, shape (limits,).
    """

    columns: dict[str, np.ndarray]
    binds: np.ndarray
    breaks: np.ndarray


class _Columns:
    """Columns that are filled by a slice's rows at a time: each row is in memory once."""

    def __init__(self, room: int) -> None:
        """Begin with room for so many rows; there is more where they come to more."""
        self.room, self.count = room, 0
        self.columns: dict[str, np.ndarray] = {}

    @property
    def filled(self) -> dict[str, np.ndarray]:
        """The columns, as far as they are filled."""
        return {name: column[: self.count] for name, column in self.columns.items()}

    def add(self, more: dict[str, np.ndarray]) -> None:
        """Put rows behind those that are there."""
        first, self.count = self.count, self.count + len(more["series"])
        if self.count > self.room or not self.columns:
            self.room = max(self.room, 2 * self.count)
            for name, values in more.items():
                grown = np.empty((self.room, *values.shape[1:]), values.dtype)
                grown[:first] = self.columns.get(name, values)[:first]
                self.columns[name] = grown
        for name, values in more.items():
            self.columns[name][first : self.count] = values


def _rejections(
    limits: tuple[LimitWords, ...], binds: list[int], breaks: list[int]
) -> tuple[Rejection, ...]:
    """Every reason that made a candidate fall out, most frequent first."""
    found = zip(limits, binds, breaks, strict=True)
    reasons = [
        Rejection(*words, binding, breaking) for words, binding, breaking in found if breaking
    ]
    return tuple(sorted(reasons, key=lambda reason: (-reason.binds, -reason.breaks)))


@dataclass(frozen=True, eq=False)
class _Choices:
    """Every candidate by its number: cell, then table, then each varied figure, the last one fastest."""

    design: Design[Any]
    cells: tuple[Cell, ...]
    tables: tuple[ThrustTable | None, ...]
    varied: Mapping[str, np.ndarray]
    constraints: Constraints

    @property
    def rows(self) -> int:
        """Candidates of one cell with one table."""
        return int(np.prod([len(values) for values in self.varied.values()]))

    @property
    def asked(self) -> int:
        """All candidates."""
        return self.rows * len(self.cells) * len(self.tables)

    def slices(self) -> list[slice]:
        """The candidates as slices that have one cell and one table, and a run of one figure's values with every
        value of those that follow it."""
        inner = 1
        for values in reversed(tuple(self.varied.values())):
            if inner * len(values) > CHUNK:
                return slices(self.asked, CHUNK // inner * inner, every=inner * len(values))
            inner *= len(values)
        return slices(self.asked, inner, every=inner)

    def pick(self, rows: slice) -> tuple[int, int, dict[str, np.ndarray]]:
        """Cell, table and varied figures of a slice, each figure along an axis of its own.

        So what depends on one or two of them, as a pack's mass, is worked out once for each of their values.
        """
        which, first = divmod(rows.start, self.rows)
        cell, table = divmod(which, len(self.tables))
        count, inner, picked = rows.stop - rows.start, self.rows, {}
        for after, (name, values) in zip(
            reversed(range(len(self.varied))), self.varied.items(), strict=True
        ):
            inner //= len(values)
            start = first // inner % len(values)
            some = values[start : start + max(1, count // inner)]
            picked[name] = some.reshape(-1, *(1,) * after)
        return cell, table, picked

    def designs(self, cell: int, table: int, varied: Mapping[str, Any]) -> Design[Any]:
        """The candidates as one design of arrays."""
        start = with_parts(self.design, self.cells[cell], self.tables[table])
        return start.changed(**{name: np.asarray(v, dtype=float) for name, v in varied.items()})

    def on_ground(self, designs: Design[Any]) -> tuple[Limit, ...]:
        """The limits that need no operating point."""
        return ground_limits(designs, self.constraints)

    def limit_words(self) -> tuple[LimitWords, ...]:
        """Every limit that any candidate can have; texts without a cell's own numbers.

        A cell decides by nothing but its size, known or not, which limits there are.
        """
        words: dict[str, LimitWords] = {}
        first: dict[bool, Design[Any]] = {}
        for cell in range(len(self.cells)):
            one = self.designs(cell, 0, {"series": 1, "parallel": 1})
            first.setdefault(has_size(one), one)
        for one in first.values():
            point = craft_type_of(one).operate(one)
            flight = flight_limits(one, point, HalfOfFlights(np.nan))
            keys = {limit.key for limit in flight}
            for limit in (*(x for x in self.on_ground(one) if x.key not in keys), *flight):
                words.setdefault(limit.key, LimitWords(limit.key, limit.name, limit.broken_text))
        return tuple(words.values())


def _point_figures(design: Design[Any], point: Any) -> dict[str, Any]:
    return {
        "endurance_min": point.endurance_min,
        "power_w": point.power_w,
        "end_cell_a": point.run.end_a,
        "peak_cell_a": point.peak_cell_a,
        "landing_cell_v": point.run.end_v,
        craft_type_of(design).reserve_key: point.reserve,
    }


def _shape(varied: Mapping[str, np.ndarray]) -> tuple[int, ...]:
    """Of all figures together."""
    return np.broadcast_shapes(*(values.shape for values in varied.values()))


def _row(values: Number, shape: tuple[int, ...]) -> np.ndarray:
    """A figure of every candidate, one after the other."""
    return np.broadcast_to(values, shape).ravel()


class _Margins:
    """The tightest margin of each row of a slice and which limit has it, and where each limit is broken, one row a
    limit: they are entered limit by limit."""

    def __init__(self, limits: Sequence[LimitWords], count: int) -> None:
        self.places = {limit.key: k for k, limit in enumerate(limits)}
        self.tightest = np.full(count, np.inf)
        self.binds = np.zeros(count, dtype=np.int16)
        self.broken = np.zeros((len(limits), count), dtype=bool)

    @property
    def unbroken(self) -> np.ndarray:
        """Rows in which no limit entered so far is broken."""
        return np.asarray(~self.broken.any(axis=0))

    def put(self, found: Sequence[Limit], rows: np.ndarray | slice, shape: tuple[int, ...]) -> None:
        """Enter limits of some rows, whose figures together have that shape; of equal margins the first one binds."""
        tightest, binds = self.tightest[rows].reshape(shape), self.binds[rows].reshape(shape)
        for limit in found:
            place = self.places[limit.key]
            self.broken[place, rows] = _row(limit.broken, shape)
            margin = limit.sound_margin_pct
            margin = np.where(np.isnan(margin), -np.inf, margin)
            if limit.key in BOOLEAN_LIMITS:
                margin = np.where(limit.broken, margin, np.inf)
            np.putmask(binds, margin < tightest, place)
            np.minimum(tightest, margin, out=tightest)
        self.tightest[rows], self.binds[rows] = tightest.ravel(), binds.ravel()


def _work(
    grid: _Choices,
    limits: tuple[LimitWords, ...],
    screen: bool,
    only_survivors: bool,
    rows: slice,
) -> _Slice:
    """One slice of candidates, sized; without `screen` all of them."""
    cell, table, varied = grid.pick(rows)
    design_of = partial(grid.designs, cell, table)
    many, count, shape = design_of(varied), rows.stop - rows.start, _shape(varied)
    each = {name: _row(values, shape) for name, values in varied.items()}
    margins = _Margins(limits, count)
    margins.put(grid.on_ground(many), slice(None), shape)
    kept: np.ndarray | slice = slice(None)
    sized, screened = varied, np.zeros(count, dtype=bool)
    if screen:
        kept = np.flatnonzero(margins.unbroken)
        if len(kept) and grid.rows * len(grid.tables) >= MANY:
            margins.put(time_limits(design_of(_some(each, kept))), kept, kept.shape)
            kept = np.flatnonzero(margins.unbroken)
        sized, screened = _some(each, kept), ~margins.unbroken
    figures = {name: np.full(count, np.nan) for name in (*FIGURES, craft_type_of(many).reserve_key)}
    if not screened.all():
        designs, sized_shape = design_of(sized), _shape(sized)
        point = craft_type_of(designs).operate(designs)
        margins.put(flight_limits(designs, point), kept, sized_shape)
        for name, values in _point_figures(designs, point).items():
            figures[name][kept] = _row(values, sized_shape)
    _put_flights(margins, design_of, each)
    columns = {
        "cell": np.int16(cell),
        "table": np.int16(table),
        **varied,
        "cells": varied["series"] * varied["parallel"],
        "pack_mass_g": many.pack.mass_g,
        "all_up_mass_g": many.craft.all_up_mass_g(many.pack.mass_g),
        "energy_wh": many.pack.energy_wh,
        "transport": passenger_class(many.one_pack.energy_wh).astype(np.int8),
        "price": price(many),
    }
    whole = {name: _row(v, shape) for name, v in columns.items()} | {
        **figures,
        "margin_pct": margins.tightest,
        "binds": margins.binds,
        "screened": screened,
        "broken": margins.broken.T,
    }
    survive, binds = margins.unbroken, whole["binds"]
    if only_survivors:
        whole = {name: v[survive] for name, v in whole.items()}
    bound = np.bincount(binds[~survive], minlength=len(limits))
    return _Slice(whole, bound, margins.broken.sum(axis=1))


DesignOf: TypeAlias = Callable[[Mapping[str, np.ndarray]], Design[Any]]
"""From figures that are varied, designs as arrays."""


def _some(each: Mapping[str, np.ndarray], rows: np.ndarray) -> dict[str, np.ndarray]:
    """The varied figures of some rows."""
    return {name: values[rows] for name, values in each.items()}


def _put_flights(margins: _Margins, design_of: DesignOf, each: Mapping[str, np.ndarray]) -> None:
    """Enter the limits of drawn flights of those rows that hold otherwise."""
    rows = np.flatnonzero(margins.unbroken)
    designs = design_of(_some(each, rows))
    flight = designs.flight
    if not len(rows) or (flight.wanted_min is None and flight.wanted_km is None):
        return

    def columns(some: np.ndarray) -> Design[Any]:
        return design_of(_some(each, some[:, None]))

    margins.put(limits_of_flights(designs, half_of_flights(columns, rows)), rows, rows.shape)


def _check(design: Design[Any], cells: Sequence[Cell], varied: Mapping[str, np.ndarray]) -> None:
    """Refuse what cannot be swept: every reason."""
    problems = []
    if not len(cells):
        problems.append(Problem("there is no cell to try; one or more is needed.", "cells"))
    own = (*FIGURES, craft_type_of(design).reserve_key, "cell", "table")
    for name, values in varied.items():
        if name in ("series", "parallel"):
            whole = values.ndim == 1 and len(values) and np.all(values == np.round(values))
            if not whole or not np.all((values >= 1) & (values <= 10_000)):
                problems.append(Problem("whole numbers of 1 or more are needed.", name))
        elif name in own:
            problems.append(Problem("this is not a further figure to vary.", name))
        elif values.ndim != 1 or not len(values):
            problems.append(Problem("one or more values are needed.", name))
        else:
            try:
                design.changed(**{name: 0.0})
            except TypeError:
                problems.append(Problem("a design has no such figure.", name))
            asked = INPUTS.get(name)
            low, high = (asked.least, asked.most) if asked else (-FINITE, FINITE)
            right = f"{low:g} to {high:g}" if asked else "a number"
            problems += range_problems({name: (values, low, high, right)})
    if problems:
        raise InputError(problems)


MANY = 4096
"""Candidates of one cell from which those are set aside that miss the time asked for: of fewer every reason is told."""

TIME_LIMITS = ("endurance", "range")
"""Limits that the time of steady flight decides, by their keys."""


@dataclass(frozen=True)
class SteadyTime:
    """How long designs fly steadily, the rest of their operating point left out.

    Attributes:
        endurance_min: flight time; infinite where the power is not known.
        cruise_m_s: airspeed; NaN for a craft that hovers.
    """

    endurance_min: FloatArray
    cruise_m_s: FloatArray

    @property
    def range_km(self) -> FloatArray:
        """Distance in still air."""
        return np.asarray(self.endurance_min * 60.0 * self.cruise_m_s / 1000.0)


def time_limits(designs: Design[Any]) -> tuple[Limit, ...]:
    """Those of `TIME_LIMITS` that arrays of designs ask for, before they are sized.

    Broken in one of them, a design is broken sized too; one whose power is not known breaks none here.
    """
    if designs.flight.wanted_min is designs.flight.wanted_km is None:
        return ()
    load = craft_type_of(designs).load(designs)
    minutes = load.discharge(load.power_w).time_s / 60.0
    cruise_m_s = np.asarray(getattr(load, "cruise_m_s", np.nan))
    steady: Any = SteadyTime(np.where(np.isnan(load.power_w), np.inf, minutes), cruise_m_s)
    found = (rule.check(Subject(designs, steady)) for rule in RULES if rule.key in TIME_LIMITS)
    return tuple(limit for limit in found if limit is not None)
