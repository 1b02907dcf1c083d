"""The design file: TOML, versioned, checked on reading, written back with its comments."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeAlias, TypeVar, get_args

import tomlkit
from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from workbook.battery.pack import Pack
from workbook.battery.polymer import polymer_cell
from workbook.craft.fixed_wing import FixedWing
from workbook.craft.multirotor import Multirotor
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.wing import Polar, polar_from_cruise, polar_from_glide
from workbook.errors import InputError, Problem
from workbook.files.cell_file import catalogue, find_cell
from workbook.files.design_parts import (
    FLIGHT_KEYS,
    FORMAT,
    DesignPart,
    FixedWingPart,
    MultirotorPart,
    PhasePart,
    TodayPart,
    together,
)
from workbook.files.text_file import read_text, write_text
from workbook.files.thrust_table_file import read_thrust_tables
from workbook.sizing.design import Design, Flight, MissionPhase, Present

__all__ = [
    "FORMAT", "DesignFile", "DesignPart", "build_design", "check_design", "design_schema",
    "design_text", "parse_design", "read_design", "tables_of", "write_design",
]  # fmt: skip

LARGEST_BYTES = 1_000_000

AnyDesign: TypeAlias = Design[Any]
_Made = TypeVar("_Made")


@dataclass(frozen=True)
class DesignFile:
    """A design as read: the checked file, the design made from it, and what was noticed.

    Attributes:
        path: where it was read from; paths in it are from that folder.
        part: the checked contents.
        design: the design.
        notices: doubts about the thrust table or the cell, to be shown.
        document: the text as parsed, with the user's comments.
    """

    path: Path
    part: DesignPart
    design: AnyDesign
    notices: tuple[Problem, ...]
    document: tomlkit.TOMLDocument


@dataclass(frozen=True)
class _Place:
    """A place in a design file: its key in words, and what is needed there."""

    key: str
    wanted: str


def _models(annotation: Any) -> list[type[BaseModel]]:
    """The models that an annotation names, however deep."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for inner in get_args(annotation) for model in _models(inner)]


def _place(loc: tuple[int | str, ...]) -> _Place:
    """The place that the checker's path means; tags of unions in it are not keys."""
    models: list[type[BaseModel]] = [DesignPart]
    words: list[str] = []
    field: FieldInfo | None = None
    for step in loc:
        if isinstance(step, int):
            words = [f"{words[0]} phase {step + 1}"]
            continue
        tagged = [m for m in models if _kind_tag(m) == step]
        if tagged:
            models = tagged
            continue
        owners = [m for m in models if step in m.model_fields]
        if not owners:
            if step == loc[-1] and models:
                words, field = [*words, step], None
            continue
        field = owners[0].model_fields[step]
        models, words = _models(field.annotation), [*words, step]
    joined = ", ".join(words) if words and " phase " in words[0] else ".".join(words)
    return _Place(joined, "" if field is None else _range_text(field))


def _kind_tag(model: type[BaseModel]) -> str | None:
    field = model.model_fields.get("kind")
    return None if field is None else str(get_args(field.annotation)[0])


def _range_text(field: FieldInfo) -> str:
    rules = {}
    for rule in field.metadata:
        for name in ("gt", "ge", "le"):
            if getattr(rule, name, None) is not None:
                rules[name] = getattr(rule, name)
    bounds = []
    if "gt" in rules:
        bounds.append(f"above {rules['gt']:g}")
    if "ge" in rules:
        bounds.append(f"from {rules['ge']:g}")
    if "le" in rules:
        bounds.append(f"{'up ' if bounds else ''}to {rules['le']:g}")
    kind = "a whole number " if field.annotation is int else ""
    if not kind:
        kind = "a number " if bounds else ""
    needed = f"{kind}{' '.join(bounds)}".strip()
    return f"{needed} ({field.description})" if needed else str(field.description)


def _sentence(error: Any, where: str) -> Problem:
    place, value = _place(tuple(error["loc"])), error.get("input")
    key, wanted = place.key, place.wanted
    if error["type"] == "extra_forbidden":
        return Problem(
            f"{key} is not a key of a design file; remove it or correct its name.", where
        )
    if error["type"] == "union_tag_not_found":
        kinds = ", ".join(f'"{tag}"' for tag in _tags(error))
        return Problem(f"{key}: kind is missing; one of {kinds} is needed.", where)
    if error["type"] == "union_tag_invalid":
        kinds = ", ".join(f'"{tag}"' for tag in _tags(error))
        told = json.dumps(error["ctx"]["tag"])
        return Problem(f"{key}: kind is {told}; one of {kinds} is needed.", where)
    if error["type"] == "missing":
        what = f"; {wanted} is needed" if wanted and wanted != "None" else ""
        return Problem(f"{key} is missing{what}.", where)
    if error["type"] in ("model_type", "model_attributes_type"):
        return Problem(f"{key} is {value!r}; a section [{key}] is needed.", where)
    if error["type"] == "list_type":
        return Problem(f"{key} is {value!r}; sections [[{key}]] are needed.", where)
    shown = json.dumps(value, default=str) if not isinstance(value, float) else f"{value:g}"
    return Problem(f"{key} is {shown}; {wanted} is needed.", where)


