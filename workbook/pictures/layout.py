"""Words of a picture laid out as the rows and columns of a table, turned or seen at an angle as it may be."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from workbook.files.columns import all_units, clean_unit, recognise
from workbook.files.thrust_blocks import THRUST
from workbook.numbers import FloatArray
from workbook.parse import is_blank, plain, read_number
from workbook.pictures.recognise import Word

Box = tuple[float, float, float, float]
"""Left, top, right and bottom in pixels."""

LONG_GAP = 1.6
"""Rows further apart than this many usual distances have one missing between them."""


@dataclass(frozen=True)
class PictureCell:
    """One cell as it was read.

    Attributes:
        text: as read, or as a person typed it.
        confidence: 0 to 1; 1 where a person says so.
        box: its place in the picture; None where nothing was read, or a person typed it.
        place_doubt: why it may be in the wrong place, in words.
        doubt: why it should be looked at, in words; empty where nothing speaks against it.
    """

    text: str = ""
    confidence: float = 1.0
    box: Box | None = None
    place_doubt: str = ""
    doubt: str = ""

    @property
    def value(self) -> float:
        """The number in it; NaN without one."""
        number = None if is_blank(self.text) else read_number(self.text)
        return number.readings[-1].value if number else np.nan


@dataclass(frozen=True)
class PictureTable:
    """A table as it was read.

    Attributes:
        notes: lines of text beside the table, from top to bottom: motor, propeller, voltage, it may be.
        headings: one a column.
        rows: as many cells in each as there are headings.
    """

    notes: tuple[str, ...] = ()
    headings: tuple[PictureCell, ...] = ()
    rows: tuple[tuple[PictureCell, ...], ...] = ()


def lay_out(words: Sequence[Word]) -> PictureTable:
    """Words as a table: rows by their height in the picture, columns where the figures are.

    Args:
        words: in any order.

    Returns:
        The table; without a row where no two rows of figures are one below the other.

    Example:
        >>> def word(text, x, y):
        ...     return Word(
        ...         text,
        ...         0.99,
        ...         np.array([[x, y], [x + 30, y], [x + 30, y + 12], [x, y + 12]], float),
        ...     )
        >>> table = lay_out(
        ...     [
        ...         word(text, 80 * column, 30 * row)
        ...         for row, line in enumerate(["gf A", "90 1.5", "160 2.9"])
        ...         for column, text in enumerate(line.split())
        ...     ]
        ... )
        >>> [cell.text for cell in table.headings], [cell.value for cell in table.rows[1]]
        (['gf', 'A'], [160.0, 2.9])
    """
    words = [part for word in words for part in _parted(word)]
    if len(words) < 4:
        return PictureTable()
    lines = _lines(words)
    figures = [n for n, line in enumerate(lines) if _is_figures(line)]
    if len(figures) < 2:
        return PictureTable()
    spans = _columns([lines[n] for n in figures])
    head = _head(lines, figures[0])
    notes = [
        line for n, line in enumerate(lines) if n < head or (n > figures[0] and n not in figures)
    ]
    headings = _row([word for line in lines[head : figures[0]] for word in line], spans)
    rows = [_row(lines[n], spans) for n in figures]
    heights = [float(np.median([placed.down for placed in lines[n]])) for n in figures]
    return PictureTable(
        tuple(_note(line) for line in notes),
        tuple(headings),
        tuple(map(tuple, _missing_rows(rows, heights))),
    )


_COMMA = re.compile(r",(?=[^\W\d_])|(?<=\.\d),(?=\d)|(?<=\.\d\d),(?=\d)")
_GAP = re.compile(r"(?<=[^\W\d_]{3})(?=\d)|(?<=\d)(?=[^\W\d_]{4})")


def _note(line: Sequence[_Placed]) -> str:
    """A line beside the table, with the spaces that the reader loses: "propeller9x4.5,6S"."""
    text = plain(" ".join(placed.word.text for placed in line))
    return _GAP.sub(" ", _COMMA.sub(", ", text))


def _parted(word: Word) -> list[Word]:
    """A run of text with several figures side by side, parted into cells."""
    parts = word.text.split()
    if len(parts) < 2 or not all(read_number(part) for part in parts):
        return [word]
    left, right = word.corners[[0, 3]], word.corners[[1, 2]]
    out, start = [], 0
    for part in parts:
        start = word.text.index(part, start)
        ends = [k / len(word.text) for k in (start, start + len(part))]
        a, b = (left + share * (right - left) for share in ends)
        out.append(replace(word, text=part, corners=np.array([a[0], b[0], b[1], a[1]])))
        start += len(part)
    return out


@dataclass(frozen=True)
class _Placed:
    """A word in the table's own directions: from `left` to `right` across, at `down` from the top."""

    word: Word
    left: float
    right: float
    down: float


def _lines(words: Sequence[Word]) -> list[list[_Placed]]:
    """Words line by line, each from left to right, after the picture has been set straight."""
    centres = np.array([word.centre for word in words])
    height = float(np.median([word.height for word in words]))
    middle = centres.mean(axis=0)
    slope = _lean(centres, height, along=0)
    slant = _lean(centres, height, along=1)
    x, y = centres.T
    down = y - np.polyval(slope, y) * (x - middle[0])
    across = x - np.polyval(slant, x) * (y - middle[1])
    placed = []
    for word, at_x, at_y in zip(words, across, down, strict=True):
        half = float(np.ptp(word.corners[:, 0])) / 2
        placed.append(_Placed(word, at_x - half, at_x + half, at_y))
    placed.sort(key=lambda p: p.down)
    lines = [[placed[0]]]
    for one in placed[1:]:
        if one.down - lines[-1][-1].down > 0.45 * height:
            lines.append([])
        lines[-1].append(one)
    return [sorted(line, key=lambda p: p.left) for line in lines]


