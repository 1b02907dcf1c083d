"""What a sweep found: a table of candidates, why some fall out, and which to choose."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from workbook.battery.cell import Cell
from workbook.craft.thrust_table import ThrustTable
from workbook.csv_text import csv_text
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, rounded
from workbook.quantities import RESULTS
from workbook.sizing.design import Design
from workbook.sizing.figures import plain
from workbook.sizing.size import size
from workbook.working import Step, step

if TYPE_CHECKING:
    import pandas as pd

MOST_MISSIONS = 200
"""Candidates with which a mission is flown in search of the lightest pack, lightest first."""

TRANSPORT = ("cabin", "with the airline's approval", "not by passengers")
"""Classes by the pack's watt-hours. A home-built pack has no UN 38.3 test; the carrier decides."""


class LimitWords(NamedTuple):
    """A limit of the sweep: its key, its name, and what it means when it is broken."""

    key: str
    name: str
    text: str


@dataclass(frozen=True)
class Rejection:
    """A reason for which candidates fell out.

    Attributes:
        key, name, text: of the limit, and what it means when it is broken.
        binds: how many candidates break it the most.
        breaks: how many break it, among those in which it was looked at.
    """

    key: str
    name: str
    text: str
    binds: int
    breaks: int


@dataclass(frozen=True)
class Candidate:
    """One pack that was tried.

    Attributes:
        cell: name of its cell; cell_format and kind: of the cell.
        series, parallel: how many.
        pack_mass_g, all_up_mass_g: of the pack, and of everything that flies.
        endurance_min: flight time; NaN where it was set aside before that was worked out.
        margin_pct: the tightest margin; -inf where it cannot be worked out.
        binds, binds_key: the limit that has it, in words and by its key.
        holds: whether every limit holds.
        reason: why it fell out, in words; empty where it holds.
        sweep, row: where it comes from.
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
    binds_key: str
    holds: bool
    reason: str
    sweep: Sweep = field(repr=False, compare=False)
    row: int = field(repr=False, compare=False)

    @property
    def name(self) -> str:
        """Cell, series and parallel: `Teal 6S4P`."""
        return f"{self.cell} {self.series}S{self.parallel}P"

    @property
    def key(self) -> tuple[str, int, int]:
        """What finds it again in another sweep."""
        return (self.cell, self.series, self.parallel)

    @property
    def design(self) -> Design[Any]:
        """Its design, for `size`."""
        return self.sweep.design_of(self.row)

    @property
    def text(self) -> str:
        """Pack, time, mass and tightest margin in a sentence."""
        return (
            f"{self.series}S{self.parallel}P of {self.cell}: "
            f"{RESULTS['endurance_min'].text(self.endurance_min)} with a pack of "
            f"{RESULTS['pack_mass_g'].text(self.pack_mass_g)}; tightest margin "
            f"{rounded(self.margin_pct, 0, 'down'):.0f} % ({self.binds})."
        )


@dataclass(frozen=True, eq=False)
class Sweep:
    """Candidates as columns, one row each; iterated over, it gives them one by one as `Candidate`.

    Attributes:
        design: what they were made from.
        cells, tables: what the columns `cell` and `table` point into.
        axes: figures of the design that were varied beside S and P, in order.
        columns: name to array, all of one length, a row a candidate looked at or, where only those were kept,
            a row a survivor: `cell`, `table`, `series`, `parallel`, the axes,
            `cells`, `pack_mass_g`, `all_up_mass_g`, `energy_wh`, `transport` (into `TRANSPORT`),
            `price`, the figures of the operating point (NaN where it was not worked out),
            `margin_pct` (the tightest), `binds` (the limit that has it, into `limits`), `broken` (one
            column a limit), `screened` (set aside on the ground).
        limits: every limit, in the order of the columns of `broken`.
        asked: candidates there were; worked: those that were looked at.
        rejections: every reason that made a candidate fall out, most frequent first.
    """

    design: Design[Any]
    cells: tuple[Cell, ...]
    tables: tuple[ThrustTable | None, ...]
    axes: tuple[str, ...]
    columns: Mapping[str, np.ndarray]
    limits: tuple[LimitWords, ...]
    asked: int
    worked: int
    rejections: tuple[Rejection, ...]

    @property
    def complete(self) -> bool:
        """False where the work was stopped; then only the first `worked` were looked at."""
        return self.worked == self.asked

    def __len__(self) -> int:
        """How many rows."""
        return len(self.columns["series"])

    def __getitem__(self, name: str) -> np.ndarray:
        """A column by its name."""
        return self.columns[name]

    def __iter__(self) -> Iterator[Candidate]:
        """The candidates one by one."""
        return (self.candidate(row) for row in range(len(self)))

    @property
    def survives(self) -> np.ndarray:
        """Where every limit holds."""
        return np.asarray(~self.columns["broken"].any(axis=1))

    def where(self, mask: np.ndarray | slice) -> Sweep:
        """The rows where `mask` holds, or those numbered in it, in that order."""
        return replace(self, columns={k: v[mask] for k, v in self.columns.items()})

    def survivors(self) -> Sweep:
        """The rows in which every limit holds."""
        return self.where(self.survives)

    def rejected_by(self, key: str) -> Sweep:
        """The rows that break a limit, by its key.

        Raises:
            InputError: the sweep has no such limit.
        """
        keys = [limit.key for limit in self.limits]
        if key not in keys:
            raise InputError(Problem(f"no such limit; there are {', '.join(keys)}.", key))
        return self.where(self.columns["broken"][:, keys.index(key)])

    def sorted_by(self, *names: str, descending: bool = False) -> Sweep:
        """Sorted by columns, the first one first; rows with NaN come last.

        Raises:
            InputError: there is no such column.
        """
        keys = [self._numbers(name) * (-1.0 if descending else 1.0) for name in names]
        return self.where(np.lexsort(keys[::-1]))

    def pareto(self, *objectives: str) -> Sweep:
        """The survivors that no other survivor beats, lightest first.

        Args:
            objectives: columns; endurance against all-up mass, where none is named. Which way a
                column is better stands in the table of quantities; low, for one that is not in it.

        Raises:
            InputError: there is no such column.
        """
        kept = self.survivors()
        costs = [
            kept._numbers(name) * (-1.0 if _high_is_better(name) else 1.0)
            for name in objectives or ("endurance_min", "all_up_mass_g")
        ]
        return kept.where(pareto(np.column_stack(costs))).sorted_by("all_up_mass_g")

    @cached_property
    def lightest(self) -> Candidate | None:
        """The survivor of least pack mass, the longer flight first among equals; None without one.

        Where the design states a mission, it flies that too: as far as `MOST_MISSIONS` are tried.
        """
        rows = np.flatnonzero(self.survives)
        minutes, mass_g = (self.columns[name][rows] for name in ("endurance_min", "pack_mass_g"))
        rows = rows[np.lexsort((-minutes, mass_g))]
        if self.design.mission:
            tried = rows[:MOST_MISSIONS]
            rows = np.array([r for r in tried if size(self.design_of(r)).holds][:1], dtype=int)
        return self.candidate(int(rows[0])) if len(rows) else None

    @property
    def lightest_text(self) -> str:
        """The lightest pack in a sentence, or how far the best of them come."""
        stopped = "" if self.complete else " The search was stopped before its end."
        if self.lightest is not None:
            return f"{self.lightest.text}{stopped}"
        asked, minutes = self.design.flight.wanted_min, self.columns["endurance_min"]
        flies = "flies" if asked is None else f"flies {asked:g} min"
        and_mission = " and the mission" if self.design.mission else ""
        longest = np.max(minutes, where=~np.isnan(minutes), initial=-np.inf)
        best = f" The longest of all, limits aside, is {longest:.1f} min."
        return (
            f"No candidate {flies} with every limit{and_mission} kept."
            f"{best if np.isfinite(longest) else ''}{stopped}"
        )

    def design_of(self, row: int) -> Design[Any]:
        """The design of a row, for `size`."""
        start = with_parts(
            self.design,
            self.cells[int(self.columns["cell"][row])],
            self.tables[int(self.columns["table"][row])],
        )
        varied = ("series", "parallel", *self.axes)
        return start.changed(**{name: self.columns[name][row].item() for name in varied})

    def candidate(self, row: int) -> Candidate:
        """One row as a record."""
        values = {
            name: column[row].item() for name, column in self.columns.items() if column.ndim == 1
        }
        cell, binds = self.cells[values["cell"]], self.limits[values["binds"]]
        broken = [self.limits[k].name for k in np.flatnonzero(self.columns["broken"][row])]
        also = "; ".join(name for name in broken if name != binds.name)
        reason = f"{binds.name}: {binds.text}" if broken else ""
        return Candidate(
            cell.name,
            cell.cell_format,
            cell.kind,
            values["series"],
            values["parallel"],
            values["pack_mass_g"],
            values["all_up_mass_g"],
            values["endurance_min"],
            values["margin_pct"],
            binds.name,
            binds.key,
            not broken,
            f"{reason} Also broken: {also}." if also else reason,
            self,
            row,
        )

    def find(self, cell: str, series: int, parallel: int) -> Candidate | None:
        """The first candidate of a cell's name, series and parallel; None where it is not there."""
        names = [tried.name for tried in self.cells]
        if cell not in names:
            return None
        columns = self.columns
        same = (columns["series"] == series) & (columns["parallel"] == parallel)
        rows = np.flatnonzero(same & (columns["cell"] == names.index(cell)))
        return self.candidate(int(rows[0])) if len(rows) else None

    def frame(self) -> pd.DataFrame:
        """The rows as a pandas table, with names in place of numbers."""
        import pandas as pd

        table = pd.DataFrame({name: v for name, v in self.columns.items() if v.ndim == 1})
        labels = {
            "cell": [cell.name for cell in self.cells],
            "table": ["" if t is None else f"{t.motor}, {t.propeller}" for t in self.tables],
            "binds": [limit.name for limit in self.limits],
            "transport": TRANSPORT,
        }
        for column, names in labels.items():
            table[column] = np.array(names, dtype=object)[self.columns[column]]
        table["survives"] = self.survives
        return table

    def csv(self) -> str:
        """The rows as a table of text with a heading, one line each."""
        table = self.frame()
        return csv_text(table.columns, table.itertuples(index=False))

    def as_dict(self) -> dict[str, Any]:
        """What was tried, who survives on the Pareto front, and why the others fell out, for JSON."""
        shown = ("cell", "series", "parallel", "binds", "reason", "holds")
        figures = ("pack_mass_g", "all_up_mass_g", "endurance_min", "margin_pct")
        rows = [
            {key: getattr(one, key) for key in shown}
            | plain({key: getattr(one, key) for key in figures})
            for one in self.pareto()
        ]
        return {
            "design": self.design.name,
            "asked": self.asked,
            "worked": self.worked,
            "hold": len(self.survivors()),
            "lightest": self.lightest_text,
            "pareto": rows,
            "rejections": [asdict(rejection) for rejection in self.rejections],
        }

    def _numbers(self, name: str) -> FloatArray:
        if name not in self.columns:
            raise InputError(
                Problem(f"there is no such column; there are {', '.join(self.columns)}.", name)
            )
        return np.asarray(self.columns[name], dtype=float)


