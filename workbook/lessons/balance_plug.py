"""The balance lead on the page: its pins, their voltages, and a check of what a meter reads."""

from __future__ import annotations

import ipywidgets as W

from workbook.battery.pack import Pack
from workbook.bench.balance import balance_lead, check_readings
from workbook.errors import InputError
from workbook.parse import parse_number
from workbook.widgets.controls import Refusal
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Verdict


class BalancePlug(Panel):
    """Pins from minus to plus with their voltages, and boxes for what the meter shows.

    Args:
        pack: one S.

    Example:
        >>> from workbook.bench.layout import example_pack
        >>> plug = BalancePlug(example_pack(4, 2))
        >>> plug.typed.value = "3,6 7,2 10,8 14,4"
        >>> "HOLDS" in plug.verdict.html.value
        True
    """

    def __init__(self, pack: Pack) -> None:
        self.series = int(pack.series)
        self.lead = balance_lead(self.series, pack.cell.charge_v)
        self.table, self.verdict, self.refusal = Table(), Verdict(), Refusal()
        self.table.update(
            ["pin", "joined to", "full, V", "stored, V", "as arrived, V", "step as arrived, V"],
            [
                [
                    f"B{p.pin}",
                    p.junction,
                    f"{p.full_v:.2f}",
                    f"{p.storage_v:.2f}",
                    f"{p.arrival_v:.2f}",
                    "–" if p.pin == 0 else f"{p.step_arrival_v:.2f}",
                ]
                for p in self.lead.pins
            ],
            "Balance lead: read every pin against B0 before you plug it in",
            words=(1,),
        )
        self.typed = W.Text(
            description=f"B1 to B{self.series}, V",
            placeholder="what your meter shows, spaces between",
            tooltip="readings of each pin against B0, in volt, spaces between",
            continuous_update=False,
            style={"description_width": "110px"},
            layout=W.Layout(width="560px"),
        )
        self.typed.observe(lambda _: self.check(), names="value")
        caution = W.HTML(f'<div class="wb-finding">{self.lead.caution}</div>')
        super().__init__(self.table, caution, self.typed, self.refusal, self.verdict, name="plug")

    def check(self) -> None:
        """Judge what is typed; say what is missing where it cannot be judged."""
        self.verdict.html.value = ""
        self.refusal.say("")
        texts = self.typed.value.replace(";", " ").split()
        if not texts:
            return
        try:
            found = check_readings([parse_number(t, "V") for t in texts], self.series)
        except InputError as fault:
            self.refusal.say(" ".join(["Not checked:", *map(str, fault.problems)]))
            return
        if found.safe:
            steps = ", ".join(f"{v:.2f}" for v in found.step_v)
            self.verdict.update("holds", f"Every step is one cell: {steps} V.")
        else:
            self.verdict.update("broken", "Do not plug it in. " + " ".join(found.findings))
