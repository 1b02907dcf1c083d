"""Controls with a label, a unit and one `value`: number, choice, a grid of rows, a file."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from html import escape
from math import ceil, floor
from pathlib import Path
from typing import Any

import ipywidgets as W
import traitlets

from workbook.errors import InputError
from workbook.files.reading import read_bytes, refuse_size
from workbook.numbers import Number
from workbook.parse import parse_number
from workbook.quantities import INPUTS
from workbook.units import shown_unit
from workbook.widgets.parts import OWN_COPY, Reply, button, heading, text_box, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.ticks import nice_step

LABEL_WIDTH = "240px"


class NumberControl(Panel):
    """A slider and a typed box for one number.

    `value` is the one trait to read, set and observe; it changes once for each event.

    Args:
        label: what it is, in words.
        unit: its unit; empty for a ratio or a count.
        value: to start with.
        low: left end of the slider.
        high: right end of the slider.
        step: of the slider, and for the arrow keys.
        least: least value that can be typed; the slider's left end where not given.
        most: greatest value that can be typed; the slider's right end where not given.
        whole: whether only whole numbers can be used.
        usual: from where to where it mostly is; the ends of the slider where not given. What is typed far
            outside is taken and asked about.

    Attributes:
        held: entered while the slider moves the value: a view sends the number together with the figures that it moves.

    Raises:
        InputError: the value to start with cannot be used.

    Example:
        >>> mass = NumberControl("pack mass", "g", 400, 100, 900, 10, most=2000)
        >>> mass.type_in("412,5")
        >>> mass.value
        412.5
        >>> mass.type_in("heavy")
        >>> mass.value, mass.reply.text
        (412.5, "'heavy' is not one number; 100 to 2000 g is needed. 412.5 g stays in use.")
    """

    value = traitlets.Float()

    def __init__(
        self,
        label: str,
        unit: str,
        value: float,
        low: float,
        high: float,
        step: float,
        *,
        least: float | None = None,
        most: float | None = None,
        whole: bool = False,
        usual: tuple[float, float] | None = None,
    ) -> None:
        self.label, self.unit, self.whole = label, unit, whole
        self.held: Callable[[], AbstractContextManager[None]] = nullcontext
        self.usual = (low, high) if usual is None else usual
        self._display_unit = shown_unit(unit)
        self.least = low if least is None else least
        self.most = high if most is None else most
        low, high = max(low, self.least), min(high, self.most)
        if not self._display_unit.same:
            low, high, step = _round_ends(
                self._display_unit.shown(low),
                self._display_unit.shown(high),
                self._display_unit.factor * step,
            )
        described = f"{label}, {self._display_unit.name}" if unit else label
        self.slider = W.FloatSlider(
            value=low,
            min=low,
            max=high,
            step=step,
            readout=False,
            description=described,
            style={"description_width": LABEL_WIDTH},
            layout=W.Layout(width="460px"),
        )
        self.box = text_box(self._shown(value), tip=f"{described}: type a number", width_px=84)
        self.reply = Reply()
        super().__init__(W.HBox([self.slider, self.box]), self.reply)
        self.value = value
        self._show_value()
        self.slider.observe(self._slider_moved, names="value")
        self.box.observe(self._typed, names="value")

    @classmethod
    def of(cls, key: str, value: Number, **changed: Any) -> NumberControl:
        """The control of a quantity: label, unit, slider, range and step as the table of quantities has them.

        A value beyond the ends of the slider widens it.

        Args:
            key: of `workbook.quantities.INPUTS`.
            value: to start with.
            changed: arguments of the control that differ here, such as `label` or `high`.

        Raises:
            KeyError: no input has that key.
            InputError: the value to start with cannot be used.

        Example:
            >>> payload = NumberControl.of("payload_g", 1720)
            >>> payload.label, payload.unit, payload.slider.max, payload.most
            ('payload', 'g', 1720.0, 50000.0)
        """
        quantity, value = INPUTS[key], float(value)
        low = changed.pop("low", quantity.usual[0])
        high = changed.pop("high", quantity.usual[1])
        step = changed.pop("step", quantity.step)
        least = quantity.least
        if quantity.above and value > least:
            least = min(least + step / 10, value)
        arguments: dict[str, Any] = {
            "label": quantity.label,
            "unit": quantity.unit,
            "low": min(low, max(low + floor((value - low) / step) * step, least)),
            "high": max(high, low + ceil((value - low) / step) * step),
            "step": step,
            "least": least,
            "most": quantity.most,
            "whole": quantity.whole,
            "usual": quantity.usual,
        }
        return cls(value=value, **(arguments | changed))

    def _snap(self, value: float) -> float:
        """The step of the slider that is nearest to a value, as the slider shows it."""
        value = self._display_unit.shown(value)
        low, high, step = self.slider.min, self.slider.max, self.slider.step
        snapped: float = round(min(max(low + round((value - low) / step) * step, low), high), 10)
        return snapped

    @property
    def summary(self) -> str:
        """What is set, in words."""
        return f"{self.label}: {self._shown(self.value)} {self._display_unit.name}".strip()

    def _shown(self, value: float) -> str:
        if self.whole:
            return f"{value:.0f}"
        return (
            f"{value:.8g}" if self._display_unit.same else f"{self._display_unit.shown(value):.5g}"
        )

    def size(self, label_px: int, row_px: int, box_px: int) -> None:
        """Width of the label, of label and slider together, and of the box."""
        self.slider.style.description_width = f"{label_px}px"
        self.slider.layout.width, self.box.layout.width = f"{row_px}px", f"{box_px}px"

    @traitlets.validate("value")
    def _check(self, proposal: traitlets.Bunch) -> float:
        try:
            return parse_number(
                proposal["value"], self.unit, self.least, self.most, whole=self.whole
            )
        except InputError as error:
            raise InputError(f"{self.label}: {error}") from None

    @traitlets.observe("value")
    def _show_value(self, _: object = None) -> None:
        """Make slider, box and sentence agree with the value."""
        with self.quiet():
            self._snapped = self._snap(self.value)
            if not self._is_snapped(self.slider.value):
                self.slider.value = self._snapped
            self.box.value = self._shown(self.value)
        self.reply.clear()

    def _is_snapped(self, slider_value: float) -> bool:
        """Whether the slider is where the value is.

        The page is a last digit off (2280.0000000000005); if the kernel corrected that, the slider would jump back
        from wherever a finger or key has moved it meanwhile.
        """
        return abs(slider_value - self._snapped) < 1e-6 * float(self.slider.step)

    def _slider_moved(self, change: traitlets.Bunch) -> None:
        # The page snaps the slider to its steps and reports that: it is no wish of the reader.
        if self.busy or self._is_snapped(change["new"]):
            return
        with self.held():
            self.value = self._clamped(self._display_unit.filed(round(change["new"], 10)))

    def _typed(self, change: traitlets.Bunch) -> None:
        if not self.busy:
            self.type_in(change["new"])

    def type_in(self, text: str) -> None:
        """Take what was typed in the box, or say beside it why not and keep the last good value."""
        display_unit = self._display_unit
        least, most = display_unit.shown(self.least), display_unit.shown(self.most)
        try:
            value = parse_number(text, display_unit.name, least, most, whole=self.whole)
        except InputError as error:
            unit = f" {display_unit.name}" if display_unit.name else ""
            self.reply.refuse(f"{error} {self._shown(self.value)}{unit} stays in use.")
            return
        self.value = self._clamped(display_unit.filed(value))
        self._show_value()
        if self._is_unusual(self.value):
            self.reply.ask(self._unusual_value_question(value))

    def _is_unusual(self, value: float) -> bool:
        """Whether it is far outside what is usual."""
        low, high = self.usual
        room = 0.5 * (high - low)
        return not low - room <= value <= high + room or 0.0 <= value < 0.5 * low

    def _unusual_value_question(self, value: float) -> str:
        """The question about a value that is far outside, in the unit that is shown."""
        display_unit = self._display_unit
        unit = f" {display_unit.name}" if display_unit.name else ""
        low, high = (f"{display_unit.shown(end):.5g}" for end in self.usual)
        side = "below" if value < display_unit.shown(self.usual[0]) else "above"
        likely = next(
            (
                value * x
                for x in (1000.0, 0.001)
                if not self._is_unusual(display_unit.filed(value * x))
            ),
            None,
        )
        hint = "" if likely is None else f" If {likely:.5g}{unit} is meant, type {likely:.5g}."
        return (
            f"{value:.5g}{unit} is far {side} what is usual, {low} to {high}{unit}. "
            f"It is used as typed.{hint}"
        )

    def _clamped(self, value: float) -> float:
        """A value of the slider or the box in the file's unit, not beyond an end by a last digit."""
        return value if self._display_unit.same else min(max(value, self.least), self.most)


