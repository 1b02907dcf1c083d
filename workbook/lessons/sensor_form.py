"""The sensors of a log checked by what a person reads off charger and meter, and what to set."""

from __future__ import annotations

import ipywidgets as W

from workbook.errors import InputError, Problem
from workbook.flightlog.log import FlightLog
from workbook.flightlog.sensors import SensorCheck, check_sensors
from workbook.parse import parse_number
from workbook.widgets.controls import Refusal
from workbook.widgets.style import Panel
from workbook.widgets.verdict import Notices

BOXES = {
    "put_back_ah": (
        "charge put back",
        "Ah",
        "what the charger counted until the pack was full again",
    ),
    "charge_share_pct": ("of that, flown", "%", "what is left went into balancing and heat"),
    "meter_v": ("meter reading", "V", "of the whole pack"),
    "meter_at_s": ("read at", "s", "on the log's clock; empty for its first row"),
}
"""What can be typed: label, unit, and what is meant. Keys as `check_sensors` takes them."""
USUAL_SHARE = "98"


class SensorForm(Panel):
    """Charge put back and a meter's reading against the log that is shown.

    Attributes:
        found: what the last check found; None before one, and after another log is shown.
    """

    def __init__(self) -> None:
        self.flown: FlightLog | None = None
        self.found: SensorCheck | None = None
        self.boxes = {
            key: W.Text(
                description=f"{label}, {unit}",
                tooltip=meant,
                style={"description_width": "130px"},
                layout=W.Layout(width="230px"),
            )
            for key, (label, unit, meant) in BOXES.items()
        }
        self.boxes["charge_share_pct"].value = USUAL_SHARE
        self.button = W.Button(
            description="check the sensors",
            tooltip="compare the log shown with charger and meter",
            layout=W.Layout(width="150px"),
        )
        self.button.on_click(lambda _: self.check())
        self.refusal, self.told = Refusal(), Notices()
        form = W.HBox([*self.boxes.values(), self.button], layout=W.Layout(flex_flow="row wrap"))
        super().__init__(
            W.HTML('<div class="wb-title">The log\'s sensors against charger and meter</div>'),
            *(form, self.refusal, self.told),
            name="sensors",
            max_width="1170px",
        )

    def show(self, log: FlightLog) -> None:
        """Take another log; what was found of the one before goes."""
        if log is not self.flown:
            self.flown, self.found = log, None
            self.told.update(())
            self.refusal.say("")

    def check(self) -> None:
        """Check by the boxes that are filled, or say why not; what was typed stays."""
        assert self.flown is not None, "a log is shown before it is checked"
        self.found = None
        self.told.update(())
        try:
            self.found = check_sensors(self.flown, **self._typed())
        except InputError as fault:
            self.refusal.say(" ".join(fault.lines))
            return
        self.refusal.say("")
        self.told.update(self.found.text().split("\n"), f"By {self.flown.name}")

    def _typed(self) -> dict[str, float]:
        """The figures of the boxes that are filled.

        Raises:
            InputError: one or more cannot be read, each with the name of its box.
        """
        figures, problems = {}, []
        for key, (label, unit, _) in BOXES.items():
            if text := self.boxes[key].value.strip():
                try:
                    figures[key] = parse_number(text, unit)
                except InputError as fault:
                    problems.append(Problem(str(fault), label))
        if problems:
            raise InputError(problems)
        return figures
