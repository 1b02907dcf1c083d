"""A charger's slip typed in one box, for a flight without a log."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as W

from workbook.flightlog.slip import ChargerSlip, parse_slip
from workbook.sizing.design import Design
from workbook.widgets.controls import controls
from workbook.widgets.parts import Reply, button, finding_html, text_box, wrapped
from workbook.widgets.style import Panel

EXAMPLE_SLIP = "21 min; 7200 mAh; after 22.6 V"
"""What a slip looks like."""
INSTRUCTIONS = (
    "No log? A charger's slip will do, less surely: minutes flown, charge put back, and the pack's voltage after half "
    "an hour's rest if you have it."
)


class SlipForm(Panel):
    """A charger's slip in one box, and the temperatures at take-off.

    Args:
        design: the plan, whose temperatures it begins with.
        take: called with the slip and the temperatures of cells and air at take-off, °C; what it refuses is shown here.
    """

    def __init__(
        self, design: Design[Any], take: Callable[[ChargerSlip, float, float], None]
    ) -> None:
        self.take = take
        self.text = text_box(
            "",
            "charger's slip",
            tip="minutes flown; charge put back; before and after: volts at rest; felt: °C after landing",
            hint=f"as {EXAMPLE_SLIP}",
            width_px=460,
            label_px=110,
        )
        temperatures = controls("pack_temperature_c", "air_temperature_c", design=design)
        self.pack_c, self.air_c = temperatures.values()
        for control in temperatures.values():
            control.size(140, 300, 60)
        tip = "compare the flight on this slip with the plan"
        self.button = button("compare the slip", self.compare, tip, 150)
        self.reply = Reply()
        super().__init__(
            W.HTML(finding_html(INSTRUCTIONS, announced=False)),
            wrapped(self.text, self.button),
            wrapped(self.pack_c, self.air_c),
            self.reply,
            name="slip",
        )

    def compare(self) -> None:
        """Read the slip and hand it on, or say why not; what was typed stays."""
        with self.reply.trying():
            self.take(parse_slip(self.text.value), self.pack_c.value, self.air_c.value)
