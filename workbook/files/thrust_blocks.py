"""A thrust table's text into blocks: one heading row, the rows under it, and the labels that hold for each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from workbook.errors import InputError, Problem
from workbook.files.columns import OTHER_UNITS, Heading, all_units, clean_unit, measures, recognise
from workbook.files.delimited import SEPARATORS, GridRow, rows_of
from workbook.parse import RawCell, is_blank, plain, read_number

TYPED = ""
"""Stands for a separator where cells were typed into a grid: every filled row is a data row."""
MOST_TABLES = 500
"""In one file: a maker's whole range of motors, each on ten propellers, has fewer."""
THRUST = "thrust"
"""The kind of table, in the table of headings."""
LABELS = ("motor", "propeller", "voltage_v")
_THRUST_WORD = re.compile(
    r"thrust|pull|lift|schub|pouss|empuje|spinta|推力|拉力|gram|kgf|gf\b|newton|ounce|pound|lbf|ozf"
)
_PROPELLER = re.compile(
    r"(?<![\d.,])\d{1,3}(?:[.,]\d{1,2})?\s*(?:\"|''|in|inch)?\s*[x×*]\s*\d{1,2}(?:[.,]\d{1,2})?"
    r"(?:\s*[x×*]\s*\d)?[a-z]{0,3}(?!\d|[.,]\d)",
    re.I,
)
_VOLTAGE = re.compile(
    r"(?<![\d.,])\d{1,3}(?:[.,]\d{1,2})?\s*(?:v|volts?)\b|(?<![\d.,])\d{1,2}\s*s\b", re.I
)
_STATED = re.compile(
    r"\b(motor|prop(?:eller)?|voltage|supply|battery)(?:\s+(?:type|size|model|name|voltage))?\s*[:=]\s*"
    r"([^;|=]+?)(?=$|[;|,]\s|\s+(?:motor|prop(?:eller)?|voltage|supply|battery)[\w ]{0,9}[:=])",
    re.I,
)
_STATED_KEY = {"motor": "motor", "prop": "propeller", "propeller": "propeller"}
_NOMINAL = re.compile(r"nominal|supply|battery|rated|cells")


@dataclass(eq=False)
class ThrustBlock:
    """One heading row with the rows under it.

    Attributes:
        headings: one a column; of the key `supply_v` for a stated voltage beside a measured one.
        heading_row: row of the headings in the file.
        places: of the headings in their line, when columns are lined up with spaces.
        rows: data rows, as wide as the headings.
        labels: for each row the motor, propeller and voltage text that holds for it.
    """

    headings: tuple[Heading, ...]
    heading_row: int
    places: tuple[tuple[int, int], ...] = ()
    rows: list[GridRow] = field(default_factory=list)
    labels: list[dict[str, str]] = field(default_factory=list)

    @property
    def leading(self) -> int:
        """How many columns of names come before the first figures."""
        keys = [heading.key for heading in self.headings]
        names = (*LABELS, "supply_v")
        return next((k for k, key in enumerate(keys) if key not in names), len(keys))


@dataclass(eq=False)
class ThrustGrid:
    """Everything found in a text: blocks, lines between them, and messages."""

    name: str
    blocks: list[ThrustBlock] = field(default_factory=list)
    notices: list[Problem] = field(default_factory=list)
    skipped: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    nearest_headings: tuple[str, ...] = ()

    def where(self, row: GridRow) -> str:
        """A row's place, for messages."""
        return f"{self.name}, row {row.number}"


def find_blocks(rows: Sequence[GridRow], separator: str, name: str) -> ThrustGrid:
    """Heading rows, the data rows under each and the labels that hold for them.

    Args:
        rows: the grid.
        separator: how the text was split, or TYPED; lines split at single spaces have their
            headings joined again.
        name: file name, for messages.
    """
    found = ThrustGrid(name)
    labels: dict[str, str] = {}
    block: ThrustBlock | None = None
    rows = [row for row in rows if row.text]
    for index, row in enumerate(rows):
        headings = _as_headings(rows, index, separator)
        if headings is not None:
            units = _with_units(headings, rows[index + 1]) if index + 1 < len(rows) else None
            block = ThrustBlock(
                _one_column_each(units or headings, found, row), row.number, row.places
            )
            found.blocks.append(block)
            refuse_many(len(found.blocks), name)
        elif block is not None and _is_units(row) and not block.rows:
            continue
        elif block is None or not _add_data_row(found, block, row, labels, separator):
            _note(found, block, row, labels)
    return found


