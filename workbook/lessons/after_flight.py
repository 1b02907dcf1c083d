"""A flight against its plan in a table, what goes into the next plan, and the page to print of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as W

from workbook.errors import InputError
from workbook.files.design_file import with_measured, without_measured
from workbook.files.design_parts import DesignPart
from workbook.flightlog.comparison import CEILINGS, FlightComparison, compare_flight
from workbook.flightlog.correction import Correction, correct
from workbook.flightlog.slip import ChargerSlip
from workbook.lessons.learner import LearnersDesign, keep
from workbook.lessons.page_writer import PageWriter
from workbook.lessons.slip_form import SlipForm
from workbook.numbers import in_digits, plain
from workbook.sheet.flight_report import verdict_lines, write_flight_report
from workbook.sizing.design import Design
from workbook.widgets.parts import Reply, button, finding_html, heading, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Notices, Verdict

WITHIN_SIGNS = {True: "✓ yes", False: "✕ no", None: "… unknown"}
"""Whether the measured figure lies within what the budget left room for; None where that is not known."""


def planned_design(opened: LearnersDesign) -> Design:
    """The design of a file as it was planned, without what flights have measured since."""
    file = opened.file
    return plain(file.with_part(without_measured(file.part)).design)  # type: ignore[no-any-return]


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
        self.craft_type, self.own = craft_type, own
        self.slip = SlipForm(planned_design(own), self.take_slip)
        self.shown: FlightComparison | None = None
        self.opened: LearnersDesign | None = None
        self.is_own = False
        self.counted: dict[str, FlightComparison] = {}
        self.correction: Correction | None = None
        self.doubted: Correction | None = None
        self.verdict, self.notes = Verdict(), Notices()
        self.compared, self.figures = Table(), Table()
        self.ambiguities = Notices()
        self.evidence = W.HTML()
        self.reply = Reply()
        self.count_button = button(
            "count this flight",
            self.count,
            "correct the plan by it, together with the other flights counted",
            160,
        )
        self.start_over_button = button(
            "start over", self.start_over, "count only the flight that is shown", 120
        )
        self.save_button = button(
            "put it into my design",
            self.save,
            "write these figures into the [measured] part of my design",
            190,
        )
        self.undo_button = button(
            "take it out again", self.undo, "back to the plan's own figures", 160
        )
        self.writer = PageWriter(
            "flight_report.html", "write the report", "one page, to print", self.report
        )
        super().__init__(
            heading("The flight against its plan"),
            self.slip,
            self.verdict,
            self.compared,
            self.notes,
            self.figures,
            self.ambiguities,
            self.evidence,
            wrapped(self.count_button, self.start_over_button, self.save_button, self.undo_button),
            self.reply,
            self.writer,
            name="after-flight",
            max_width="1170px",
        )

    def show(self, found: FlightComparison, opened: LearnersDesign, *, is_own: bool) -> None:
        """Show a flight.

        Args:
            found: held against the plan of `opened`.
            opened: the design that was flown.
            is_own: whether it is a flight of the learner's own craft.
        """
        self.shown, self.opened, self.is_own = found, opened, is_own
        self.verdict.html.value = ""
        unsafe = any(line.unsafe for line in found.lines)
        if unsafe or found.doubts:
            word = "unsafe" if unsafe else "doubtful"
            self.verdict.update(word, "\n".join(verdict_lines(found)[1:]))
        self.compared.update(
            ("", "plan", "budget, 9 in 10", "measured", "within?"),
            [
                (
                    f"{line.label}, {line.unit}".rstrip(", "),
                    in_digits(line.planned),
                    f"{in_digits(line.planned_low)} to {in_digits(line.planned_high)}",
                    f"{in_digits(line.measured)} ± {in_digits(line.uncertainty, 2)}",
                    WITHIN_SIGNS[line.within],
                )
                for line in found.lines
            ],
            f"{found.design.name}, {found.flown.name}: plan, margin budget and flight side by side",
            words=(4,),
        )
        judgements = (
            f"{line.label}: {line.judgement}"
            for line in found.lines
            if line.within is not True or line.key in CEILINGS
        )
        self.notes.update((*judgements, *found.notes), "What the flight says, and what was noticed")
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
        self.show(found, self.own, is_own=True)

    @property
    def _flights(self) -> dict[str, FlightComparison]:
        assert self.shown is not None, "a flight is shown before anything is done with it"
        return {**self.counted, self.shown.flown.name: self.shown}

    def _correct(self) -> None:
        """Correct the plan by the flight shown and those counted, or say why not."""
        assert self.opened is not None, "shown with its design"
        flights, self.correction = self._flights, None
        self.figures.html.value = self.evidence.value = ""
        self.ambiguities.update(())
        with self.reply.trying():
            self.correction = correct(planned_design(self.opened), list(flights.values()))
            self._show_correction(self.correction, ", ".join(flights))

    def _show_correction(self, found: Correction, names: str) -> None:
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
        self.ambiguities.update(
            (*found.doubts, *found.ambiguities), "Doubts, and what the flights cannot tell apart"
        )
        evidence = f"By {names}. The true value lies within ± 95 times out of 100."
        self.evidence.value = finding_html(evidence, announced=False)

    def count(self) -> None:
        """Keep the flight shown, to correct by it together with the next."""
        if self.shown is not None:
            self.counted[self.shown.flown.name] = self.shown
            self._correct()
            self.reply.done(f"✓ Counted: {', '.join(self.counted)}. Show another flight.")

    def start_over(self) -> None:
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
            self.reply.refuse("The flights say too little to change the plan.")
        elif not self.is_own:
            message = "These are flights of the demo craft; your own design stays as it is."
            self.reply.refuse(message)
        elif self.correction.doubts and self.doubted is not self.correction:
            self.doubted = self.correction
            again = "Nothing is written yet; press again to keep it all the same."
            self.reply.refuse(" ".join((*self.correction.doubts, again)))
        else:
            self._keep(lambda design: with_measured(design, part))

    def undo(self) -> None:
        """Take what was measured out of the learner's own design, or say why not."""
        self._keep(without_measured)

    def _keep(self, change: Callable[[DesignPart], DesignPart]) -> None:
        with self.reply.trying():
            self.reply.done(f"✓ {keep(self.craft_type, change=change)}")

    def report(self, path: Path, **options: Any) -> str:
        """Write the report of the flight shown; `options` as `write_flight_report` takes it."""
        if self.shown is None or self.correction is None:
            raise InputError("no flight is shown that could be reported.")
        inputs = self.opened.file.inputs if self.opened else ()
        write_flight_report(self.shown, path, correction=self.correction, inputs=inputs, **options)
        return ""
