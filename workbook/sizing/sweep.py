"""The choice: every cell by series by parallel (by thrust table, by any figure), sized and sieved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from workbook.battery.cell import Cell
from workbook.bench.transport import passenger_class
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.sizing.bounds import (
    NO_BOUNDS,
    TRANSPORT,
    Bounds,
    bound_limits,
    price,
)
from workbook.sizing.chunks import CHUNK, Progress, work_through
from workbook.sizing.design import Allowances, Design
from workbook.sizing.front import front
from workbook.sizing.kinds import kind_of
from workbook.sizing.limit import Limit
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.sizing.readings import (
    margin_pct,
    peak_cell_a,
    reserve,
    reserve_figure,
    stop_limits,
)
from workbook.sizing.size import size

if TYPE_CHECKING:
    import pandas as pd

FIGURES = ("endurance_min", "power_w", "end_cell_a", "peak_cell_a", "landing_cell_v")
"""Columns that need the operating point, with the kind's own reserve (`thrust_to_weight_end` of a
multirotor, `climb_end_m_s` of a wing); NaN in a row that was set aside before."""

MOST_MISSIONS = 200
"""Candidates with which a mission is flown in search of the lightest pack, lightest first."""

KEPT_OR_NOT = ("charge_voltage", "takes_off", "landing_setting")
"""Rules that are kept or not: a margin to them says nothing, so kept they never bind."""

LESS_IS_BETTER = {
    "endurance_min": False, "thrust_to_weight_end": False, "climb_end_m_s": False,
    "landing_cell_v": False, "margin_pct": False,
}  # fmt: skip


@dataclass(frozen=True)
class Rejection:
    """A reason for which candidates fell out.

    Attributes:
        key, name, text: of the limit, and what it means when it is broken.
        binds: candidates for which it is the most broken one, in percent.
        breaks: candidates that break it, among those in which it was looked at.
    """

    key: str
    name: str
    text: str
    binds: int
    breaks: int


@dataclass(frozen=True, eq=False)
class Sweep:
    """Candidates as columns, one row each.

    Attributes:
        design: what they were made from.
        cells, tables: what the columns `cell` and `table` point into.
        axes: figures of the design that were varied beside S and P, in order.
        columns: name to array, all of one length: `cell`, `table`, `series`, `parallel`, the axes,
            `cells`, `pack_mass_g`, `all_up_mass_g`, `energy_wh`, `transport` (into `TRANSPORT`),
            `price`, the figures (`FIGURES`), `margin_pct` (the tightest), `binds` (the limit that has
            it, into `limits`), `broken` (bit k set: limit k does not hold), `screened` (set aside by
            mass, bay, money, transport or voltage before the operating point).
        limits: every limit, as key, name and text.
        asked: candidates there were; worked: those that were looked at, kept as rows or not.
        complete: False where the work was stopped; then only the first `worked` were looked at.
        rejections: every reason that made a candidate fall out, most frequent first.
        allowances: in all of them.
    """

    design: Design[Any]
    cells: tuple[Cell, ...]
    tables: tuple[ThrustTable | None, ...]
    axes: tuple[str, ...]
    columns: Mapping[str, np.ndarray]
    limits: tuple[tuple[str, str, str], ...]
    asked: int
    worked: int
    complete: bool
    rejections: tuple[Rejection, ...]
    allowances: Allowances = field(repr=False, default=NO_ALLOWANCES)

    def __len__(self) -> int:
        """How many rows."""
        return len(self.columns["series"])

    def __getitem__(self, name: str) -> np.ndarray:
        """A column by its name."""
        return self.columns[name]

    @property
    def survives(self) -> np.ndarray:
        """Where every limit holds."""
        return np.asarray(self.columns["broken"] == 0)

    def where(self, mask: np.ndarray) -> Sweep:
        """The rows where `mask` holds, or those numbered in it, in that order."""
        return replace(self, columns={k: v[mask] for k, v in self.columns.items()})

    def survivors(self) -> Sweep:
        """The rows in which every limit holds."""
        return self.where(self.survives)

    def sorted_by(self, *names: str, descending: bool = False) -> Sweep:
        """Sorted by columns, the first one first; rows that cannot be told come last.

        Raises:
            InputError: there is no such column.
        """
        keys = [self._told(name) * (-1.0 if descending else 1.0) for name in names]
        return self.where(np.lexsort(keys[::-1]))

    def front(self, *objectives: str) -> Sweep:
        """The survivors that no other survivor beats, lightest first.

        Args:
            objectives: columns; endurance against all-up mass, where none is named. Thrust over
                weight, endurance, landing voltage and margin are better high, all others low.

        Raises:
            InputError: there is no such column.
        """
        names = objectives or ("endurance_min", "all_up_mass_g")
        kept = self.survivors()
        signs = [1.0 if LESS_IS_BETTER.get(name, True) else -1.0 for name in names]
        costs = [sign * kept._told(name) for name, sign in zip(names, signs, strict=True)]
        return kept.where(front(np.column_stack(costs))).sorted_by("all_up_mass_g")

    def lightest_first(self, wanted_min: float | None = None) -> np.ndarray:
        """Rows of the survivors that last, by pack mass; the longer flight first among equals.

        Args:
            wanted_min: flight time that each must last, beside what the design asks.
        """
        good = self.survives
        if wanted_min is not None:
            good = good & (self.columns["endurance_min"] >= wanted_min)
        rows = np.flatnonzero(good)
        minutes, mass_g = (self.columns[k][rows] for k in ("endurance_min", "pack_mass_g"))
        return np.asarray(rows[np.lexsort((-minutes, mass_g))])

    def lightest(self, wanted_min: float | None = None) -> int | None:
        """The first of `lightest_first`; None where nothing lasts."""
        rows = self.lightest_first(wanted_min)
        return int(rows[0]) if len(rows) else None

    def design_of(self, row: int) -> Design[Any]:
        """The design of a row, for `size`."""
        at = {name: self.columns[name][row] for name in ("series", "parallel", *self.axes)}
        start = _with(
            self.design,
            self.cells[int(self.columns["cell"][row])],
            self.tables[int(self.columns["table"][row])],
        )
        plain = {k: int(v) if k in ("series", "parallel") else float(v) for k, v in at.items()}
        return start.changed(**plain)

    def reason(self, row: int) -> str:
        """Why a row fell out, in words; empty for a survivor."""
        bits = int(self.columns["broken"][row])
        if not bits:
            return ""
        binds = int(self.columns["binds"][row])
        also = [name for k, (_, name, _) in enumerate(self.limits) if bits >> k & 1 and k != binds]
        _, name, text = self.limits[binds]
        told = f"{name}: {text}"
        return f"{told} Also broken: {'; '.join(also)}." if also else told

    def frame(self) -> pd.DataFrame:
        """The rows as a pandas table, with names in place of numbers."""
        import pandas as pd

        table = pd.DataFrame(dict(self.columns))
        cells = [cell.name for cell in self.cells]
        tables = ["" if t is None else f"{t.motor}, {t.propeller}" for t in self.tables]
        names = [name for _, name, _ in self.limits]
        for column, labels in (
            ("cell", cells), ("table", tables), ("binds", names), ("transport", TRANSPORT)
        ):  # fmt: skip
            table[column] = np.array(labels, dtype=object)[self.columns[column]]
        table["survives"] = self.survives
        return table

    def _told(self, name: str) -> FloatArray:
        if name not in self.columns:
            raise InputError(
                Problem(f"there is no such column; there are {', '.join(self.columns)}.", name)
            )
        return np.asarray(self.columns[name], dtype=float)


@dataclass(frozen=True)
class _Block:
    """Rows `first` to `last` of the grid of one cell with one table."""

    cell: int
    table: int
    first: int
    last: int


@dataclass(frozen=True, eq=False)
class _Part:
    columns: dict[str, np.ndarray]
    limits: tuple[tuple[str, str, str], ...]
    count: int
    binds: dict[str, int]
    breaks: dict[str, int]


def _with(design: Design[Any], cell: Cell, table: ThrustTable | None) -> Design[Any]:
    pack = replace(design.pack, cell=cell)
    craft = design.craft if table is design.craft.table else replace(design.craft, table=table)
    return replace(design, pack=pack, craft=craft, today=None)


def _every(ground: Sequence[Limit], design: Design[Any], point: Any) -> list[Limit]:
    """All limits of a candidate: those on the ground, where flight has not the same, and in flight."""
    flight = [*kind_of(design).limits(design, point), *stop_limits(design, point)]
    keys = {limit.key for limit in flight}
    return [*(limit for limit in ground if limit.key not in keys), *flight]


class _Tally:
    """Limits of a chunk brought to one table: margin, which binds, which are broken."""

    def __init__(self, keys: Sequence[str], count: int) -> None:
        self.keys = {key: k for k, key in enumerate(keys)}
        self.margin = np.full(count, np.inf)
        self.binds = np.zeros(count, dtype=np.int8)
        self.broken = np.zeros(count, dtype=np.uint32)

    def put(self, found: Sequence[Limit], at: np.ndarray | slice) -> None:
        """Enter the limits of the rows `at`."""
        count = len(self.margin[at])
        least, binds = np.full(count, np.inf), np.zeros(count, dtype=np.int8)
        bits = np.zeros(count, dtype=np.uint32)
        for limit in found:
            place = self.keys[limit.key]
            margin = margin_pct(limit)
            margin = np.where(np.isnan(margin), -np.inf, margin)
            if limit.key in KEPT_OR_NOT:
                margin = np.where(limit.broken, margin, np.inf)
            binds = np.where(margin < least, np.int8(place), binds)
            least = np.minimum(least, margin)
            bits |= np.where(limit.broken, np.uint32(1 << place), np.uint32(0))
        self.margin[at], self.binds[at], self.broken[at] = least, binds, bits


def sweep(
    design: Design[Any],
    cells: Sequence[Cell],
    series: Sequence[int] | np.ndarray,
    parallel: Sequence[int] | np.ndarray,
    *,
    tables: Sequence[ThrustTable] = (),
    axes: Mapping[str, Sequence[float] | FloatArray] | None = None,
    bounds: Bounds = NO_BOUNDS,
    allowances: Allowances = NO_ALLOWANCES,
    screen: bool = True,
    keep_rejected: bool = True,
    threads: int | None = None,
    progress: Progress | None = None,
    chunk: int = CHUNK,
) -> Sweep:
    """Size every candidate and say which limits it breaks.

    Args:
        design: craft, flight and what the pack is made with; its own cell, S and P do not count.
        cells: cells to try.
        series, parallel: whole numbers of cells to try, each 1 or more.
        tables: thrust tables to try, one a motor and propeller; the craft's own, where none is given.
            The craft's mass stays as it is.
        axes: other figures of the design to vary, each with its values.
        bounds: what the choice must keep to beside the design's limits.
        allowances: single figures, the same in every candidate.
        screen: set a candidate aside as soon as mass, bay, money, transport or voltage rule it out,
            without its operating point. Its `binds` is then the most broken of these.
        keep_rejected: keep the rejected as rows; without, they are only counted.
        threads, progress: see `workbook.sizing.chunks`.
        chunk: candidates worked at a time; memory beside the result goes with it.

    Returns:
        The candidates. A row survives when `size` of its design says that it holds, and the bounds do.
        A mission is not flown for every candidate: `size` of a row's design flies it, and
        `lightest_pack` does so.

    Raises:
        InputError: nothing to try, or a figure that a design has not.

    Example:
        >>> from workbook.battery.pack import Pack
        >>> from workbook.craft.multirotor import Multirotor
        >>> from workbook.files.cell_file import catalogue
        >>> from workbook.sizing.design import Flight
        >>> thrust, blank = np.array([300.0, 600.0, 1000.0, 1800.0]), np.full(4, np.nan)
        >>> watts, volts = 110.0 * (thrust / 1000.0) ** 1.5, np.full(4, 22.2)
        >>> table = ThrustTable("m", "p", thrust, watts / volts, volts, watts, blank, blank)
        >>> craft = Multirotor("six", 6, 2100.0, 350.0, table, 14.0, 1.1)
        >>> cells = list(catalogue().values())
        >>> start = Design(
        ...     "six", craft, Pack(cells[0], 6, 3, 10.0, 75.0, 8.0), Flight(3.1, 15.0, 1.5)
        ... )
        >>> found = sweep(start, cells, range(4, 8), range(1, 9))
        >>> len(found), len(found.survivors()) > len(found.front()) > 0
        (384, True)
    """
    s, p = (np.asarray(list(v) if not isinstance(v, np.ndarray) else v) for v in (series, parallel))
    others = {name: np.asarray(values, dtype=float) for name, values in (axes or {}).items()}
    choices: tuple[ThrustTable | None, ...] = tuple(tables) or (design.craft.table,)
    _check(cells, s, p, others, design)
    shape = (len(s), len(p), *(len(v) for v in others.values()))
    rows = int(np.prod(shape))
    blocks = [
        _Block(c, t, k, min(k + chunk, rows))
        for c in range(len(cells))
        for t in range(len(choices))
        for k in range(0, rows, chunk)
    ]
    listed = _limit_names(_with(design, cells[0], choices[0]), bounds, allowances)
    keys = [key for key, _, _ in listed]
    kind, left = kind_of(design), reserve_figure(design).key

    def work(block: _Block) -> _Part:
        count = block.last - block.first
        index = np.unravel_index(np.arange(block.first, block.last), shape)
        start = _with(design, cells[block.cell], choices[block.table])
        varied = {name: v[i] for (name, v), i in zip(others.items(), index[2:], strict=True)}
        s_at, p_at = s[index[0]], p[index[1]]
        many = start.changed(series=s_at.astype(float), parallel=p_at.astype(float), **varied)
        tally = _Tally(keys, count)
        ground = bound_limits(many, bounds, allowances)
        tally.put(ground, slice(None))
        kept = np.flatnonzero(tally.broken == 0) if screen else np.arange(count)
        figures = {name: np.full(count, np.nan) for name in (*FIGURES, left)}
        if len(kept):
            few = many
            ground_few = ground
            if len(kept) < count:
                few = start.changed(
                    series=s_at[kept].astype(float), parallel=p_at[kept].astype(float),
                    **{name: v[kept] for name, v in varied.items()},
                )  # fmt: skip
                ground_few = bound_limits(few, bounds, allowances)
            point = kind.operate(few, allowances)
            tally.put(_every(ground_few, few, point), kept)
            figures["endurance_min"][kept] = point.endurance_min
            figures["power_w"][kept] = point.power_w
            figures["end_cell_a"][kept] = point.run.end_a
            figures["peak_cell_a"][kept] = peak_cell_a(few, point)
            figures["landing_cell_v"][kept] = point.run.end_v
            figures[left][kept] = reserve(few, point)
        craft, pack = many.craft, many.pack
        screened = np.ones(count, dtype=bool)
        screened[kept] = False
        mass_g = (
            craft.mass_without_pack_g + craft.payload_g + pack.mass_g
        ) * allowances.mass_factor
        columns: dict[str, Any] = {
            "cell": np.full(count, block.cell, dtype=np.int16),
            "table": np.full(count, block.table, dtype=np.int16),
            "series": s_at.astype(np.int16),
            "parallel": p_at.astype(np.int16),
            **varied,
            "cells": (s_at * p_at).astype(np.int32),
            "pack_mass_g": _full(pack.mass_g, count),
            "all_up_mass_g": _full(mass_g, count),
            "energy_wh": _full(pack.energy_wh, count),
            "transport": passenger_class(_full(pack.energy_wh, count)).astype(np.int8),
            "price": _full(price(many), count),
            **figures,
            "margin_pct": tally.margin,
            "binds": tally.binds,
            "broken": tally.broken,
            "screened": screened,
        }
        out = tally.broken != 0
        bound_by = np.bincount(tally.binds[out], minlength=len(keys))
        breaks = {
            key: int(np.count_nonzero(tally.broken & np.uint32(1 << k)))
            for k, key in enumerate(keys)
        }
        if not keep_rejected:
            columns = {name: v[~out] for name, v in columns.items()}
        return _Part(
            columns, listed, count, dict(zip(keys, bound_by.tolist(), strict=True)), breaks
        )

    done = work_through(
        work, blocks, lambda b: b.last - b.first, threads=threads, progress=progress
    )
    parts = done.parts
    columns = {
        name: np.concatenate([part.columns[name] for part in parts]) for name in parts[0].columns
    }
    rejections = [
        Rejection(
            key, name, text, sum(part.binds[key] for part in parts),
            sum(part.breaks[key] for part in parts),
        )
        for key, name, text in listed
    ]  # fmt: skip
    rejections = sorted((r for r in rejections if r.breaks), key=lambda r: (-r.binds, -r.breaks))
    return Sweep(
        design, tuple(cells), choices, tuple(others), columns, listed,
        rows * len(cells) * len(choices), sum(part.count for part in parts), done.complete,
        tuple(rejections), allowances,
    )  # fmt: skip


def _full(value: Any, count: int) -> FloatArray:
    return np.array(np.broadcast_to(np.asarray(value, dtype=float), (count,)))


def _limit_names(
    design: Design[Any], bounds: Bounds, allowances: Allowances
) -> tuple[tuple[str, str, str], ...]:
    """Every limit that a candidate can have, in order; texts without a cell's own numbers."""
    one = design.changed(series=1.0, parallel=1.0)
    point = kind_of(one).operate(one, allowances)
    found = _every(bound_limits(one, bounds, allowances), one, point)
    return tuple((limit.key, limit.name, limit.broken_text) for limit in found)


