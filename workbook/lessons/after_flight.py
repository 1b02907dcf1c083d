"""A flight against its plan in a table, what goes into the next plan, and the page to print of it."""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as W
from IPython.display import Markdown

from workbook.errors import InputError
from workbook.files.design_file import build_design, with_measured, without_measured
from workbook.files.writing import SeenFiles
from workbook.flightlog.comparison import CEILINGS, FlightComparison, compare_flight
from workbook.flightlog.correction import Correction, correct
from workbook.flightlog.slip import ChargerSlip
from workbook.lessons.learner import LearnersDesign, keep
from workbook.lessons.slip_form import SlipForm
from workbook.numbers import in_digits, plain
from workbook.sheet.build import PAPERS
from workbook.sheet.flight_report import write_flight_report
from workbook.sizing.design import Design
from workbook.widgets.controls import Refusal
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Notices

WITHIN = {True: "✓ yes", False: "✕ no", None: "… not told"}
"""Of a line that is within what the budget left room for, outside, or cannot be told."""


def planned_design(opened: LearnersDesign) -> Design:
    """The design of a file as it was planned, without what flights have measured since."""
    file = opened.file
    part = without_measured(file.part)
    design, _ = build_design(part, file.path.parent, file.path.name, anywhere=file.anywhere)
    return plain(design)  # type: ignore[no-any-return]


