"""Which cells of a table read from a picture should be looked at, and why: by the reading and by physics."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from workbook.files.columns import (
    KNOWN_UNUSED,
    Measure,
    Numbers,
    by_own_column,
    by_range,
    by_spread,
    factors,
    measures,
    read_numbers,
    recognise,
)
from workbook.files.thrust_blocks import THRUST, is_number_for
from workbook.numbers import FloatArray
from workbook.parse import is_blank
from workbook.pictures.layout import PictureCell, PictureTable, usual

SURE_CONFIDENCE = 0.88
"""Confidence under which a cell is doubted. From trials on 24 drawn tables: one cell in a hundred of those read
rightly lies under it and three in ten of those read wrongly; the rest is found by comparing the figures."""
SAME_DECIMALS = 0.75
"""Share of a column's figures with as many decimals from which the others are doubted."""
SOME_DECIMALS = 0.25
"""Share of a column's figures with decimals from which one without any is doubted."""
LEADING_ZERO = re.compile(r"\s*0\d")
RISING_KEYS = ("throttle_pct", "thrust_gf", "current_a", "power_w", "speed_rpm")
"""Columns that rise together on any test stand."""
_PRODUCTS = (
    (
        "power_w",
        "voltage_v",
        "current_a",
        "power is not volts times amperes: {0:g} against {1:.4g}",
    ),
    (
        "thrust_gf",
        "efficiency_gf_w",
        "power_w",
        "thrust is not power times g/W: {0:g} against {1:.4g}",
    ),
)
_LEAST_SHARE, _MOST_SHARE = 0.004, 0.06
"""Disagreement beyond the printed rounding that is nobody's slip, and that no instruments explain: three times what
the table has as a rule lies between. Common practice, no source."""
_OFF, _OFF_AT_END = 8.0, 24.0
"""A figure further from the line through its neighbours than this many usual distances is doubted; near the
ends of a table, where most neighbours stand on one side, the second. From trials on drawn tables."""

_Doubts = dict[tuple[int, int], str]


def with_doubts(table: PictureTable) -> PictureTable:
    """The table with every doubt about its cells, in words; none about a cell that a person has answered for.

    Args:
        table: as laid out, or as a person has changed it.

    Example:
        >>> def row(*texts):
        ...     return tuple(PictureCell(text, 0.99) for text in texts)
        >>> table = PictureTable(
        ...     (),
        ...     row("Thrust (g)", "A", "V", "W"),
        ...     (row("400", "2.0", "22.2", "44.4"), row("800", "5.0", "22.1", "170.0")),
        ... )
        >>> with_doubts(table).rows[1][3].doubt
        'power is not volts times amperes: 170 against 110.5'
    """
    found: _Doubts = {}
    for doubts in (_as_read(table), _headings(table), _by_figures(table)):
        for place, doubt in doubts:
            found.setdefault(place, doubt)
    cells = [
        [
            replace(c, doubt="" if c.confidence == 1.0 else c.place_doubt or found.get((r, k), ""))
            for k, c in enumerate(row)
        ]
        for r, row in enumerate((table.headings, *table.rows), -1)
    ]
    return replace(table, headings=tuple(cells[0]), rows=tuple(map(tuple, cells[1:])))


def _as_read(table: PictureTable) -> Iterator[tuple[tuple[int, int], str]]:
    """What the reading itself leaves open: no text, no number, low confidence, lost points."""
    for k, title in enumerate(table.headings):
        heading = recognise(title.text, THRUST)
        column = [row[k] for row in table.rows]
        numbers = [is_number_for(heading, cell.text) for cell in column]
        numeric = heading.numeric or 2 * sum(numbers) > len(numbers)
        for r, (cell, number) in enumerate(zip(column, numbers, strict=True)):
            blank = is_blank(cell.text)
            if numeric and blank and cell.box is None and cell.confidence < 1.0:
                yield (r, k), "nothing was read here"
            elif numeric and not blank and not number:
                yield (r, k), "this is not a number"
            elif cell.confidence < SURE_CONFIDENCE:
                yield (r, k), _hard(cell)
        if numeric:
            yield from _lost_points(k, column, numbers)


def _hard(cell: PictureCell) -> str:
    return f"hard to read ({100 * cell.confidence:.0f} % sure)"