def _lean(centres: FloatArray, height: float, along: int) -> FloatArray:
    """How lines (along 0) or columns (along 1) lean, as a straight line over their positions.

    Seen at an angle, what runs side by side in the table runs together in the picture: to first order
    its direction changes evenly from one line to the next. Each word's next in its line is looked for
    where the lean found so far leads.
    """
    position = centres[:, 1 - along]
    gap = centres[None] - centres[:, None]
    ahead, aside = gap[..., along], gap[..., 1 - along]
    degree = 1 if np.ptp(position) > 4 * height else 0
    line = np.zeros(1)
    for reach in (1.0, 0.7, 0.7, 0.7):
        off_line = np.abs(aside - np.polyval(line, position)[:, None] * ahead)
        near = (ahead > 0.5 * height) & (off_line < np.minimum(0.25 * ahead, reach * height))
        distance = np.where(near, ahead, np.inf)
        words, nearest = np.arange(len(position)), distance.argmin(axis=1)
        found = np.isfinite(distance[words, nearest])
        if found.sum() < 3:
            break
        lean = aside[words, nearest][found] / ahead[words, nearest][found]
        line = _straight(position[found], lean, degree)
    return line


def _straight(position: FloatArray, lean: FloatArray, degree: int) -> FloatArray:
    """A straight line through most of some points."""
    kept = np.ones(len(lean), dtype=bool)
    for _ in range(3):
        line = np.polyfit(position[kept], lean[kept], degree)
        off = np.abs(lean - np.polyval(line, position))
        kept = off <= max(3 * float(np.median(off)), 1e-4)
    return np.asarray(line)


def _is_figures(line: Sequence[_Placed]) -> bool:
    numbers = sum(read_number(placed.word.text) is not None for placed in line)
    return numbers >= 2 and 2 * numbers > len(line)


def _columns(lines: Sequence[Sequence[_Placed]]) -> list[tuple[float, float]]:
    """Left and right end of each column: where more than a few of the lines have words."""
    start = min(line[0].left for line in lines)
    stop = max(placed.right for line in lines for placed in line)
    covered = np.zeros(int(stop - start) + 3, dtype=int)
    for line in lines:
        for placed in line:
            covered[int(placed.left - start) : int(placed.right - start) + 1] += 1
    inside = covered >= max(1, round(0.25 * len(lines)))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(int), [0]])))
    return [(start + a, start + b) for a, b in edges.reshape(-1, 2).tolist()]


def _head(lines: Sequence[Sequence[_Placed]], first: int) -> int:
    """The line with which the headings begin: that above the first figures, and one or two more of such words."""
    head = first
    while head > max(0, first - 3):
        texts = [placed.word.text for placed in lines[head - 1]]
        known = sum(_heads_a_column(text) for text in texts)
        if len(texts) < 2 or (head < first and 2 * known <= len(texts)):
            break
        head -= 1
    return head


def _heads_a_column(text: str) -> bool:
    heading = recognise(text, THRUST)
    return bool(heading.key or heading.known) or clean_unit(text) in all_units(THRUST)


def _row(line: Sequence[_Placed], spans: Sequence[tuple[float, float]]) -> list[PictureCell]:
    """The words of a line put into the columns under which they are."""
    held: list[list[Word]] = [[] for _ in spans]
    doubts = [""] * len(spans)
    for placed in line:
        shared = [min(placed.right, b) - max(placed.left, a) for a, b in spans]
        gaps = [abs((placed.left + placed.right - a - b) / 2) for a, b in spans]
        place = int(np.argmax(shared)) if max(shared) > 0 else int(np.argmin(gaps))
        held[place].append(placed.word)
        over = [
            n
            for n, ((a, b), part) in enumerate(zip(spans, shared, strict=True))
            if part > 0.6 * (b - a)
        ]
        text = placed.word.text
        if len(over) > 1 and (is_blank(text) or read_number(text) is not None):
            for n in over:
                doubts[n] = "a text runs over several columns here; part it"
        elif max(shared) <= 0:
            doubts[place] = "a text stands between the columns; is it in the right one?"
    for n, words in enumerate(held):
        if sum(read_number(word.text) is not None for word in words) > 1:
            doubts[n] = "two figures stand in one column here"
    return [_cell(words, doubt) for words, doubt in zip(held, doubts, strict=True)]


def _cell(words: Sequence[Word], doubt: str) -> PictureCell:
    if not words:
        return PictureCell("", 0.0, None, doubt)
    words = sorted(words, key=lambda w: (round(w.centre[1] / w.height), w.centre[0]))
    corners = np.concatenate([word.corners for word in words])
    (left, top), (right, bottom) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    text = plain(" ".join(word.text for word in words))
    confidence = min(word.confidence for word in words)
    return PictureCell(text, confidence, (left, top, right, bottom), doubt)


def _missing_rows(
    rows: list[list[PictureCell]], heights: Sequence[float]
) -> list[list[PictureCell]]:
    """Rows, doubted where the row before is further away than usual."""
    steps = np.diff(heights)
    for n in np.flatnonzero(steps > LONG_GAP * np.median(steps)) + 1:
        first = rows[n][0]
        doubt = first.place_doubt or "a row seems to be missing above this one"
        rows[n][0] = replace(first, place_doubt=doubt)
    return rows


def usual(values: Sequence[int]) -> tuple[int, float]:
    """The most frequent of some whole numbers, and its share.

    Example:
        >>> usual([2, 2, 2, 0])
        (2, 0.75)
    """
    value, count = Counter(values).most_common(1)[0]
    return value, count / len(values)
