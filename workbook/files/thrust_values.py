"""Cells of a thrust table into figures in the workbook's units, each doubt settled and said."""

from __future__ import annotations

import itertools
import math
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

from workbook.errors import Problem
from workbook.files.thrust_blocks import Block, Blocks
from workbook.files.thrust_headings import QUANTITIES, clean_unit
from workbook.parse import NumberReading, NumberText, is_blank, plain, read_number

NOMINAL_CELL_V = 3.7
"""Nominal voltage that "4S" stands for, per cell in series: common practice, no source."""


@dataclass(frozen=True)
class Figure:
    """One figure in the workbook's unit, with half of its last printed place."""

    value: float
    half_step: float = 0.0


@dataclass
class Row:
    """One row of figures.

    Attributes:
        number: row in the file.
        block: index of its heading block.
        motor, propeller: labels that hold for it.
        supply_v: voltage label that holds for it, where there is one.
        figures: by quantity.
        headings: heading text by quantity, for messages.
        unstated: quantities whose unit neither the heading nor the cell states.
    """

    number: int
    block: int
    motor: str
    propeller: str
    supply_v: Figure | None
    figures: dict[str, Figure]
    headings: dict[str, str]
    unstated: frozenset[str] = frozenset()

    def value(self, quantity: str) -> float:
        """A figure, NaN where blank."""
        figure = self.figures.get(quantity)
        return math.nan if figure is None else figure.value

    def half(self, quantity: str) -> float:
        """Half of the last printed place of a figure."""
        figure = self.figures.get(quantity)
        return 0.0 if figure is None else figure.half_step


@dataclass
class _Cell:
    """One cell that holds a number, before its reading is settled."""

    column: tuple[str, str]
    heading: str
    number: NumberText
    unit: str
    row: int
    reading: NumberReading


@dataclass
class Rows:
    """The figures of a file, with what was said on the way."""

    rows: list[Row] = field(default_factory=list)
    notices: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def supply_voltage(text: str) -> Figure | None:
    """The voltage that a label states: "22.2 V", "14,8", or "4S" as four nominal cells.

    Example:
        >>> supply_voltage("4S").value
        14.8
    """
    text = plain(text).casefold()
    match = re.search(r"(\d{1,3}(?:[.,]\d{1,3})?)\s*(?:v|volts?)\b", text) or re.fullmatch(
        r"(\d{1,3}(?:[.,]\d{1,3})?)", text
    )
    if match:
        digits = match[1].replace(",", ".")
        return Figure(float(digits), 0.5 * 10.0 ** -len(digits.partition(".")[2]))
    cells = re.search(r"(?<!\d)(\d{1,2})\s*s(?![a-z])", text)
    return Figure(round(int(cells[1]) * NOMINAL_CELL_V, 1), 0.05) if cells else None


def _unit_in_cell(number: NumberText) -> str:
    return clean_unit(re.sub(r"\(.*?\)", "", number.unit))


def _read_cells(
    block: Block, name: str, out: Rows
) -> tuple[list[dict[str, _Cell]], list[dict[str, Figure]]]:
    """Number cells by row, and voltages given as cells in series."""
    cells: list[dict[str, _Cell]] = []
    fixed: list[dict[str, Figure]] = []
    for row in block.rows:
        line: dict[str, _Cell] = {}
        known: dict[str, Figure] = {}
        for heading, text in zip(block.headings, row.cells, strict=True):
            if not heading.numeric or is_blank(text):
                continue
            number = read_number(text)
            quantity = QUANTITIES[heading.quantity]
            where = f'{name}, row {row.number}, column "{heading.text}"'
            if number is None:
                out.problems.append(Problem(_not_a_number(quantity.name, str(text)), where))
                continue
            unit = _unit_in_cell(number)
            if heading.quantity == "voltage_v" and unit and unit not in quantity.units:
                supply = supply_voltage(str(text))
                if supply is not None:
                    known["voltage_v"] = supply
                    continue
            if unit and unit not in quantity.units:
                out.problems.append(Problem(_not_a_number(quantity.name, str(text)), where))
                continue
            line[heading.quantity] = _Cell(
                (heading.quantity, unit or heading.unit),
                heading.text,
                number,
                unit or heading.unit,
                row.number,
                number.readings[0],
            )
        cells.append(line)
        fixed.append(known)
    return cells, fixed


