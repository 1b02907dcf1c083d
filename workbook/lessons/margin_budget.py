"""Lesson 8: a budget that fills, three readings of it, the chances, and which unknowns matter most."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ipywidgets as W

from workbook import svg
from workbook.errors import InputError
from workbook.files.budget_file import read_budget, write_budget
from workbook.files.writing import SeenFiles
from workbook.lessons.lesson_view import LessonView
from workbook.sheet.text import result_text
from workbook.sizing.budget import Budget, Reading, budget
from workbook.sizing.budget_lines import STANDARD_LINES, BudgetLine, Effect, settle
from workbook.sizing.limits import margin_text
from workbook.sizing.origins import lines_of
from workbook.sizing.sensitivity import Sensitivity
from workbook.units import number_in, with_unit
from workbook.widgets.allowance_table import NARROW_PX, ROW_PX, AllowanceTable
from workbook.widgets.bars import Bar, BarChart
from workbook.widgets.charts import Line, LineChart, Point, Vertical
from workbook.widgets.controls import ChoiceControl, controls
from workbook.widgets.frame import BETWEEN_PX
from workbook.widgets.live import ProgressBar
from workbook.widgets.parts import Reply, button, heading, text_box, wrapped
from workbook.widgets.picture import Picture
from workbook.widgets.style import FAINT, HAIRLINE, INK, LIMIT, PACK
from workbook.widgets.table import Table
from workbook.widgets.ticks import ticks_for
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

OWN_BUDGET = Path("designs", "mine_budget.toml")
SHARE_DRAWS, SHARES_SHOWN = 1024, 7
DRAWS = {"1000": 1024, "16 000": 16_384, "262 000": 262_144}
EFFECTS = {
    "power in flight": (Effect("power_factor"),),
    "mass": (Effect("mass_factor"),),
    "avionics power": (Effect("avionics_factor"),),
    "charge of the pack (takes)": (Effect("capacity_factor", -1.0),),
    "resistance of the cells": (Effect("resistance_factor"),),
    "full-throttle thrust (takes)": (Effect("thrust_factor", -1.0),),
}
READING_HEADINGS = {
    "plan": "plan",
    "expected": "expected",
    "worst": "all at their worst",
    "p05": "5 %",
    "p50": "50 %",
    "p95": "95 %",
}
"""Readings of a figure and their heads in the table."""
TAKEN_OUT, MEASURED_AS_EXPECTED = "taken out", "measured, as expected"


@dataclass(frozen=True)
class MarginBudgetResult:
    """What the live figure shows.

    Attributes:
        budget: the budget of all lines.
        shares: which lines make the spread of the flight time; None where it is undefined.
        shares_missing: why there are none; empty where there are.
        settled: the line that is settled; None where none is.
        settled_by: taken out, or measured as expected.
        settled_budget: the budget with that line settled; None likewise.
    """

    budget: Budget
    shares: Sensitivity | None
    shares_missing: str
    settled: BudgetLine | None
    settled_by: str
    settled_budget: Budget | None

    @property
    def narrower(self) -> float:
        """Spread of the flight time with the line settled, over the one before; NaN without one."""
        before = self.budget.reading("endurance_min").spread
        after = (
            math.nan
            if self.settled_budget is None
            else self.settled_budget.reading("endurance_min").spread
        )
        return after / before if before > 0 else math.nan


class MarginBudget(LessonView):
    """Type what reality may take, line by line; see what is left, how surely, and which unknowns matter most."""

    slow = True
    kept_inputs = ("wanted_min", "parallel")

    def build(self) -> W.Widget:
        """Chances and shares beside their controls and key figures; the table of lines with the budget beside it below."""
        self.seen_budget = SeenFiles()
        self.seen_budget.note(OWN_BUDGET)
        lines, problem = self._lines_to_start_with()
        wanted_min = self.design.flight.wanted_min
        self.lines = AllowanceTable(lines, fixed={line.key for line in STANDARD_LINES})
        side_controls = {
            **controls(
                "wanted_min",
                "parallel",
                design=self.design,
                wanted_min=30.0 if wanted_min is None else wanted_min,
            ),
            "settled": ChoiceControl("suppose you settle", _line_names(lines), ""),
            "settled_by": ChoiceControl("by", (MEASURED_AS_EXPECTED, TAKEN_OUT)),
            "draws": ChoiceControl("simulated flights", DRAWS),
        }
        self.inputs = {**side_controls, "lines": self.lines}
        self.lines.observe(self._offer_lines, names="value")
        self.progress_bar, self.key = ProgressBar(room_px=34), KeyFigures()
        self.picture = BudgetPicture()
        self.readings, self.limits = Table(), Table()
        self.chance = LineChart(
            "Share of flights that last at least this long",
            "flight time, min",
            "flights, %",
            height_px=270,
        )
        self.shares = BarChart(
            "Which unknowns matter most",
            "share of the spread, %",
            width_px=760,
            bar_px=30,
            name_room_px=250,
        )
        self.own_reply = Reply()
        self.own_reply.refuse(problem)
        return self.side_by_side(
            [*side_controls.values(), self.progress_bar, self.key],
            [self.chance, self.shares],
            heading("What reality may take, line by line"),
            wrapped(self.lines, self.picture, align_items="flex-start"),
            self.own_reply,
            self._own_line(),
            self.readings,
            self.limits,
        )

    def _lay_out(self, big: bool) -> None:
        """Place the bars beside the table, close together if need be; below it they get names of their own."""
        super()._lay_out(big)
        width = self.page_width.width  # 0 on no page, as on a worksheet
        named = big or width < BESIDE_PX
        close = not named and width < APART_PX
        self.lines.set_narrow(close)
        wide = LEAST_WIDTH_PX if not big and 0 < width <= WIDTH_PX else WIDTH_PX
        if close:
            wide = min(WIDTH_PX, width - sum(NARROW_PX) - BETWEEN_PX)
        if (named, wide) != (self.picture.named, self.picture.width_px):
            self.picture.named, self.picture.width_px = named, wide
            self.picture.set_big(big)
            if self.result is not None:
                self._show_picture(self.result.budget)

    def _own_line(self) -> W.HBox:
        """The form for a line of the club's own."""
        self.own_name = text_box(tip="name of the line", hint="a line of your own")
        self.own_effect = W.Dropdown(
            options=list(EFFECTS), description="more, %, of", tooltip="what it acts on"
        )
        self.own_effect.style.description_width = "84px"
        tip = "then type its low, expected and high"
        self.add_button = button("add this line", self.add_own, tip)
        parts = {self.own_name: 226, self.own_effect: 320, self.add_button: 130}
        for part, width_px in parts.items():
            part.layout.width = f"{width_px}px"
        return wrapped(*parts)

    def add_own(self) -> None:
        """Add the user's line to the budget: 0, 2 and 5 %, to be typed over."""
        name = self.own_name.value.strip()
        key = "".join(c if c.isascii() and c.isalnum() else "_" for c in name.lower()).strip("_")
        taken = {line.key for line in self.lines.value} | {line.name for line in self.lines.value}
        if not name:
            self.own_reply.refuse("Your line has no name; a few words are needed.")
            return
        key = key if key[:1].isalpha() else f"own_{key or len(taken)}"
        if key in taken or name in taken:
            self.own_reply.refuse(f"There is a line {name} already; another name is needed.")
            return
        self.own_reply.clear()
        self.own_name.value = ""
        effect = self.own_effect.value
        line = BudgetLine(
            key,
            name,
            0.0,
            2.0,
            5.0,
            "triangular",
            EFFECTS[effect],
            why=f"{effect}, percent",
            source="your own",
        )
        self.lines.add(line)

    def _offer_lines(self, _: object) -> None:
        """The lines that can be settled are those of the table."""
        self.inputs["settled"].offer(_line_names(self.lines.value))

    def compute(
        self,
        wanted_min: float,
        parallel: int,
        settled: str,
        settled_by: str,
        draws: int,
        lines: tuple[BudgetLine, ...],
    ) -> MarginBudgetResult:
        """The budget, its shares, and the budget with one line settled."""
        design = self.design.changed(wanted_min=wanted_min, parallel=parallel)
        shares, shares_missing, settled_budget = None, "", None
        with self.progress_bar.running("flights drawn") as report:
            full_budget = budget(design, lines, draws=draws, progress=report)
            try:
                found = full_budget.sensitivity(SHARE_DRAWS, progress=report)
                shares = found["endurance_min"]
            except InputError as fault:
                shares_missing = str(fault)
            line = next((entry for entry in lines if entry.key == settled), None)
            if line is not None:
                settled_lines = settle(lines, settled, 0.0 if settled_by == TAKEN_OUT else None)
                settled_budget = budget(design, settled_lines, draws=draws, progress=report)
        return MarginBudgetResult(
            full_budget, shares, shares_missing, line, settled_by, settled_budget
        )

    def preview(self, wanted_min: float, **values: Any) -> None:
        """The time asked for on the flights that are drawn already: they are the same for any."""
        result: MarginBudgetResult = self.result
        self._show_chance(result, result.budget.reading("endurance_min"), wanted_min)

    def render(self, result: MarginBudgetResult) -> None:
        """Everything that the budget says."""
        made = result.budget
        time = made.reading("endurance_min")
        asked = float(made.design.flight.wanted_min or math.nan)
        self.key.show(
            Figure("asked", f"{asked:g}", "min"),
            Figure.of("endurance_min", time.expected, label="as expected"),
            Figure.of("endurance_min", time.p50, label="one in two lasts"),
            Figure.of("endurance_p05_min", time.p05, label="95 of 100 last"),
            Figure.of("endurance_min", time.worst, label="all at their worst"),
            Figure.of("met_pct", made.met_pct, label="chance of the time asked for"),
        )
        self._show_picture(made)
        self._show_chance(result, time, asked)
        self._show_tables(made)
        self._show_shares(result)

    def _show_picture(self, made: Budget) -> None:
        time = made.reading("endurance_min")
        asked = float(made.design.flight.wanted_min or math.nan)
        self.picture.update(
            time.plan,
            asked,
            [
                BarPiece(
                    cost.left_expected_min,
                    cost.left_worst_min,
                    cost.left_middle_min,
                    cost.line.name,
                )
                for cost in made.costs
            ],
            f"The plan gives {result_text('endurance_plan_min', time.plan)}. As expected the lines leave {result_text('endurance_min', time.expected)}, "
            f"all at their worst together leave {result_text('endurance_min', time.worst)}; {asked:g} min are asked for.",
        )

    def _show_chance(self, result: MarginBudgetResult, time: Reading, asked: float) -> None:
        survival = result.budget.survival_curve()
        lines = [Line("all lines", survival.time_min, survival.share_pct)]
        full_budget = result.budget
        expected_share = f"{result_text('met_pct', full_budget.lasting_pct(time.expected))} last"
        finding = (
            f"{result_text('met_pct', full_budget.lasting_pct(asked))} of the flights last the asked {asked:g} min; "
            f"one in two lasts {result_text('endurance_min', time.p50)}, 95 of 100 last {result_text('endurance_p05_min', time.p05)}. "
            f"{expected_share} the {result_text('endurance_min', time.expected)} of every line as expected: most lines can take "
            "far more than expected, and hardly less."
        )
        if result.settled_budget is not None and result.settled is not None:
            settled_reading, met = (
                result.settled_budget.reading("endurance_min"),
                result.settled_budget.lasting_pct(asked),
            )
            survival = result.settled_budget.survival_curve()
            lines.append(Line("then", survival.time_min, survival.share_pct, "alternative"))
            finding += (
                f" With {result.settled.name} {result.settled_by}: {result_text('met_pct', met)}, 95 of 100 last "
                f"{result_text('endurance_p05_min', settled_reading.p05)}, and the spread is "
                f"{with_unit(100 * result.narrower, '%', 0)} of what it was."
            )
        self.chance.update(
            lines,
            verticals=[
                Vertical(f"asked {asked:g} min", asked),
                Vertical("all as expected", time.expected, "faint"),
            ],
            points=[Point("95 of 100", time.p05, 95.0), Point("one in two", time.p50, 50.0)],
            y_range=(0.0, 100.0),
            finding=finding,
        )

    def _show_tables(self, made: Budget) -> None:
        rows = []
        for reading in made.readings:
            unit = reading.quantity.unit
            digits = 2 if unit in ("", "V") else 1
            figures = [getattr(reading, name) for name in READING_HEADINGS]
            rows.append(
                (
                    reading.quantity.shown_axis,
                    *(number_in(value, unit, digits, reading.quantity.safe) for value in figures),
                )
            )
        self.readings.update(
            ("figure", *READING_HEADINGS.values()),
            rows,
            "Three readings; 5, 50 and 95 % of flights stay below the last three columns",
        )
        self.limits.update(
            ("limit", "expected", "all at their worst", "broken, % of flights"),
            [
                (
                    limit.quantity.label,
                    margin_text(limit.expected),
                    margin_text(limit.worst),
                    _percent_text(limit.broken_fraction),
                )
                for limit in sorted(made.limits, key=lambda entry: -entry.broken_fraction)
            ],
            "Limits: margin left, and the chance that it is broken",
        )

    def _show_shares(self, result: MarginBudgetResult) -> None:
        if result.shares is None:
            self.shares.update([], finding=f"✕ {result.shares_missing}")
            return
        top = result.shares.shares[:SHARES_SHOWN]
        first, bars = top[0], [_share_bar(share) for share in top]
        self.shares.update(
            bars,
            x_range=(0.0, 1.3 * max(1.0, *(x for b in bars for x in (b.value, b.mark or 0.0)))),
            finding=f"Most of the spread is {first.line.name}: {100 * first.total:.0f} % of it would go if that were "
            "known exactly. Bars: with its effect through other lines. Diamonds: by itself."
            if first.total > 0
            else "Every line is certain, so there is no spread.",
        )

    def working(self, result: MarginBudgetResult) -> Iterable[Step]:
        """From the plan to the chances."""
        return result.budget.working()

    def kept_figures(self, result: MarginBudgetResult) -> Mapping[str, Any]:
        """Asked time and P as set; the lines go into a file of their own, unless the one there cannot be used."""
        if OWN_BUDGET.exists():
            read_budget(OWN_BUDGET)
        write_budget(result.budget.lines, OWN_BUDGET, overwrite=True, seen=self.seen_budget)
        return super().kept_figures(result)

    def _lines_to_start_with(self) -> tuple[tuple[BudgetLine, ...], str]:
        """The learner's own lines where they are there and good, else the design's; and why."""
        standard = lines_of(self.design)
        if not OWN_BUDGET.exists():
            return standard, ""
        try:
            return read_budget(OWN_BUDGET), ""
        except InputError as fault:
            return standard, f"Your own lines cannot be used: {fault}"


