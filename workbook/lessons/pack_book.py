"""The page of a pack's book: how the pack wears, what to watch, and a line added in ten seconds."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np

from workbook.data.notebooks import here_or_shipped
from workbook.flightlog.book import Book, read_book
from workbook.flightlog.wear import Life, life
from workbook.quantities import NOTED
from workbook.sheet.pack_book import note_event, retire_text, wear_lines
from workbook.widgets.charts import Level, Line, LineChart
from workbook.widgets.controls import ChoiceControl
from workbook.widgets.parts import Reply, button, heading, text_box, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices

DEMO = Path("logs", "six_book.txt")
OWN = Path("logs", "mine_pack_1.txt")
SHOWN_LINES = 6
FIGURES_OF = {
    "flown": ("time_min", "charge_ah"),
    "charged": ("charge_ah", "spread_full_mv"),
    "stored": ("rest_v", "low_cell_v"),
    "tested": ("resistance_mohm", "capacity_ah"),
    "knocked": (),
    "retired": (),
}
"""What can be written down here, and the figures that are asked for."""


class PackBook(Panel):
    """The book of a pack: the demo's until the user writes a line.

    Attributes:
        life: state and trends of the pack whose book is shown.
    """

    def __init__(self) -> None:
        self.life: Life | None = None
        self.path = text_box(OWN.as_posix(), "book", width_px=330)
        self.path.observe(lambda _: self.show(), names="value")
        self.kind = ChoiceControl("what happened", list(FIGURES_OF), label_px=100, width_px=230)
        self.kind.observe(lambda _: self._show_boxes(), names="value")
        self.first, self.second = (text_box(width_px=270, label_px=130) for _ in "ab")
        self.words = text_box("", "words", width_px=330)
        tip = "add a line to the book; no line is ever written over"
        self.button, self.reply = button("write it down", self.write, tip, 140), Reply()
        self.figures, self.lines = KeyFigures(), Table()
        self.stops, self.watch, self.wear = Notices(), Notices(), Notices()
        across = "full cycles"
        self.chart = LineChart(
            "Resistance over the pack's life", across, "resistance at 25 °C, mΩ", label_room_px=80
        )
        form = wrapped(self.path, self.kind, self.first, self.second, self.words, self.button)
        super().__init__(
            heading("The book of a pack"),
            form,
            self.reply,
            self.stops,
            self.figures,
            self.chart,
            self.wear,
            self.watch,
            self.lines,
            name="pack-book",
            max_width="1170px",
        )
        self._show_boxes()
        self.show()

    @property
    def own(self) -> Path:
        """The user's own book, whether it exists yet or not."""
        return Path(self.path.value.strip() or OWN)

    def _show_boxes(self) -> None:
        """Show the boxes that belong to what happened."""
        asked = [NOTED[key] for key in FIGURES_OF[str(self.kind.value)]]
        for box, quantity in zip((self.first, self.second), (*asked, None, None), strict=False):
            box.value, box.layout.display = "", "none" if quantity is None else ""
            if quantity is not None:
                box.description = quantity.axis
                box.tooltip = quantity.help

    def write(self) -> None:
        """Write the line, or say why not."""
        kind = str(self.kind.value)
        boxes = zip(FIGURES_OF[kind], (self.first, self.second), strict=False)
        given = {key: box.value for key, box in boxes if box.value.strip()}
        with self.reply.trying():
            event, _ = note_event(self.own, kind, figures=given, words=self.words.value)
            for box in (self.first, self.second, self.words):
                box.value = ""
            self.show()
            self.reply.done(f"✓ Written into {self.own.as_posix()}: {event.line}")

    def show(self) -> None:
        """Show the user's own book, or the demo's while there is none."""
        own = self.own.exists()
        with self.reply.trying():
            book = read_book(self.own if own else here_or_shipped(DEMO))
            if not own:
                notice = "This is the demo's book, invented; your first line begins your own."
                self.reply.done(notice)
            self._render(book, None if own else book.events[-1].day)

    def _render(self, book: Book, day: datetime.date | None) -> None:
        self.life = found = life(book, day)
        self.stops.update(found.stops, "Do not fly it")
        self.watch.update(
            (*found.watch, *found.taken, *map(str, book.notices)),
            "What to watch, and what was set aside",
        )
        drawn = self._draw(found)
        self.wear.update(
            (*(line for line in wear_lines(found) if line != drawn), retire_text(found)),
            "How it wears",
        )
        cost = "-" if found.cost is None else f"{found.cost:.2f}"
        self.figures.show(
            Figure("flights", f"{found.flights}"),
            Figure("full cycles", f"{found.cycles:.1f}"),
            Figure("left, about", f"{found.cycles_left:.0f}", "full cycles"),
            Figure("cost per flight so far", cost),
        )
        self.lines.update(
            ("day", "what", "figures", "words"),
            [
                (event.day.isoformat(), event.kind, event.figures_text, event.words)
                for event in book.events[-SHOWN_LINES:]
            ],
            "The last lines",
            words=(1, 2, 3),
        )

    def _draw(self, found: Life) -> str:
        """Draw the trend of the resistance, where there is one; returns it in words."""
        trend = next((one for one in found.trends if one.key == "resistance_mohm"), None)
        self.chart.layout.display = "none" if trend is None else ""
        if trend is None:
            return ""
        ahead = min(trend.reached, 3.0 * max(found.cycles, 1.0))
        across = np.array([trend.cycles[0], max(ahead, found.cycles)])
        self.chart.update(
            [Line("the trend", across, trend.line_at(across))],
            levels=[Level("retire", trend.limit, "limit")],
            x_range=(0.0, float(across[1])),
            y_range=(0.0, 1.15 * trend.limit),
            finding=trend.text(),
        )
        self.chart.show_dots(trend.cycles, trend.values)
        return trend.text()