def _check(
    cells: Sequence[Cell],
    series: np.ndarray,
    parallel: np.ndarray,
    axes: Mapping[str, FloatArray],
    design: Design[Any],
) -> None:
    problems = []
    if not len(cells):
        problems.append(Problem("there is no cell to try; one or more is needed.", "cells"))
    for name, values in (("series", series), ("parallel", parallel)):
        whole = values.ndim == 1 and len(values) and np.all(values == np.round(values))
        if not whole or not np.all((values >= 1) & (values <= 10_000)):
            problems.append(Problem("whole numbers of 1 or more are needed.", name))
    for name, values in axes.items():
        if name in ("series", "parallel", "cell", "table", *FIGURES, reserve_figure(design).key):
            problems.append(Problem("this is not a further figure to vary.", name))
            continue
        if values.ndim != 1 or not len(values):
            problems.append(Problem("one or more values are needed.", name))
        try:
            design.changed(**{name: 0.0})
        except TypeError:
            problems.append(Problem("a design has no such figure.", name))
    if problems:
        raise InputError(problems)


@dataclass(frozen=True)
class Choice:
    """The lightest pack for an asked flight time.

    Attributes:
        wanted_min: what was asked.
        row: its row in `sweep`; None where nothing lasts.
        design: its design; None likewise.
        text: in words.
        sweep: all candidates.
    """

    wanted_min: float
    row: int | None
    design: Design[Any] | None
    text: str
    sweep: Sweep


