"""The user's own craft: every figure of a design in the order of the job, with the answer beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, Literal, get_args, get_origin

import ipywidgets as W
import numpy as np
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from workbook.errors import InputError
from workbook.files.cell_file import catalogue
from workbook.files.commented import record_text
from workbook.files.design_file import (
    DesignFile,
    StatedDesign,
    build_design,
    check_design,
    measured,
    moved_design,
    parse_design,
    read_design,
    write_design,
)
from workbook.files.design_parts import (
    FLIGHT_KEYS,
    BenchPart,
    DesignPart,
    FlightPart,
    OriginPart,
    PackPart,
    TodayPart,
)
from workbook.files.new_design import DEMO_TABLES, guide, new_design_text
from workbook.files.reach import relative_path
from workbook.files.records import parse_toml
from workbook.files.writing import SeenFiles
from workbook.lessons.learner import (
    DESIGNS,
    OWN_CELLS,
    cells,
    design_path,
    design_suggestions,
    own_path,
)
from workbook.lessons.page_to_send import PageToSend
from workbook.parse import parse_number
from workbook.quantities import INPUTS, RESULTS, unit_of
from workbook.sheet.text import doubt_lines, unchecked_lines
from workbook.sizing.calibration import Calibration, TestFlight, calibrate
from workbook.sizing.design import Design, OriginName
from workbook.sizing.measuring import worth_measuring
from workbook.sizing.origins import BEARINGS
from workbook.sizing.size import SizingResult, size
from workbook.widgets.controls import ChoiceControl
from workbook.widgets.frame import LiveView
from workbook.widgets.live import Live
from workbook.widgets.parts import (
    REPLACE,
    Reply,
    button,
    finding_html,
    heading,
    text_box,
    tick,
    wrapped,
)
from workbook.widgets.record_form import FormRow, RecordForm
from workbook.widgets.style import Panel
from workbook.widgets.verdict import Figure, KeyFigures, LimitsTable, Notices, Verdict
from workbook.working import Step

ORIGINS: tuple[str, ...] = get_args(OriginName)
OWN = own_path()
TABLES = Path("tables")
OTHER_STEPS = {"today": "The pack flown today", "bench": "What is at the bench"}
"""Steps whose rows are all keys of a section, in its own order."""

SECTIONS: dict[str, type[BaseModel]] = {
    "pack": PackPart,
    "flight": FlightPart,
    "today": TodayPart,
    "bench": BenchPart,
}


@dataclass(frozen=True)
class MyCraftResult:
    """What the page shows: the design as typed, checked, and its answer."""

    part: DesignPart
    answer: SizingResult


class MyCraft(LiveView):
    """Every figure of a design in steps, where it comes from, and the answer beside it.

    Args:
        path: the design to begin with.

    Attributes:
        form: a row for each key.
        test_flight: what a known flight says of it.
    """

    narrowest_px = 388

    def __init__(self, path: Path | str = OWN) -> None:
        super().__init__("my-craft")
        self.seen = SeenFiles()
        self.path_box = text_box(str(path), "design", width_px=360)
        self.designs = design_suggestions(self.path_box)
        self.load_button = button("open", self.load, "open the design of this path")
        self.save_button = button("save", self.save, "save the design to this path")
        self.overwrite = tick(REPLACE)
        self.new_kind = ChoiceControl("begin a new", tuple(DEMO_TABLES), label_px=90, width_px=230)
        self.new_button = button("begin", self.begin, "begin a new design; nothing is saved")
        self.reply = Reply()
        self.page = PageToSend(self.current_file, lambda: self.path)
        if Path(path).exists():
            self._open(self._read(Path(path)))
        else:
            self.begin()

    # files ---------------------------------------------------------------------------------------

    @property
    def path(self) -> Path:
        """Where the design is saved."""
        return design_path(self.path_box.value)

    def _read(self, path: Path) -> DesignFile:
        self.seen.note(path)
        return read_design(path)

    def begin(self) -> None:
        """A new design on the page, every figure assumed; nothing is saved."""
        craft_type = self.new_kind.value
        table = str(Path("..") / DEMO_TABLES[craft_type])
        text = new_design_text(self.path.stem, craft_type, table)
        self._open(parse_design(text, DESIGNS / self.path.name))
        self.reply.done(
            f"A new {craft_type}: every figure is assumed until you measure it. Not saved yet."
        )

    def load(self) -> None:
        """Put a design from its file on the page, or say why not and keep the one that is there."""
        with self.reply.trying():
            self._open(self._read(self.path))
            self.reply.done(f"Opened {self.path}.")

    def save(self) -> None:
        """Save the design as it stands; one that cannot be used is not saved, with a message."""
        over = self.overwrite.value or (self.path == self.base.path and self.path in self.saved)
        here, folder = self.base.path.parent, self.path.parent
        with self.reply.trying():
            write_design(
                moved_design(self._shown().part, here, folder, anywhere=self.base.anywhere),
                self.path,
                self.base.document,
                overwrite=over,
                inputs=self.base.inputs[1:],
                seen=self.seen,
            )
            self.saved.add(self.path)
            self.reply.done(f"Saved as {self.path}; every lesson opens with designs/mine.toml.")

    def current_file(self) -> DesignFile:
        """The design as typed.

        Raises:
            InputError: some figure cannot be used.
        """
        return self.base.with_part(self._shown().part)

    def _shown(self) -> MyCraftResult:
        """The design on the page and its answer.

        Raises:
            InputError: some figure cannot be used.
        """
        shown: MyCraftResult | None = self.live.current()
        if shown is None:
            raise InputError(
                "Nothing done: some figure cannot be used; it is named above the form."
            )
        return shown

    # form and answer -----------------------------------------------------------------------------

    def _open(self, file: DesignFile) -> None:
        """Form and answer of a design."""
        self.base, self.saved = file, {self.path} if self.path.exists() else set()
        self.measured = {
            key: origin
            for key, origin in file.part.origins.items()
            if isinstance(origin, OriginPart)
        }
        self.arrange()
        self.background = Live(self.inputs, self._worth_measuring, self._show_worth, slow=True)
        own = (self.path_box, self.designs, self.load_button, self.save_button, self.overwrite)
        files = Panel(
            heading("Open and save"),
            wrapped(*own, align_items="center"),
            wrapped(self.new_kind, self.new_button, align_items="center"),
            self.reply,
            self.page,
        )
        self.children = [*self.children, files]

    def build(self) -> W.Widget:
        """The form in steps; verdict, figures, what to measure, limits and notes beside it."""
        part = self.base.part
        self.form = RecordForm(dict(_steps(part)))
        self.form.fill(_texts(part))
        self.mission = W.Textarea(
            value=record_text({"mission": part.model_dump(exclude_unset=True)["mission"]})
            if part.mission
            else "",
            placeholder='[[mission]]\nkind = "hover"\nduration_s = 600.0',
            continuous_update=False,
            tooltip="mission: its phases in the order flown, as in a design file",
            layout=W.Layout(width="380px", height="110px"),
        )
        self.sure = text_box(
            ", ".join(part.sure),
            "sure of",
            tip="subjects of doubts that you have looked into, and that are right",
            hint="mass, time",
            width_px=380,
        )
        self.inputs = {"typed": self.form, "mission": self.mission, "sure": self.sure}
        fields = self.form.fields
        fields["pack.cell"].observe(self._cell_changed, names="value")
        if "craft.thrust_table" in fields:
            fields["craft.thrust_table"].observe(self._table_changed, names="value")
        self.verdict, self.figures, self.worth = Verdict(), KeyFigures(), Notices()
        self.limits_table, self.notices = LimitsTable(), Notices()
        self.test_flight = TestFlightPanel(
            lambda: self._shown().answer.design, self._use_calibration
        )
        below = W.VBox([heading("Mission, where there is one"), self.mission])
        below.children += (heading("Doubts that you have answered, by subject"), self.sure)
        return self.side_by_side(
            [self.form, below, self.big],
            [
                self.verdict,
                self.figures,
                self.worth,
                self.test_flight,
                self.limits_table,
                self.notices,
            ],
        )

    def _cell_changed(self, change: Any) -> None:
        """A cell from the learner's own folder is looked for there."""
        name = change["new"].strip()
        if name in cells() and name not in catalogue():
            self.form.fields["pack.cell_folder"].value = relative_path(
                OWN_CELLS, self.base.path.parent
            )

    def _table_changed(self, _: Any) -> None:
        """Motor, propeller and voltage were chosen in the table before."""
        if not self.form.busy:
            for key in ("motor", "propeller", "table_voltage_v"):
                self.form.fields[f"craft.{key}"].value = ""

    def compute(self, typed: Mapping[str, str], mission: str, sure: str) -> MyCraftResult:
        """Check the form and size its design."""
        base = self.base.part
        data = base.model_dump(exclude_none=True, exclude_unset=True)
        shown = set(self.form.fields)
        for section in ("craft", "pack", "flight", "today", "bench", "origins"):
            kept = {k: v for k, v in data.get(section, {}).items() if f"{section}.{k}" not in shown}
            mine = {
                key.partition(".")[2]: text
                for key, text in typed.items()
                if key.startswith(f"{section}.")
            }
            data[section] = kept | mine
            if not data[section]:
                del data[section]
        for key, origin in self.measured.items():
            if data.get("origins", {}).get(key) == origin.origin:
                data["origins"][key] = origin.model_dump(exclude_none=True)
        data["name"] = typed.get("name", base.name)
        data["sure"] = [word.strip() for word in sure.split(",") if word.strip()]
        data.pop("mission", None)
        if mission.strip():
            data |= parse_toml(mission, "mission")
        part = check_design(data, "the form")
        design, notices = build_design(
            StatedDesign(self.base.path.with_name("the form"), part, False)
        )
        return MyCraftResult(part, size(design, notices=notices))

    def render(self, result: MyCraftResult) -> None:
        """Verdict, figures, limits and notes."""
        answer = result.answer
        figures = answer.figures()
        self.verdict.show(answer)
        self.figures.update([Figure.of(key, figures[key]) for key in answer.craft_type.short_keys])
        self.limits_table.show(answer.limits)
        first = [str(x) for x in answer.notes if x.topic in ("assumed", "two packs")]
        self.notices.update([*first, *doubt_lines(answer), *unchecked_lines(answer)])
        self.test_flight.show_expected(answer)

    def working(self, result: MyCraftResult) -> Iterable[Step]:
        """How each figure came about."""
        return result.answer.working

    def _worth_measuring(self, typed: Mapping[str, str], mission: str, sure: str) -> list[str]:
        """What it would pay most to measure; beside the page, for it takes a moment."""
        design = self.compute(typed, mission, sure).answer.design
        return [found.text for found in worth_measuring(design)]

    def _show_worth(self, texts: list[str]) -> None:
        self.worth.update(texts, title="Worth measuring first")

    def _use_calibration(self, found: Calibration) -> None:
        """Put what a test flight measured into the form."""
        part = measured(self._shown().part, found.changes, found.origin)
        self.measured = {k: o for k, o in part.origins.items() if isinstance(o, OriginPart)}
        self.form.fill(_texts(part))


