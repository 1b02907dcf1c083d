"""A form for a record: one row for each of its keys, with its value and its origin."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

import ipywidgets as W
import traitlets

from workbook.widgets.controls import suggestions
from workbook.widgets.parts import text_box
from workbook.widgets.style import Panel

EMPTY = "not stated"


@dataclass(frozen=True)
class FormRow:
    """One key of a record.

    Attributes:
        key: with its section, as `craft.payload_g`.
        label: in words, with its unit.
        help: the sentence shown under it.
        choices: values to choose from; none for a typed one.
        suggested: values offered where one is typed.
        optional: whether it may be left out.
        origin_key: the key of its origin, a choice of its own; empty where there is none.
        origins: that choice.
    """

    key: str
    label: str
    help: str = ""
    choices: tuple[str, ...] = ()
    suggested: tuple[str, ...] = ()
    optional: bool = False
    origin_key: str = ""
    origins: tuple[str, ...] = ()


class RecordForm(Panel):
    """Rows of a record in steps that open one by one.

    `value` holds, by key and as typed, what is stated.

    Args:
        steps: title of each step to its rows.

    Attributes:
        fields: the control of each key.
        suggestion_lists: of some of them, a list of what may be typed.
        busy: whether the form is being filled.

    Example:
        >>> form = RecordForm({"scale": [FormRow("craft.payload_g", "payload, g", optional=True)]})
        >>> form.fill({"craft.payload_g": 350.0})
        >>> form.fields["craft.payload_g"].value = "0.4 kg"
        >>> form.value
        {'craft.payload_g': '0.4 kg'}
    """

    value = traitlets.Dict()

    def __init__(self, steps: Mapping[str, Iterable[FormRow]]) -> None:
        self.fields: dict[str, Any] = {}
        self.suggestion_lists: dict[str, W.Dropdown] = {}
        boxes = [W.VBox([self._row(row) for row in rows]) for rows in steps.values()]
        self.folds = W.Accordion(boxes, selected_index=0)
        for number, title in enumerate(steps, 1):
            self.folds.set_title(number - 1, f"{number}. {title}")
        super().__init__(self.folds)

    def _row(self, row: FormRow) -> W.VBox:
        if row.choices:
            names = ((EMPTY,) if row.optional else ()) + row.choices
            control: Any = W.Dropdown(options=names, layout=W.Layout(width="108px"))
        else:
            control = text_box(hint=EMPTY if row.optional else "", width_px=108)
        control.layout.min_width = "80px"  # of 108, on a phone
        parts = [W.Label(row.label, layout=W.Layout(width="128px", flex="0 0 auto")), control]
        self._add(row.key, control, row.label)
        if row.origin_key:
            origin = W.Dropdown(
                options=(EMPTY, *row.origins), layout=W.Layout(width="102px", flex="0 0 auto")
            )
            self._add(row.origin_key, origin, f"where it comes from: {row.label}")
            parts.append(origin)
        below: list[Any] = []
        if row.suggested:
            self.suggestion_lists[row.key] = suggestions(
                control, row.suggested, f"choose for {row.label}", 228
            )
            below.append(self.suggestion_lists[row.key])
        below += [W.HTML(f'<div class="wb-source">{escape(row.help)}</div>')] if row.help else []
        return W.VBox([W.HBox(parts), *below], layout=W.Layout(margin="0 0 6px 0"))

    def _add(self, key: str, control: Any, tooltip: str) -> None:
        control.tooltip = tooltip
        control.observe(self._read, names="value")
        self.fields[key] = control

    def fill(self, values: Mapping[str, Any]) -> None:
        """Show other values; a key that is not among them is not stated."""
        with self.quiet():
            for key, control in self.fields.items():
                self._set(control, values.get(key))
        self._read()

    def _set(self, control: Any, value: Any) -> None:
        text = "" if value is None else _shown(value)
        if isinstance(control, W.Dropdown):
            text = text if text in control.options else control.options[0]
        control.value = text

    def _read(self, _: object = None) -> None:
        if not self.busy:
            texts = {key: control.value.strip() for key, control in self.fields.items()}
            self.value = {key: text for key, text in texts.items() if text not in ("", EMPTY)}


def _shown(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)