def _round_ends(low: float, high: float, step: float) -> tuple[float, float, float]:
    """Ends and step of a slider, rounded to what is read at a glance: 1, 2 or 5 of something."""
    step = nice_step(0.7 * step, 1)
    return floor(low / step) * step, ceil(high / step) * step, step


def controls(*keys: str, design: Any = None, **values: Number) -> dict[str, NumberControl]:
    """A control for each key, at the value of a design or at one given by name.

    Args:
        keys: of `workbook.quantities.INPUTS`, in the order wanted.
        design: whose craft, pack or flight has the figures.
        values: key to value, for what no design has or where the control starts elsewhere; keys not
            among `keys` come after them.

    Raises:
        KeyError: a key that no input has, or a figure that neither the design nor `values` gives.

    Example:
        >>> [control.label for control in controls(payload_g=300.0, headwind_m_s=5.0).values()]
        ['payload', 'headwind']
    """
    return {
        key: NumberControl.of(key, values[key] if key in values else _design_figure(design, key))
        for key in dict.fromkeys((*keys, *values))
    }


def _design_figure(design: Any, key: str) -> Number:
    for part in ("craft", "pack", "flight"):
        value: Number | None = getattr(getattr(design, part, None), key, None)
        if value is not None:
            return value
    raise KeyError(f"neither the design nor the values given have {key}.")


