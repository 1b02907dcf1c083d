"""The sensors of a log checked by what a person reads off charger and meter, and what to set."""

from __future__ import annotations

from workbook.errors import InputError, Problem, refuse
from workbook.flightlog.log import FlightLog
from workbook.flightlog.sensors import SensorCheck, check_sensors
from workbook.parse import parse_number
from workbook.widgets.parts import Reply, button, heading, text_box, wrapped
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
"""Boxes of the form: label, unit, tooltip. Keys as `check_sensors` takes them."""
DEFAULT_SHARE_PCT = "98"


class SensorForm(Panel):
    """Charge put back and a meter's reading against the log that is shown.

    Attributes:
        found: what the last check found; None before one, and after another log is shown.
    """

    def __init__(self) -> None:
        self.flown: FlightLog | None = None
        self.found: SensorCheck | None = None
        self.boxes = {
            key: text_box("", f"{label}, {unit}", tip=meant, width_px=230, label_px=130)
            for key, (label, unit, meant) in BOXES.items()
        }
        self.boxes["charge_share_pct"].value = DEFAULT_SHARE_PCT
        tip = "compare the log shown with charger and meter"
        self.button = button("check the sensors", self.check, tip, 150)
        self.reply, self.findings = Reply(), Notices()
        super().__init__(
            heading("The log's sensors against charger and meter"),
            wrapped(*self.boxes.values(), self.button),
            self.reply,
            self.findings,
            name="sensors",
            max_width="1170px",
        )

    def show(self, log: FlightLog) -> None:
        """Use another log; the findings of the one before are cleared."""
        if log is not self.flown:
            self.flown, self.found = log, None
            self.findings.update(())
            self.reply.clear()

    def check(self) -> None:
        """Check by the boxes that are filled, or say why not; what was typed stays."""
        assert self.flown is not None, "a log is shown before it is checked"
        self.found = None
        self.findings.update(())
        with self.reply.trying():
            self.found = check_sensors(self.flown, **self._typed())
            self.findings.update(self.found.text().split("\n"), f"By {self.flown.name}")

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
        refuse(problems)
        return figures
