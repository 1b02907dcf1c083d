"""Rows of a thrust table as figures in the workbook's units; each doubt is settled, with a notice."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workbook.errors import Problem
from workbook.files.columns import (
    Numbers,
    by_own_column,
    by_range,
    by_spread,
    factors,
    measures,
    not_a_number,
    read_numbers,
    spans,
)
from workbook.files.thrust_blocks import THRUST, ThrustBlock, ThrustGrid
from workbook.numbers import FloatArray
from workbook.parse import plain

NOMINAL_CELL_V = 3.7
"""Nominal voltage that "4S" means, per cell in series: common practice, no source."""
LEAST_GF_W, MOST_GF_W = 0.3, 40.0
"""Thrust per watt outside which a unit must be wrong; 3 to 13 g/W is usual (common practice)."""
KEYS = tuple(key for key, measure in measures(THRUST).items() if measure.usual)
SETTLED_FIRST = ("voltage_v", "current_a", "power_w", "efficiency_gf_w", "thrust_gf")
"""In which order columns are settled, so that each can be held against those before it."""


def half(key: str) -> str:
    """The column with half of the last printed place of a quantity."""
    return f"{key} half"


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows of a table: columns of one length, by name.

    Example:
        >>> rows = Rows({"block": np.array([1, 0, 1]), "thrust_gf": np.array([500.0, 90.0, 200.0])})
        >>> [len(same) for same in rows.groups(rows["block"])]
        [2, 1]
        >>> rows.take(rows["block"] == 1).by("thrust_gf")["thrust_gf"]
        array([200., 500.])
    """

    columns: dict[str, NDArray[Any]]

    def __len__(self) -> int:
        """How many rows."""
        return len(next(iter(self.columns.values())))

    def __getitem__(self, key: str) -> NDArray[Any]:
        """A column."""
        return self.columns[key]

    def take(self, which: NDArray[Any] | list[int]) -> Rows:
        """Some of the rows, copied: where a mask is true, or by their places."""
        return Rows({key: column[which] for key, column in self.columns.items()})

    def by(self, *keys: str) -> Rows:
        """The rows by rising first column, those equal in it by the second, ...; else as they come."""
        return self.take(np.lexsort([self[key] for key in reversed(keys)]))

    def groups(self, *keys: Iterable[Any]) -> list[Rows]:
        """Rows that have every key the same, in the order of the first of each."""
        places: dict[tuple[Any, ...], list[int]] = {}
        for place, values in enumerate(zip(*keys, strict=True)):
            places.setdefault(values, []).append(place)
        return [self.take(these) for these in places.values()]


@dataclass(eq=False)
class ThrustRows:
    """The rows of a file.

    Attributes:
        name: of the file, for messages.
        frame: a row each, with `number` (row in the file), `block`, the labels `motor`, `propeller`,
            `supply_v`, and each quantity with half of its last printed place.
        headings: of each block, heading text by quantity.
        unstated: of each block, quantities with a figure whose unit nobody states.
        notices, problems: found on the way.
    """

    name: str
    frame: Rows
    headings: list[dict[str, str]]
    unstated: list[set[str]]
    notices: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def where(self, rows: Rows, key: str = "") -> str:
        """The place of some rows, and of a quantity in them, for messages."""
        heading = self.headings[rows["block"][0]].get(key, "")
        column = f', column "{heading}"' if heading else ""
        plural = "rows" if len(set(rows["number"])) > 1 else "row"
        return f"{self.name}, {plural} {spans(rows['number'])}{column}"

    def add_notice(self, text: str, rows: Rows, key: str = "", about: str = "") -> None:
        """Add a notice about some rows, where there are any; a doubt where it is about something."""
        if len(rows):
            self.notices.append(Problem(text, self.where(rows, key), about))

    def add_problem(self, text: str, rows: Rows, key: str = "") -> None:
        """Add a problem of some rows, for which the file is refused."""
        self.problems.append(Problem(text, self.where(rows, key)))


