"""Thrust tables as makers print them: a file, pasted text or typed rows, read and checked.

Nothing is guessed in silence: there is a notice of whatever is filled in, settled or left out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
from numpy.typing import NDArray

from workbook.craft.thrust_table import ThrustTable
from workbook.csv_text import csv_text
from workbook.errors import InputError, Problem, refuse
from workbook.files.delimited import GridRow, table_text
from workbook.files.thrust_blocks import TYPED, ThrustGrid, find_blocks, refuse_many, split_text
from workbook.files.thrust_checks import (
    add_doubts,
    power_agrees,
    refuse_impossible,
    refuse_swapped,
)
from workbook.files.thrust_rows import KEYS, Rows, ThrustRows, half, read_rows
from workbook.files.writing import Saving, write_text
from workbook.numbers import FloatArray
from workbook.parse import plain

if TYPE_CHECKING:
    import pandas as pd

MOST_LINES = 4000
"""Of a file of thrust tables: a stand that writes ten rows a second for a minute and a half has 900."""
SAME_SUPPLY = 1.10
"""Rows whose voltages follow each other within this ratio are of one table: a sagging supply moves
less between rows, and one cell more or less in series moves more up to ten cells. Common practice,
no source."""
CHOICE_SHARE = 0.06
"""How near the voltage of a choice must be to a table's: half a cell in eight. Common practice, no source."""

LABEL_SHARE = 0.2
"""How far a stated voltage ("4S", 14.8 V) may be from the rows of a battery-fed stand (16.8 V full)."""


@dataclass(frozen=True, eq=False)
class ThrustTableFile:
    """What one file holds: a table for each motor, propeller and supply voltage.

    Attributes:
        tables: in the order of the file.
        notices: every doubt and every figure filled in, in words, with its place.
    """

    tables: tuple[ThrustTable, ...]
    notices: tuple[Problem, ...] = ()

    def choose(
        self, propeller: str | None = None, voltage_v: float | None = None, motor: str | None = None
    ) -> ThrustTable:
        """The one table for a propeller, a supply voltage and a motor.

        Args:
            propeller, motor: name or a part of it, capitals and spaces aside; None for any.
            voltage_v: supply voltage, within 6 % of the table's; None for any.

        Raises:
            InputError: no table or several answer; the sentence lists what the file holds.

        Example:
            >>> text = '''Propeller,Thrust (g),Current (A),Voltage (V)
            ... 10x4.5,300,2.0,14.8
            ... 10x4.5,600,5.3,14.8'''
            >>> read_thrust_tables(text).choose(propeller="10 x 4.5").top_thrust_gf
            600.0
        """
        fitting = [
            table
            for table in self.tables
            if (voltage_v is None or abs(table.supply_v / voltage_v - 1) <= CHOICE_SHARE)
        ]
        for part, attribute in ((propeller, "propeller"), (motor, "motor")):
            if part is not None:
                names = [(_key(getattr(table, attribute)), table) for table in fitting]
                exact = [table for name, table in names if name == _key(part)]
                fitting = exact or [table for name, table in names if _key(part) in name]
        if len(fitting) > 1 and voltage_v is not None:
            nearest = min(abs(table.supply_v - voltage_v) for table in fitting)
            fitting = [t for t in fitting if abs(t.supply_v - voltage_v) <= nearest + 0.05]
        if len(fitting) == 1:
            return fitting[0]
        wanted = [] if motor is None else [f"motor {motor}"]
        wanted += [] if propeller is None else [f"propeller {propeller}"]
        wanted += [] if voltage_v is None else [f"{voltage_v:g} V"]
        choice, held = ", ".join(wanted), "; ".join(map(describe, fitting or self.tables))
        if fitting:
            raise InputError(
                f"{len(fitting)} tables {f'match {choice}' if choice else 'are in the file'}; name motor, propeller or "
                f"voltage so that one is left. They are: {held}."
            )
        raise InputError(f"no table for {choice}; the file holds: {held}.")


def describe(table: ThrustTable) -> str:
    """A table in a few words: motor, propeller, voltage, thrust.

    Example:
        >>> describe(
        ...     read_thrust_tables("Thrust (g),Power (W),Voltage (V)\\n90,9,11\\n200,25,11").tables[
        ...         0
        ...     ]
        ... )
        '11 V, 90 to 200 gf'
    """
    names = [name for name in (table.motor, table.propeller) if name]
    thrust = f"{table.thrust_gf[0]:.0f} to {table.top_thrust_gf:.0f} gf"
    return ", ".join([*names, f"{table.supply_v:.3g} V", thrust])


def _key(name: str) -> str:
    name = plain(name).casefold().replace("×", "x").replace("*", "x").replace(",", ".")
    return "".join(sign for sign in name if sign not in " \"'”″")


