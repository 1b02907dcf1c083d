"""Thrust tables as makers print them: a file, pasted text or typed rows, read and checked.

Nothing is guessed in silence: whatever is filled in, settled or left out stands in a notice.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError, Problem
from workbook.files.text_grid import GridRow, decode, load_bytes, refuse_size
from workbook.files.thrust_blocks import TYPED, Blocks, find_blocks, split_text
from workbook.files.thrust_checks import (
    LEAST_GF_W,
    MOST_GF_W,
    doubts,
    impossible,
    power_agrees,
    swapped,
)
from workbook.files.thrust_values import Figure, Row, read_rows, spans
from workbook.parse import plain

if TYPE_CHECKING:
    import pandas as pd

LIMIT_BYTES = 5_000_000
"""Largest file read: a maker's table has a few kilobytes."""
SAME_SUPPLY = 1.10
"""Rows whose voltages follow each other within this ratio are of one table: a sagging supply moves
less between rows, and one cell more or less in series moves more up to ten cells. Common practice,
no source."""
CHOICE_SHARE = 0.06
"""How near an asked voltage must be to a table's: half a cell in eight. Common practice, no source."""

LABEL_SHARE = 0.2
"""How far a stated voltage ("4S", 14.8 V) may be from the rows of a battery-fed stand (16.8 V full)."""


@dataclass(frozen=True)
class ThrustTableFile:
    """What one file holds: a table for each motor, propeller and supply voltage.

    Attributes:
        tables: in the order of the file.
        notices: every doubt and every figure filled in, in words, with its place.
    """

    tables: tuple[ThrustTable, ...]
    notices: tuple[Problem, ...] = ()

    def choose(
        self,
        propeller: str | None = None,
        voltage_v: float | None = None,
        motor: str | None = None,
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
        left = [
            table
            for table in self.tables
            if (voltage_v is None or abs(table.supply_v / voltage_v - 1) <= CHOICE_SHARE)
        ]
        for asked, attribute in ((propeller, "propeller"), (motor, "motor")):
            if asked is not None:
                names = [(_key(getattr(table, attribute)), table) for table in left]
                exact = [table for name, table in names if name == _key(asked)]
                left = exact or [table for name, table in names if _key(asked) in name]
        if len(left) > 1 and voltage_v is not None:
            gaps = [abs(table.supply_v - voltage_v) for table in left]
            left = [t for t, gap in zip(left, gaps, strict=True) if gap <= min(gaps) + 0.05]
        if len(left) == 1:
            return left[0]
        asked_for = ", ".join(
            text
            for text in (
                f"motor {motor}" if motor is not None else "",
                f"propeller {propeller}" if propeller is not None else "",
                f"{voltage_v:g} V" if voltage_v is not None else "",
            )
            if text
        )
        held = "; ".join(describe(table) for table in (left or self.tables))
        if left:
            raise InputError(
                f"{len(left)} tables answer to {asked_for or 'no choice'}; name motor, propeller or "
                f"voltage so that one is left. They are: {held}."
            )
        raise InputError(f"no table for {asked_for}; the file holds: {held}.")


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
    notices: list[Problem] = []
    if isinstance(source, Path):
        name = name or source.name
        source = load_bytes(source, LIMIT_BYTES)
    name = name or "pasted text"
    refuse_size(len(source), name, LIMIT_BYTES)
    if isinstance(source, bytes):
        source, inferred = decode(source, name)
        if inferred:
            notices.append(Problem(inferred, name))
    if not source.strip().strip("\ufeff"):
        raise InputError(Problem("the file is empty; a thrust table is needed.", name))
    return _tables(split_text(source, name), name, voltage_v, notices)


def thrust_table_from_rows(
    rows: Sequence[Mapping[str, Any]] | pd.DataFrame,
    voltage_v: float | None = None,
    motor: str = "",
    propeller: str = "",
    name: str = "typed rows",
) -> ThrustTable:
    """A thrust table from a few rows typed by hand, with the same checks as a file's.

    Args:
        rows: a sequence of dicts, or a pandas DataFrame. Keys are headings, with unit ("Thrust (kgf)")
            or in the workbook's names (thrust_gf, current_a, voltage_v, power_w, throttle_pct,
            speed_rpm). Cells are numbers or text ("12,5"); blank, None or NaN where not known.
        voltage_v: supply voltage of all rows, where there is no voltage column.
        motor, propeller: names.
        name: how messages name the rows; they are counted from 1.

    Raises:
        InputError: the rows cannot be used: every reason found.

    Example:
        >>> typed = [{"thrust_gf": 500, "current_a": "2,2"}, {"thrust_gf": 900, "current_a": "5,1"}]
        >>> thrust_table_from_rows(typed, voltage_v=22.2).power_w
        array([ 48.84, 113.22])
    """
    records: list[Mapping[Any, Any]] = (
        rows.to_dict("records") if hasattr(rows, "to_dict") else list(rows)
    )
    if not all(isinstance(record, Mapping) for record in records):
        raise InputError(
            Problem("each row must name its figures, as thrust_gf and current_a.", name)
        )
    keys = list(dict.fromkeys(str(key) for record in records for key in record))
    grid = [GridRow(0, tuple(keys))]
    for number, record in enumerate(records, 1):
        by_name = {str(key): value for key, value in record.items()}
        grid.append(GridRow(number, tuple(_typed_cell(by_name.get(key)) for key in keys)))
    found = find_blocks(grid, TYPED, name)
    if not found.blocks:
        found.nearest_headings = tuple(keys)
    for block in found.blocks:
        for label in block.labels:
            label.setdefault("motor", motor)
            label.setdefault("propeller", propeller)
    file = _tables(found, name, voltage_v, [])
    return file.choose()


def _typed_cell(value: object) -> str | float:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool | np.bool_):
        return str(value)
    if isinstance(value, int | float | np.integer | np.floating):
        return float(value)
    return str(value)