def refuse_many(tables: int, name: str) -> None:
    """Refuse a file of more tables than anybody chooses from.

    Raises:
        InputError: it has.
    """
    if tables > MOST_TABLES:
        message = (
            f"there are more than {MOST_TABLES} tables; keep those of the motors that you use."
        )
        raise InputError(message, name)


def _note(
    found: ThrustGrid, block: ThrustBlock | None, row: GridRow, labels: dict[str, str]
) -> None:
    """A line that is neither headings nor figures: what it states holds for the rows below it."""
    stated = _stated(row)
    labels.update(stated)
    if stated:
        phrase = ", ".join(f"{measures(THRUST)[key].name} {stated[key]}" for key in sorted(stated))
        message = f"{phrase} is taken from this line for the rows below it."
        found.notices.append(Problem(message, found.where(row)))
    elif block is not None and _numeric_cells(row):
        message = f'read as a note, not as a row: "{row.text[:60]}".'
        found.notices.append(Problem(message, found.where(row)))
    texts = tuple(text for cell in row.cells if (text := plain(str(cell))))
    if block is None and not found.nearest_headings and len(texts) > 2 and not _numeric_cells(row):
        found.nearest_headings = texts


def _numeric_cells(row: GridRow) -> int:
    return sum(not is_blank(cell) and read_number(cell) is not None for cell in row.cells)


# headings -----------------------------------------------------------------------------------------


def _as_headings(rows: Sequence[GridRow], index: int, separator: str) -> tuple[Heading, ...] | None:
    """A row as headings, when it holds thrust and another figure."""
    row = rows[index]
    if not _THRUST_WORD.search(row.text.casefold()):
        return None
    cells = [plain(str(cell)) for cell in row.cells]
    if separator == " ":
        below = [len(r.cells) for r in rows[index + 1 : index + 5] if _numeric_cells(r) > 1]
        cells = _joined(cells, max(below, default=len(cells)))
    headings = tuple(recognise(cell, THRUST) for cell in cells)
    read = {heading.key for heading in headings if heading.numeric}
    return headings if "thrust_gf" in read and len(read) > 1 else None


def _joined(words: Sequence[str], count: int) -> list[str]:
    """Words of a heading line joined into headings that are known, as near as can be to `count` of them."""
    parts: list[str] = []
    for word in words:
        if parts and word.startswith(("(", "[")):
            parts[-1] += " " + word
        else:
            parts.append(word)

    def nonsense(cells: list[str]) -> tuple[int, int]:
        headings = [recognise(cell, THRUST) for cell in cells]
        keys = [heading.key for heading in headings if heading.key]
        unknown = sum(not (heading.key or heading.known) for heading in headings)
        return unknown + len(keys) - len(set(keys)), abs(len(cells) - count)

    return min((_longest_known(parts, most) for most in (4, 3, 2, 1)), key=nonsense)


def _longest_known(parts: Sequence[str], most: int) -> list[str]:
    cells: list[str] = []
    start = 0
    while start < len(parts):
        runs = {n: " ".join(parts[start : start + n]) for n in range(most, 0, -1)}
        length = next((n for n, run in runs.items() if recognise(run, THRUST).key), 1)
        cells.append(runs[length])
        start += length
    return cells


def _is_units(row: GridRow) -> bool:
    units = [clean_unit(str(cell)) for cell in row.cells if plain(str(cell))]
    return all(unit in all_units(THRUST) or unit in OTHER_UNITS for unit in units)