def _tags(error: Any) -> list[str]:
    loc = tuple(error["loc"])
    models: list[type[BaseModel]] = _models(DesignPart.model_fields[str(loc[0])].annotation)
    return [tag for model in models if (tag := _kind_tag(model)) is not None]


def check_design(data: dict[str, Any], where: str = "design") -> DesignPart:
    """Check the contents of a design file.

    Raises:
        InputError: every key that is missing, unknown or out of range, and every set of keys that
            does not go together, one sentence each.
    """
    problems = [Problem(text, where) for text in together(data)]
    try:
        part = DesignPart.model_validate(data)
    except ValidationError as fault:
        single = dict.fromkeys(_sentence(error, where) for error in fault.errors())
        raise InputError([*single, *problems]) from None
    if problems:
        raise InputError(problems)
    return part


def build_design(
    part: DesignPart, folder: Path, where: str = "design"
) -> tuple[AnyDesign, tuple[Problem, ...]]:
    """Make the design that a checked file describes, reading its thrust table and cell.

    Returns:
        The design, and the notices of the files read.

    Raises:
        InputError: the thrust table or the cell cannot be used; all reasons at once.
    """
    problems: list[Problem] = []
    notices: list[Problem] = []

    def tried(make: Callable[[], _Made]) -> _Made | None:
        try:
            return make()
        except InputError as fault:
            problems.extend(fault.problems)
            return None

    def read_table() -> ThrustTable | None:
        if part.craft.thrust_table is None:
            return None
        file = read_thrust_tables(folder / part.craft.thrust_table)
        notices.extend(file.notices)
        return file.choose(
            propeller=part.craft.propeller,
            voltage_v=part.craft.table_voltage_v,
            motor=part.craft.motor,
        )

    folders = [folder / part.pack.cell_folder] if part.pack.cell_folder else []
    table = tried(read_table)
    cell = tried(lambda: find_cell(part.pack.cell, catalogue(*folders)))
    c, p = part.craft, part.pack
    cap = part.flight.throttle_cap_pct
    if cap < 100 and not problems and (table is None or not table.has_throttle):
        problems.append(
            Problem(
                f"flight.throttle_cap_pct is {cap:g}, but there is no thrust table with a "
                "throttle column to apply it to; 100 or a table with throttle is needed.",
                where,
            )
        )
    craft: Multirotor | FixedWing | None = None
    if isinstance(c, FixedWingPart):
        craft = tried(lambda: _fixed_wing(part.name, c, table, where))
    elif table is not None:
        craft = _multirotor(part.name, c, table)
    if problems or craft is None or cell is None:
        raise InputError(problems)
    pack = Pack(cell, p.series, p.parallel, p.overhead_pct, p.extra_mass_g, p.joint_mohm)
    asked = Flight(**part.flight.model_dump(exclude_none=True))
    mission = tuple(_phase(phase) for phase in part.mission)
    today = None if part.today is None else _today(part.today)
    return Design(part.name, craft, pack, asked, today, mission), tuple(notices)


def _multirotor(name: str, c: MultirotorPart, table: ThrustTable) -> Multirotor:
    craft = Multirotor(
        name, c.rotors, c.mass_without_pack_g, c.payload_g, table, c.avionics_w, c.flight_factor,
        c.max_all_up_mass_g, c.controller_max_v, c.controller_max_a,
    )  # fmt: skip
    return craft if c.drag_area_m2 is None else replace(craft, drag_area_m2=c.drag_area_m2)


def _fixed_wing(name: str, c: FixedWingPart, table: ThrustTable | None, where: str) -> FixedWing:
    craft = FixedWing(
        name, c.motors, c.mass_without_pack_g, c.payload_g, c.avionics_w, _polar(c, where),
        c.propeller_efficiency, c.motor_efficiency, table=table,
        max_all_up_mass_g=c.max_all_up_mass_g, controller_max_v=c.controller_max_v,
        controller_max_a=c.controller_max_a,
    )  # fmt: skip
    return craft if c.launch_w_per_kg is None else replace(craft, launch_w_per_kg=c.launch_w_per_kg)