class TestFlightPanel(Panel):
    """The plan calibrated by a known flight: what to write down, what the plan expects, what follows.

    Args:
        design: gives the design on the page, or raises `InputError` where it cannot be used.
        take: called with what was measured, once it is to be used.
    """

    __test__ = False  # no test of pytest's

    def __init__(
        self, design: Callable[[], Design[Any]], take: Callable[[Calibration], None]
    ) -> None:
        self._design, self._use_calibration = design, take
        self.found: Calibration | None = None
        self.expected, self.reply, self.message = W.HTML(), Reply(), W.HTML()
        packs = ("the pack of today", "the pack planned")
        self.on = ChoiceControl("flown on", packs, label_px=70, width_px=230)
        self.boxes = {
            key: text_box("", label, tip=label, width_px=225, label_px=130)
            for group in TEST_FLIGHT_ROWS
            for key, label in group.items()
        }
        self.hold_button = button("hold against the plan", self.compare, width_px=180)
        self.use_button = button("use it", self.use, width_px=90)
        self.use_button.layout.display = "none"
        how = W.HTML(finding_html(HOW_TO_TEST, announced=False))
        typed = [wrapped(*(self.boxes[key] for key in keys)) for keys in TEST_FLIGHT_ROWS]
        buttons = W.HBox([self.hold_button, self.use_button])
        parts = [how, self.expected, self.on, *typed, buttons, self.reply, self.message]
        titles = ("A flight that you have timed",)
        super().__init__(W.Accordion([W.VBox(parts)], selected_index=None, titles=titles))

    def show_expected(self, answer: SizingResult) -> None:
        """Say what the plan expects of the test."""
        steady = answer.craft_type.steady
        beside = [("the pack planned", answer), ("the pack of today", answer.today)]
        expectations = [
            f"on {name} {RESULTS['endurance_min'].text(one.point.endurance_min)}, "
            f"{one.point.run.charge_ah * one.design.pack.parallel:.2f} Ah, {one.point.power_w:.0f} W"
            for name, one in beside
            if one is not None and np.isfinite(one.point.power_w)
        ]
        text = (
            f"The plan expects of a {steady} down to the reserve: {'; '.join(expectations)}."
            if expectations
            else ""
        )
        self.expected.value = finding_html(text, announced=False)

    def compare(self) -> None:
        """Work out what the flight says, or say why not."""
        self.found, self.message.value = None, ""
        self.use_button.layout.display = "none"
        with self.reply.trying():
            design = self._design()
            self.found = calibrate(design, [self._flight(design)])
            key = self.found.origin.key
            value = INPUTS[key].text(self.found.changes[key])
            sentence = f"{self.found.text()} That makes {INPUTS[key].label} {value}."
            self.message.value = "".join(map(finding_html, (sentence, *self.found.doubts)))
            self.use_button.layout.display = ""

    def use(self) -> None:
        """Put it into the design, or say why not."""
        if self.found is None:
            return
        with self.reply.trying():
            self._use_calibration(self.found)
            self.message.value += finding_html("✓ The form has it, marked measured.")

    def _flight(self, design: Design[Any]) -> TestFlight:
        typed = {
            key: parse_number(box.value, unit_of(key))
            for key, box in self.boxes.items()
            if box.value.strip()
        }
        needs_pack = "charge_ah" in typed or "mass_g" not in typed
        today = design.today if self.on.value == "the pack of today" else None
        pack = design.pack if today is None else today.pack
        if needs_pack and self.on.value == "the pack of today" and today is None:
            raise InputError(
                "the design states no pack of today: state it in its step of the form, or choose the pack "
                "planned; or tell watts, or amperes and volts, and the mass then, which need no pack."
            )
        mass_g = typed.pop("mass_g", float(design.craft.all_up_mass_g(pack.mass_g)))
        return TestFlight(mass_g, pack, **typed)