def _not_a_number(name: str, text: str) -> str:
    hint = ""
    bare = text.strip()
    if re.search(r"\d", bare) and re.search(r"[oOlI]", bare):
        hint = " (a letter O or l may stand for 0 or 1)"
    elif re.fullmatch(r"\d{1,4}[-/]\d{1,2}([-/]\d{1,4})?|\d{1,2}[-. ][A-Za-z]{3,}", bare):
        hint = " (a spreadsheet may have made a date of it)"
    return f'{name} is "{bare[:40]}"; a number is needed{hint}.'


def _factor(cell: _Cell) -> float:
    quantity = QUANTITIES[cell.column[0]]
    return quantity.units[cell.unit or quantity.usual.casefold()]


def _spread(values: list[float]) -> float:
    positive = [value for value in values if value > 0]
    return math.log(max(positive) / min(positive)) if positive else 0.0


def _near(a: float, b: float) -> bool:
    return abs(a - b) <= 0.2 * max(abs(a), abs(b))


def _agreements(line: dict[str, float]) -> int:
    """How many checks a row passes: power = V x I, thrust / power = g/W, a possible g/W."""
    volts, amps, watts = (line.get(k, math.nan) for k in ("voltage_v", "current_a", "power_w"))
    thrust, stated = line.get("thrust_gf", math.nan), line.get("efficiency_gf_w", math.nan)
    count = 0
    if volts > 0 and amps > 0:
        count += watts > 0 and _near(watts, volts * amps)
        watts = watts if watts > 0 else volts * amps
    if thrust > 0 and watts > 0:
        count += 0.3 <= thrust / watts <= 40.0
        count += stated > 0 and _near(stated, thrust / watts)
    return count


Choice = tuple[tuple[str, str], str]
"""A column (quantity, unit) and the mark in it that is ambiguous."""


def _pick(cell: _Cell, hypothesis: dict[Choice, bool]) -> NumberReading:
    """The reading of a cell under a hypothesis; True stands for thousands."""
    if not cell.number.mark:
        return cell.number.readings[0]
    return cell.number.readings[0 if hypothesis[cell.column, cell.number.mark] else 1]


def _from_own_column(cells: list[_Cell], mark: str) -> bool | None:
    """What the certain cells of the same column say: thousands, decimal, or nothing."""
    certain = [cell.number.readings[0] for cell in cells if not cell.number.mark]
    decimal = any(reading.decimal_mark == mark for reading in certain)
    thousands = any(reading.thousands_mark == mark for reading in certain) or any(
        reading.decimal_mark not in ("", mark) for reading in certain
    )
    return None if decimal == thousands else thousands


Hypothesis = dict[Choice, bool]


def _from_range(cells: list[_Cell], mark: str) -> bool | None:
    """What the range of any table's figures says of a mark: thousands, decimal, or nothing."""
    quantity = QUANTITIES[cells[0].column[0]]
    possible = []
    for index in (0, 1):
        values = [
            abs(cell.number.readings[index].value * _factor(cell))
            for cell in cells
            if cell.number.mark == mark
        ]
        possible.append(all(quantity.low <= v <= quantity.high for v in values if v))
    return None if possible[0] == possible[1] else possible[0]


