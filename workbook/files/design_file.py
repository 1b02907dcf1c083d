"""The design file: TOML, versioned, checked on reading, written back with its comments."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from tomlkit.exceptions import TOMLKitError

from workbook.battery.pack import Pack
from workbook.battery.polymer import polymer_cell
from workbook.craft.multirotor import Multirotor
from workbook.errors import InputError, Problem
from workbook.files.cell_file import catalogue, find_cell
from workbook.files.text_file import read_text, write_text
from workbook.files.thrust_table_file import read_thrust_tables
from workbook.sizing.design import Design, Flight, Present

FORMAT = "lithium pack design 1"
LARGEST_BYTES = 1_000_000


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True, frozen=True)


class CraftPart(_Part):
    """The craft without its pack."""

    kind: Literal["multirotor"] = Field(description="what holds it up: multirotor")
    rotors: int = Field(ge=1, le=16, description="number of rotors")
    mass_without_pack_g: float = Field(
        gt=0, le=100_000, description="mass that flies, without pack and payload"
    )
    payload_g: float = Field(ge=0, le=50_000, description="mass carried")
    thrust_table: str = Field(min_length=1, description="path of the thrust table, from this file")
    motor: str | None = Field(None, description="motor, where the table holds several")
    propeller: str | None = Field(None, description="propeller, where the table holds several")
    table_voltage_v: float | None = Field(
        None, gt=0, le=200, description="supply voltage, where the table holds several or none"
    )
    avionics_w: float = Field(ge=0, le=1000, description="power of the electronics at rest")
    flight_factor: float = Field(
        ge=1, le=2, description="watts in flight over watts on the bench at equal thrust"
    )
    max_all_up_mass_g: float | None = Field(
        None, gt=0, le=200_000, description="highest take-off mass"
    )
    controller_max_v: float | None = Field(
        None, gt=0, le=200, description="speed controllers' highest voltage"
    )
    controller_max_a: float | None = Field(
        None, gt=0, le=500, description="one speed controller's current"
    )


class PackPart(_Part):
    """The pack to be built."""

    cell: str = Field(min_length=1, description="name of a cell in the catalogue")
    cell_folder: str | None = Field(
        None, description="folder with cells of one's own, from this file"
    )
    series: int = Field(ge=1, le=24, description="cells in series, S")
    parallel: int = Field(ge=1, le=40, description="cells in parallel, P")
    overhead_pct: float = Field(
        ge=0, le=100, description="wrap, strips and spacers over the cells' mass"
    )
    extra_mass_g: float = Field(ge=0, le=10_000, description="leads, connector, strap")
    joint_mohm: float = Field(
        ge=0, le=500, description="strips, joints, leads and connector of the whole pack"
    )


class FlightPart(_Part):
    """What is asked of the flight."""

    landing_v: float = Field(
        ge=2, le=4.2, description="cell voltage under load that ends the flight"
    )
    reserve_pct: float = Field(ge=0, le=90, description="charge kept in the pack")
    thrust_reserve: float = Field(ge=1, le=5, description="least thrust over weight at the end")
    wanted_min: float | None = Field(None, gt=0, le=1000, description="flight time asked for")
    continuous_share_pct: float = Field(
        100.0, gt=0, le=100, description="share of the continuous current that may be used"
    )
    throttle_cap_pct: float = Field(100.0, gt=0, le=100, description="highest throttle let through")
    field_height_m: float = Field(0.0, ge=-500, le=9000, description="height of the field")
    air_temperature_c: float = Field(15.0, ge=-40, le=55, description="air temperature")
    pack_temperature_c: float = Field(
        25.0, ge=-40, le=60, description="cells' temperature at take-off"
    )


class TodayPart(_Part):
    """The pack flown today: a lithium-polymer pack, as its label and the scale give it."""

    name: str = Field(min_length=1, description="what it is called")
    series: int = Field(ge=1, le=24, description="cells in series")
    capacity_ah: float = Field(gt=0, le=200, description="capacity on the label")
    mass_g: float = Field(gt=0, le=50_000, description="mass on the scale")
    resistance_mohm: float = Field(
        gt=0, le=500, description="resistance of one cell, direct current"
    )
    continuous_c: float = Field(gt=0, le=200, description="continuous rating on the label, as C")
    burst_c: float = Field(gt=0, le=400, description="burst rating on the label, as C")
    landing_v: float = Field(
        ge=2.5, le=4.2, description="cell voltage under load that ends the flight"
    )
    reserve_pct: float = Field(ge=0, le=90, description="charge kept in the pack")


class DesignPart(_Part):
    """A whole design file."""

    format: Literal["lithium pack design 1"] = Field(description=f'the format: "{FORMAT}"')
    name: str = Field(min_length=1, description="name of the design")
    note: str = Field("", description="anything to be remembered")
    craft: CraftPart
    pack: PackPart
    flight: FlightPart
    today: TodayPart | None = None


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
    design: Design
    notices: tuple[Problem, ...]
    document: tomlkit.TOMLDocument


def _range_text(path: tuple[int | str, ...]) -> str:
    model: type[BaseModel] = DesignPart
    for step in path[:-1]:
        annotation = model.model_fields[str(step)].annotation
        options = getattr(annotation, "__args__", (annotation,))
        model = next(o for o in options if isinstance(o, type) and issubclass(o, BaseModel))
    field = model.model_fields.get(str(path[-1]))
    if field is None:
        return ""
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
    kind = "a whole number " if "int" in str(field.annotation) else ""
    if not kind:
        kind = "a number " if bounds else ""
    needed = f"{kind}{' '.join(bounds)}".strip()
    return f"{needed} ({field.description})" if needed else str(field.description)


def _sentence(error: Any, where: str) -> Problem:
    path = tuple(error["loc"])
    key = ".".join(str(step) for step in path)
    value = error.get("input")
    if error["type"] == "extra_forbidden":
        return Problem(
            f"{key} is not a key of a design file; remove it or correct its name.", where
        )
    try:
        wanted = _range_text(path)
    except (KeyError, StopIteration):
        wanted = ""
    if error["type"] == "missing":
        what = f"; {wanted} is needed" if wanted else ""
        return Problem(f"{key} is missing{what}.", where)
    if error["type"] in ("model_type", "model_attributes_type"):
        return Problem(f"{key} is {value!r}; a section [{key}] is needed.", where)
    shown = json.dumps(value, default=str) if not isinstance(value, float) else f"{value:g}"
    return Problem(f"{key} is {shown}; {wanted} is needed.", where)


def check_design(data: dict[str, Any], where: str = "design") -> DesignPart:
    """Check the contents of a design file.

    Raises:
        InputError: every key that is missing, unknown or out of range, one sentence each.
    """
    try:
        return DesignPart.model_validate(data)
    except ValidationError as fault:
        raise InputError(_sentence(error, where) for error in fault.errors()) from None


def build_design(
    part: DesignPart, folder: Path, where: str = "design"
) -> tuple[Design, tuple[Problem, ...]]:
    """Make the design that a checked file describes, reading its thrust table and cell.

    Returns:
        The design, and the notices of the files read.

    Raises:
        InputError: the thrust table or the cell cannot be used; all reasons at once.
    """
    problems: list[Problem] = []
    notices: list[Problem] = []
    table = cell = None
    try:
        file = read_thrust_tables(folder / part.craft.thrust_table)
        notices += file.notices
        table = file.choose(
            propeller=part.craft.propeller,
            voltage_v=part.craft.table_voltage_v,
            motor=part.craft.motor,
        )
    except InputError as fault:
        problems += fault.problems
    try:
        folders = [folder / part.pack.cell_folder] if part.pack.cell_folder else []
        cell = find_cell(part.pack.cell, catalogue(*folders))
    except InputError as fault:
        problems += fault.problems
    if table is not None and not table.has_throttle and part.flight.throttle_cap_pct < 100:
        problems.append(
            Problem(
                f"flight.throttle_cap_pct is {part.flight.throttle_cap_pct:g}, but the thrust table has no "
                "throttle column to apply it to; 100 or a table with throttle is needed.",
                where,
            )
        )
    if problems or table is None or cell is None:
        raise InputError(problems)
    c, p, f, t = part.craft, part.pack, part.flight, part.today
    craft = Multirotor(
        part.name, c.rotors, c.mass_without_pack_g, c.payload_g, table, c.avionics_w, c.flight_factor,
        c.max_all_up_mass_g, c.controller_max_v, c.controller_max_a,
    )  # fmt: skip
    pack = Pack(cell, p.series, p.parallel, p.overhead_pct, p.extra_mass_g, p.joint_mohm)
    today = None
    if t is not None:
        today_cell = polymer_cell(
            t.capacity_ah,
            t.mass_g / t.series,
            t.resistance_mohm,
            t.continuous_c,
            t.burst_c,
            name=t.name,
        )
        today = Present(t.name, Pack(today_cell, t.series, 1), t.landing_v, t.reserve_pct)
    return Design(part.name, craft, pack, Flight(**f.model_dump()), today), tuple(notices)


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


def _merge(old: Any, new: dict[str, Any]) -> None:
    for key in [k for k in old if k not in new]:
        del old[key]
    for key, value in new.items():
        if isinstance(value, dict):
            if key not in old:
                old[key] = tomlkit.table()
            _merge(old[key], value)
        elif key not in old or old[key] != value:
            old[key] = value


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
    """The JSON Schema of a design file."""
    return DesignPart.model_json_schema()