CHOOSE = "choose…"


def suggestions(box: W.Text, texts: Iterable[str], tooltip: str, width_px: int) -> W.Dropdown:
    """A list of texts for a text box; the chosen one is put there, and the list is reset.

    Example:
        >>> box = W.Text()
        >>> suggestions(box, ["Sedge", "Bittern"], "a cell", 200).value = "Bittern"
        >>> box.value
        'Bittern'
    """
    choice = W.Dropdown(
        options=(CHOOSE, *texts), tooltip=tooltip, layout=W.Layout(width=f"{width_px}px")
    )

    def put(change: Any) -> None:
        if change["new"] != CHOOSE:
            box.value, choice.value = change["new"], CHOOSE

    choice.observe(put, names="value")
    return choice


class ChoiceControl(W.Dropdown):  # type: ignore[misc]  # ipywidgets has no types
    """A choice from a list, each with a label.

    Args:
        label: what is chosen, in words.
        options: label to value, or values that are their own labels.
        value: to start with; the first where not given.
        label_px: width of the label, where long options need the room beside it.
        width_px: of label and list together.

    Example:
        >>> air = ChoiceControl("season", {"summer, 25 °C": 25.0, "winter, 0 °C": 0.0})
        >>> air.value
        25.0
    """

    def __init__(
        self,
        label: str,
        options: Mapping[str, object] | Sequence[object],
        value: object = None,
        *,
        label_px: int | None = None,
        width_px: int = 545,
    ) -> None:
        self.label_px = label_px
        named = options if isinstance(options, Mapping) else {str(o): o for o in options}
        pairs = list(named.items())
        super().__init__(
            options=pairs,
            value=pairs[0][1] if value is None else value,
            description=label,
            style={"description_width": f"{label_px}px" if label_px else LABEL_WIDTH},
            layout=W.Layout(width=f"{width_px}px"),
        )
        self.add_class("wb")

    @property
    def summary(self) -> str:
        """What is chosen, in words."""
        return f"{self.description}: {self.label}"

    def offer(self, options: Mapping[str, object]) -> None:
        """Show other options; the chosen value stays where it is still offered, else the first is chosen."""
        kept = self.value
        if dict(self.options) != options:
            self.set_trait("options", list(options.items()))
            if kept in options.values():
                self.set_trait("value", kept)

    def size(self, label_px: int, row_px: int, box_px: int) -> None:
        """As wide as a `NumberControl` of these sizes; a label width given at the start stays."""
        self.style.description_width = f"{self.label_px or label_px}px"
        self.layout.width = f"{row_px + box_px + 4}px"  # and a margin between them