def _tables(
    found: Blocks, name: str, voltage_v: float | None, notices: list[Problem]
) -> ThrustTableFile:
    """Tables from blocks of cells: figures, groups, checks."""
    if voltage_v is not None and not 1.0 <= voltage_v <= 130.0:
        raise InputError(f"voltage_v is {voltage_v:g}; the supply voltage of the table is needed.")
    if not found.blocks:
        seen = ", ".join(f'"{text[:30]}"' for text in found.nearest_headings[:12])
        raise InputError(
            Problem(
                "there is no thrust column beside one of current, power, voltage or throttle; a "
                'heading line such as "Thrust (g), Current (A), Voltage (V)" is needed'
                + (f" (headings seen: {seen})." if seen else "."),
                name,
            )
        )
    read = read_rows(found, name)
    notices += found.notices + found.skipped + read.notices
    problems = found.problems + read.problems
    if problems:
        raise InputError(problems)
    rows = _usable(read.rows, name, voltage_v, notices, problems)
    for index in range(len(found.blocks)):
        problems += swapped([row for row in rows if row.block == index], name)
    if problems:
        raise InputError(problems)
    invented = any("invented" in note.text.casefold() for note in found.notes)
    source = f"{name} (invented)" if invented else name
    common = tuple(notices)
    tables: list[ThrustTable] = []
    short: list[Problem] = []
    for group in _groups(rows, name, problems):
        own: list[Problem] = []
        table = _one_table(group, name, source, own, problems, short)
        notices += own
        if table is not None:
            tables.append(replace(table, notices=(*common, *own)))
    if not tables and not problems:
        problems += short or [Problem("fewer than 2 usable rows; at least 2 are needed.", name)]
        problems += found.skipped
    if problems:
        raise InputError(problems)
    notices += short
    order = {id(table): min(table.row) for table in tables}
    tables.sort(key=lambda table: order[id(table)])
    return ThrustTableFile(tuple(tables), tuple(dict.fromkeys(notices)))


