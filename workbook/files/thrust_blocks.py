"""A grid of cells into blocks: one heading row, the rows under it, and the labels that hold for each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from workbook.errors import Problem
from workbook.files.text_grid import SEPARATORS, GridRow, rows_of
from workbook.files.thrust_headings import (
    QUANTITIES,
    Heading,
    clean_unit,
    is_unit,
    read_heading,
)
from workbook.parse import RawCell, is_blank, plain, read_number

TYPED = ""
"""Stands for a separator where cells were typed into a grid: every filled row is a data row."""
LABELS = ("motor", "propeller", "voltage_v")
_THRUST_WORD = re.compile(
    r"thrust|pull|lift|schub|pouss|empuje|spinta|推力|拉力|gram|kgf|gf\b|newton|ounce|pound|lbf|ozf"
)
_PROPELLER = re.compile(
    r"(?<![\d.,])\d{1,3}(?:[.,]\d{1,2})?\s*(?:\"|''|in|inch)?\s*[x×*]\s*\d{1,2}(?:[.,]\d{1,2})?"
    r"(?:\s*[x×*]\s*\d)?[a-z]{0,3}(?![\d.,])",
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
_NOMINAL = re.compile(r"nominal|supply|battery|rated|cells")
_STATED_KEY = {
    "motor": "motor",
    "prop": "propeller",
    "propeller": "propeller",
    "voltage": "voltage_v",
    "supply": "voltage_v",
    "battery": "voltage_v",
}


@dataclass
class Block:
    """One heading row with the rows under it.

    Attributes:
        headings: one a column.
        heading_row: row of the headings in the file.
        places: where the headings stand in their line, when columns are lined up with spaces.
        rows: data rows, as wide as the headings.
        labels: for each row the motor, propeller and voltage text that holds for it.
    """

    headings: tuple[Heading, ...]
    heading_row: int
    places: tuple[tuple[int, int], ...] = ()
    rows: list[GridRow] = field(default_factory=list)
    labels: list[dict[str, str]] = field(default_factory=list)

    def column(self, quantity: str) -> int | None:
        """Index of a quantity's column."""
        for index, heading in enumerate(self.headings):
            if heading.quantity == quantity:
                return index
        return None


@dataclass
class Blocks:
    """Everything found in a grid."""

    blocks: list[Block] = field(default_factory=list)
    notes: list[GridRow] = field(default_factory=list)
    notices: list[Problem] = field(default_factory=list)
    skipped: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    nearest_headings: tuple[str, ...] = ()


@lru_cache(maxsize=4096)
def _heading(text: str) -> Heading:
    return read_heading(text)


def _merge_words(words: Sequence[str], count: int) -> tuple[str, ...]:
    """Join neighbouring words of a heading line into headings that are known.

    As many words as can be belong to a known heading; among equals no quantity stands twice, and
    the number of headings comes nearest to `count`, the most cells of a row below.
    """
    joined: list[str] = []
    for word in words:
        if joined and word.startswith(("(", "[")):
            joined[-1] += " " + word
        else:
            joined.append(word)
    size = len(joined)
    if size > 40:
        return tuple(joined)
    best: list[dict[int, tuple[tuple[int, int], tuple[str, ...]]]] = [{} for _ in range(size + 1)]
    best[0][0] = ((0, 0), ())
    for start in range(size):
        for used, (_, cells) in best[start].items():
            for stop in range(start + 1, min(start + 4, size) + 1):
                trial = (*cells, " ".join(joined[start:stop]))
                score = _sense(trial)
                if used + 1 not in best[stop] or score > best[stop][used + 1][0]:
                    best[stop][used + 1] = (score, trial)
    counts = best[size]
    if not counts:
        return ()
    return counts[max(counts, key=lambda n: (*counts[n][0], -abs(n - count), -n))][1]


