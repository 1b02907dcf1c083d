"""A budget that fills: what each allowance takes, one row a line, until the asked figure is met."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workbook import svg
from workbook.widgets.allowance_table import ROW_PX
from workbook.widgets.palette import FAINT, INK, LIMIT, PACK
from workbook.widgets.picture import Picture
from workbook.widgets.ticks import ticks_for

LEFT_PX, RIGHT_PX, WIDTH_PX = 10, 110, 570
TINT_PACK, TINT_LIMIT = "#dfe2f7", "#f3e3df"


@dataclass(frozen=True)
class Piece:
    """What is left after one line, and after those before it: as expected, and at its worse end."""

    left_expected: float
    left_worst: float


class BudgetPicture(Picture):
    """Two bars a row: above as expected, below at the worse end. They fill from the plan downwards.

    Rows are as high as those of `AllowanceTable`, so that the picture stands beside it.

    Example:
        >>> picture = BudgetPicture()
        >>> picture.update(35.0, 30.0, [Piece(33.0, 28.0), Piece(31.0, 22.0)], "min", "31 min left")
        >>> picture.svg.value.count("<rect")
        8
    """

    def __init__(self) -> None:
        super().__init__("", WIDTH_PX, 10 * ROW_PX)
        self.layout.width = f"{WIDTH_PX}px"

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        super().set_big(big)
        self.layout.width = f"{WIDTH_PX * self.scale:.0f}px"

    def update(
        self,
        plan: float,
        asked: float | None,
        pieces: Sequence[Piece],
        unit: str,
        finding: str,
    ) -> None:
        """Show another budget.

        Args:
            plan: the figure without any allowance.
            asked: what is asked of it, where something is.
            pieces: one a line, in order.
            unit: of the figure.
            finding: what the picture shows, in words.
        """
        rows = len(pieces)
        self.height_px = ROW_PX * (rows + 2)
        ends = [plan, 0.0, asked or 0.0, *(p.left_expected for p in pieces)]
        axis = ticks_for([ends], None, 7)
        wide = WIDTH_PX - LEFT_PX - RIGHT_PX

        def at(value: float) -> float:
            inside = min(max(value, 0.0), axis.high) if value == value else 0.0
            return LEFT_PX + wide * inside / axis.high

        bottom = ROW_PX * (rows + 1)
        drawn = [
            svg.line(at(v), ROW_PX, at(v), bottom, "#e3e6ea", 1) for v in axis.values if v >= 0
        ]
        drawn += [
            svg.text(at(v), ROW_PX * 0.62, f"{v:g}", anchor="middle", size=14, colour="#545c69")
            for v in axis.values
            if v >= 0 and (asked is None or abs(at(v) - at(asked)) > 52)
        ]
        drawn.append(svg.text(WIDTH_PX, ROW_PX * 0.62, f"takes, {unit}", anchor="end", size=14))
        before = Piece(plan, plan)
        for number, piece in enumerate(pieces):
            top = ROW_PX * (number + 1) + 4
            for left, was, y, colour, tint in (
                (piece.left_expected, before.left_expected, top, PACK.colour, TINT_PACK),
                (piece.left_worst, before.left_worst, top + 12, LIMIT.colour, TINT_LIMIT),
            ):
                low, high = sorted((at(left), at(was)))
                drawn.append(svg.box(high, y, at(plan) - high, 10, tint, "none", 0, 0))
                drawn.append(svg.box(low, y, max(high - low, 1.5), 10, colour, "none", 0, 0))
            told = " and ".join(
                _loss(was, left)
                for was, left in (
                    (before.left_expected, piece.left_expected),
                    (before.left_worst, piece.left_worst),
                )
            )
            drawn.append(svg.text(WIDTH_PX, top + 16, told, anchor="end", size=14))
            before = piece
        if asked is not None:
            drawn.append(svg.line(at(asked), ROW_PX * 0.72, at(asked), bottom, INK, 2.5, "7 4"))
            drawn.append(
                svg.text(
                    at(asked),
                    ROW_PX * 0.62,
                    f"asked {asked:g}",
                    anchor="middle",
                    size=14,
                    bold=True,
                )
            )
        foot = bottom + 0.66 * ROW_PX
        drawn.append(svg.line(LEFT_PX, bottom, LEFT_PX + wide, bottom, FAINT.colour, 1))
        drawn.append(svg.box(LEFT_PX, foot - 10, 14, 10, PACK.colour, "none", 0, 0))
        drawn.append(svg.text(LEFT_PX + 20, foot, "as expected (upper bar)", size=14))
        drawn.append(svg.box(LEFT_PX + 220, foot - 10, 14, 10, LIMIT.colour, "none", 0, 0))
        drawn.append(svg.text(LEFT_PX + 240, foot, "each at its worse end (lower bar)", size=14))
        self.draw("".join(drawn), finding)


def _loss(was: float, left: float) -> str:
    """What a line takes; a minus where it gives."""
    return f"{was - left:.1f}".replace("-0.0", "0.0") if left == left and was == was else "–"
