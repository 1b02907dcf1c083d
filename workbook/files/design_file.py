"""The design file: TOML, versioned, checked on reading, written back with its comments."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar, Unpack

from pydantic import BaseModel

from workbook.battery.cell import Cell
from workbook.battery.charge import Charger
from workbook.battery.pack import Pack
from workbook.battery.polymer import polymer_cell
from workbook.battery.two_packs import Joining
from workbook.bench.bench_settings import Bay, BenchSettings
from workbook.bench.strip import Strip
from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.wing import Polar, polar_from_cruise, polar_from_glide
from workbook.errors import InputError, Problem, naming
from workbook.files.cell_check import check_cell
from workbook.files.cell_file import (
    MOST_FILES,
    Catalogue,
    cell_differences,
    cell_from_data,
    read_catalogue,
    with_cell,
)
from workbook.files.club_file import CLUB_FILE, FLIGHT_RULES, Club, ClubRules, club_rules
from workbook.files.design_parts import (
    BILL,
    DRAG_KEYS,
    FLIGHT_KEYS,
    INSIDE,
    BenchPart,
    DesignPart,
    FixedWingPart,
    MeasuredPart,
    OriginPart,
    PhasePart,
    TodayPart,
    together,
)
from workbook.files.reach import checked_path, named_path, own_folders, relative_path
from workbook.files.reading import read_text, refuse_size
from workbook.files.records import check, parse_toml
from workbook.files.sent_page import LARGEST_BYTES as LARGEST_PAGE
from workbook.files.sent_page import design_in, is_page
from workbook.files.thrust_table_file import ThrustTableFile, read_thrust_tables
from workbook.files.writing import Saving, write_text
from workbook.numbers import plain
from workbook.quantities import INPUTS
from workbook.sizing.design import Design, Flight, MissionPhase, Origin, OriginName, ReferencePack
from workbook.sizing.doubts import bench_doubts

if TYPE_CHECKING:
    import tomlkit

LARGEST_BYTES = 500_000
"""A design with 200 phases of a mission and a remark on each has 30 kB; a cell inside 20 kB; a table of 900 rows 60 kB."""

AnyDesign: TypeAlias = Design[Any]
_Made = TypeVar("_Made")


@dataclass(frozen=True, eq=False)
class StatedDesign:
    """What a design file states, as checked, and where what it names is looked for.

    Attributes:
        path: of the file; paths in it are from that folder, messages name it.
        part: the checked contents.
        anywhere: whether it may name files outside its own folders.
    """

    path: Path
    part: DesignPart
    anywhere: bool

    def catalogue(self) -> Catalogue:
        """The cells that it may name; the one inside it goes before any of its name.

        Raises:
            InputError: its folder of cells cannot be used, or the cell inside it.
        """
        named, inside = self.part.pack.cell_folder, self.part.inside.cell
        if named == INSIDE and inside is not None:
            cell = cell_from_data(inside, f"{self.path.name}, inside.cell")
            return with_cell(read_catalogue(), cell)
        return read_catalogue(*([self._place(named, "pack.cell_folder")] if named else []))

    def table_source(self) -> tuple[Path | str, str]:
        """The thrust table that it names, a path or its text, and what to call it in a message."""
        named, inside = self.part.craft.thrust_table, self.part.inside.table
        if named == INSIDE and inside is not None:
            return inside, f"{self.path.name}, inside.table"
        path = self._place(named or "", "craft.thrust_table")
        return path, path.name

    def tables(self) -> ThrustTableFile:
        """Every thrust table in the file that its table comes from; none without one.

        Raises:
            InputError: it cannot be read.
        """
        if self.part.craft.thrust_table is None:
            return ThrustTableFile(())
        return read_thrust_tables(*self.table_source())

    def chosen_table(self) -> tuple[ThrustTable | None, tuple[Problem, ...]]:
        """The thrust table that it names, and what was noticed of its file; None without one."""
        craft, file = self.part.craft, self.tables()
        if craft.thrust_table is None:
            return None, ()
        chosen = file.choose(craft.propeller, craft.table_voltage_v, craft.motor)
        return chosen, table_notices(file, chosen)

    def club_in_use(self) -> Club | None:
        """The club whose rules bear on it: of its own folders, else the workbook's where it leaves rules to one."""
        folder = self.path.parent
        for place in own_folders(folder):
            if os.path.lexists(place / CLUB_FILE):
                return club_rules(place)
        return club_rules(folder) if self.part.flight.rules else None

    def _place(self, named: str, key: str) -> Path:
        where = f"{self.path.name}, {key}"
        return checked_path(named, self.path.parent, where, anywhere=self.anywhere)