TEST_FLIGHT_ROWS = (
    {"time_min": "minutes in the air", "charge_ah": "and Ah put back"},
    {"power_w": "or: watts"},
    {"current_a": "or: amperes", "voltage_v": "and volts"},
    {"mass_g": "mass then, g", "airspeed_m_s": "airspeed, m/s (wing)"},
)
"""What is typed side by side: the first three rows are the three ways to describe a flight."""
HOW_TO_TEST = (
    "In calm air, with a full pack: hover at eye height out of ground effect (a wing: cruise level at one "
    "throttle), hands off as far as you can, for ten minutes or more; land well before the pack is empty. Write "
    "down minutes in the air and, from the charger, what goes back in; or watts, or amperes and volts, as a log or "
    "a meter has them: one of the three is enough. Weigh the craft as it flew; without its mass, the form's is "
    "used."
)


# rows of the form ---------------------------------------------------------------------------------


def _steps(part: DesignPart) -> Iterator[tuple[str, list[FormRow]]]:
    """Title and rows of each step, for the craft of a design."""
    craft_type = part.craft.kind
    models = {"craft": type(part.craft), **SECTIONS}
    rows: dict[str, list[FormRow]] = {}
    for entry in guide():
        field = models[entry.section].model_fields.get(entry.key)
        if field is not None and not (
            entry.section == "flight" and entry.key in BARRED_FLIGHT_KEYS[craft_type]
        ):
            row = _form_row(entry.section, entry.key, field, entry.how)
            rows.setdefault(entry.step, []).append(row)
    for section, title in OTHER_STEPS.items():
        rows[title] = list(_section_rows(section, SECTIONS[section]))
    first = next(iter(rows))
    rows[first].insert(0, FormRow("name", "name"))
    yield from rows.items()


