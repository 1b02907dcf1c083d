"""A budget that fills: what each allowance takes, one row a line, until the asked figure is met."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from workbook import svg
from workbook.widgets.allowance_table import ROW_PX
from workbook.widgets.palette import FAINT, HAIRLINE, INK, LIMIT, PACK
from workbook.widgets.picture import Picture
from workbook.widgets.ticks import ticks_for

LEFT_PX, PLOT_PX, WIDTH_PX = 10, 450, 570
HEAD_Y = 0.62 * ROW_PX
TINT_PACK, TINT_LIMIT = "#dfe2f7", "#f3e3df"
KEY = (
    (0, PACK.colour, "as expected (upper bar)"),
    (220, LIMIT.colour, "each at its worse end (lower bar)"),
)


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
        self.height_px, bottom = ROW_PX * (rows + 2), ROW_PX * (rows + 1)
        axis = ticks_for([plan, 0.0, asked or 0.0, *(p.left_expected for p in pieces)], None, 7)

        def at(value: float) -> float:
            inside = min(max(value, 0.0), axis.high) if value == value else 0.0
            return LEFT_PX + PLOT_PX * inside / axis.high

        asked_at = -math.inf if asked is None else at(asked)
        shapes = svg.text(WIDTH_PX, HEAD_Y, f"takes, {unit}", anchor="end", size=14)
        for value in axis.values[axis.values >= 0].tolist():
            shapes += svg.line(at(value), ROW_PX, at(value), bottom, HAIRLINE, 1)
            if abs(at(value) - asked_at) > 52:
                shapes += svg.text(
                    at(value), HEAD_Y, f"{value:g}", anchor="middle", size=14, colour="#545c69"
                )
        before = Piece(plan, plan)
        for number, piece in enumerate(pieces, 1):
            shapes += _row(ROW_PX * number + 4, plan, before, piece, at)
            before = piece
        if asked is not None:
            shapes += svg.line(asked_at, ROW_PX * 0.72, asked_at, bottom, INK, 2.5, "7 4")
            shapes += svg.text(
                asked_at, HEAD_Y, f"asked {asked:g}", anchor="middle", size=14, bold=True
            )
        shapes += svg.line(LEFT_PX, bottom, LEFT_PX + PLOT_PX, bottom, FAINT.colour, 1)
        for x, colour, name in KEY:
            y = bottom + 0.66 * ROW_PX
            shapes += svg.box(LEFT_PX + x, y - 10, 14, 10, colour, "none", 0, 0)
            shapes += svg.text(LEFT_PX + x + 20, y, name, size=14)
        self.draw(shapes, finding)


def _row(top: float, plan: float, before: Piece, piece: Piece, at: Callable[[float], float]) -> str:
    """What one line takes: the bar of what is gone, and before it in a tint what went earlier."""
    shapes, losses = "", []
    for was, left, y, colour, tint in (
        (before.left_expected, piece.left_expected, top, PACK.colour, TINT_PACK),
        (before.left_worst, piece.left_worst, top + 12, LIMIT.colour, TINT_LIMIT),
    ):
        low, high = sorted((at(left), at(was)))
        shapes += svg.box(high, y, at(plan) - high, 10, tint, "none", 0, 0)
        shapes += svg.box(low, y, max(high - low, 1.5), 10, colour, "none", 0, 0)
        losses.append(_loss(was, left))
    return shapes + svg.text(WIDTH_PX, top + 16, " and ".join(losses), anchor="end", size=14)


def _loss(was: float, left: float) -> str:
    """What a line takes; a minus where it gives."""
    return f"{was - left:.1f}".replace("-0.0", "0.0") if left == left and was == was else "–"