@dataclass(frozen=True, eq=False)
class DesignFile(StatedDesign):
    """A design as read: what its file states, the design made from it, and what was noticed.

    Attributes:
        design: the design.
        table_notices: what was noticed of the thrust table.
        text: of the file.
    """

    design: AnyDesign
    table_notices: tuple[Problem, ...]
    text: str

    @property
    def document(self) -> tomlkit.TOMLDocument:
        """The text as parsed, with the user's comments.

        Raises:
            InputError: its comments cannot be separated from its keys.
        """
        from workbook.files.commented import parse_document

        return parse_document(self.text, self.path.name)

    @property
    def inputs(self) -> tuple[Path, ...]:
        """Every file that the design is made from, so that none of them is written over by what comes of it."""
        named = (self.part.craft.thrust_table, self.part.pack.cell_folder)
        outside = [
            None if name in (None, INSIDE) else named_path(name, self.path.parent) for name in named
        ]
        table, cells = outside
        own_cells = islice(cells.iterdir(), 2 * MOST_FILES) if cells is not None else ()
        return (self.path, *([table] if table is not None else []), *own_cells)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Every cell that may take the place of its own: the workbook's, and those of its folder of cells; its
        own as measured.

        Raises:
            InputError: that folder cannot be used any more.
        """
        own = self.design.pack.cell
        return tuple({**self.catalogue().cells, own.name: own}.values())

    @property
    def datasheet_cell(self) -> Cell:
        """Its own cell as the datasheet has it, whatever was measured since.

        Raises:
            InputError: its folder of cells cannot be used any more.
        """
        return self.catalogue().find(self.part.pack.cell)

    @property
    def cells_left_out(self) -> tuple[Problem, ...]:
        """Which files of its folder of cells cannot be used, and why; its own cell is in none of them.

        Raises:
            InputError: that folder cannot be used any more.
        """
        return self.catalogue().notices

    def with_part(self, part: DesignPart) -> DesignFile:
        """The same with other contents, as checked.

        Raises:
            InputError: the thrust table or the cell cannot be used.
        """
        design, noticed = build_design(StatedDesign(self.path, part, self.anywhere))
        return replace(self, part=part, design=design, table_notices=noticed)

    @property
    def club(self) -> ClubRules | None:
        """The rules that bear on it; None where no club's do."""
        found = self.club_in_use()
        return None if found is None else found.rules

    def without_rules(self, figures: Mapping[str, Any]) -> dict[str, Any]:
        """Figures to be saved, where a rule of the club that still is the club's is None: it stays with the club."""
        club, saved = self.club, dict(figures)
        if club is not None and self.part.flight.rules:
            saved |= {k: None for k in FLIGHT_RULES if figures.get(k) == getattr(club, k)}
        return saved

    @property
    def settings(self) -> BenchSettings:
        """What is at the bench, and how hard the club lets a pack be charged.

        Raises:
            InputError: keys that do not go together, one sentence each.
        """
        settings, club = bench_settings(self.part.bench, self.path.name), self.club
        return settings if club is None else replace(settings, charge_c_rate=club.charge_c_rate)

    @property
    def notices(self) -> tuple[Problem, ...]:
        """What was noticed of the thrust table, of other cells' files, of what is at the bench, and of the cell, to be shown."""
        return self.notices_of(self.design)

    def notices_of(self, design: AnyDesign) -> tuple[Problem, ...]:
        """The same where figures of the design have been changed since, its cell among them."""
        pack, where = design.one_pack, self.path.name
        bench = () if self.part.bench is None else bench_doubts(self.part.bench, pack)
        cell = check_cell(pack.cell, pack.cell.name).cautions
        return (
            *self.table_notices,
            *self.cells_left_out,
            *(replace(doubt, where=where) for doubt in bench),
            *(replace(doubt, about="cell") for doubt in cell),
        )


def table_notices(file: ThrustTableFile, chosen: ThrustTable) -> tuple[Problem, ...]:
    """What was noticed of a file of thrust tables; a doubt about another table than the chosen one is a remark."""
    return tuple(n if n in chosen.notices else replace(n, about="") for n in file.notices)


