"""A pack drawn as cells with their links: groups from left to right in series, cells of a group in parallel."""

from __future__ import annotations

from collections.abc import Sequence

from workbook import svg
from workbook.numbers import Number
from workbook.widgets.palette import ALTERNATIVE, INK, LIMIT, PACK
from workbook.widgets.picture import Picture

WIDTH, HEIGHT = 760, 296
LEFT, RIGHT, TOP, BOTTOM = 46.0, 714.0, 36.0, 236.0
MIDDLE = (TOP + BOTTOM) / 2


class WiringPicture(Picture):
    """Cells with bus bars and links; voltage at each joint, current in each cell.

    Example:
        >>> picture = WiringPicture()
        >>> picture.update([0.0, 3.6, 7.2], 2, 12.0, 6.0, over=False)
        >>> picture.finding_text
        '2S2P: 4 cells, 7.2 V. 12 A go through every group; each cell of a group carries 6.00 A.'
    """

    def __init__(self) -> None:
        super().__init__("The pack, cell by cell", WIDTH, HEIGHT)

    def update(
        self,
        joint_v: Sequence[float],
        parallel: Number,
        pack_a: Number,
        cell_a: Number,
        *,
        over: bool,
    ) -> None:
        """Show another pack.

        Args:
            joint_v: voltage at each joint, 0 first.
            parallel: cells in each group.
            pack_a: current through the pack.
            cell_a: current of each cell.
            over: whether that is more than the cell may carry; then it is said.
        """
        series, parallel = len(joint_v) - 1, int(parallel)
        pitch = (RIGHT - LEFT) / series
        title = f"{series} in series, {parallel} in parallel: {pack_a:g} A through every group"
        shapes = svg.line(8, MIDDLE, LEFT, MIDDLE, INK, 5)
        shapes += svg.line(RIGHT, MIDDLE, WIDTH - 8, MIDDLE, INK, 5)
        shapes += svg.text(12, MIDDLE - 12, "–", size=20, bold=True)
        shapes += svg.text(WIDTH - 12, MIDDLE - 12, "+", anchor="end", size=20, bold=True)
        for k in range(series):
            shapes += _group(LEFT + k * pitch, pitch, parallel, f"{cell_a:.3g} A", over=over)
        every = 1 if pitch >= 46 else 2
        for k, volts in enumerate(joint_v):
            if k % every and k != series:
                continue
            x = LEFT + k * pitch
            shapes += svg.line(x, MIDDLE + 4, x, HEIGHT - 44, PACK.colour, 1.2, "2 3")
            shapes += svg.text(x, HEIGHT - 28, f"{volts:.1f}", anchor="middle", colour=PACK.colour)
        shapes += svg.text(
            WIDTH / 2,
            HEIGHT - 6,
            "V at each joint, from the minus end",
            anchor="middle",
            colour=PACK.colour,
        )
        shapes += svg.text(WIDTH / 2, 22, title, anchor="middle", bold=True)
        finding = (
            f"{series}S{parallel}P: {series * parallel} cells, {joint_v[-1]:.1f} V. {pack_a:g} A go through every "
            f"group; each cell of a group carries {cell_a:.2f} A."
        )
        if over:
            finding += " That is more than its continuous current."
        self.draw(shapes, finding)


def _group(x: float, pitch: float, parallel: int, amps: str, *, over: bool) -> str:
    """One group of cells between its bus bars, with the links to its neighbours."""
    colour = (LIMIT if over else PACK).colour
    wide, row = min(96.0, pitch - 16.0), min(38.0, (BOTTOM - TOP) / parallel)
    high = min(28.0, row - 4.0)
    left, right = x + (pitch - wide) / 2, x + (pitch + wide) / 2
    rows = [MIDDLE + row * (n + 0.5 - parallel / 2) for n in range(parallel)]
    shapes = svg.line(x, MIDDLE, left - 4, MIDDLE, INK, 5)
    shapes += svg.line(right + 4, MIDDLE, x + pitch, MIDDLE, INK, 5)
    for bar in (left - 4, right + 4):
        ends = rows[0] - high / 3, rows[-1] + high / 3
        shapes += svg.line(bar, ends[0], bar, ends[1], ALTERNATIVE.colour, 4)
    for y in rows:
        shapes += svg.line(left - 4, y, right + 4, y, ALTERNATIVE.colour, 3)
        shapes += svg.box(left, y - high / 2, wide - 5, high, "#eceefc", colour, 2, 4)
        shapes += svg.box(right - 5, y - high / 5, 5, high / 2.5, colour, colour, 1, 1)
        if wide >= 58 and high >= 15:
            size = min(14.0, high - 2)
            shapes += svg.text(left + (wide - 5) / 2, y + 5, amps, anchor="middle", size=size)
    return shapes