class AfterFlight(Panel):
    """The comparison, the correction by this flight and those counted with it, and what to do with them.

    Args:
        craft_type: as `workbook.lessons.learner.learners_design` takes it.
        own: the learner's own design, or the demo's while there is none; slips are held against it.

    Attributes:
        shown: the flight that is shown; counted: flights that are counted with it, by name.
        correction: by all of them.
    """

    def __init__(self, craft_type: str, own: LearnersDesign) -> None:
        self.craft_type, self.own, self.seen = craft_type, own, SeenFiles()
        self.slip = SlipForm(planned_design(own), self.take_slip)
        self.shown: FlightComparison | None = None
        self.opened: LearnersDesign | None = None
        self.mine = False
        self.counted: dict[str, FlightComparison] = {}
        self.correction: Correction | None = None
        self.compared, self.figures, self.notes = Table(), Table(), Notices()
        self.apart = Notices()
        self.evidence = W.HTML()
        self.refusal, self.said, self.link = Refusal(), W.HTML(), W.Output()
        self.count_button = _button(
            "count this flight",
            "correct the plan by it, together with the other flights counted",
            160,
        )
        self.anew_button = _button("begin anew", "count only the flight that is shown", 120)
        self.save_button = _button(
            "put it into my design",
            "write these figures into the [measured] part of my design",
            190,
        )
        self.undo_button = _button("take it out again", "back to the plan's own figures", 160)
        self.report_button = _button("write the report", "one page, to print", 150)
        self.report_name = W.Text("flight_report.html", description="file")
        self.paper = W.Dropdown(
            options=[(paper.css, name) for name, paper in PAPERS.items()], description="paper"
        )
        self.over = W.Checkbox(False, description="write over a file that is there", indent=False)
        for button, act in (
            (self.count_button, self.count),
            (self.anew_button, self.begin_anew),
            (self.save_button, self.save),
            (self.undo_button, self.undo),
            (self.report_button, self.report),
        ):
            button.on_click(lambda _, act=act: act())
        super().__init__(
            W.HTML('<div class="wb-title">The flight against its plan</div>'),
            *(self.slip, self.compared, self.notes, self.figures, self.apart, self.evidence),
            _row(self.count_button, self.anew_button, self.save_button, self.undo_button),
            _row(self.report_name, self.paper, self.over, self.report_button),
            *(self.refusal, self.said, self.link),
            name="after-flight",
            max_width="1170px",
        )

    def show(self, found: FlightComparison, opened: LearnersDesign, *, mine: bool) -> None:
        """Show a flight.

        Args:
            found: held against the plan of `opened`.
            opened: the design that was flown.
            mine: whether it is a flight of the learner's own craft.
        """
        self.shown, self.opened, self.mine = found, opened, mine
        self.compared.update(
            ("", "plan", "budget, 9 in 10", "measured", "within?"),
            [
                (
                    f"{line.label}, {line.unit}".rstrip(", "),
                    in_digits(line.planned),
                    f"{in_digits(line.planned_low)} to {in_digits(line.planned_high)}",
                    f"{in_digits(line.measured)} ± {in_digits(line.uncertainty, 2)}",
                    WITHIN[line.within],
                )
                for line in found.lines
            ],
            f"{found.design.name}, {found.flown.name}: plan, margin budget and flight side by side",
            words=(4,),
        )
        told = (
            f"{line.label}: {line.judgement}"
            for line in found.lines
            if line.within is not True or line.key in CEILINGS
        )
        self.notes.update((*told, *found.notes), "What the flight says, and what was noticed")
        self._correct()

    def take_slip(self, slip: ChargerSlip, pack_c: float, air_c: float) -> None:
        """Show the flight of a slip.

        Args:
            slip: of a flight of the learner's own craft.
            pack_c, air_c: of cells and air at take-off, °C.

        Raises:
            InputError: as `workbook.flightlog.comparison.compare_flight`.
        """
        found = compare_flight(
            planned_design(self.own), slip, pack_temperature_c=pack_c, air_temperature_c=air_c
        )
        self.show(found, self.own, mine=True)

    @property
    def _all(self) -> dict[str, FlightComparison]:
        assert self.shown is not None, "a flight is shown before anything is done with it"
        return {**self.counted, self.shown.flown.name: self.shown}

    def _correct(self) -> None:
        """Correct the plan by the flight shown and those counted, or say why not."""
        assert self.opened is not None, "shown with its design"
        flights = self._all
        try:
            self.correction = found = correct(planned_design(self.opened), list(flights.values()))
        except InputError as fault:
            self._say(" ".join(fault.lines), refused=True)
            return
        self._say("")
        self.figures.update(
            ("", "plan", "with the flights", "goes into the plan"),
            [
                (
                    figure.label,
                    f"{in_digits(figure.before)} ± {in_digits(figure.before_off, 2)}",
                    f"{in_digits(figure.after)} ± {in_digits(figure.after_off, 2)}",
                    "yes" if figure.used else "no: the flights say too little about it",
                )
                for figure in found.figures
            ],
            "What goes into the next plan",
            words=(3,),
        )
        self.apart.update(found.told_apart, "What could not be told apart")
        names = ", ".join(flights)
        self.evidence.value = (
            f'<div class="wb-finding">By {escape(names)}. ± holds the truth 95 times in 100.</div>'
        )

    def count(self) -> None:
        """Keep the flight shown, to correct by it together with the next."""
        if self.shown is not None:
            self.counted[self.shown.flown.name] = self.shown
            self._correct()
            self._say(f"Counted: {', '.join(self.counted)}. Show another flight.")

    def begin_anew(self) -> None:
        """Count no flight but the one shown."""
        self.counted.clear()
        if self.shown is not None:
            self._correct()

    def save(self) -> None:
        """Put what was measured into the learner's own design, or say why not."""
        if self.correction is None or self.opened is None:
            return
        part = self.correction.part
        if not self.correction.changes:
            self._say("The flights say too little to change the plan.", refused=True)
            return
        if not self.mine:
            told = "These are flights of the demo craft; your own design stays as it is."
            self._say(told, refused=True)
            return
        self._keep(lambda design: with_measured(design, part))

    def undo(self) -> None:
        """Take what was measured out of the learner's own design, or say why not."""
        self._keep(without_measured)

    def _keep(self, change) -> None:  # type: ignore[no-untyped-def]
        try:
            self._say(keep(self.craft_type, change=change))
        except InputError as fault:
            self._say(" ".join(fault.lines), refused=True)

    def report(self) -> None:
        """Write the report of the flight shown, or say why not."""
        if self.shown is None or self.correction is None:
            return
        path = Path(self.report_name.value.strip() or "flight_report.html")
        self.link.outputs = ()
        try:
            write_flight_report(
                self.shown,
                path,
                correction=self.correction,
                paper=self.paper.value,
                overwrite=self.over.value,
                inputs=self.opened.file.inputs if self.opened else (),
                seen=self.seen,
            )
        except InputError as fault:
            self._say(" ".join(fault.lines), refused=True)
            return
        self._say(f"Written: {path}. Open it, print it at 100 %.")
        self.link.append_display_data(Markdown(f"[open {path.name}]({path.as_posix()})"))

    def _say(self, told: str, *, refused: bool = False) -> None:
        self.refusal.say(told if refused else "")
        self.said.value = (
            f'<div class="wb-finding" role="status">✓ {escape(told)}</div>'
            if told and not refused
            else ""
        )


def _button(words: str, tooltip: str, width_px: int) -> W.Button:
    return W.Button(description=words, tooltip=tooltip, layout=W.Layout(width=f"{width_px}px"))


def _row(*parts: W.Widget) -> W.HBox:
    return W.HBox(list(parts), layout=W.Layout(flex_flow="row wrap"))