def check_design(data: dict[str, Any], where: str = "design") -> DesignPart:
    """Check the contents of a design file.

    Raises:
        InputError: every key that is missing, unknown or out of range, and every set of keys that
            does not go together, one sentence each.
    """
    return check(DesignPart, data, where, together(data))


def build_design(stated: StatedDesign) -> tuple[AnyDesign, tuple[Problem, ...]]:
    """Make the design that a checked file describes, reading its thrust table and cell.

    Args:
        stated: the checked contents, and where they are from.

    Returns:
        The design, and what was noticed of its thrust table.

    Raises:
        InputError: the thrust table or the cell cannot be used; all reasons at once.
    """
    problems: list[Problem] = []
    part, where = stated.part, stated.path.name

    def attempted(key: str, make: Callable[[], _Made]) -> _Made | None:
        try:
            return make()
        except InputError as fault:
            problems.extend(replace(p, where=p.where or f"{where}, {key}") for p in fault.problems)
            return None

    table, noticed = attempted("craft.thrust_table", stated.chosen_table) or (None, ())
    cell = attempted("pack.cell", lambda: stated.catalogue().find(part.pack.cell))
    if cell is not None:
        in_hand = part.pack.cell_capacity_ah, part.pack.cell_resistance_mohm
        cell = attempted("pack.cell_resistance_mohm", partial(cell.as_measured, *in_hand))
    if not problems:
        problems += _cap_without_throttle(part, table, where)
    craft = attempted("craft", lambda: _craft(part, table, where))
    label = part.today
    today = None if label is None else attempted("today", lambda: _today(label, where))
    if problems or craft is None or cell is None:
        raise InputError(problems)
    club = stated.club_in_use()
    flight = _record_of(Flight, part.flight, **_rules(part, club))
    notices = [*noticed, *_club_notices(part, club, where)]
    notices += [*_other_figures(part, cell, where), *_unused(part, where)]
    design: AnyDesign = Design(
        part.name,
        craft,
        _record_of(Pack, part.pack, cell=cell),
        flight,
        today,
        tuple(_phase(phase) for phase in part.mission),
        tuple(part.sure),
        tuple(_origin(key, origin) for key, origin in part.origins.items()),
        _record_of(Joining, part.pack),
    )
    if part.measured is not None:
        place, figures = f"{where}, [measured]", part.measured.model_dump(exclude_none=True)
        notices.append(Problem(_flown_text(part.measured), place))
        with naming(place):
            design = corrected_design(design, figures, _flights_text(part.measured.flights))
    return design, tuple(notices)


def _cap_without_throttle(part: DesignPart, table: ThrustTable | None, where: str) -> list[Problem]:
    cap = part.flight.throttle_cap_pct
    if cap >= 100 or (table is not None and table.has_throttle):
        return []
    what = (
        f"flight.throttle_cap_pct is {cap:g}, but there is no thrust table with a throttle column to apply it to; "
        "100 or a table with throttle is needed."
    )
    return [Problem(what, where)]


def _craft(
    part: DesignPart, table: ThrustTable | None, where: str
) -> Multirotor | FixedWing | None:
    """The craft; None of a multirotor without its table."""
    own: dict[str, Any] = {"name": part.name, "table": table}
    made: Multirotor | FixedWing | None = None
    if isinstance(part.craft, FixedWingPart):
        made = _record_of(FixedWing, part.craft, polar=plain(_polar(part.craft, where)), **own)
    elif table is not None:
        made = _record_of(Multirotor, part.craft, **own)
    return made


def _other_figures(part: DesignPart, used: Cell, where: str) -> list[Problem]:
    """Where a design's own cell differs from the workbook's of that name."""
    shipped = read_catalogue().cells.get(used.name)
    if part.pack.cell_folder != INSIDE or shipped is None or part.inside.cell is None:
        return []
    inside = cell_from_data(part.inside.cell, where)
    differences = cell_differences(inside, shipped) if inside.name == used.name else ()
    what = f"its {used.name} is not the workbook's own of that name: {', '.join(differences)}."
    return [Problem(what, f"{where}, inside.cell")] if differences else []


def _unused(part: DesignPart, where: str) -> list[Problem]:
    """Parts inside a design that the design does not name."""
    inside = (
        ("cell", part.inside.cell, "pack.cell_folder", part.pack.cell_folder),
        ("table", part.inside.table, "craft.thrust_table", part.craft.thrust_table),
    )
    return [
        Problem(
            f'it is not used; write {key} = "{INSIDE}" to use it, or take it out.',
            f"{where}, inside.{what}",
        )
        for what, held, key, named in inside
        if held is not None and named != INSIDE
    ]