def _sense(cells: tuple[str, ...]) -> tuple[int, int]:
    """How much sense a heading line makes: words in known headings, less quantities that stand twice."""
    headings = [_heading(cell) for cell in cells]
    read = [heading.quantity for heading in headings if heading.quantity]
    words = sum(
        2 * len(cell.split()) - (not heading.quantity)
        for cell, heading in zip(cells, headings, strict=True)
        if heading.quantity or heading.known
    )
    return words, len(set(read)) - len(read)


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


def _numeric_cells(row: GridRow) -> int:
    return sum(not is_blank(cell) and read_number(cell) is not None for cell in row.cells)


def _as_heading_row(
    rows: Sequence[GridRow], index: int, separator: str
) -> tuple[Heading, ...] | None:
    row = rows[index]
    if not _THRUST_WORD.search(row.text.casefold()):
        return None
    cells = tuple(plain(str(cell)) for cell in row.cells)
    if separator == " ":
        counts = [len(r.cells) for r in rows[index + 1 : index + 5] if _numeric_cells(r) > 1]
        cells = _merge_words(cells, max(counts, default=0))
    headings = tuple(_heading(cell) for cell in cells)
    read = {heading.quantity for heading in headings if heading.numeric}
    return headings if "thrust_gf" in read and len(read) > 1 else None


def _with_units(headings: tuple[Heading, ...], row: GridRow) -> tuple[Heading, ...] | None:
    """Headings completed by a second heading row that holds units only."""
    cells = [plain(str(cell)) for cell in row.cells]
    filled = [cell for cell in cells if cell]
    if not filled or not all(is_unit(cell) for cell in filled):
        return None
    cells += [""] * (len(headings) - len(cells))
    return tuple(
        _heading(f"{heading.text} ({clean_unit(cell)})") if cell and not heading.unit else heading
        for heading, cell in zip(headings, cells, strict=False)
    )


def _is_number_for(heading: Heading, cell: str | float) -> bool:
    number = read_number(cell)
    if number is None:
        return False
    unit = clean_unit(re.sub(r"\(.*?\)", "", number.unit))
    return not unit or unit in QUANTITIES[heading.quantity].units or unit.split()[0] == "s"


def _stated(row: GridRow) -> dict[str, str]:
    """Labels that a line between tables states: "Propeller: 14x4.8", "Voltage, 22.2 V", "4S"."""
    cells = [plain(str(cell)).strip("# ") for cell in row.cells if plain(str(cell)).strip("# ")]
    found: dict[str, str] = {}
    for cell, following in zip(cells, [*cells, ""][1:], strict=True):
        heading = _heading(cell)
        if heading.quantity in LABELS and following and len(cells) <= 6:
            found[heading.quantity] = following.strip(" :")
        for match in _STATED.finditer(cell):
            found[_STATED_KEY[match[1].casefold()]] = match[2].strip(" .,")
    if len(cells) == 1 and len(cells[0]) <= 80:
        for key, pattern in (("propeller", _PROPELLER), ("voltage_v", _VOLTAGE)):
            matches = pattern.findall(cells[0])
            if len(matches) == 1 and key not in found:
                found[key] = matches[0].strip()
    return found