BARRED_FLIGHT_KEYS = {kind: barred for kind, (_, barred) in FLIGHT_KEYS.items()}


def _section_rows(section: str, model: type[BaseModel]) -> Iterator[FormRow]:
    for key, field in model.model_fields.items():
        if key == "prices":
            continue  # a section of its own: kept as the file has it
        words = INPUTS[key].help if key in INPUTS else field.description or ""
        yield _form_row(section, key, field, words)


def _form_row(section: str, key: str, field: FieldInfo, how: str) -> FormRow:
    known = key in BEARINGS
    return FormRow(
        f"{section}.{key}",
        INPUTS[key].axis if key in INPUTS else key.replace("_", " "),
        how,
        _choices(field.annotation),
        _suggested(key),
        optional=not field.is_required(),
        origin_key=f"origins.{key}" if known or section == "craft" else "",
        origins=ORIGINS,
    )


def _choices(annotation: Any) -> tuple[str, ...]:
    """The words of a key that is chosen from a list; none where a number may be typed too."""
    return tuple(get_args(annotation)) if get_origin(annotation) is Literal else ()


def _suggested(key: str) -> tuple[str, ...]:
    if key == "cell":
        return tuple(cells())
    if key == "thrust_table":
        found = (*DESIGNS.glob("*.csv"), *(Path("..") / p for p in TABLES.glob("*.csv")))
        return tuple(str(PurePosixPath(p)) for p in sorted(found))
    return ("best range", "best endurance") if key == "cruise_m_s" else ()


def _texts(part: DesignPart) -> dict[str, Any]:
    """What a design states, by key with its section."""
    data = part.model_dump(exclude_none=True, exclude_unset=True)
    stated = {
        f"{section}.{key}": value
        for section in ("craft", *SECTIONS)
        for key, value in data.get(section, {}).items()
        if not isinstance(value, dict)
    }
    origins = {
        f"origins.{key}": getattr(origin, "origin", origin) for key, origin in part.origins.items()
    }
    return {"name": part.name, **stated, **origins}