def _rules(part: DesignPart, club: Club | None) -> dict[str, float]:
    """What a design leaves to its club."""
    if club is None or part.flight.rules is None:
        return {}
    own, barred = part.flight, FLIGHT_KEYS[part.craft.kind][1]
    keys = (key for key in FLIGHT_RULES if getattr(own, key) is None and key not in barred)
    return {key: getattr(club.rules, key) for key in keys}


def _club_notices(part: DesignPart, club: Club | None, where: str) -> list[Problem]:
    """Which rules are the club's, and where a design asks for less than its club; a doubt where others had to do."""
    if club is None:
        return []
    rules = _rules(part, club).items()
    taken = "; ".join(f"{INPUTS[key].label} {INPUTS[key].text(value)}" for key, value in rules)
    taken_text = [f"by the rules of {club.rules.club}: {taken}."] if taken else []
    others = [Problem(club.problem, where, about="club" if taken else "")] if club.problem else []
    sentences = [*taken_text, *club.rules.weaker(part.flight.model_dump())]
    return [*others, *(Problem(text, where) for text in sentences)]


def _origin(key: str, stated: OriginName | OriginPart) -> Origin:
    """An origin from its short or its long form."""
    given = stated.model_dump() if isinstance(stated, OriginPart) else {"origin": stated}
    return Origin(key, **given)


def _record_of(record: Any, part: BaseModel, **others: Any) -> Any:
    """A record from the keys of a section that are its own; what is not stated is the record's default."""
    own = {field.name for field in fields(record)} - set(others)
    return record(**part.model_dump(include=own, exclude_none=True), **others)


def _polar(c: FixedWingPart, where: str) -> Polar:
    """The polar, from whichever of the three ways states its drag."""
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


def _today(t: TodayPart, where: str) -> ReferencePack:
    try:
        cell = polymer_cell(
            t.capacity_ah,
            t.mass_g / t.series,
            t.resistance_mohm,
            t.continuous_c,
            t.burst_c,
            name=t.name,
        )
    except InputError as fault:
        raise InputError(
            replace(p, where=f"{where}, today.{p.where}") for p in fault.problems
        ) from None
    return ReferencePack(t.name, Pack(cell, t.series, 1), t.landing_v, t.reserve_pct)


_PHASE_NAMES = {"wind_m_s": "headwind_m_s", "climb_m_s": "rate_m_s", "sink_m_s": "rate_m_s"}
"""Keys of a phase in the file that are another figure's name in the record."""


def _phase(part: PhasePart) -> MissionPhase:
    given = part.model_dump(exclude_none=True)
    phase = MissionPhase(**{_PHASE_NAMES.get(key, key): value for key, value in given.items()})
    return phase if phase.label else replace(phase, label=phase.kind)


def bench_settings(part: BenchPart | None, where: str = "design") -> BenchSettings:
    """The settings that a `[bench]` section states; the defaults without one.

    Args:
        part: the checked section.
        where: what to call the file in a message.

    Raises:
        InputError: keys that do not go together, one sentence each.

    Example:
        >>> bench_settings(BenchPart(lead_mm=200.0)).lead_mm
        200.0
        >>> bench_settings(BenchPart(bay_length_mm=150.0))
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: design: bench.bay_width_mm and bench.bay_height_mm are missing; ...
    """
    if part is None:
        return BenchSettings()
    if part.faults:
        raise InputError(Problem(text, where) for text in part.faults)
    bay = strip = charger = None
    if part.bay_length_mm and part.bay_width_mm and part.bay_height_mm:
        bay = Bay(part.bay_length_mm, part.bay_width_mm, part.bay_height_mm)
    if part.strip_width_mm and part.strip_thickness_mm:
        strip = Strip(part.strip_material, part.strip_width_mm, part.strip_thickness_mm)
    if part.charger_max_a and part.charger_max_w:
        charger = Charger(part.charger_max_a, part.charger_max_w, part.charger_max_series)
    prices: dict[str, float] = part.prices.model_dump(exclude_none=True) if part.prices else {}
    settings: BenchSettings = _record_of(
        BenchSettings,
        part,
        bay=bay,
        packings=("square", "staggered") if part.packing == "any" else (part.packing,),
        max_layers=part.layers,
        spacing_mm=part.holder_gap_mm,
        strip=strip,
        charger=charger,
        prices={BILL[name]: price for name, price in prices.items()},
    )
    return settings