class RowsGrid(Panel):
    """A typed table: rows of boxes under named columns, filled by hand or from a pasted text.

    `value` holds the rows that are not empty, as texts: what they mean is for the reader of the table.

    Args:
        columns: name of each column, with its unit.
        rows: how many to start with.
        label: what the table is, in words.

    Attributes:
        cells: the boxes, row by row.

    Example:
        >>> grid = RowsGrid(["throttle, %", "thrust, g", "current, A"], rows=2)
        >>> grid.fill("50\\t400\\t4,1\\n75\\t700\\t9,0\\n100\\t950\\t15,2")
        >>> len(grid.value), grid.value[0]
        (3, ('50', '400', '4,1'))
    """

    value = traitlets.Tuple()

    def __init__(self, columns: Sequence[str], rows: int = 6, label: str = "") -> None:
        self.columns = tuple(columns)
        self._cell_layout = W.Layout(width="112px", margin="1px")
        self.cells: list[list[W.Text]] = []
        head = W.HBox(
            [
                W.HTML(f"<b>{escape(c)}</b>", layout=W.Layout(width="114px", flex="0 0 auto"))
                for c in columns
            ],
            layout=W.Layout(overflow="visible"),
        )
        self._body = W.VBox([], layout=W.Layout(overflow="visible"))
        grid = W.VBox([head, self._body], layout=W.Layout(overflow="auto"))
        self.add_button = button("add a row", self.add_row, width_px=110)
        self.paste_box = W.Textarea(
            placeholder="paste rows here (tabs, semicolons or commas between columns)",
            layout=W.Layout(width="440px", max_width="100%", height="60px"),
            continuous_update=False,
        )
        self.paste_button = button(
            "fill from text", lambda: self.fill(self.paste_box.value), width_px=120
        )
        self.reply = Reply()
        for _ in range(rows):
            self.cells.append(self._new_row())
        pasting = wrapped(self.paste_box, self.paste_button)
        super().__init__(
            *([heading(label)] if label else []),
            grid,
            self.add_button,
            pasting,
            self.reply,
            name="rows",
        )
        self._show()

    def _new_row(self) -> list[W.Text]:
        row = f"row {len(self.cells) + 1}"
        cells = [
            W.Text(continuous_update=False, tooltip=f"{row}, {name}", layout=self._cell_layout)
            for name in self.columns
        ]
        for cell in cells:
            cell.observe(self._changed, names="value")
        return cells

    def _show(self) -> None:
        self._body.children = [
            W.HBox(row, layout=W.Layout(overflow="visible")) for row in self.cells
        ]

    def _changed(self, change: traitlets.Bunch) -> None:
        if self.busy:
            return
        if any(mark in change["new"] for mark in "\t;"):
            first = next(i for i, row in enumerate(self.cells) if change["owner"] in row)
            self._take(change["new"], first)
        else:
            self._read()

    def _read(self) -> None:
        rows = (tuple(cell.value.strip() for cell in row) for row in self.cells)
        self.value = tuple(row for row in rows if any(row))

    def _set_cells(self, rows: Sequence[Sequence[str]], first: int) -> None:
        with self.quiet():
            while len(self.cells) < first + len(rows):
                self.cells.append(self._new_row())
            for target, texts in zip(self.cells[first:], rows, strict=False):
                for cell, text in zip(target, texts, strict=True):
                    cell.value = text
        self._show()

    def add_row(self) -> None:
        """One more empty row at the end."""
        self.cells.append(self._new_row())
        self._show()

    def fill(self, text: str) -> None:
        """Put a pasted text in place of what the grid holds; where it does not fit, say why."""
        self._take(text, 0, whole=True)

    def _take(self, text: str, first: int, *, whole: bool = False) -> None:
        try:
            rows = split_rows(text, len(self.columns))
        except InputError as error:
            self.reply.refuse(f"{error} The table stays as it was.")
            return
        spare = len(self.cells) - len(rows) if whole else 0
        self._set_cells([*rows, *([[""] * len(self.columns)] * spare)], first)
        self.reply.clear()
        self._read()