def lightest_pack(
    design: Design[Any],
    wanted_min: float,
    cells: Sequence[Cell],
    series: Sequence[int] | np.ndarray,
    parallel: Sequence[int] | np.ndarray,
    **options: Any,
) -> Choice:
    """The lightest pack with which a craft flies so long, every limit holds, and the mission's do.

    Args:
        design, cells, series, parallel: as in `sweep`.
        wanted_min: flight time asked for, above 0.
        options: any other of `sweep`.

    Raises:
        InputError: as `sweep`; a flight time that cannot be.
    """
    if not wanted_min > 0:
        raise InputError(Problem(f"{wanted_min:g} min; above 0 min is needed.", "wanted_min"))
    asked = design.changed(wanted_min=float(wanted_min))
    found = sweep(asked, cells, series, parallel, **options)
    row = found.lightest()
    if asked.mission:
        tried = (int(k) for k in found.lightest_first()[:MOST_MISSIONS])
        row = next((k for k in tried if size(found.design_of(k)).holds), None)
    told = "" if found.complete else " The search was stopped before its end."
    if row is None:
        longest = found["endurance_min"][~np.isnan(found["endurance_min"])]
        best = (
            f" The longest of all, limits aside, is {longest.max():.1f} min."
            if len(longest)
            else ""
        )
        kept = "with every limit and the mission kept" if asked.mission else "with every limit kept"
        text = f"No candidate flies {wanted_min:g} min {kept}.{best}{told}"
        return Choice(wanted_min, None, None, text, found)
    one = found.design_of(row)
    text = (
        f"{int(one.pack.series)}S{int(one.pack.parallel)}P of {one.pack.cell.name}: "
        f"{found['endurance_min'][row]:.1f} min with a pack of {found['pack_mass_g'][row]:.0f} g; "
        f"tightest margin {found['margin_pct'][row]:.0f} % "
        f"({found.limits[int(found['binds'][row])][1]}).{told}"
    )
    return Choice(wanted_min, row, one, text, found)