def supply_voltage(text: str) -> tuple[float, float]:
    """The voltage that a label states: "22.2 V", "14,8", or "4S" as four nominal cells; and half its last place.

    Example:
        >>> supply_voltage("4S"), supply_voltage("none")
        ((14.8, 0.05), (nan, 0.0))
    """
    text = plain(text).casefold()
    match = re.search(r"(\d{1,3}(?:[.,]\d{1,3})?)\s*(?:v|volts?)\b", text) or re.fullmatch(
        r"(\d{1,3}(?:[.,]\d{1,3})?)", text
    )
    if match:
        digits = match[1].replace(",", ".")
        return float(digits), 0.5 * 10.0 ** -len(digits.partition(".")[2])
    cells = re.search(r"(?<!\d)(\d{1,2})\s*s(?![a-z])", text)
    return (round(int(cells[1]) * NOMINAL_CELL_V, 1), 0.05) if cells else (np.nan, 0.0)


def read_rows(found: ThrustGrid) -> ThrustRows:
    """Figures of every row of every block, in the workbook's units.

    Args:
        found: blocks of cells.
    """
    texts = _texts(found.blocks)
    out = ThrustRows(
        found.name,
        Rows({key: texts[key] for key in ("number", "block", "motor", "propeller")}),
        [{h.key: h.text for h in block.headings if h.key} for block in found.blocks],
        [set() for _ in found.blocks],
    )
    supply = np.array([supply_voltage(text) for text in texts["label"]], dtype=float).reshape(-1, 2)
    out.frame.columns.update({"supply_v": supply[:, 0], half("supply_v"): supply[:, 1]})
    columns = {key: _Column(out, key, texts, found.blocks) for key in KEYS}
    _settle(columns, out)
    for key, column in columns.items():
        out.frame.columns[key] = column.numbers.value * column.factor
        out.frame.columns[half(key)] = column.numbers.half * column.factor
    for index, block in enumerate(found.blocks):
        places = np.flatnonzero(out.frame["block"] == index)
        _note_columns(block, index, out)
        _throttle(columns["throttle_pct"], index, places, out)
        _fill_voltage_down(block, index, places, out)
    for key in KEYS:
        _check_range(key, columns[key].numbers, out)
    return out


def _texts(blocks: list[ThrustBlock]) -> Rows:
    """The blocks' cells by quantity, as they came, with the labels of each row."""
    columns: dict[str, list[Any]] = defaultdict(list)
    for index, block in enumerate(blocks):
        columns["number"] += [row.number for row in block.rows]
        columns["block"] += [index for _ in block.rows]
        for name, label in (("motor", "motor"), ("propeller", "propeller"), ("label", "voltage_v")):
            columns[name] += [labels.get(label, "") for labels in block.labels]
        for key in KEYS:
            place = next((k for k, h in enumerate(block.headings) if h.key == key), None)
            columns[key] += ["" if place is None else row.cells[place] for row in block.rows]
            unit = "" if place is None else block.headings[place].unit
            columns[f"{key} unit"] += [unit for _ in block.rows]
    kinds = {"number": int, "block": int}
    return Rows({k: np.array(values, dtype=kinds.get(k, object)) for k, values in columns.items()})


class _Column:
    """One quantity's cells of all blocks as numbers, with the factor that each cell's unit asks for."""

    def __init__(self, out: ThrustRows, key: str, texts: Rows, blocks: list[ThrustBlock]) -> None:
        self.key, self.measure, self.texts = key, measures(THRUST)[key], texts[key]
        self.numbers: Numbers = read_numbers(texts[key])
        given, stated = self.numbers.unit.astype(str), texts[f"{key} unit"].astype(str)
        self.unit = np.where(given == "", stated, given)
        self.factor = factors(self.numbers, "", self.measure)
        for unit in set(stated[given == ""]) - {""}:
            self.factor[(given == "") & (stated == unit)] = self.measure.units[unit]
        wrong = self.numbers.wrong | np.isnan(self.factor)
        series = False
        for place in np.flatnonzero(wrong).tolist():
            row = out.frame.take([place])
            volts, step = (
                supply_voltage(str(self.texts[place])) if key == "voltage_v" else (np.nan, 0)
            )
            if volts == volts and not self.numbers.wrong[place]:
                self.numbers.value[place], self.numbers.half[place] = volts, step
                self.factor[place] = 1.0
                series = True
            else:
                text = not_a_number(self.measure.name, str(self.texts[place]))
                out.add_problem(text, row, key)
        self.factor[np.isnan(self.factor)] = 1.0
        if series:
            block = blocks[texts["block"][0]]
            message = f"cells in series are taken at {NOMINAL_CELL_V} V each."
            out.notices.append(Problem(message, f"{out.name}, row {block.heading_row}"))
        bare = texts["block"][(self.unit == "") & ~np.isnan(self.numbers.value)]
        for block_index in set(bare.tolist()):
            out.unstated[block_index].add(key)


