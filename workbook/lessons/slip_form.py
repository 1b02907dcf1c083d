"""A charger's slip typed in one box, for a flight without a log."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as W

from workbook.errors import InputError
from workbook.flightlog.slip import ChargerSlip, parse_slip
from workbook.sizing.design import Design
from workbook.widgets.controls import Refusal, controls
from workbook.widgets.style import Panel

SLIP = "21 min; 7200 mAh; after 22.6 V"
"""What a slip looks like."""


class SlipForm(Panel):
    """A charger's slip in one box, and the temperatures at take-off.

    Args:
        design: the plan, whose temperatures it begins with.
        take: is given the slip, and the temperatures of cells and air at take-off, °C; what it refuses is said here.
    """

    def __init__(
        self, design: Design[Any], take: Callable[[ChargerSlip, float, float], None]
    ) -> None:
        self.take = take
        self.text = W.Text(
            description="charger's slip",
            placeholder=f"as {SLIP}",
            tooltip="minutes flown; charge put back; before and after: volts at rest; felt: °C after landing",
            style={"description_width": "110px"},
            layout=W.Layout(width="460px"),
        )
        temperatures = controls("pack_temperature_c", "air_temperature_c", design=design)
        self.pack_c, self.air_c = temperatures.values()
        for control in temperatures.values():
            control.size(110, 270, 60)
        self.button = W.Button(
            description="compare the slip",
            tooltip="hold the flight of this slip against the plan",
            layout=W.Layout(width="150px"),
        )
        self.button.on_click(lambda _: self.compare())
        self.refusal = Refusal()
        super().__init__(
            W.HTML(
                '<div class="wb-finding">No log? A charger\'s slip will do, less surely: minutes flown, charge put back, '
                "and the pack's voltage after half an hour's rest if you have it.</div>"
            ),
            W.HBox([self.text, self.button], layout=W.Layout(flex_flow="row wrap")),
            W.HBox([self.pack_c, self.air_c], layout=W.Layout(flex_flow="row wrap")),
            self.refusal,
            name="slip",
        )

    def compare(self) -> None:
        """Read the slip and hand it on, or say why not; what was typed stays."""
        try:
            self.take(parse_slip(self.text.value), self.pack_c.value, self.air_c.value)
        except InputError as fault:
            self.refusal.say(" ".join(fault.lines))
            return
        self.refusal.say("")