def _usable(
    rows: list[Row],
    name: str,
    voltage_v: float | None,
    notices: list[Problem],
    problems: list[Problem],
) -> list[Row]:
    """Rows with thrust, voltage, current and power, one filled from the others; all of it said."""
    told: dict[str, list[int]] = defaultdict(list)
    kept: list[Row] = []
    by_label = _labels_that_hold(rows)
    for row in rows:
        figures = dict(row.figures)
        if "thrust_gf" not in figures:
            told["thrust is blank; the row is left out."].append(row.number)
            continue
        if figures["thrust_gf"].value <= 0:
            told["thrust is 0; the row is left out."].append(row.number)
            continue
        if "voltage_v" not in figures:
            said = "voltage is filled in as power over current."
            if row.supply_v is not None and row.block in by_label:
                said = f"voltage is taken as the stated {row.supply_v.value:g} V."
                figures["voltage_v"] = row.supply_v
            elif (amps := row.value("current_a")) > 0 and (watts := row.value("power_w")) > 0:
                figures["voltage_v"] = Figure(watts / amps)
            elif voltage_v is not None:
                figures["voltage_v"] = Figure(voltage_v)
                said = f"voltage is taken as the {voltage_v:g} V given."
            else:
                told["!"].append(row.number)
                continue
            told[said].append(row.number)
        volts = figures["voltage_v"].value
        watts, amps = row.value("power_w"), row.value("current_a")
        if math.isnan(watts) and math.isnan(amps):
            told["both current and power are blank; the row is left out."].append(row.number)
            continue
        if math.isnan(watts):
            figures["power_w"] = Figure(volts * amps)
            told["power is filled in as voltage x current."].append(row.number)
        elif math.isnan(amps) and volts > 0:
            figures["current_a"] = Figure(watts / volts)
            told["current is filled in as power over voltage."].append(row.number)
        row = replace(row, figures=figures)
        if min(row.value(key) for key in ("voltage_v", "current_a", "power_w")) <= 0 or math.isnan(
            row.value("current_a")
        ):
            told["voltage, current or power is 0 beside a thrust; the row is left out."].append(
                row.number
            )
            continue
        kept.append(row)
    missing = told.pop("!", [])
    if missing:
        problems.append(
            Problem(
                'voltage is missing; add a voltage column, a line such as "Voltage: 14.8 V", both '
                "current and power, or give voltage_v.",
                _rows(name, missing),
            )
        )
    for sentence, numbers in told.items():
        notices.append(Problem(sentence, _rows(name, numbers)))
    return kept


def _rows(name: str, numbers: list[int]) -> str:
    return f"{name}, row{'s' if len(set(numbers)) > 1 else ''} {spans(numbers)}"


def _labels_that_hold(rows: Iterable[Row]) -> set[int]:
    """Blocks whose stated voltage fits every row's power and current, or has none to fit."""
    fits: dict[int, bool] = {}
    for row in rows:
        if row.supply_v is not None:
            trial = replace(row, figures=row.figures | {"voltage_v": row.supply_v})
            fits[row.block] = fits.get(row.block, True) and power_agrees(trial)
    return {block for block, holds in fits.items() if holds}


def _groups(rows: list[Row], name: str, problems: list[Problem]) -> list[list[Row]]:
    """Rows of one motor, propeller and supply voltage each."""
    named: dict[tuple[str, str, float], list[Row]] = defaultdict(list)
    for row in rows:
        label = row.supply_v.value if row.supply_v is not None else math.nan
        named[_key(row.motor), _key(row.propeller), label if label > 0 else 0.0].append(row)
    groups: list[list[Row]] = []
    for members in named.values():
        members = sorted(members, key=lambda row: row.value("voltage_v"))
        start = 0
        for index in range(1, len(members) + 1):
            volts = [row.value("voltage_v") for row in members[index - 1 : index + 1]]
            if index == len(members) or volts[1] > SAME_SUPPLY * volts[0]:
                groups.append(members[start:index])
                start = index
    for group in groups:
        _refuse_overlap(group, name, problems)
    return groups


def _refuse_overlap(group: list[Row], name: str, problems: list[Problem]) -> None:
    """Two heading blocks of the same names must not cover the same thrust: something is unsaid."""
    blocks: dict[int, list[Row]] = defaultdict(list)
    for row in group:
        blocks[row.block].append(row)
    ranges = sorted(
        (min(r.value("thrust_gf") for r in b), max(r.value("thrust_gf") for r in b), b[0].number)
        for b in blocks.values()
    )
    for low, high in itertools.pairwise(ranges):
        if high[0] < low[1]:
            problems.append(
                Problem(
                    "two blocks of rows cover the same thrust, and no line or column tells what "
                    "differs; write the propeller, the motor or the voltage above each block.",
                    f"{name}, rows {min(low[2], high[2])} and {max(low[2], high[2])}",
                )
            )