def parse_design(text: str, path: Path, *, anywhere: bool = False) -> DesignFile:
    """Read a design from text; relative paths in it are from the folder of `path`.

    Raises:
        InputError: not TOML, or not a design that can be used.
    """
    part = check_design(parse_toml(text, path.name), path.name)
    design, notices = build_design(StatedDesign(path, part, anywhere))
    return DesignFile(path, part, anywhere, design, notices, text)


def read_design(path: Path | str, *, anywhere: bool = False) -> DesignFile:
    """Read and check a design file, its thrust table and its cell.

    Args:
        path: the design file, or a page to send that has it inside (`workbook.sheet.live_page`).
        anywhere: whether it may name a table or cells outside its own folder and the notebooks' around it; for
            the person who opens it to decide, not for the file.

    Raises:
        InputError: every reason why it cannot be used.
    """
    path = Path(path)
    limit = LARGEST_PAGE if is_page(path) else LARGEST_BYTES
    return parse_design(own_text(read_text(path, limit), path), path, anywhere=anywhere)


def own_text(text: str, path: Path) -> str:
    """The text of a design's own file: of a page that was sent what stands inside it, else the text as it is.

    Args:
        text: of the file.
        path: of the file; its suffix says what it is.

    Raises:
        InputError: a page without a design, or a design that is too large.
    """
    own = design_in(text, path.name) if is_page(path) else text
    refuse_size(len(own.encode()), path.name, LARGEST_BYTES)
    return own


def design_text(part: DesignPart, document: tomlkit.TOMLDocument | None = None) -> str:
    """The design as TOML; where it came from a document, with the comments of that document."""
    from workbook.files.commented import record_text

    return record_text(part.model_dump(exclude_none=True, exclude_unset=True), document)


def measured(
    part: DesignPart, changes: Mapping[str, float], *origins: Origin, section: str = "craft"
) -> DesignPart:
    """A design with measured figures put in, and their origins.

    Args:
        part: the checked contents of a design file.
        changes: keys of the section with their values; the first is one that was measured.
        origins: of those measured.
        section: of the keys.

    Raises:
        InputError: a value that a design file cannot hold.
    """
    data = part.model_dump(exclude_none=True, exclude_unset=True)
    part_data = data[section]
    stated_key = next(iter(changes))
    if stated_key in DRAG_KEYS:  # drag is stated in one way
        spare = {key for other, keys in DRAG_KEYS.items() for key in (other, *keys)}
        kept = {"oswald_efficiency"} if stated_key == "cruise_power_w" else set()
        for key in spare - kept - {stated_key, *DRAG_KEYS[stated_key]}:
            part_data.pop(key, None)
            data.get("origins", {}).pop(key, None)
    part_data.update(changes)
    for origin in origins:
        stated = {name: value for name, value in asdict(origin).items() if name != "key" and value}
        data.setdefault("origins", {})[origin.key] = stated
    return check_design(data)


NAMED_PLACES = {"craft": "thrust_table", "pack": "cell_folder"}
"""The key of each section that names a file or a folder, as seen from the design."""


def moved_design(
    part: DesignPart, here: Path, folder: Path, *, anywhere: bool = False
) -> DesignPart:
    """A design with its paths as seen from the folder that it is saved in.

    Args:
        part: the checked contents.
        here: folder that its paths are seen from.
        folder: where it is to be saved.
        anywhere: as `read_design` takes it.

    Raises:
        InputError: a design in that folder may not take files from where they are.
    """
    if here.resolve() == folder.resolve():
        return part
    moved = {}
    for name, key in NAMED_PLACES.items():
        section = getattr(part, name)
        path = getattr(section, key)
        if path and path != INSIDE:
            path = relative_path(named_path(path, here), folder)
            checked_path(path, folder, f"{name}.{key}", anywhere=anywhere)
            moved[name] = section.model_copy(update={key: path})
    return part.model_copy(update=moved)


MEASURED_IN_FLIGHT = {
    "flight_factor": ("flight_factor_off_pct", "flight factor {}"),
    "cruise_power_w": ("cruise_power_off_pct", "cruise power {}"),
    "avionics_w": ("avionics_off_pct", "electronics {}"),
    "pack_resistance_factor": (
        "pack_resistance_off_pct",
        "resistance of the cells {} times that of the plan",
    ),
    "pack_capacity_factor": ("pack_capacity_off_pct", "usable charge {} times that of the plan"),
}
"""Figures that flights measure: the key of how far off each may be, and its words."""