def pareto(costs: FloatArray) -> np.ndarray:
    """Where no other row is at least as good in every cost and better in one.

    Args:
        costs: shape (n, k), less is better (turn the sign of what should be high). Rows with NaN are
            never on the front. Equal rows are on it together.

    Returns:
        True on the Pareto front, shape (n,).

    Raises:
        InputError: `costs` is no table.

    Source: definition of the Pareto front; rows in rising order, so that only an earlier one beats a
        later one; for two costs one scan (Kung, Luccio and Preparata, Journal of the ACM 22, 1975, from memory).

    Example:
        >>> pareto(np.array([[1.0, 5.0], [2.0, 3.0], [2.0, 4.0], [3.0, 3.0]]))
        array([ True,  True, False, False])
    """
    costs = np.asarray(costs, dtype=float)
    if costs.ndim != 2 or not costs.shape[1]:
        raise InputError("costs must be a table: one row a choice, one column a cost.")
    on = np.zeros(len(costs), dtype=bool)
    left = np.lexsort(costs.T[::-1])
    left = left[~np.isnan(costs[left]).any(axis=1)]
    if costs.shape[1] <= 2 and len(left):
        last = costs[left, -1]
        new = np.concatenate([[True], last[1:] < np.minimum.accumulate(last)[:-1]])
        kept = costs[left[new]][np.cumsum(new) - 1]  # the last one on the front, for each row
        on[left[(costs[left] == kept).all(axis=1)]] = True
        return on
    while len(left):
        best = costs[left[0]]
        on[left[(costs[left] == best).all(axis=1)]] = True
        left = left[(costs[left] < best).any(axis=1)]
    return on