@dataclass(frozen=True, eq=False)
class ThresholdMap:
    """The tightest margin over series and parallel, and the limit that has it.

    Attributes:
        series, parallel: whole numbers, shapes (A,) and (B,).
        margin_pct: tightest margin, shape (A, B); -inf where it cannot be told.
        binds: index into `names`, shape (A, B).
        holds: where every limit holds, shape (A, B).
        endurance_min: shape (A, B).
        names: limits in words; keys: their keys.
    """

    series: np.ndarray
    parallel: np.ndarray
    margin_pct: FloatArray
    binds: np.ndarray
    holds: np.ndarray
    endurance_min: FloatArray
    names: tuple[str, ...]
    keys: tuple[str, ...]

    def binding(self, series: int, parallel: int) -> str:
        """Name of the limit that binds at S and P.

        Raises:
            InputError: the map does not reach there.
        """
        at = np.flatnonzero(self.series == series), np.flatnonzero(self.parallel == parallel)
        if not (len(at[0]) and len(at[1])):
            raise InputError(f"{series}S{parallel}P is not on the map.")
        return self.names[int(self.binds[at[0][0], at[1][0]])]


def threshold_map(
    design: Design[Any],
    series: Sequence[int] | np.ndarray = range(1, 15),
    parallel: Sequence[int] | np.ndarray = range(1, 13),
    bounds: Bounds = NO_BOUNDS,
    allowances: Allowances = NO_ALLOWANCES,
) -> ThresholdMap:
    """Where the design's own cell lets the craft fly, and what stops it elsewhere.

    Args:
        design: a single design; its S and P do not count.
        series, parallel: the map's rows and columns.
        bounds, allowances: as in `sweep`.
    """
    found = sweep(
        design, (design.pack.cell,), series, parallel,
        bounds=bounds, allowances=allowances, screen=False, threads=1,
    )  # fmt: skip
    s, p = np.asarray(list(series)), np.asarray(list(parallel))

    def grid(name: str) -> np.ndarray:
        return found[name].reshape(len(s), len(p))

    return ThresholdMap(
        s, p, grid("margin_pct"), grid("binds"), found.survives.reshape(len(s), len(p)),
        grid("endurance_min"), tuple(name for _, name, _ in found.limits),
        tuple(key for key, _, _ in found.limits),
    )  # fmt: skip