def _side_by_side(headings: tuple[Heading, ...]) -> list[tuple[int, int]]:
    """Column ranges of tables printed side by side under one heading line."""
    used = [(i, h.quantity) for i, h in enumerate(headings) if h.quantity]
    names = [name for _, name in used]
    for length in range(2, len(names) // 2 + 1):
        if len(names) % length == 0 and names == names[:length] * (len(names) // length):
            starts = [used[k][0] for k in range(0, len(names), length)]
            return list(zip(starts, [*starts[1:], len(headings)], strict=True))
    return []


def _one_column_each(
    headings: tuple[Heading, ...], found: Blocks, where: str
) -> tuple[Heading, ...]:
    """Keep the first column of each quantity; say which others are not used."""
    first: dict[str, int] = {}
    for index, heading in enumerate(headings):
        nominal = heading.quantity == "voltage_v" and _NOMINAL.search(heading.text.casefold())
        if heading.quantity and not nominal:
            first.setdefault(heading.quantity, index)
    kept: list[Heading] = []
    for index, heading in enumerate(headings):
        if heading.quantity and first.setdefault(heading.quantity, index) != index:
            used = headings[first[heading.quantity]].text
            is_label = heading.quantity == "voltage_v" and _NOMINAL.search(heading.text.casefold())
            found.notices.append(
                Problem(
                    f'column "{heading.text}" is taken as the stated supply voltage.'
                    if is_label
                    else f'column {index + 1}, "{heading.text}", is not used: '
                    f'{QUANTITIES[heading.quantity].name} is read from "{used}".',
                    where,
                )
            )
            heading = replace(heading, text="", quantity="supply_v" if is_label else "")
        kept.append(heading)
    return tuple(kept)


def find_blocks(rows: Sequence[GridRow], separator: str, name: str) -> Blocks:
    """Heading rows, the data rows under each and the labels that hold for them.

    Args:
        rows: the grid.
        separator: how the text was split, or TYPED; lines split at single spaces have their
            headings joined again.
        name: file name, for messages.
    """
    found = Blocks()
    labels: dict[str, str] = {}
    block: Block | None = None
    index = 0
    while index < len(rows):
        row = rows[index]
        headings = _as_heading_row(rows, index, separator)
        if headings is not None:
            index += 1
            where = f"{name}, row {row.number}"
            while index < len(rows) and not rows[index].text:
                index += 1
            if index < len(rows) and (units := _with_units(headings, rows[index])):
                headings = units
                index += 1
            parts = _side_by_side(headings)
            if parts:
                index = _read_side_by_side(
                    found, rows, row, headings, parts, index, separator, name
                )
                block = None
                continue
            block = Block(_one_column_each(headings, found, where), row.number, row.places)
            found.blocks.append(block)
            continue
        index += 1
        if not row.text:
            continue
        if block is None or not _add_data_row(found, block, row, labels, separator, name):
            stated = _stated(row)
            labels.update(stated)
            found.notes.append(row)
            if stated:
                said = ", ".join(
                    f"{QUANTITIES[key].name} {value}" for key, value in sorted(stated.items())
                )
                found.notices.append(
                    Problem(
                        f"{said} is taken from this line for the rows below it.",
                        f"{name}, row {row.number}",
                    )
                )
            elif block is not None and _numeric_cells(row):
                found.notices.append(
                    Problem(
                        f'read as a note, not as a row: "{row.text[:60]}".',
                        f"{name}, row {row.number}",
                    )
                )
        if block is None and not found.nearest_headings and len(row.cells) > 2:
            texts = tuple(plain(str(cell)) for cell in row.cells if plain(str(cell)))
            if len(texts) > 2 and not _numeric_cells(row):
                found.nearest_headings = texts
    return found


def _read_side_by_side(
    found: Blocks,
    rows: Sequence[GridRow],
    heading_row: GridRow,
    headings: tuple[Heading, ...],
    parts: list[tuple[int, int]],
    start: int,
    separator: str,
    name: str,
) -> int:
    """Read each table of a side-by-side print as a block of its own."""
    stop = start
    while stop < len(rows) and _as_heading_row(rows, stop, separator) is None:
        stop += 1
    above = (
        found.notes.pop() if found.notes and found.notes[-1].number < heading_row.number else None
    )
    for low, high in parts:
        lines = [GridRow(r.number, r.cells[low:high]) for r in rows[start:stop]]
        titles = tuple(
            h.text if h.unit in h.text.casefold() else f"{h.text} ({h.unit})" for h in headings
        )
        lines.insert(0, GridRow(heading_row.number, titles[low:high]))
        if above is not None:
            lines.insert(0, GridRow(above.number, above.cells[low:high]))
        part = find_blocks(lines, separator, name)
        found.blocks += part.blocks
        found.notes += part.notes
        found.notices += part.notices
        found.skipped += part.skipped
        found.problems += part.problems
    return stop


def _add_data_row(
    found: Blocks,
    block: Block,
    row: GridRow,
    labels: dict[str, str],
    separator: str,
    name: str,
) -> bool:
    """Add a row to its block when it is one; labels are filled down into it."""
    cells: list[RawCell] = list(row.cells)
    if isinstance(cells[0], str) and cells[0].startswith("#") and not is_blank(cells[0]):
        return False
    while cells and isinstance(cells[-1], str) and not cells[-1].strip():
        cells.pop()
    width = len(block.headings)
    where = f"{name}, row {row.number}"
    leading = 0
    while leading < width and block.headings[leading].quantity in (*LABELS, "supply_v"):
        leading += 1
    lacking = width - len(cells)
    unclear = ""
    if separator == " " and lacking < 0 < leading:
        cells = [" ".join(str(cell) for cell in cells[: 1 - lacking]), *cells[1 - lacking :]]
    elif separator == "  " and lacking > 0 and len(block.places) == width:
        placed = _under_headings(row, block.places)
        cells = placed if placed is not None else cells
        unclear = "" if placed is not None else "its cells do not stand under the headings"
    elif separator in ("  ", " ") and lacking > 0:
        cells = [*([""] * lacking), *cells]
        unclear = "" if lacking <= leading else "write - where a cell is blank"
    extra = [cell for cell in cells[width:] if not is_blank(cell)]
    cells = [*cells, *([""] * width)][:width]
    pairs = [
        (h, c) for h, c in zip(block.headings, cells, strict=True) if h.numeric and not is_blank(c)
    ]
    numbers = sum(_is_number_for(heading, cell) for heading, cell in pairs)
    texts = len(pairs) - numbers
    lone = numbers == 1 and sum(not is_blank(cell) for cell in cells) == 1
    if separator != TYPED and not lone and not 2 <= numbers > texts:
        return False
    if unclear:
        found.problems.append(
            Problem(
                f"the row has {width - lacking} cells under {width} headings; {unclear}.", where
            )
        )
        return True
    if separator == " " and lacking:
        found.skipped.append(
            Problem(
                f"the row has {width - lacking} cells under {width} headings; "
                + (
                    "its first columns are taken as merged."
                    if lacking > 0
                    else "its first words are joined."
                ),
                where,
            )
        )
    if any(read_number(cell) is not None for cell in extra):
        found.problems.append(
            Problem(
                f"the row has {width + len(extra)} cells under {width} headings; "
                "a decimal comma in a comma-separated file must stand in quotes.",
                where,
            )
        )
    for key, quantity in (("motor",) * 2, ("propeller",) * 2, ("voltage_v", "supply_v")):
        column = block.column(quantity)
        if column is not None and not is_blank(cells[column]):
            labels[key] = plain(str(cells[column]))
    block.rows.append(GridRow(row.number, tuple(cells)))
    block.labels.append(dict(labels))
    return True


def split_text(text: str, name: str) -> Blocks:
    """Blocks of a text under the separator that makes most sense of its headings."""
    sample = text[:100_000]
    best, best_score = "", (0, 0)
    for separator in SEPARATORS:
        trial = find_blocks(rows_of(sample, separator), separator, name)
        score = (
            max((sum(h.numeric for h in b.headings) for b in trial.blocks), default=0),
            sum(len(b.rows) for b in trial.blocks),
        )
        if score > best_score:
            best, best_score = separator, score
    if not best:
        trials = [find_blocks(rows_of(sample, s), s, name) for s in SEPARATORS if s != " "]
        return max(trials, key=lambda trial: len(trial.nearest_headings))
    return find_blocks(rows_of(text, best), best, name)