def _line_names(lines: Iterable[BudgetLine]) -> dict[str, str]:
    return {"nothing": "", **{line.name: line.key for line in lines}}


def _percent_text(share: float) -> str:
    """Percent; small chances are not rounded to none."""
    pct = 100.0 * share
    return "0" if pct == 0 else "< 1" if pct < 1 else "> 99" if 99 < pct < 100 else f"{pct:.0f}"


def _share_bar(share: Any) -> Bar:
    total, alone = (max(100.0 * part, 0.0) for part in (share.total, share.first_order))
    return Bar(share.line.name, total, f"{total:.0f} %, alone {alone:.0f} %", mark=alone)


LEFT_PX, LOSS_PX, WIDTH_PX, NAMES_PX = 10, 110, 570, 200
LEAST_WIDTH_PX = 460
"""Of the picture on a phone, so that its text stays readable."""
BESIDE_PX, APART_PX = 900, 1190
"""Page widths from which the picture is beside the table and shares its names: close together, or with space between."""
HEAD_Y = 0.62 * ROW_PX
TINT_PACK, TINT_LIMIT = "#dfe2f7", "#f3e3df"
LEGEND = (
    (0, PACK.colour, "as expected (upper)"),
    (190, LIMIT.colour, "each at its worse end (lower)"),
)
MIDDLE_NOTE = "each line so far at its middle: half the flights meet less"


