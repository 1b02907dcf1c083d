"""The balance of a multirotor: thrust of every motor up, weight of its parts down."""

from __future__ import annotations

from collections.abc import Sequence

from workbook import svg
from workbook.numbers import Number
from workbook.widgets.palette import ALTERNATIVE, CAUTION, FAINT, INK, PACK
from workbook.widgets.picture import Picture

WIDTH, HEIGHT, BEAM_Y = 750, 236, 122
ARROW_PX, BLOCK_PX = 92.0, 72.0
FILLS = (("#dfe3e8", FAINT), ("#f6e3bf", CAUTION), ("#dfe3fa", PACK))


class BalancePicture(Picture):
    """Arrows of thrust above a beam, blocks of mass below it.

    Example:
        >>> picture = BalancePicture()
        >>> picture.update(
        ...     4, 500.0, 1500.0, [("craft", 1200.0), ("payload", 200.0), ("pack", 600.0)]
        ... )
        >>> picture.finding_text
        'Up: 4 motors x 500 gf = 2000 gf. Down: 2000 g. In hover the two are equal.'
    """

    def __init__(self) -> None:
        super().__init__("Thrust up, weight down", WIDTH, HEIGHT)

    def update(
        self, motors: Number, thrust_gf: Number, top_gf: Number, parts: Sequence[tuple[str, Number]]
    ) -> None:
        """Show another balance.

        Args:
            motors: number of motors.
            thrust_gf: of one motor in hover.
            top_gf: of one motor at full throttle, by the table.
            parts: name and mass in gram of what hangs on the beam, three at most.
        """
        motors, share = int(motors), min(float(thrust_gf / top_gf), 1.0)
        left, right = 60.0, WIDTH - 60.0
        gap = (right - left) / max(motors - 1, 1)
        shapes = svg.line(left - 25, BEAM_Y, right + 25, BEAM_Y, INK, 5)
        for k in range(motors):
            x = left + k * gap
            shapes += svg.box(
                x - 9, BEAM_Y - ARROW_PX - 4, 18, ARROW_PX, "none", FAINT.colour, 1.2, 3, "4 3"
            )
            shapes += _arrow(x, BEAM_Y - 4, BEAM_Y - 4 - ARROW_PX * share, ALTERNATIVE.colour, 7, 9)
        shapes += svg.text(
            WIDTH / 2,
            16,
            f"each motor {thrust_gf:.0f} gf, of {top_gf:.0f} gf at full throttle (dashed)",
            anchor="middle",
            colour=ALTERNATIVE.colour,
            bold=True,
        )
        masses = [(name, float(mass)) for name, mass in parts]
        total = sum(mass for _, mass in masses)
        y = BEAM_Y + 22.0
        label_y = y - 8.0
        shapes += svg.line(WIDTH / 2, BEAM_Y, WIDTH / 2, y, INK, 2)
        for (name, mass), (fill, edge) in zip(masses, FILLS, strict=False):
            height = BLOCK_PX * mass / total if total else 0.0
            label_y = max(y + height / 2 + 5, label_y + 19)
            shapes += svg.box(WIDTH / 2 - 75, y, 150, height, fill, edge.colour)
            shapes += svg.text(WIDTH / 2 + 88, label_y, f"{name} {mass:.0f} g")
            y += height
        bottom = BEAM_Y + 22 + BLOCK_PX
        shapes += _arrow(WIDTH / 2 - 100, BEAM_Y + 22, bottom + 14, PACK.colour, 7, 9)
        shapes += svg.text(
            WIDTH / 2 - 118,
            bottom - 30,
            f"{total:.0f} g all-up",
            anchor="end",
            colour=PACK.colour,
            bold=True,
        )
        self.draw(
            shapes,
            f"Up: {motors} motors x {thrust_gf:.0f} gf = {motors * thrust_gf:.0f} gf. Down: {total:.0f} g. "
            "In hover the two are equal.",
        )


def _arrow(
    x: float, tail_y: float, tip_y: float, colour: str = INK, width: float = 4.0, head: float = 7.0
) -> str:
    """An upright arrow; too short for its head, it is the head alone."""
    down = 1.0 if tip_y > tail_y else -1.0
    neck = tip_y - down * 1.6 * head
    shaft = svg.line(x, tail_y, x, neck, colour, width) if (neck - tail_y) * down > 0 else ""
    tip = [(x - head, neck), (x + head, neck), (x, tip_y)]
    return shaft + svg.polygon(tip, fill=colour)