def _narrow(
    living: list[Hypothesis],
    lines: list[dict[str, _Cell]],
    columns: dict[tuple[str, str], list[_Cell]],
) -> Iterator[tuple[str, list[Hypothesis]]]:
    """What is left after each kind of evidence, strongest first, with the reason to give."""
    sample = lines[:: 1 + len(lines) // 500]
    counts = [
        sum(
            _agreements({key: _pick(c, h).value * _factor(c) for key, c in line.items()})
            for line in sample
        )
        for h in living
    ]
    living = [h for h, count in zip(living, counts, strict=True) if count == max(counts)]
    yield "power, voltage x current and g/W agree only so", living
    spreads = [
        sum(_spread([_pick(c, h).value for c in cells]) for cells in columns.values())
        for h in living
    ]
    least = min(spreads) + math.log(5)
    living = [h for h, spread in zip(living, spreads, strict=True) if spread < least]
    yield "as the size of the other cells of the column shows", living
    marks = {
        cell.number.readings[0].decimal_mark
        for line in lines
        for cell in line.values()
        if not cell.number.mark and cell.number.readings[0].decimal_mark
    }
    if len(marks) == 1:
        alike = [
            h for h in living if all(sep == (mark not in marks) for (_, mark), sep in h.items())
        ]
        yield "as the other columns write decimals", alike or living


def _settle(lines: list[dict[str, _Cell]], name: str, out: Rows) -> None:
    """Choose between 1250 and 1.25 wherever a cell allows both; say how, or that nothing tells."""
    columns: dict[tuple[str, str], list[_Cell]] = defaultdict(list)
    examples: dict[Choice, _Cell] = {}
    for line in lines:
        for cell in line.values():
            columns[cell.column].append(cell)
            if cell.number.mark:
                examples.setdefault((cell.column, cell.number.mark), cell)
    if not examples:
        return
    settled: Hypothesis = {}
    why: dict[Choice, str] = {}
    for choice in examples:
        column, mark = choice
        for evidence, reason in (
            (_from_own_column, "as the other cells of the column show"),
            (_from_range, "the other reading is out of any table's range"),
        ):
            reading = evidence(columns[column], mark)
            if reading is not None and choice not in settled:
                settled[choice], why[choice] = reading, reason
    open_choices = [choice for choice in examples if choice not in settled]
    if len(open_choices) > 10:
        out.problems.append(
            Problem("too many columns mix points and commas; write plain numbers.", name)
        )
        return
    living = [
        settled | dict(zip(open_choices, readings, strict=True))
        for readings in itertools.product((True, False), repeat=len(open_choices))
    ]
    for reason, left in _narrow(living, lines, columns) if open_choices else ():
        living = left
        for choice in open_choices:
            if len({h[choice] for h in living}) == 1:
                why.setdefault(choice, reason)
    for choice, cell in examples.items():
        _say_reading(cell, {h[choice] for h in living}, why.get(choice, ""), name, out)
        for other in columns[choice[0]]:
            if other.number.mark == choice[1]:
                other.reading = _pick(other, living[0])


def _say_reading(cell: _Cell, readings: set[bool], why: str, name: str, out: Rows) -> None:
    where = f'{name}, row {cell.row}, column "{cell.heading}"'
    thousands, decimal = cell.number.readings
    if len(readings) > 1:
        out.problems.append(
            Problem(
                f'{QUANTITIES[cell.column[0]].name} "{cell.number.text}" may be '
                f"{thousands.value:g} or {decimal.value:g}, and no other figure tells which; "
                "write it without a thousands mark.",
                where,
            )
        )
        return
    chosen = thousands if readings == {True} else decimal
    sign = "point" if cell.number.mark == "." else "comma"
    role = "a thousands mark" if chosen is thousands else "a decimal mark"
    out.notices.append(
        Problem(
            f'"{cell.number.text}" is read as {chosen.value:g} (the {sign} is {role}): {why}.',
            where,
        )
    )


def _say_units(block: Block, lines: list[dict[str, _Cell]], name: str, out: Rows) -> None:
    """Name every column whose unit nobody states, and every column that is not used."""
    where = f"{name}, row {block.heading_row}"
    unused = [h for h in block.headings if not h.quantity and h.text]
    for words, known in (("not used", True), ("not known and not used", False)):
        names = [f'"{h.text}"' for h in unused if h.known == known]
        if names:
            out.notices.append(
                Problem(
                    f"column{'s' if len(names) > 1 else ''} {', '.join(names)}: {words}.", where
                )
            )
    for heading in block.headings:
        if heading.numeric and heading.quantity != "throttle_pct":
            quantity = QUANTITIES[heading.quantity]
            bare = [c for line in lines if (c := line.get(heading.quantity)) and not c.unit]
            if bare:
                out.notices.append(
                    Problem(
                        f"no unit is stated for {quantity.name}; taken in {quantity.usual}.",
                        f'{where}, column "{heading.text}"',
                    )
                )


def _throttle(
    lines: list[dict[str, _Cell]], block: Block, name: str, out: Rows
) -> tuple[float, float]:
    """Factor and offset that make a throttle column a percentage."""
    cells = [c for line in lines if (c := line.get("throttle_pct"))]
    if not cells:
        return 1.0, 0.0
    values = [c.reading.value for c in cells]
    units = {c.unit for c in cells}
    percent_in_cell = any(_unit_in_cell(c.number) for c in cells)
    where = f'{name}, row {block.heading_row}, column "{cells[0].heading}"'
    if 0 < max(values) <= 1.0 and not percent_in_cell:
        out.notices.append(Problem("throttle of 0 to 1 is taken as 0 to 100 %.", where))
        return 100.0, 0.0
    factors = {QUANTITIES["throttle_pct"].units.get(unit, 0.0) for unit in units}
    if factors == {0.1} or (factors == {0.0} and min(values) >= 800 and max(values) <= 2200):
        out.notices.append(
            Problem("throttle in us is taken as 1000 us = 0 % and 2000 us = 100 %.", where)
        )
        return 0.1, -100.0
    if factors == {0.0} and max(values) <= 100:
        out.notices.append(Problem("no unit is stated for throttle; taken in %.", where))
    for cell in cells:
        if not -0.5 <= cell.reading.value <= 105:
            out.problems.append(
                Problem(
                    f"throttle is {cell.reading.value:g}; 0 to 100 %, 0 to 1 or 1000 to 2000 us is "
                    "needed.",
                    f'{name}, row {cell.row}, column "{cell.heading}"',
                )
            )
    return 1.0, 0.0


def _figures(
    line: dict[str, _Cell], throttle: tuple[float, float], name: str, out: Rows
) -> dict[str, Figure]:
    figures: dict[str, Figure] = {}
    for key, cell in line.items():
        quantity, reading = QUANTITIES[key], cell.reading
        where = f'{name}, row {cell.row}, column "{cell.heading}"'
        factor, offset = throttle if key == "throttle_pct" else (_factor(cell), 0.0)
        value = reading.value * factor + offset
        if reading.value < 0:
            out.problems.append(
                Problem(f"{quantity.name} is {reading.value:g}; it cannot be below 0.", where)
            )
        elif value > quantity.high and key != "throttle_pct":
            out.problems.append(
                Problem(
                    f"{quantity.name} is {value:.6g} {quantity.usual}; no more than "
                    f"{quantity.high:g} can be right: check the unit.",
                    where,
                )
            )
        figures[key] = Figure(value, reading.half_step * factor)
    return figures


def _fill_voltage_down(block: Block, rows: list[Row], name: str, out: Rows) -> None:
    """A voltage in a merged cell stands in its first row only and holds for those below."""
    column = block.column("voltage_v")
    if column is None:
        return
    empty = [not str(row.cells[column]).strip() for row in block.rows]
    if not any(empty) or sum(empty) < 0.5 * len(empty):
        return
    current: Figure | None = None
    filled: list[int] = []
    for row, is_empty in zip(rows, empty, strict=True):
        if not is_empty:
            current = row.figures.get("voltage_v")
        elif current is not None:
            row.figures["voltage_v"] = current
            filled.append(row.number)
        row.supply_v = current or row.supply_v
    if filled:
        out.notices.append(
            Problem(
                f"voltage stands in few rows and is filled down to rows {spans(filled)}.",
                f'{name}, column "{block.headings[column].text}"',
            )
        )


def spans(numbers: list[int]) -> str:
    """Row numbers as a short text.

    Example:
        >>> spans([3, 4, 5, 9])
        '3 to 5, 9'
    """
    parts: list[list[int]] = []
    for number in sorted(set(numbers)):
        if parts and number == parts[-1][-1] + 1:
            parts[-1].append(number)
        else:
            parts.append([number])
    texts = [
        f"{p[0]} to {p[-1]}" if len(p) > 2 else ", ".join(str(number) for number in p)
        for p in parts
    ]
    return ", ".join(texts[:8]) + (f" and {len(texts) - 8} more" if len(texts) > 8 else "")


def read_rows(found: Blocks, name: str) -> Rows:
    """Figures of every row of every block, in the workbook's units.

    Args:
        found: blocks of cells.
        name: file name, for messages.
    """
    out = Rows()
    read = [_read_cells(block, name, out) for block in found.blocks]
    _settle([line for lines, _ in read for line in lines], name, out)
    for index, (block, (lines, fixed)) in enumerate(zip(found.blocks, read, strict=True)):
        _say_units(block, lines, name, out)
        throttle = _throttle(lines, block, name, out)
        headings = {
            heading.quantity: heading.text for heading in block.headings if heading.quantity
        }
        rows = [
            Row(
                row.number,
                index,
                labels.get("motor", ""),
                labels.get("propeller", ""),
                supply_voltage(labels.get("voltage_v", "")),
                _figures(line, throttle, name, out) | known,
                headings,
                frozenset(key for key, cell in line.items() if not cell.unit),
            )
            for row, labels, line, known in zip(block.rows, block.labels, lines, fixed, strict=True)
        ]
        if any(fixed):
            out.notices.append(
                Problem(
                    f"cells in series are taken at {NOMINAL_CELL_V} V each.",
                    f"{name}, row {block.heading_row}",
                )
            )
        _fill_voltage_down(block, rows, name, out)
        out.rows += rows
    return out