@dataclass(frozen=True)
class BarPiece:
    """What is left after one line, and after those before it: as expected, at its worse end, at its middle."""

    left_expected: float
    left_worst: float
    left_middle: float = math.nan
    name: str = ""


class BudgetPicture(Picture):
    """Two bars a row: above as expected, below at the worse end. They fill from the plan downwards.

    Rows are as high as those of `AllowanceTable`, so that each is level with its line there.

    Example:
        >>> picture = BudgetPicture()
        >>> picture.update(35.0, 30.0, [BarPiece(33.0, 28.0), BarPiece(31.0, 22.0)], "31 min left")
        >>> picture.svg.value.count("<rect")
        8
    """

    def __init__(self) -> None:
        self.named = False
        super().__init__("", WIDTH_PX, 10 * ROW_PX)
        self.set_big(False)

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        super().set_big(big)
        drawing_px = round(self.width_px * self.scale)
        self.layout.width = f"calc({drawing_px}px + 2 * var(--jp-widgets-margin))"  # no scroll bar

    def update(
        self, plan: float, asked: float | None, pieces: Sequence[BarPiece], finding: str
    ) -> None:
        """Show another budget.

        Args:
            plan: the figure without any allowance.
            asked: the figure that is required, where there is one.
            pieces: one a line, in order.
            finding: what the picture shows, in words.
        """
        rows = len(pieces)
        self.height_px, bottom = ROW_PX * (rows + 3), ROW_PX * (rows + 1)
        left_px = LEFT_PX + NAMES_PX if self.named else LEFT_PX
        plot_px = self.width_px - LOSS_PX - left_px
        axis = ticks_for([plan, 0.0, asked or 0.0, *(p.left_expected for p in pieces)], None, 7)

        def x_of(value: float) -> float:
            inside = 0.0 if math.isnan(value) else min(max(value, 0.0), axis.high)
            return left_px + plot_px * inside / axis.high

        asked_x = -math.inf if asked is None else x_of(asked)
        shapes = svg.text(self.width_px, HEAD_Y, "takes, min", anchor="end", size=14)
        for value in axis.values[axis.values >= 0].tolist():
            shapes += svg.line(x_of(value), ROW_PX, x_of(value), bottom, HAIRLINE, 1)
            if abs(x_of(value) - asked_x) > 52:
                shapes += svg.text(
                    x_of(value), HEAD_Y, f"{value:g}", anchor="middle", size=14, colour="#545c69"
                )
        before = BarPiece(plan, plan)
        for number, piece in enumerate(pieces, 1):
            top = ROW_PX * number + 4
            shapes += _row(top, plan, before, piece, x_of)
            expected = _loss(before.left_expected, piece.left_expected)
            losses = f"{expected} and {_loss(before.left_worst, piece.left_worst)}"
            shapes += svg.text(self.width_px, top + 16, losses, anchor="end", size=14)
            if math.isfinite(piece.left_middle):
                x = x_of(piece.left_middle)
                shapes += svg.line(x, top - 2, x, top + 24, INK, 2.5)
            if self.named:
                shapes += svg.text(LEFT_PX, top + 16, piece.name, size=13)
            before = piece
        if asked is not None:
            shapes += svg.line(asked_x, ROW_PX * 0.72, asked_x, bottom, INK, 2.5, "7 4")
            shapes += svg.text(
                asked_x, HEAD_Y, f"asked {asked:g}", anchor="middle", size=14, bold=True
            )
        shapes += svg.line(left_px, bottom, left_px + plot_px, bottom, FAINT.colour, 1)
        for x, colour, name in LEGEND:
            y = bottom + 0.66 * ROW_PX
            shapes += svg.box(LEFT_PX + x, y - 10, 14, 10, colour, "none", 0, 0)
            shapes += svg.text(LEFT_PX + x + 20, y, name, size=14)
        y = bottom + 1.5 * ROW_PX
        shapes += svg.line(LEFT_PX + 7, y - 14, LEFT_PX + 7, y + 3, INK, 2.5)
        shapes += svg.text(LEFT_PX + 20, y, MIDDLE_NOTE, size=14)
        self.draw(shapes, finding)


def _row(
    top: float, plan: float, before: BarPiece, piece: BarPiece, x_of: Callable[[float], float]
) -> str:
    """The loss of one line as a bar, and the earlier losses before it in a tint."""
    shapes = ""
    for earlier, later, y, colour, tint in (
        (before.left_expected, piece.left_expected, top, PACK.colour, TINT_PACK),
        (before.left_worst, piece.left_worst, top + 12, LIMIT.colour, TINT_LIMIT),
    ):
        low, high = sorted((x_of(later), x_of(earlier)))
        shapes += svg.box(high, y, x_of(plan) - high, 10, tint, "none", 0, 0)
        shapes += svg.box(low, y, max(high - low, 1.5), 10, colour, "none", 0, 0)
    return shapes


def _loss(earlier: float, later: float) -> str:
    """What a line takes; a minus where it gives."""
    loss = earlier - later
    return "–" if math.isnan(loss) else f"{loss:.1f}".replace("-0.0", "0.0")