def _lost_points(
    k: int, column: Sequence[PictureCell], numbers: Sequence[bool]
) -> Iterator[tuple[tuple[int, int], str]]:
    """Cells with other decimals than nearly all of their column, or none where many have some; "040"."""
    places = {
        r: _decimals(cell.text)
        for r, (cell, number) in enumerate(zip(column, numbers, strict=True))
        if number and not is_blank(cell.text)
    }
    most, share = usual(list(places.values())) if places else (0, 0.0)
    share_of_points = sum(have > 0 for have in places.values()) / max(1, len(places))
    with_point = share_of_points >= SOME_DECIMALS and not _fewer_as_they_grow(places, column)
    for r, have in places.items():
        if not have and (with_point or LEADING_ZERO.match(column[r].text)):
            yield (r, k), "a decimal point seems to be lost"
        elif have != most and share >= SAME_DECIMALS:
            yield (r, k), f"{have} decimals, and {most} elsewhere in the column"


def _fewer_as_they_grow(places: Mapping[int, int], column: Sequence[PictureCell]) -> bool:
    """Whether figures lose their decimals as they grow past 100, say: 87.4, 98.7, 112."""
    bare = [r for r, have in places.items() if not have]
    pointed = [r for r, have in places.items() if have]
    if not bare or not pointed:
        return False
    apart = min(bare) > max(pointed) or max(bare) < min(pointed)
    least, most = min(column[r].value for r in bare), max(column[r].value for r in pointed)
    return apart and most <= least < 4 * most


def _decimals(text: str) -> int:
    digits = text.split()[0].replace(",", ".")
    return len(digits.rpartition(".")[2].rstrip("%")) if "." in digits else 0


def _headings(table: PictureTable) -> Iterator[tuple[tuple[int, int], str]]:
    seen: set[str] = set()
    for k, cell in enumerate(table.headings):
        heading = recognise(cell.text, THRUST)
        if heading.key in seen:
            yield (-1, k), "a second column of this kind"
        elif not heading.key and not KNOWN_UNUSED.search(cell.text.casefold()):
            yield (-1, k), "not a heading that is known; the column is not used"
        elif cell.confidence < SURE_CONFIDENCE:
            yield (-1, k), _hard(cell)
        seen.add(heading.key or str(k))


# figures against each other -----------------------------------------------------------------------


def _by_figures(table: PictureTable) -> Iterator[tuple[tuple[int, int], str]]:
    figures, halves, columns = _figures(table)
    for product in _PRODUCTS:
        yield from _products(figures, halves, columns, *product)
    direction, run = _runs(figures)
    for key, values in figures.items():
        measure = measures(THRUST)[key]
        for r in np.flatnonzero((values > measure.high) | ((values < measure.low) & (values > 0))):
            yield (
                (int(r), columns[key]),
                f"no table has {values[r]:g} {measure.usual}; is a point lost?",
            )
        for rows in (np.flatnonzero(run == number) for number in np.unique(run)):
            if key in RISING_KEYS:
                for r in rows[~_in_order(direction * values[rows])]:
                    yield (
                        (int(r), columns[key]),
                        "out of order: the rows around it rise or fall evenly",
                    )
            for r in rows[_off_line(values[rows], halves[key][rows])]:
                yield (int(r), columns[key]), "it lies far from the line through its neighbours"


def _figures(
    table: PictureTable,
) -> tuple[Mapping[str, FloatArray], Mapping[str, FloatArray], Mapping[str, int]]:
    """Figures by quantity in the workbook's units, half of their last printed place, and their column."""
    figures: dict[str, FloatArray] = {}
    halves: dict[str, FloatArray] = {}
    columns: dict[str, int] = {}
    for k, cell in enumerate(table.headings):
        heading = recognise(cell.text, THRUST)
        if not heading.numeric or heading.key in figures:
            continue
        measure = measures(THRUST)[heading.key]
        numbers = read_numbers([row[k].text for row in table.rows])
        factor = factors(numbers, heading.unit, measure)
        thousands, large, small = _both_ways(numbers, factor, measure)
        figures[heading.key] = large if thousands else small
        halves[heading.key] = (
            np.where(numbers.open, 0.5 if thousands else 0.0005, numbers.half) * factor
        )
        columns[heading.key] = k
    return figures, halves, columns