# what "1.250" means -------------------------------------------------------------------------------


def _near(a: FloatArray, b: FloatArray) -> NDArray[np.bool_]:
    return np.abs(a - b) <= 0.2 * np.maximum(np.abs(a), np.abs(b))


def _agreements(line: dict[str, FloatArray], size: int) -> int:
    """How many checks the rows pass: power = V x I, thrust / power = g/W, a possible g/W."""
    blank = np.full(size, np.nan)
    thrust, volts, amps, watts, stated = (
        np.where(values > 0, values, np.nan)
        for values in (
            line.get(key, blank)
            for key in ("thrust_gf", "voltage_v", "current_a", "power_w", "efficiency_gf_w")
        )
    )
    product = volts * amps
    count = int(_near(watts, product).sum())
    load = thrust / np.where(np.isnan(watts), product, watts)
    return count + int(
        ((load >= LEAST_GF_W) & (load <= MOST_GF_W)).sum() + _near(stated, load).sum()
    )


def _settle(columns: dict[str, _Column], out: ThrustRows) -> None:
    """Choose between 1250 and 1.25 wherever a cell allows both, with a notice; where nothing decides, that is a problem."""
    marks = {mark for c in columns.values() for mark in c.numbers.decimal[~c.numbers.open]} - {""}
    known = {
        key: c.numbers.value * c.factor for key, c in columns.items() if not c.numbers.open.any()
    }
    for key in (*SETTLED_FIRST, *(key for key in KEYS if key not in SETTLED_FIRST)):
        column, numbers = columns[key], columns[key].numbers
        cells = np.flatnonzero(numbers.open)
        unit, mark = column.unit[cells], numbers.thousands[cells]
        settled = True
        for same in Rows({"cell": cells, "unit": unit, "mark": mark}).groups(unit, mark):
            evidence = _evidence(
                column, column.unit == same["unit"][0], same["mark"][0], known, marks
            )
            settled &= _settle_cells(column, same["cell"], evidence, out)
        if settled:
            known[key] = numbers.value * column.factor


def _evidence(
    column: _Column,
    same_unit: NDArray[np.bool_],
    mark: str,
    known: dict[str, FloatArray],
    marks: set[str],
) -> Iterator[tuple[str, bool | None]]:
    """Evidence for a thousands mark or a decimal mark, the strongest first: the reason, and whether it is a thousands mark."""
    numbers = column.numbers
    cells = numbers.open & same_unit & (numbers.thousands == mark)
    large = np.where(same_unit, numbers.value * column.factor, np.nan)
    small = np.where(cells, numbers.other * column.factor, large)
    certain = same_unit & ~numbers.open
    own = by_own_column(numbers.thousands[certain], numbers.decimal[certain], mark)
    yield "as the other cells of the column show", own
    in_range = by_range(column.measure, large[cells], small[cells])
    yield "the other reading is out of any table's range", in_range
    counts = [_agreements(known | {column.key: values}, len(values)) for values in (large, small)]
    agree = None if counts[0] == counts[1] else counts[0] > counts[1]
    yield "power, voltage x current and g/W agree only so", agree
    yield "as the size of the other cells of the column shows", by_spread(large, small)
    yield "as the other columns write decimals", mark not in marks if len(marks) == 1 else None


def _settle_cells(
    column: _Column,
    cells: NDArray[np.int_],
    evidence: Iterator[tuple[str, bool | None]],
    out: ThrustRows,
) -> bool:
    """Settle the cells of one column that have one mark; False when nothing decides."""
    numbers, first = column.numbers, cells[0]
    row, text = out.frame.take([int(first)]), str(column.texts[first]).strip()
    large, small = numbers.value[first], numbers.other[first]
    why, thousands = next(((w, says) for w, says in evidence if says is not None), ("", None))
    if thousands is None:
        message = (
            f'{column.measure.name} "{text}" may be {large:g} or {small:g}, and no other figure '
            "tells which; write it without a thousands mark."
        )
        out.add_problem(message, row, column.key)
        return False
    if not thousands:
        numbers.value[cells], numbers.half[cells] = numbers.other[cells], 0.0005
    sign = "point" if numbers.thousands[first] == "." else "comma"
    role = "a thousands mark" if thousands else "a decimal mark"
    message = (
        f'"{text}" is read as {large if thousands else small:g} (the {sign} is {role}): {why}.'
    )
    out.add_notice(message, row, column.key)
    return True