def split_rows(text: str, columns: int) -> list[list[str]]:
    """A pasted text as rows of cells.

    Args:
        text: lines; tabs, else semicolons, else commas separate the columns.
        columns: how many columns there are to fill.

    Raises:
        InputError: nothing there, or a line with another number of columns.

    Example:
        >>> split_rows("50;4,1\\n100;15,2", 2)
        [['50', '4,1'], ['100', '15,2']]
    """
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise InputError("nothing is pasted; rows of a table are needed.")
    mark = next((m for m in "\t;" if m in text), ",")
    rows = [[cell.strip() for cell in line.split(mark)] for line in lines]
    for number, row in enumerate(rows, 1):
        while len(row) > columns and not row[-1]:
            row.pop()
        if len(row) != columns:
            raise InputError(f"line {number} has {len(row)} columns; {columns} are needed.")
    return rows


@dataclass(frozen=True)
class ChosenFile:
    """A file that a person chose: its name and its bytes, and its path where it was typed."""

    name: str
    content: bytes
    path: Path | None = None


class FileControl(Panel):
    """A file, uploaded or named by its path.

    Args:
        label: what the file is, in words.
        accept: endings that fit, such as ".csv,.toml".
        limit_mb: largest file that makes sense.
    """

    value = traitlets.Instance(ChosenFile, allow_none=True)

    def __init__(self, label: str, accept: str = "", limit_mb: float = 20.0) -> None:
        self.limit_bytes = round(limit_mb * 1e6)
        self.upload = W.FileUpload(
            accept=accept,
            multiple=False,
            description="choose a file",
            layout=W.Layout(width="170px", flex="0 0 auto"),
        )
        self.path_box = text_box("", "or its path", hint="~/Downloads/…", width_px=420)
        self.path_box.add_class(OWN_COPY)
        self.chosen = W.HTML("no file yet")
        self.reply = Reply()
        where = wrapped(self.upload, self.path_box)
        super().__init__(heading(label), where, self.chosen, self.reply)
        self.upload.observe(lambda change: self.take_upload(change["new"]), names="value")
        self.path_box.observe(lambda change: self.take_path(change["new"]), names="value")

    def take_upload(self, files: Sequence[Mapping[str, Any]]) -> None:
        """Take the first of the files as the page sends them: `name` and `content`."""
        for file in files[:1]:
            self._take(ChosenFile(file["name"], bytes(file["content"])))

    def take_path(self, path: str) -> None:
        """Take a file by its path, or say why not and keep the one before."""
        if not path.strip():
            return
        place = Path(os.path.expanduser(path.strip().strip("\"'")))
        with self.reply.trying():
            self._take(ChosenFile(place.name, read_bytes(place, self.limit_bytes), place))

    def _take(self, file: ChosenFile) -> None:
        with self.reply.trying():
            refuse_size(len(file.content), file.name, self.limit_bytes)
            self.chosen.value = f"{escape(file.name)}, {len(file.content) / 1e3:.1f} kB"
            self.value = file


class DemoOrOwnLog(ChoiceControl):
    """A choice of demo logs and one's own, which is chosen with its file.

    Args:
        label: what is chosen, in words.
        demos: label to the name of a demo's file.
        accept: endings of a log of one's own.
        limit_mb: its largest size.
        more: what else there is to choose from, label to value.

    Attributes:
        own: where the file is chosen; `value` is then "".

    Example:
        >>> log = DemoOrOwnLog("log", {"good batch": "good.csv"}, ".csv", 5.0)
        >>> log.own.value = ChosenFile("mine.csv", b"")
        >>> log.label, log.value
        ('a log of my own', '')
    """

    def __init__(
        self,
        label: str,
        demos: Mapping[str, str],
        accept: str,
        limit_mb: float,
        more: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(label, {**demos, "a log of my own": "", **(more or {})})
        self.own = FileControl("A log of your own", accept, limit_mb)
        self.own.observe(self._own_chosen, names="value")

    def _own_chosen(self, change: traitlets.Bunch) -> None:
        if change["new"] is not None:
            self.value = ""