def corrected_design(
    design: AnyDesign, measured: Mapping[str, float], note: str = "flights"
) -> AnyDesign:
    """A design with what flights measured in place of its own figures.

    Args:
        design: the plan.
        measured: as its part [measured] has it; keys of `MEASURED_IN_FLIGHT`, and of a cruise its speed and mass.
        note: by what.

    Raises:
        InputError: a cruise of less power than that wing takes at least.
    """
    own = {k: measured[k] for k in MEASURED_IN_FLIGHT if k in measured and k != "cruise_power_w"}
    corrected = design.changed(**own)
    origins = {origin.key: origin for origin in design.origins}
    if "cruise_power_w" in measured:  # the electronics are in it
        craft, polar = corrected.craft, corrected.craft.polar
        flown = polar_from_cruise(
            polar.wing_area_m2,
            polar.span_m,
            polar.largest_lift,
            measured["cruise_power_mass_g"],
            measured["cruise_power_m_s"],
            measured["cruise_power_w"] - craft.avionics_w,
            craft.drive_efficiency,
            polar.oswald_efficiency,
        )
        corrected = corrected.changed(polar=plain(flown))
        origins = {key: origin for key, origin in origins.items() if key not in DRAG_KEYS}
    for key, (off_key, _) in MEASURED_IN_FLIGHT.items():
        if key in measured:
            origins[key] = Origin(key, "measured", measured.get(off_key), note)
    return replace(corrected, origins=tuple(origins.values()))


def with_measured(part: DesignPart, found: MeasuredPart) -> DesignPart:
    """A design with what flights corrected of it put in as its part [measured]; nothing else is changed.

    Args:
        part: the checked contents of a design file.
        found: what was measured.

    Raises:
        InputError: figures that are not of this craft, or cannot be.
    """
    data = part.model_dump(exclude_none=True, exclude_unset=True)
    data["measured"] = found.model_dump(exclude_none=True, exclude_unset=True)
    return check_design(data)


def without_measured(part: DesignPart) -> DesignPart:
    """A design without its part [measured]: as it was before the flights."""
    data = part.model_dump(exclude_none=True, exclude_unset=True)
    data.pop("measured", None)
    return check_design(data)


def _flights_text(flights: int) -> str:
    return f"{flights} flight{'s' if flights > 1 else ''}"


def _flown_text(found: MeasuredPart) -> str:
    """What is taken from flights in place of the design's own figures, in a sentence."""
    figures = ", ".join(
        words.format(INPUTS[key].text(value) if key in INPUTS else f"{value:g}")
        for key, (_, words) in MEASURED_IN_FLIGHT.items()
        if (value := getattr(found, key)) is not None
    )
    return f"As {_flights_text(found.flights)} measured it: {figures or 'nothing'}. Remove [measured] to go back to the plan's own figures."


def write_design(
    part: DesignPart,
    path: Path | str,
    document: tomlkit.TOMLDocument | None = None,
    **saving: Unpack[Saving],
) -> None:
    """Write a design file, whole or not at all; over an existing one only when asked to.

    Args:
        part: the checked contents.
        path: the file.
        document: whose comments are kept.
        saving: see `workbook.files.writing.Saving`.

    Raises:
        InputError: the file exists and may not be replaced, or it cannot be written.
    """
    if is_page(Path(path)):
        message = "this is a page; give the design a file of its own, named .toml (workbook pack makes one of a page)."
        raise InputError(message, str(path))
    write_text(Path(path), design_text(part, document), **saving)


def design_schema() -> dict[str, Any]:
    """The JSON Schema of a design file; it has which keys go together for each kind of craft."""
    schema = DesignPart.model_json_schema()
    schema["allOf"] = [
        {
            "if": {"properties": {"craft": {"properties": {"kind": {"const": kind}}}}},
            "then": {
                "properties": {
                    "flight": {
                        "anyOf": [
                            {"required": list(needed)},
                            {
                                "required": [
                                    "rules",
                                    *(k for k in needed if k not in FLIGHT_RULES),
                                ],
                                "properties": {"rules": {"const": "club"}},
                            },
                        ],
                        "not": {"anyOf": [{"required": [key]} for key in barred]},
                    }
                }
            },
        }
        for kind, (needed, barred) in FLIGHT_KEYS.items()
    ]
    return schema