# columns ------------------------------------------------------------------------------------------


def _note_columns(block: ThrustBlock, index: int, out: ThrustRows) -> None:
    """Add a notice about every column without a stated unit, and every column that is not used."""
    where = f"{out.name}, row {block.heading_row}"
    unused = [h for h in block.headings if not h.key and h.text]
    for words, known in (("not used", True), ("not known and not used", False)):
        names = [f'"{h.text}"' for h in unused if h.known == known]
        if names:
            message = f"column{'s' if len(names) > 1 else ''} {', '.join(names)}: {words}."
            out.notices.append(Problem(message, where))
    for heading in block.headings:
        if heading.key in out.unstated[index] and heading.key != "throttle_pct":
            measure = measures(THRUST)[heading.key]
            message = f"no unit is stated for {measure.name}; taken in {measure.usual}."
            out.notices.append(Problem(message, f'{where}, column "{heading.text}"'))


def _throttle(column: _Column, index: int, places: NDArray[np.intp], out: ThrustRows) -> None:
    """Make a throttle column of a block a percentage."""
    key = "throttle_pct"
    places = places[~np.isnan(out.frame[key][places])]
    if not len(places):
        return
    values, units = column.numbers.value[places], set(column.unit[places])
    in_us = {unit for unit in units if column.measure.units.get(unit) == 0.1}
    heading = out.headings[index][key]

    def rescale(text: str, factor: float, offset: float) -> None:
        out.notices.append(Problem(text, f'{out.name}, column "{heading}"'))
        out.frame[key][places] = values * factor + offset

    if 0 < values.max() <= 1.0 and not any(column.numbers.unit[places]):
        rescale("throttle of 0 to 1 is taken as 0 to 100 %.", 100.0, 0.0)
    elif in_us == units or (units == {""} and values.min() >= 800 and values.max() <= 2200):
        rescale("throttle in us is taken as 1000 us = 0 % and 2000 us = 100 %.", 0.1, -100.0)
    else:
        if units == {""} and values.max() <= 100:
            rescale("no unit is stated for throttle; taken in %.", 1.0, 0.0)
        out.frame[key][places] = values
        for place in places[(values < -0.5) | (values > 105)].tolist():
            message = f"throttle is {column.numbers.value[place]:g}; 0 to 100 %, 0 to 1 or 1000 to 2000 us is needed."
            out.add_problem(message, out.frame.take([place]), key)


def _check_range(key: str, numbers: Numbers, out: ThrustRows) -> None:
    """Refuse figures that no table has."""
    measure, values = measures(THRUST)[key], out.frame[key]
    for place in np.flatnonzero(numbers.value < 0).tolist():
        message = f"{measure.name} is {numbers.value[place]:g}; it cannot be below 0."
        out.add_problem(message, out.frame.take([place]), key)
    if key != "throttle_pct":
        for place in np.flatnonzero(values > measure.high).tolist():
            message = (
                f"{measure.name} is {values[place]:.6g} {measure.usual}; no more than "
                f"{measure.high:g} can be right: check the unit."
            )
            out.add_problem(message, out.frame.take([place]), key)


def _fill_voltage_down(
    block: ThrustBlock, index: int, places: NDArray[np.intp], out: ThrustRows
) -> None:
    """A voltage in a merged cell is in its first row only and holds for those below."""
    key = "voltage_v"
    column = next((k for k, h in enumerate(block.headings) if h.key == key), None)
    empty = np.array(
        [column is not None and not str(row.cells[column]).strip() for row in block.rows]
    )
    if not empty.any() or empty.mean() < 0.5:
        return
    stated = ~empty & ~np.isnan(out.frame[key][places])
    above = np.maximum.accumulate(np.where(stated, np.arange(len(places)), -1))
    known = above >= 0
    for name, of in (("supply_v", key), (key, key)):
        for part in (str, half):
            values = out.frame[part(of)][places[above[known]]]
            out.frame[part(name)][places[known]] = values
    filled = places[empty & known]
    if len(filled):
        message = f"voltage stands in few rows and is filled down to rows {spans(out.frame['number'][filled])}."
        heading = out.headings[index][key]
        out.notices.append(Problem(message, f'{out.name}, column "{heading}"'))