def _both_ways(
    numbers: Numbers, factor: FloatArray, measure: Measure
) -> tuple[bool, FloatArray, FloatArray]:
    """Whether "1.250" of a column has a thousands mark; the column with thousands and with decimal marks."""
    cells, certain = numbers.open, ~numbers.open
    large = numbers.value * factor
    small = np.where(cells, numbers.other * factor, large)
    mark = next(iter(numbers.thousands[cells]), "")
    verdicts = (
        by_own_column(numbers.thousands[certain], numbers.decimal[certain], mark),
        by_range(measure, large[cells], small[cells]),
        by_spread(large, small),
    )
    return next((verdict for verdict in verdicts if verdict is not None), False), large, small


def _products(
    figures: Mapping[str, FloatArray],
    halves: Mapping[str, FloatArray],
    columns: Mapping[str, int],
    whole: str,
    one: str,
    other: str,
    template: str,
) -> Iterator[tuple[tuple[int, int], str]]:
    """Cells of rows in which one figure is not the product of two, by more than the table's own habit."""
    if not {whole, one, other} <= figures.keys():
        return
    w, a, b = figures[whole], figures[one], figures[other]
    rounding = halves[whole] + a * halves[other] + b * halves[one]
    beyond = np.maximum(np.abs(w - a * b) - rounding, 0) / np.where(w > 0, w, np.nan)
    known = beyond[np.isfinite(beyond)]
    habit = np.quantile(known, 0.5, method="lower") if len(known) else 0.0
    for r in np.flatnonzero(beyond > min(max(_LEAST_SHARE, 3 * habit), _MOST_SHARE)):
        for key in (whole, one, other):
            yield (int(r), columns[key]), template.format(w[r], a[r] * b[r])


def _runs(figures: Mapping[str, FloatArray]) -> tuple[float, NDArray[np.int_]]:
    """Whether the rows rise (1) or fall (-1), and a number for each row.

    Where most columns turn back together, another propeller or voltage begins.
    """
    rising = [figures[key] for key in RISING_KEYS if key in figures]
    if not rising:
        return 1.0, np.zeros(len(next(iter(figures.values()), ())), dtype=int)
    steps = np.sign(np.diff(np.array(rising), axis=1))
    direction = float(np.sign(np.nansum(steps))) or 1.0
    falls = np.nansum(steps * direction < 0, axis=0) > max(1, len(rising) / 2)
    return direction, np.concatenate([[0], np.cumsum(falls)])


def _in_order(values: FloatArray) -> NDArray[np.bool_]:
    """Which values rise with most of the others; blanks do.

    Where either of two neighbours may be the one out of order, neither is in order.
    """
    places = np.flatnonzero(~np.isnan(values))
    in_order = np.isnan(values)
    in_order[places[_always_rising(values[places])]] = True
    return in_order


def _always_rising(values: FloatArray) -> list[int]:
    """Places that are in every longest series of values that does not fall."""
    ends, starts = _lengths(values), _lengths(-values[::-1])[::-1]
    longest = ends + starts - 1
    on_one = longest == longest.max(initial=0)
    rank = Counter(ends[on_one].tolist())
    return [n for n in np.flatnonzero(on_one).tolist() if rank[int(ends[n])] == 1]


def _lengths(values: FloatArray) -> NDArray[np.int_]:
    """Length of the longest series that does not fall and ends at each place."""
    length = np.ones(len(values), dtype=int)
    for n in range(1, len(values)):
        length[n] += np.max(length[:n], where=values[:n] <= values[n], initial=0)
    return length


def _off_line(values: FloatArray, halves: FloatArray) -> list[int]:
    """Places of values far from a parabola through their neighbours, the worst first, each left out in turn."""
    kept = [int(n) for n in np.flatnonzero(~np.isnan(values))]
    out: list[int] = []
    while len(kept) >= 6 and len(out) < 0.3 * len(values):
        off = np.array([abs(values[n] - _expected(values, kept, n)) for n in kept])
        usual_off = 1.4826 * float(np.median(off)) + 3 * float(np.nanmax(halves))
        allowed = np.full(len(kept), _OFF * usual_off)
        allowed[[0, 1, -2, -1]] = _OFF_AT_END * usual_off
        allowed = np.maximum(allowed, 0.01 * np.abs(values[kept]))
        worst = int(np.argmax(off / allowed))
        if off[worst] <= allowed[worst]:
            break
        out.append(kept.pop(worst))
    return out


def _expected(values: FloatArray, among: list[int], place: int) -> float:
    near = sorted((n for n in among if n != place), key=lambda n: abs(n - place))[:4]
    return float(np.polyval(np.polyfit(np.array(near) - place, values[near], 2), 0))
