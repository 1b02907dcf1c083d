"""A pack drawn as cells with their links: groups from left to right in series, cells of a group in parallel."""

from __future__ import annotations

from collections.abc import Sequence

from workbook import svg
from workbook.numbers import Number
from workbook.widgets.palette import ALTERNATIVE, INK, LIMIT, PACK
from workbook.widgets.picture import Picture

WIDTH, HEIGHT = 760, 296
LEFT, RIGHT, TOP, BOTTOM = 46.0, 714.0, 36.0, 236.0


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
        cell_w = min(96.0, pitch - 16.0)
        row = min(38.0, (BOTTOM - TOP) / parallel)
        cell_h = min(28.0, row - 4.0)
        top = (TOP + BOTTOM) / 2 - row * parallel / 2
        middle = (TOP + BOTTOM) / 2
        edge = LIMIT if over else PACK
        shapes = svg.line(8, middle, LEFT, middle, INK, 5) + svg.line(
            RIGHT, middle, WIDTH - 8, middle, INK, 5
        )
        shapes += svg.text(12, middle - 12, "–", size=20, bold=True)
        shapes += svg.text(WIDTH - 12, middle - 12, "+", anchor="end", size=20, bold=True)
        first, last = top + row / 2, top + row * (parallel - 0.5)
        for k in range(series):
            x = LEFT + k * pitch
            left, right = x + (pitch - cell_w) / 2, x + (pitch + cell_w) / 2
            shapes += svg.line(x, middle, left - 4, middle, INK, 5)
            shapes += svg.line(right + 4, middle, x + pitch, middle, INK, 5)
            for bar in (left - 4, right + 4):
                shapes += svg.line(
                    bar, first - cell_h / 3, bar, last + cell_h / 3, ALTERNATIVE.colour, 4
                )
            for n in range(parallel):
                y = top + row * (n + 0.5)
                shapes += svg.line(left - 4, y, right + 4, y, ALTERNATIVE.colour, 3)
                shapes += svg.box(
                    left, y - cell_h / 2, cell_w - 5, cell_h, "#eceefc", edge.colour, 2, 4
                )
                shapes += svg.box(
                    right - 5, y - cell_h / 5, 5, cell_h / 2.5, edge.colour, edge.colour, 1, 1
                )
                if cell_w >= 58 and cell_h >= 15:
                    shapes += svg.text(
                        left + (cell_w - 5) / 2,
                        y + 5,
                        f"{cell_a:.3g} A",
                        anchor="middle",
                        size=min(14.0, cell_h - 2),
                    )
        every = 1 if pitch >= 46 else 2
        for k, volts in enumerate(joint_v):
            if k % every and k != series:
                continue
            x = LEFT + k * pitch
            shapes += svg.line(x, middle + 4, x, HEIGHT - 44, PACK.colour, 1.2, "2 3")
            shapes += svg.text(x, HEIGHT - 28, f"{volts:.1f}", anchor="middle", colour=PACK.colour)
        shapes += svg.text(
            WIDTH / 2,
            HEIGHT - 6,
            "V at each joint, from the minus end",
            anchor="middle",
            colour=PACK.colour,
        )
        shapes += svg.text(
            WIDTH / 2,
            22,
            f"{series} in series, {parallel} in parallel: {pack_a:g} A through every group",
            anchor="middle",
            bold=True,
        )
        said = (
            f"{series}S{parallel}P: {series * parallel} cells, {joint_v[-1]:.1f} V. {pack_a:g} A go through every "
            f"group; each cell of a group carries {cell_a:.2f} A."
        )
        if over:
            said += " That is more than its continuous current."
        self.draw(shapes, said)