def with_parts(design: Design[Any], cell: Cell, table: ThrustTable | None) -> Design[Any]:
    """A design with another cell and thrust table, and no reference pack beside it."""
    motor = {} if table is design.craft.table else {"table": table}
    return replace(design, today=None).changed(cell=cell, **motor)


def _high_is_better(column: str) -> bool:
    return column == "margin_pct" or (column in RESULTS and RESULTS[column].better == "high")


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
    return np.asarray(100.0 * np.diff(time_min) / np.diff(mass_g))


def pareto_steps(front: Sweep) -> tuple[Step, ...]:
    """What each step along the Pareto front buys: minutes for 100 g more.

    Args:
        front: candidates in rising mass, as `Sweep.pareto` gives them.
    """
    return tuple(
        replace(
            step(
                "gain_per_100_g",
                minutes_per_100_g(
                    [lighter.all_up_mass_g, heavier.all_up_mass_g],
                    [lighter.endurance_min, heavier.endurance_min],
                )[0],
                heavier=heavier,
                lighter=lighter,
                more_g=heavier.all_up_mass_g - lighter.all_up_mass_g,
            ),
            unit="min per 100 g",
        )
        for lighter, heavier in pairwise(front)
        if heavier.all_up_mass_g > lighter.all_up_mass_g
    )