def _one_table(
    rows: list[Row],
    name: str,
    source: str,
    notices: list[Problem],
    problems: list[Problem],
    short: list[Problem],
) -> ThrustTable | None:
    """Check the rows of one table and make its record."""
    wrong = _unstated_unit(rows, name) or impossible(rows, rows[0].propeller, name)
    if wrong:
        problems += wrong
        return None
    numbers = [row.number for row in rows]
    rows = _merged(_up_to_highest(rows, name, notices), name, notices)
    if len(rows) < 2:
        short.append(
            Problem(
                "fewer than 2 usable rows for one propeller and voltage; at least 2 are needed, "
                "so they are left out.",
                _rows(name, numbers),
            )
        )
        return None
    notices += doubts(rows, rows[0].propeller, name)

    def column(quantity: str) -> np.ndarray[Any, np.dtype[np.float64]]:
        return np.array([row.value(quantity) for row in rows], dtype=float)

    volts = column("voltage_v")
    label = rows[0].supply_v
    held = label is not None and abs(label.value / float(volts.max()) - 1) <= LABEL_SHARE
    first = min(rows, key=lambda row: row.number)
    return ThrustTable(
        motor=first.motor,
        propeller=first.propeller,
        thrust_gf=column("thrust_gf"),
        current_a=column("current_a"),
        voltage_v=volts,
        power_w=column("power_w"),
        throttle_pct=column("throttle_pct"),
        speed_rpm=column("speed_rpm"),
        row=tuple(row.number for row in rows),
        source=source,
        supply_v=label.value if label is not None and held else float(volts.max()),
    )


def _unstated_unit(rows: list[Row], name: str) -> list[Problem]:
    """Thrust without a stated unit that gram-force makes absurd."""
    loads = [row.value("thrust_gf") / row.value("power_w") for row in rows]
    middle = float(np.median(loads))
    if LEAST_GF_W <= middle <= MOST_GF_W or "thrust_gf" not in rows[0].unstated:
        return []
    return [
        Problem(
            f"no unit is stated for thrust, and gram-force would give {middle:.3g} g/W; write the "
            "unit into the heading.",
            f'{name}, column "{rows[0].headings["thrust_gf"]}"',
        )
    ]


def _up_to_highest(rows: list[Row], name: str, notices: list[Problem]) -> list[Row]:
    """Rows up to the highest thrust: sag and heat can make thrust fall at the last throttle steps."""
    top = max(rows, key=lambda r: (r.value("thrust_gf"), -r.value("power_w")))
    beyond = [
        row
        for row in rows
        if row.value("thrust_gf") < top.value("thrust_gf")
        and (
            row.value("throttle_pct") > top.value("throttle_pct")
            or row.value("power_w") > top.value("power_w")
        )
    ]
    if beyond:
        notices.append(
            Problem(
                f"thrust is below the highest ({top.value('thrust_gf'):g} gf in row {top.number}) at "
                "more throttle or power (sag or heat can do this); left out.",
                _rows(name, [row.number for row in beyond]),
            )
        )
    return [row for row in rows if row not in beyond]


def _merged(rows: list[Row], name: str, notices: list[Problem]) -> list[Row]:
    """Rows by rising thrust, those of equal thrust made one."""
    by_thrust: dict[float, list[Row]] = defaultdict(list)
    for row in sorted(rows, key=lambda r: (r.value("thrust_gf"), r.value("power_w"), r.number)):
        by_thrust[round(row.value("thrust_gf"), 6)].append(row)
    merged: list[Row] = []
    for same in by_thrust.values():
        first = same[0]
        if len(same) > 1:
            alike = all(row.figures == first.figures for row in same[1:])
            words = "the row is repeated; one is kept." if alike else "the mean is used."
            notices.append(
                Problem(
                    f"thrust of {first.value('thrust_gf'):g} gf stands in {len(same)} rows; {words}",
                    _rows(name, [row.number for row in same]),
                )
            )
            if not alike:
                first = replace(first, figures=_mean(same))
        merged.append(first)
    return merged


def _mean(rows: list[Row]) -> dict[str, Figure]:
    figures = {}
    for key in rows[0].figures:
        values = [row.figures[key] for row in rows if key in row.figures]
        figures[key] = Figure(
            math.fsum(f.value for f in values) / len(values), max(f.half_step for f in values)
        )
    return figures