def read_thrust_tables(
    source: Path | str | bytes, name: str = "", *, voltage_v: float | None = None
) -> ThrustTableFile:
    """Read every thrust table in a file or in pasted text.

    Args:
        source: a path; or the text or the bytes of a table. Columns may be separated by comma,
            semicolon, tab, bar or spaces.
        name: how messages name the source; a file's own name if not given.
        voltage_v: supply voltage, for a table that states neither voltage nor both current and power.

    Returns:
        One table for each motor, propeller and supply voltage, rows by rising thrust.

    Raises:
        InputError: the source cannot be used: every reason found, with file, row and column.

    Example:
        >>> text = '''Propeller 10x4.5, 4S
        ... Throttle  Thrust (g)  Current (A)
        ... 50%       480         4.1
        ... 100%      1,250       17.0'''
        >>> table = read_thrust_tables(text).tables[0]
        >>> table.thrust_gf, table.power_w
        (array([ 480., 1250.]), array([ 60.68, 251.6 ]))
    """
    name = name or (source.name if isinstance(source, Path) else "pasted text")
    text, inferred = table_text(source, name, MOST_LINES)
    return _tables_of(text, name, voltage_v, inferred)


@lru_cache(maxsize=4)
def _tables_of(text: str, name: str, voltage_v: float | None, inferred: str) -> ThrustTableFile:
    """Tables of a text; designs of one craft, of which a page opens several, name the same one."""
    notices = [Problem(inferred, name)] if inferred else []
    return _tables(split_text(text, name), voltage_v, notices)


def thrust_table_from_rows(rows: Sequence[Mapping[str, Any]] | pd.DataFrame) -> ThrustTable:
    """A thrust table from a few rows typed by hand, with the same checks as a file's.

    Args:
        rows: a sequence of dicts, or a pandas DataFrame. Keys are headings, with unit ("Thrust (kgf)")
            or in the workbook's names (thrust_gf, current_a, voltage_v, power_w, throttle_pct,
            speed_rpm, motor, propeller). Cells are numbers or text ("12,5"); blank, None or NaN where
            not known. Messages count the rows from 1.

    Raises:
        InputError: the rows cannot be used: every reason found.

    Example:
        >>> typed = [
        ...     {"thrust_gf": 500, "current_a": "2,2", "voltage_v": 22.2},
        ...     {"thrust_gf": 900, "current_a": "5,1", "voltage_v": 22.2},
        ... ]
        >>> thrust_table_from_rows(typed).power_w
        array([ 48.84, 113.22])
    """
    name = "typed rows"
    records = list(rows) if isinstance(rows, Sequence) else rows.to_dict("records")
    if not all(isinstance(record, Mapping) for record in records):
        raise InputError("each row must name its figures, as thrust_gf and current_a.", name)
    keys = list(dict.fromkeys(key for record in records for key in record))
    grid = [GridRow(0, tuple(map(str, keys)))]
    for number, record in enumerate(records, 1):
        grid.append(GridRow(number, tuple(_typed_cell(record.get(key)) for key in keys)))
    found = find_blocks(grid, TYPED, name)
    if not found.blocks:
        found.nearest_headings = tuple(map(str, keys))
    return _tables(found, None, []).choose()


def _typed_cell(value: object) -> str | float:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool | np.bool_):
        return str(value)
    return float(value) if isinstance(value, int | float | np.number) else str(value)


def _tables(found: ThrustGrid, voltage_v: float | None, notices: list[Problem]) -> ThrustTableFile:
    """Tables from blocks of cells: figures, groups, checks."""
    name = found.name
    if voltage_v is not None and not 1.0 <= voltage_v <= 130.0:
        raise InputError(f"voltage_v is {voltage_v:g}; the supply voltage of the table is needed.")
    if not found.blocks:
        seen = ", ".join(f'"{text[:30]}"' for text in found.nearest_headings[:12])
        message = (
            "there is no thrust column beside one of current, power, voltage or throttle; a "
            'heading line such as "Thrust (g), Current (A), Voltage (V)" is needed'
            + (f" (headings seen: {seen})." if seen else ".")
        )
        raise InputError(message, name)
    out = read_rows(found)
    out.notices[:0] = [*notices, *found.notices, *found.skipped]
    out.problems[:0] = found.problems
    refuse(out.problems)
    rows = _usable(out, voltage_v)
    for block in rows.groups(rows["block"]):
        refuse_swapped(out, block)
    refuse(out.problems)
    common, short = tuple(out.notices), []
    tables: list[ThrustTable] = []
    for group in _groups(out, rows):
        before = len(out.notices)
        table, reason = _one_table(out, group)
        short += reason
        if table is not None:
            tables.append(replace(table, notices=(*common, *out.notices[before:])))
    if not tables and not out.problems:
        too_few = [Problem("fewer than 2 usable rows; at least 2 are needed.", name)]
        out.problems += [*(short or too_few), *found.skipped]
    refuse(out.problems)
    tables.sort(key=lambda table: min(table.row))
    return ThrustTableFile(tuple(tables), tuple(dict.fromkeys([*out.notices, *short])))


