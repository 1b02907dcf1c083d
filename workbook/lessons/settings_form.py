"""The present settings of a builder's devices, and what is wrong with them for this pack."""

from __future__ import annotations

from typing import Any

import ipywidgets as W

from workbook.battery.pack import Pack
from workbook.battery.thresholds import (
    CELLS_SET,
    USUAL_SETTINGS,
    Settings,
    Thresholds,
    check_settings,
)
from workbook.errors import Problem
from workbook.quantities import INPUTS
from workbook.widgets.controls import ChoiceControl, NumberControl
from workbook.widgets.live import Live
from workbook.widgets.parts import finding_html, heading
from workbook.widgets.style import Panel
from workbook.widgets.verdict import Notices

PER_CELL_RANGE: dict[str, Any] = {"high": 4.2, "step": 0.01, "most": 5.0, "usual": (2.8, 4.2)}
"""What differs in the control of a voltage that is set per cell."""
EXAMPLE = "These values are an example: habits from lithium-polymer packs. Enter what your own device says; 0 is off."
NOTHING_WRONG = "✓ Nothing is wrong with these settings for this pack at the power above."


class SettingsForm(Panel):
    """A device's present settings, and what is wrong with each for the pack and power that are shown.

    Args:
        pack: one S and one P.
    """

    def __init__(self, pack: Pack) -> None:
        self.pack = pack
        self.thresholds: Thresholds | None = None
        counts = {f"{n}, by hand": n for n in range(1, int(INPUTS["series"].most) + 1)}
        self.inputs: dict[str, ChoiceControl | NumberControl] = {
            "cell_count": ChoiceControl(CELLS_SET, {"the device counts them": 0, **counts}),
            "per_cell": ChoiceControl("voltages are", {"of each cell": True, "of the pack": False}),
            **{key: self._voltage(key, True) for key in ("warn_v", "failsafe_v")},
            **{f"pack_{key}": self._voltage(key, False) for key in ("warn_v", "failsafe_v")},
            "resting": ChoiceControl("and compared", {"loaded": False, "at rest": True}),
            "capacity_ah": NumberControl.of("set_capacity_ah", USUAL_SETTINGS.capacity_ah or 0.0),
        }
        for control in self.inputs.values():
            control.size(110, 270, 76)
        self.problems, self.right = Notices(), W.HTML()
        self.live = Live(self.inputs, self.compute, self.render)
        super().__init__(
            heading("What your device is set to"),
            W.HTML(finding_html(EXAMPLE, announced=False)),
            *self.inputs.values(),
            self.live.status,
            self.problems,
            self.right,
            name="settings",
            max_width="1170px",
        )

    def _voltage(self, key: str, per_cell: bool) -> NumberControl:
        value_v = float(getattr(USUAL_SETTINGS, key))
        if per_cell:
            return NumberControl.of(key, value_v, **PER_CELL_RANGE)
        return NumberControl.of(key, USUAL_SETTINGS.pack_v(value_v, int(self.pack.series)))

    def show(self, pack: Pack, thresholds: Thresholds) -> None:
        """Check against the thresholds of another pack or power."""
        self.pack, self.thresholds = pack, thresholds
        self.live.run_now()

    def compute(
        self, cell_count: int, per_cell: bool, resting: bool, capacity_ah: float, **volts: float
    ) -> tuple[Problem, ...] | None:
        """What is wrong; None where no thresholds are known yet."""
        if self.thresholds is None:
            return None
        of = "" if per_cell else "pack_"
        settings = Settings(
            cell_count or None,
            volts[f"{of}warn_v"],
            volts[f"{of}failsafe_v"],
            resting,
            capacity_ah or None,
            per_cell,
        )
        return check_settings(self.pack, self.thresholds, settings)

    def render(self, found: tuple[Problem, ...] | None) -> None:
        """Say it, and show the voltages that the device takes."""
        for key in ("warn_v", "failsafe_v"):
            for name, shown in ((key, True), (f"pack_{key}", False)):
                wanted = self.inputs["per_cell"].value is shown
                self.inputs[name].layout.display = "" if wanted else "none"
        if found is None:
            return
        self.problems.update(found, "Wrong for this pack")
        self.right.value = "" if found else finding_html(NOTHING_WRONG)