def _polar(c: FixedWingPart, where: str) -> Polar:
    """The polar from the one way in which its drag is told."""
    shape = (c.wing_area_m2, c.span_m, c.largest_lift)
    try:
        if c.zero_lift_drag is not None and c.oswald_efficiency is not None:
            return Polar(*shape[:2], c.zero_lift_drag, c.oswald_efficiency, c.largest_lift)
        if c.glide_ratio is not None and c.glide_m_s is not None and c.glide_mass_g is not None:
            return polar_from_glide(*shape, c.glide_mass_g, c.glide_ratio, c.glide_m_s)
        power, speed, mass = c.cruise_power_w, c.cruise_power_m_s, c.cruise_power_mass_g
        if power is None or speed is None or mass is None:
            raise AssertionError("the check of keys taken together lets no such craft through")
        if power <= c.avionics_w:
            raise InputError(
                f"craft.cruise_power_w is {power:g}; more than craft.avionics_w ({c.avionics_w:g}), "
                "which it includes, is needed."
            )
        drive = c.propeller_efficiency * c.motor_efficiency
        oswald = {} if c.oswald_efficiency is None else {"oswald_efficiency": c.oswald_efficiency}
        return polar_from_cruise(*shape, mass, speed, power - c.avionics_w, drive, **oswald)
    except InputError as fault:
        raise InputError(Problem(f"[craft] {p.what}", where) for p in fault.problems) from None


def _today(t: TodayPart) -> Present:
    cell = polymer_cell(
        t.capacity_ah,
        t.mass_g / t.series,
        t.resistance_mohm,
        t.continuous_c,
        t.burst_c,
        name=t.name,
    )
    return Present(t.name, Pack(cell, t.series, 1), t.landing_v, t.reserve_pct)


_PHASE_NAMES = {"wind_m_s": "headwind_m_s", "climb_m_s": "rate_m_s", "sink_m_s": "rate_m_s"}
"""Keys of a phase in the file that are another figure's name in the record."""


def _phase(part: PhasePart) -> MissionPhase:
    given = part.model_dump(exclude_none=True)
    phase = MissionPhase(**{_PHASE_NAMES.get(key, key): value for key, value in given.items()})
    return phase if phase.label else replace(phase, label=phase.kind)


def parse_design(text: str, path: Path) -> DesignFile:
    """Read a design from text; relative paths in it are from the folder of `path`.

    Raises:
        InputError: not TOML, or not a design that can be used.
    """
    where = path.name
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as fault:
        raise InputError(Problem(f"this is not TOML: {fault}.", where)) from None
    part = check_design(document.unwrap(), where)
    design, notices = build_design(part, path.parent, where)
    return DesignFile(path, part, design, notices, document)


def read_design(path: Path | str) -> DesignFile:
    """Read and check a design file, its thrust table and its cell.

    Raises:
        InputError: every reason why it cannot be used.
    """
    path = Path(path)
    return parse_design(read_text(path, LARGEST_BYTES), path)


def tables_of(file: DesignFile) -> tuple[ThrustTable, ...]:
    """Every thrust table in the file that a design's table came from; empty without one.

    Raises:
        InputError: it cannot be read any more.
    """
    name = file.part.craft.thrust_table
    return () if name is None else read_thrust_tables(file.path.parent / name).tables


def _merge(old: Any, new: dict[str, Any]) -> None:
    """Put new values into a parsed section in place, so that comments beside the others stay."""
    for key in [k for k in old if k not in new]:
        del old[key]
    for key, value in new.items():
        if isinstance(value, dict):
            if key not in old:
                old[key] = tomlkit.table()
            _merge(old[key], value)
        elif _sections(value):
            _merge_list(old, key, value)
        elif key not in old or old[key] != value:
            old[key] = value


def _sections(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)


def _merge_list(old: Any, key: str, new: list[dict[str, Any]]) -> None:
    """A list of sections ([[mission]]): each merged in its place, as many as there are."""
    if key not in old or not isinstance(old[key], AoT):
        if key in old:
            del old[key]
        old[key] = tomlkit.aot()
    sections = old[key]
    while len(sections) > len(new):
        del sections[-1]
    for number, value in enumerate(new):
        if number == len(sections):
            sections.append(tomlkit.table())
        _merge(sections[number], value)


def design_text(part: DesignPart, document: tomlkit.TOMLDocument | None = None) -> str:
    """The design as TOML; where it came from a document, with the comments of that document."""
    kept = tomlkit.parse(tomlkit.dumps(document)) if document is not None else tomlkit.document()
    new = part.model_dump(exclude_none=True, exclude_unset=True)
    _merge(kept, new)
    return tomlkit.dumps(kept)


def write_design(
    part: DesignPart,
    path: Path | str,
    document: tomlkit.TOMLDocument | None = None,
    *,
    overwrite: bool = False,
) -> None:
    """Write a design file, whole or not at all; over an existing one only when asked to.

    Raises:
        InputError: the file exists and `overwrite` is False, or it cannot be written.
    """
    write_text(Path(path), design_text(part, document), overwrite=overwrite)


def design_schema() -> dict[str, Any]:
    """The JSON Schema of a design file; which keys go together is said for each kind of craft."""
    schema = DesignPart.model_json_schema()
    schema["allOf"] = [
        {
            "if": {"properties": {"craft": {"properties": {"kind": {"const": kind}}}}},
            "then": {
                "properties": {
                    "flight": {
                        "required": list(needed),
                        "not": {"anyOf": [{"required": [key]} for key in barred]},
                    }
                }
            },
        }
        for kind, (needed, barred) in FLIGHT_KEYS.items()
    ]
    return schema