def _with_units(headings: tuple[Heading, ...], row: GridRow) -> tuple[Heading, ...] | None:
    """Headings completed by a second heading row that holds units only."""
    if not _is_units(row):
        return None
    units = [clean_unit(str(cell)) for cell in row.cells] + [""] * len(headings)
    return tuple(
        recognise(f"{heading.text} ({unit})", THRUST) if unit and not heading.unit else heading
        for heading, unit in zip(headings, units, strict=False)
    )


def _one_column_each(
    headings: tuple[Heading, ...], found: ThrustGrid, row: GridRow
) -> tuple[Heading, ...]:
    """Keep the first column of each quantity, with a notice about the others."""
    keys = [heading.key for heading in headings if heading.key]
    tables = keys.count("thrust_gf")
    if tables > 1 and keys == keys[: len(keys) // tables] * tables and len(keys) > tables:
        message = (
            f"{tables} tables stand side by side under these headings; put them one below the other, "
            "each with its headings and its propeller."
        )
        found.problems.append(Problem(message, found.where(row)))
    nominal = [
        heading.key == "voltage_v" and bool(_NOMINAL.search(heading.text.casefold()))
        for heading in headings
    ]
    first: dict[str, int] = {}
    for index in sorted(range(len(headings)), key=lambda k: nominal[k]):
        first.setdefault(headings[index].key, index)
    kept: list[Heading] = []
    for index, heading in enumerate(headings):
        if heading.key and first[heading.key] != index:
            message = f'column "{heading.text}" is taken as the stated supply voltage.'
            if not nominal[index]:
                message = (
                    f'column {index + 1}, "{heading.text}", is not used: '
                    f'{measures(THRUST)[heading.key].name} is read from "{headings[first[heading.key]].text}".'
                )
            found.notices.append(Problem(message, found.where(row)))
            key = "supply_v" if nominal[index] else ""
            heading = replace(heading, text="", key=key, numeric=False)
        kept.append(heading)
    return tuple(kept)


def _stated(row: GridRow) -> dict[str, str]:
    """Labels that a line between tables states: "Propeller: 14x4.8", "Voltage, 22.2 V", "4S"."""
    cells = [plain(str(cell)).strip("# ") for cell in row.cells if plain(str(cell)).strip("# ")]
    found: dict[str, str] = {}
    for cell, following in zip(cells, [*cells, ""][1:], strict=True):
        key = recognise(cell, THRUST).key
        if key in LABELS and following and len(cells) <= 6:
            found[key] = following.strip(" :")
        for match in _STATED.finditer(cell):
            found[_STATED_KEY.get(match[1].casefold(), "voltage_v")] = match[2].strip(" .,")
    if len(cells) == 1 and len(cells[0]) <= 80:
        for key, pattern in (("propeller", _PROPELLER), ("voltage_v", _VOLTAGE)):
            matches = pattern.findall(cells[0])
            if len(matches) == 1 and key not in found:
                found[key] = matches[0].strip()
    return found


# rows ---------------------------------------------------------------------------------------------


def is_number_for(heading: Heading, cell: RawCell) -> bool:
    """Whether a cell is a number, alone or with a unit of its column.

    Example:
        >>> current = recognise("Current (A)", THRUST)
        >>> is_number_for(current, "12,5 A"), is_number_for(current, "12O")
        (True, False)
    """
    number = read_number(cell)
    if number is None:
        return False
    unit = clean_unit(re.sub(r"\(.*?\)", "", number.unit))
    among = measures(THRUST)[heading.key].units if heading.key else ()
    return not unit or unit in among or unit.split()[0] == "s"


def _under_headings(row: GridRow, places: Sequence[tuple[int, int]]) -> list[RawCell] | None:
    """Cells of a short row put under the headings they are lined up with; None when that is unclear."""
    columns: list[int] = []
    for start, stop in row.places:
        gaps = [
            min(abs(start - low), abs(stop - high), abs(start + stop - low - high) // 2)
            for low, high in places
        ]
        columns.append(gaps.index(min(gaps)))
    if not columns or sorted(set(columns)) != columns:
        return None
    cells: list[RawCell] = [""] * len(places)
    for column, cell in zip(columns, row.cells, strict=True):
        cells[column] = cell
    return cells


def _fitted(
    block: ThrustBlock, row: GridRow, cells: list[RawCell], separator: str
) -> tuple[list[RawCell], str]:
    """A row's cells as its headings' columns, and what is unclear where its width is another."""
    width, leading = len(block.headings), block.leading
    lacking = width - len(cells)
    if separator == " " and lacking < 0 < leading:
        return [" ".join(str(cell) for cell in cells[: 1 - lacking]), *cells[1 - lacking :]], ""
    if separator == "  " and lacking > 0 and len(block.places) == width:
        placed = _under_headings(row, block.places)
        unclear = "" if placed is not None else "its cells do not stand under the headings"
        return placed if placed is not None else cells, unclear
    if separator in ("  ", " ") and lacking > 0:
        unclear = "" if lacking <= leading else "write - where a cell is blank"
        return [*([""] * lacking), *cells], unclear
    return cells, ""


def _add_data_row(
    found: ThrustGrid, block: ThrustBlock, row: GridRow, labels: dict[str, str], separator: str
) -> bool:
    """Add a row to its block when it is one; labels are filled down into it."""
    cells: list[RawCell] = list(row.cells)
    if str(cells[0]).startswith("#") and not is_blank(cells[0]):
        return False
    while cells and not str(cells[-1]).strip():
        cells.pop()
    width, stated = len(block.headings), len(cells)
    cells, unclear = _fitted(block, row, cells, separator)
    extra = [cell for cell in cells[width:] if not is_blank(cell)]
    cells = [*cells, *([""] * width)][:width]
    pairs = [
        (h, c) for h, c in zip(block.headings, cells, strict=True) if h.numeric and not is_blank(c)
    ]
    numbers = sum(is_number_for(heading, cell) for heading, cell in pairs)
    lone = numbers == 1 and sum(not is_blank(cell) for cell in cells) == 1
    if separator != TYPED and not lone and not 2 <= numbers > len(pairs) - numbers:
        return False
    phrase = f"the row has {stated} cells under {width} headings; "
    if unclear:
        found.problems.append(Problem(f"{phrase}{unclear}.", found.where(row)))
        return True
    if separator == " " and stated != width:
        merged = "first columns are taken as merged" if stated < width else "first words are joined"
        found.skipped.append(Problem(f"{phrase}its {merged}.", found.where(row)))
    if any(read_number(cell) is not None for cell in extra):
        message = (
            f"the row has {width + len(extra)} cells under {width} headings; "
            "a decimal comma in a comma-separated file must stand in quotes."
        )
        found.problems.append(Problem(message, found.where(row)))
    keys = [heading.key for heading in block.headings]
    for label, key in (("motor", "motor"), ("propeller", "propeller"), ("voltage_v", "supply_v")):
        if key in keys and not is_blank(cells[keys.index(key)]):
            labels[label] = plain(str(cells[keys.index(key)]))
    block.rows.append(GridRow(row.number, tuple(cells)))
    block.labels.append(dict(labels))
    return True


def split_text(text: str, name: str) -> ThrustGrid:
    """Blocks of a text under the separator that makes most sense of its headings."""
    sample = text[:100_000]
    there = (s for s in SEPARATORS if s in sample or s == "\t")  # without any: whole lines
    trials = {s: find_blocks(rows_of(sample, s), s, name) for s in there}

    def sense(separator: str) -> tuple[int, int]:
        blocks = trials[separator].blocks
        columns = max((sum(h.numeric for h in b.headings) for b in blocks), default=0)
        return columns, sum(len(b.rows) for b in blocks)

    best = max(trials, key=sense)
    if sense(best) == (0, 0):
        trials.pop(" ", None)
        return max(trials.values(), key=lambda trial: len(trial.nearest_headings))
    return (
        trials[best] if len(text) == len(sample) else find_blocks(rows_of(text, best), best, name)
    )