def _usable(out: ThrustRows, voltage_v: float | None) -> Rows:
    """Rows with thrust, voltage, current and power, one filled from the others, with notices."""
    rows = out.frame
    volts, amps, watts = "voltage_v", "current_a", "power_w"

    def leave_out(these: NDArray[np.bool_], why: str) -> None:
        nonlocal rows
        out.add_notice(f"{why}; the row is left out.", rows.take(these))
        rows = rows.take(~these)

    def fill(these: NDArray[np.bool_], key: str, values: FloatArray | float, why: str) -> None:
        out.add_notice(why, rows.take(these))
        rows[key][these] = np.broadcast_to(values, these.shape)[these]

    leave_out(np.isnan(rows["thrust_gf"]), "thrust is blank")
    leave_out(rows["thrust_gf"] <= 0, "thrust is 0")
    labelled = ~np.isnan(rows["supply_v"])
    unfit = rows["block"][labelled & ~power_agrees(rows, "supply_v")]
    blank = np.isnan(rows[volts])
    held = blank & labelled & ~np.isin(rows["block"], unfit)
    for same in rows.take(held).groups(rows["supply_v"][held]):
        out.add_notice(f"voltage is taken as the stated {same['supply_v'][0]:g} V.", same)
    rows[volts][held] = rows["supply_v"][held]
    rows[half(volts)][held] = rows[half("supply_v")][held]
    both = blank & ~held & (rows[amps] > 0) & (rows[watts] > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        stated = rows[watts] / rows[amps]
    fill(both, volts, stated, "voltage is filled in as power over current.")
    lacking = np.isnan(rows[volts])
    if voltage_v is not None:
        fill(lacking, volts, voltage_v, f"voltage is taken as the {voltage_v:g} V given.")
    elif lacking.any():
        message = (
            'voltage is missing; add a voltage column, a line such as "Voltage: 14.8 V", both '
            "current and power, or give voltage_v."
        )
        out.add_problem(message, rows.take(lacking))
    leave_out(np.isnan(rows[watts]) & np.isnan(rows[amps]), "both current and power are blank")
    product = rows[volts] * rows[amps]
    fill(np.isnan(rows[watts]), watts, product, "power is filled in as voltage x current.")
    over = np.isnan(rows[amps]) & (rows[volts] > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        drawn = rows[watts] / rows[volts]
    fill(over, amps, drawn, "current is filled in as power over voltage.")
    zero = ~np.all([rows[key] > 0 for key in (volts, amps, watts)], axis=0) & ~np.isnan(rows[volts])
    leave_out(zero, "voltage, current or power is 0 beside a thrust")
    return rows.take(~np.isnan(rows[volts]))


def _groups(out: ThrustRows, rows: Rows) -> list[Rows]:
    """Rows of one motor, propeller and supply voltage each."""
    label = np.where(rows["supply_v"] > 0, rows["supply_v"], 0.0)
    groups = []
    for members in rows.groups(map(_key, rows["motor"]), map(_key, rows["propeller"]), label):
        members = members.by("voltage_v")
        volts = members["voltage_v"]
        groups += members.groups(np.append(0, np.cumsum(volts[1:] > SAME_SUPPLY * volts[:-1])))
    refuse_many(len(groups), out.name)
    for group in groups:
        _refuse_overlap(out, group)
    return groups


def _refuse_overlap(out: ThrustRows, group: Rows) -> None:
    """Two heading blocks of the same names must not cover the same thrust: something is unsaid."""
    blocks = sorted(
        (block["thrust_gf"].min(), block["thrust_gf"].max(), block["number"][0])
        for block in group.groups(group["block"])
    )
    for (_, high, one), (low, _, two) in itertools.pairwise(blocks):
        if low < high:
            message = (
                "two blocks of rows cover the same thrust, and no line or column tells what "
                "differs; write the propeller, the motor or the voltage above each block."
            )
            first, second = sorted((one, two))
            out.problems.append(Problem(message, f"{out.name}, rows {first} and {second}"))


def _one_table(out: ThrustRows, group: Rows) -> tuple[ThrustTable | None, list[Problem]]:
    """Check the rows of one table and make its record; where they are too few, the reason."""
    refused = len(out.problems)
    refuse_impossible(out, group)
    if len(out.problems) > refused:
        return None, []
    rows = _merged(out, _up_to_highest(out, group))
    if len(rows) < 2:
        message = (
            "fewer than 2 usable rows for one propeller and voltage; at least 2 are needed, "
            "so they are left out."
        )
        return None, [Problem(message, out.where(group))]
    add_doubts(out, rows)
    first, highest_v = np.argmin(rows["number"]), rows["voltage_v"].max()
    label = rows["supply_v"][0]
    table = ThrustTable(
        motor=rows["motor"][first],
        propeller=rows["propeller"][first],
        thrust_gf=rows["thrust_gf"],
        current_a=rows["current_a"],
        voltage_v=rows["voltage_v"],
        power_w=rows["power_w"],
        throttle_pct=rows["throttle_pct"],
        speed_rpm=rows["speed_rpm"],
        row=tuple(rows["number"].tolist()),
        source=out.name,
        supply_v=float(label if abs(label / highest_v - 1) <= LABEL_SHARE else highest_v),
    )
    return table, []


def _up_to_highest(out: ThrustRows, rows: Rows) -> Rows:
    """Rows up to the highest thrust: sag and heat can make thrust fall at the last throttle steps."""
    top = np.lexsort([rows["power_w"], -rows["thrust_gf"]])[0]
    thrust, throttle, watts = (rows[key] for key in ("thrust_gf", "throttle_pct", "power_w"))
    beyond = (thrust < thrust[top]) & ((throttle > throttle[top]) | (watts > watts[top]))
    message = (
        f"thrust is below the highest ({thrust[top]:g} gf in row {rows['number'][top]}) at "
        "more throttle or power (sag or heat can do this); left out."
    )
    out.add_notice(message, rows.take(beyond))
    return rows.take(~beyond)


def _merged(out: ThrustRows, rows: Rows) -> Rows:
    """Rows by rising thrust, those of equal thrust made one."""
    rows = rows.by("thrust_gf", "power_w", "number")
    groups = rows.groups(rows["thrust_gf"].round(6))
    merged = [_one_row(out, same) if len(same) > 1 else same for same in groups]
    return Rows({key: np.concatenate([row[key] for row in merged]) for key in rows.columns})


def _one_row(out: ThrustRows, same: Rows) -> Rows:
    """Rows of equal thrust as one: the mean of what each states, the coarsest of its last places."""
    figures = [*KEYS, *map(half, KEYS)]
    alike = all(len(np.unique(same[key])) == 1 for key in figures)
    words = "the row is repeated; one is kept." if alike else "the mean is used."
    out.add_notice(
        f"thrust of {same['thrust_gf'][0]:g} gf stands in {len(same)} rows; {words}", same
    )
    one = same.take([0])
    for key in KEYS:
        stated = same[key][~np.isnan(same[key])]
        one[key][0] = stated.mean() if len(stated) else np.nan
        one[half(key)][0] = same[half(key)].max()
    return one


def thrust_table_text(table: ThrustTable) -> str:
    """A thrust table as CSV, every column with its unit; columns without any figure are left out.

    Example:
        >>> import numpy as np
        >>> thrust = np.array([500.0, 1000.0])
        >>> volts, blank = np.full(2, 22.2), np.full(2, np.nan)
        >>> table = ThrustTable(
        ...     "m", "15x5", thrust, thrust / 250, volts, thrust * 0.0888, blank, blank
        ... )
        >>> print(thrust_table_text(table))
        Motor,Propeller,Thrust (gf),Current (A),Voltage (V),Power (W)
        m,15x5,500.0,2.0,22.2,44.4
        m,15x5,1000.0,4.0,22.2,88.8
        <BLANKLINE>
    """
    names = {"Motor": table.motor, "Propeller": table.propeller}
    figures = {
        "Throttle (%)": table.throttle_pct,
        "Thrust (gf)": table.thrust_gf,
        "Current (A)": table.current_a,
        "Voltage (V)": table.voltage_v,
        "Power (W)": table.power_w,
        "Speed (rpm)": table.speed_rpm,
    }
    stated = {heading: v for heading, v in figures.items() if not np.isnan(v).all()}
    rows = zip(*(np.round(v, 9).tolist() for v in stated.values()), strict=True)
    return csv_text([*names, *stated], ([*names.values(), *row] for row in rows))


def write_thrust_table(table: ThrustTable, path: Path, **saving: Unpack[Saving]) -> None:
    """Write a thrust table as CSV; over an existing file only when asked to.

    Raises:
        InputError: the file exists and may not be replaced, or it cannot be written.
    """
    write_text(path, thrust_table_text(table), **saving)
