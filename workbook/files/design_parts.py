"""The parts of a design file: every key with its range, and which keys go together."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal, TypeAlias

from pydantic import Field, create_model

from workbook.battery.heat import Air
from workbook.battery.two_packs import Joined, Joining
from workbook.bench.bench_settings import SIDES, BenchSettings
from workbook.craft.craft_types import Craft
from workbook.files.club_file import FLIGHT_RULES
from workbook.files.records import Part, Strict, input_field
from workbook.quantities import INPUTS
from workbook.sizing.design import PACK_CAPACITY_RANGE, PACK_RESISTANCE_RANGE, Flight, OriginName
from workbook.sizing.doubts import SUBJECTS

FORMAT = "lithium pack design 1"


class _AnyCraftPart(Part, record=Craft):
    """What is known of any craft, without its pack; what its parts withstand is as the record has it."""

    mass_without_pack_g: float
    payload_g: float
    motor: str | None = Field(None, description="motor, where the table holds several")
    propeller: str | None = Field(None, description="propeller, where the table holds several")
    table_voltage_v: float | None = None
    avionics_w: float


class MultirotorPart(_AnyCraftPart):
    """A multirotor without its pack."""

    kind: Literal["multirotor"] = Field(description="what holds it up")
    rotors: int
    thrust_table: str = Field(
        min_length=1, description='path of the thrust table, from this file, or "inside"'
    )
    flight_factor: float
    drag_area_m2: float | None = None


class FixedWingPart(_AnyCraftPart):
    """A fixed wing without its pack. Its drag is stated in one of three ways (see `DRAG_KEYS`)."""

    kind: Literal["fixed wing"] = Field(description="what holds it up")
    motors: int
    wing_area_m2: float
    span_m: float
    largest_lift: float
    zero_lift_drag: float | None = None
    oswald_efficiency: float | None = None
    glide_ratio: float | None = None
    glide_m_s: float | None = None
    glide_mass_g: float | None = None
    cruise_power_w: float | None = None
    cruise_power_m_s: float | None = None
    cruise_power_mass_g: float | None = None
    propeller_efficiency: float
    motor_efficiency: float
    thrust_table: str | None = Field(
        None,
        min_length=1,
        description='path of the static thrust table, from this file, or "inside"',
    )
    launch_w_per_kg: float | None = None


CraftPart: TypeAlias = MultirotorPart | FixedWingPart

DRAG_KEYS: dict[str, tuple[str, ...]] = {
    "zero_lift_drag": ("oswald_efficiency",),
    "glide_ratio": ("glide_m_s", "glide_mass_g"),
    "cruise_power_w": ("cruise_power_m_s", "cruise_power_mass_g"),
}
"""The three ways to state a wing's drag: one of these keys, and what it needs beside it."""


class PackPart(Part, record=Joining):
    """The pack to be built, or all cells of the packs that fly together."""

    cell: str = Field(min_length=1, description="name of a cell in the catalogue")
    cell_folder: str | None = Field(
        None, description='folder with cells of one\'s own, from this file, or "inside"'
    )
    cell_capacity_ah: float | None = None
    cell_resistance_mohm: float | None = None
    series: int
    parallel: int
    packs: int
    joined: Joined = Field("parallel", description='how packs are joined: "parallel" or "series"')
    apart_resistance_pct: float
    apart_capacity_pct: float
    apart_cell_v: float
    overhead_pct: float
    extra_mass_g: float
    joint_mohm: float


class FlightPart(Part, record=Flight):
    """What is asked of the flight."""

    rules: Literal["club"] | None = Field(
        None, description='"club": the rules that are left out here are the club\'s, of club.toml'
    )
    landing_v: float | None = None
    reserve_pct: float | None = None
    thrust_reserve: float | None = None
    cruise_m_s: (
        Annotated[float, input_field("cruise_m_s")] | Literal["best range", "best endurance"] | None
    ) = Field(None, description=INPUTS["cruise_m_s"].help)
    climb_m_s: float | None
    wanted_km: float | None
    wanted_min: float | None
    continuous_share_pct: float | None = None
    throttle_cap_pct: float
    field_height_m: float
    air_temperature_c: float
    pack_temperature_c: float
    pack_cycles: float
    pack_years: float
    pack_airflow: Air = Field(
        "wrapped", description="air around the cells: wrapped, still or forced"
    )


class TodayPart(Part):
    """The pack flown today: a lithium-polymer pack, as its label and the scale give it."""

    name: str = Field(min_length=1, description="what it is called")
    series: int
    capacity_ah: float
    mass_g: float
    resistance_mohm: float
    continuous_c: float
    burst_c: float
    landing_v: float = Field(ge=2.5, le=4.2, description=INPUTS["landing_v"].help)
    reserve_pct: float


class _PhasePart(Part):
    """What any phase of a mission may state."""

    label: str = Field("", description="what it is called; its kind if not given")
    drop_g: float = 0.0
    gust_factor: float = 1.0


class RestPart(_PhasePart):
    """Standing by, propellers still."""

    kind: Literal["rest"]
    duration_s: float


class LaunchPart(_PhasePart):
    """Full power at take-off."""

    kind: Literal["launch"]
    duration_s: float = Field(gt=0, le=600, description="how long")


class HoverPart(_PhasePart):
    """Hover on the spot; multirotor only."""

    kind: Literal["hover"]
    duration_s: float
    wind_m_s: float = 0.0


class ClimbPart(_PhasePart):
    """Climb by a height."""

    kind: Literal["climb"]
    height_m: float
    climb_m_s: float = input_field("climb_m_s", words="rate of climb")
    airspeed_m_s: float | None = Field(None, ge=0, le=100, description="through the air")


class DescentPart(_PhasePart):
    """Come down by a height."""

    kind: Literal["descent"]
    height_m: float
    sink_m_s: float
    airspeed_m_s: float | None = Field(None, ge=0, le=100, description="through the air")


class CruisePart(_PhasePart):
    """Level flight over a distance on the ground."""

    kind: Literal["cruise"]
    distance_m: float
    airspeed_m_s: float | None = None
    headwind_m_s: float = 0.0


class LoiterPart(_PhasePart):
    """Level flight for a time."""

    kind: Literal["loiter"]
    duration_s: float
    airspeed_m_s: float | None = None


class LegsPart(_PhasePart):
    """A field flown in parallel legs, wind along them."""

    kind: Literal["legs"]
    length_m: float
    width_m: float
    spacing_m: float
    airspeed_m_s: float | None = None
    wind_m_s: float = 0.0
    turn_s: float = 0.0


PhasePart: TypeAlias = (
    RestPart | LaunchPart | HoverPart | ClimbPart | DescentPart | CruisePart | LoiterPart | LegsPart
)


_PRICED = {
    "cell": ("cells", "one cell"),
    "ring": ("rings", "one insulating ring"),
    "strip_m": ("strip", "a metre of strip"),
    "lead_m": ("main lead", "a metre of main lead"),
    "balance_wire_m": ("balance wire", "a metre of thin lead"),
    "balance_plug": ("balance plug", "one balance plug"),
    "connector": ("connector", "one pair of connectors"),
    "holder": ("holders", "one cell holder"),
    "insulation": ("insulation", "one insulating sheet"),
    "sleeve_m": ("wrap", "a metre of sleeve"),
    "fuse": ("fuse", "one fuse"),
}
"""Of each price its line of the bill, and what it buys."""
BILL = {key: line for key, (line, _) in _PRICED.items()}

_PRICES: dict[str, Any] = {
    key: (float | None, Field(None, ge=0, le=10_000, description=what))
    for key, (_, what) in _PRICED.items()
}
PricesPart = create_model(
    "PricesPart",
    __base__=Strict,
    __doc__="Prices of one piece or one metre (`_m`), in one currency. The cell's own file is used without `cell`.",
    **_PRICES,
)


class BenchPart(Part, record=BenchSettings):
    """What is at the bench: the room for the pack, the materials in the drawer, the charger, prices."""

    bay_length_mm: float | None = None
    bay_width_mm: float | None = None
    bay_height_mm: float | None = None
    packing: Literal["any", "square", "staggered"] = Field(
        "any", description='"any", "square" or "staggered" rows'
    )
    layers: int = BenchSettings.max_layers
    holder_gap_mm: float = BenchSettings.spacing_mm
    holder_g: float
    padding_mm: float
    strip_material: Literal["nickel 200", "pure nickel", "plated steel", "copper"] = Field(
        "nickel 200", description='"nickel 200", "pure nickel", "plated steel" or "copper"'
    )
    strip_width_mm: float | None = None
    strip_thickness_mm: float | None = None
    lead_mm: float
    balance_lead_mm: float
    charger_max_a: float | None = None
    charger_max_w: float | None = None
    charger_max_series: int = 6
    prices: PricesPart | None = Field(None, description="what things cost")  # type: ignore[valid-type]
    currency: str = Field("", max_length=8, description="currency of the prices, as EUR")
    builder: str = Field("", max_length=60, description="name or mark of the builder")
    pack_id: str = Field("", max_length=30, description="mark of the pack")

    _BESIDE: ClassVar = (
        tuple(f"bay_{side}_mm" for side in SIDES),
        ("charger_max_a", "charger_max_w"),
        ("strip_width_mm", "strip_thickness_mm"),
    )
    """Keys that need each other."""

    @property
    def faults(self) -> list[str]:
        """What is wrong with the keys taken together, one sentence each."""
        faults = [text for keys in self._BESIDE if (text := self._missing(keys))]
        if self.strip_width_mm is None and "strip_material" in self.model_fields_set:
            faults.append("bench.strip_material needs strip_width_mm and strip_thickness_mm too.")
        return faults

    def _missing(self, keys: tuple[str, ...]) -> str:
        """A sentence where some of the keys are there and some are not; empty else."""
        present = [f"bench.{key}" for key in keys if getattr(self, key) is not None]
        missing = [f"bench.{key}" for key in keys if getattr(self, key) is None]
        if not missing or not present:
            return ""
        verb = "is" if len(missing) == 1 else "are"
        return f"{' and '.join(missing)} {verb} missing; {', '.join(present)} needs it beside it."


class OriginPart(Strict):
    """Where one figure comes from."""

    origin: OriginName = Field(description='"measured", "maker\'s" or "assumed"')
    uncertainty_pct: float | None = Field(
        None, gt=0, le=100, description="of a measured figure, to either side, 95 times in 100"
    )
    note: str = Field("", max_length=200, description="how and when")


def _off(what: str) -> Any:
    return Field(
        None, gt=0, le=100, description=f"of {what}, percent to either side, 95 times in 100"
    )


class MeasuredPart(Strict):
    """What flights have corrected of the plan; it goes before the figures of craft and pack. Remove it to undo."""

    flight_factor: float | None = input_field("flight_factor", None)
    flight_factor_off_pct: float | None = _off("the flight factor")
    cruise_power_w: float | None = input_field("cruise_power_w", None)
    cruise_power_m_s: float | None = input_field("cruise_power_m_s", None)
    cruise_power_mass_g: float | None = input_field("cruise_power_mass_g", None)
    cruise_power_off_pct: float | None = _off("the cruise power")
    avionics_w: float | None = input_field("avionics_w", None)
    avionics_off_pct: float | None = _off("the electronics")
    pack_resistance_factor: float | None = Field(
        None,
        ge=PACK_RESISTANCE_RANGE[0],
        le=PACK_RESISTANCE_RANGE[1],
        description="resistance of the cells over what the plan has of them",
    )
    pack_resistance_off_pct: float | None = _off("the resistance")
    pack_capacity_factor: float | None = Field(
        None,
        ge=PACK_CAPACITY_RANGE[0],
        le=PACK_CAPACITY_RANGE[1],
        description="usable charge of the cells over what the plan has of them",
    )
    pack_capacity_off_pct: float | None = _off("the charge")
    flights: int = Field(1, ge=1, le=10_000, description="how many flights say so")
    note: str = Field("", max_length=400, description="which, and when")


INSIDE = "inside"
"""In place of the path of a table or of a folder of cells: it is in the design file itself."""


class InsidePart(Strict):
    """What a packed design has inside: the thrust table's own text, and a cell as a cell file states it."""

    table: str | None = Field(None, description="the text of a thrust table")
    cell: dict[str, Any] | None = Field(None, description="a cell as a cell file states it")


class DesignPart(Part):
    """A whole design file."""

    format: Literal["lithium pack design 1"] = Field(description=f'the format: "{FORMAT}"')
    name: str = Field(min_length=1, description="name of the design")
    note: str = Field("", description="anything to be remembered")
    sure: list[Annotated[str, Field(min_length=1, max_length=60)]] = Field(
        default_factory=list,
        max_length=60,
        description='doubts that you have looked into and answered, by subject: ["mass"]',
    )
    origins: dict[str, OriginName | OriginPart] = Field(
        default_factory=dict, description='where figures come from: avionics_w = "assumed"'
    )
    craft: CraftPart = Field(discriminator="kind")
    pack: PackPart
    flight: FlightPart
    today: TodayPart | None = None
    measured: MeasuredPart | None = None
    bench: BenchPart | None = None
    mission: list[Annotated[PhasePart, Field(discriminator="kind")]] = Field(
        default_factory=list, max_length=200, description="phases in the order flown"
    )
    inside: InsidePart = Field(
        default_factory=lambda: InsidePart(table=None, cell=None),
        description="table and cell of a packed design",
    )


FLIGHT_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "multirotor": (
        ("landing_v", "reserve_pct", "thrust_reserve"),
        ("cruise_m_s", "climb_m_s", "wanted_km"),
    ),
    "fixed wing": (("landing_v", "reserve_pct", "cruise_m_s"), ("thrust_reserve",)),
}
"""Of each kind of craft: keys of the flight that it needs, and keys that are not for it."""


def together(data: Mapping[str, Any]) -> list[str]:
    """What is wrong with a design's keys taken together, one sentence each.

    Args:
        data: the contents of a file as parsed; parts that are missing or odd are passed over: the
            check of single keys finds them.
    """
    craft, flight = _section(data, "craft"), data.get("flight")
    kind = str(craft.get("kind"))
    if kind not in FLIGHT_KEYS:
        return []
    faults = []
    if isinstance(flight, Mapping):
        needed, barred = FLIGHT_KEYS[kind]
        for key in needed:
            if key not in flight and not (key in FLIGHT_RULES and flight.get("rules") == "club"):
                what = FlightPart.model_fields[key].description
                faults.append(f"flight.{key} is missing; a {kind} needs it ({what}).")
        for key in barred:
            if key in flight:
                faults.append(f"flight.{key} is not for a {kind}; remove it.")
    if kind == "fixed wing":
        faults += _drag(craft) + _launch(craft)
    faults += _measured(kind, _section(data, "measured"))
    faults += _packs(_section(data, "pack")) + _origins(data) + _sure(data) + _inside(data)
    phases = data.get("mission")
    if isinstance(phases, list):
        faults += _phases(kind, craft, [p for p in phases if isinstance(p, Mapping)])
    return faults


def _section(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    """A section as it is stated; an empty one where there is none, or it is none."""
    found = data.get(name)
    return found if isinstance(found, Mapping) else {}


def _packs(pack: Mapping[str, Any]) -> list[str]:
    """Cells that cannot be divided evenly between the packs."""
    if pack.get("packs") != 2:
        return []
    key = pack.get("joined", "parallel")
    count = pack.get(key) if isinstance(key, str) else None
    if not isinstance(count, int) or count % 2 == 0:
        return []
    return [
        f"pack.{key} is {count}, all cells together, which two packs joined in {key} cannot share evenly; "
        f"{max(count - 1, 2)} or {count + 1} is needed."
    ]


def _measured(kind: str, found: Mapping[str, Any]) -> list[str]:
    """Figures of flights that are not of such a craft, and a cruise that is not stated in full."""
    cruise = ("cruise_power_w", *DRAG_KEYS["cruise_power_w"])
    barred = cruise if kind == "multirotor" else ("flight_factor",)
    faults = [f"measured.{key} is not for a {kind}; remove it." for key in barred if key in found]
    missing = [key for key in cruise if key not in found] if cruise[0] in found else []
    return faults + [
        f"measured.{key} is missing; measured.{cruise[0]} needs it beside it." for key in missing
    ]


def _origins(data: Mapping[str, Any]) -> list[str]:
    """Origins of figures that the design does not state."""
    names = ("craft", "pack", "flight", "today", "bench")
    stated_keys = {key for name in names for key in _section(data, name)}
    return [
        f"origins.{key}: the design states no {key}; a key of its craft, pack, flight, today or bench "
        "is needed."
        for key in _section(data, "origins")
        if key not in stated_keys
    ]


def _inside(data: Mapping[str, Any]) -> list[str]:
    """What a design names as inside it, and is not there."""
    held = _section(data, "inside")
    return [
        f'{section}.{key} is "{INSIDE}", but no inside.{what} is there; put it in, or name a path.'
        for section, key, what in (
            ("craft", "thrust_table", "table"),
            ("pack", "cell_folder", "cell"),
        )
        if _section(data, section).get(key) == INSIDE and what not in held
    ]


def _sure(data: Mapping[str, Any]) -> list[str]:
    """Answers to doubts that there cannot be."""
    sure = data.get("sure")
    words = sure if isinstance(sure, list) else []
    return [
        f'sure: there is no doubt about "{word}"; it can be about {", ".join(SUBJECTS)}.'
        for word in words
        if isinstance(word, str) and word not in SUBJECTS
    ]


def _drag(craft: Mapping[str, Any]) -> list[str]:
    """Whether a wing's drag is stated once and in full."""
    stated_keys = [key for key in DRAG_KEYS if key in craft]
    if len(stated_keys) != 1:
        found = " and ".join(stated_keys) if stated_keys else "none"
        return [
            f"the craft's drag is given by one of {', '.join(DRAG_KEYS)}; {found} "
            f"{'are' if len(stated_keys) > 1 else 'is'} there."
        ]
    stated_key = stated_keys[0]
    faults = [
        f"craft.{key} is missing; craft.{stated_key} needs it beside it."
        for key in DRAG_KEYS[stated_key]
        if key not in craft
    ]
    spare = [
        key
        for other, keys in DRAG_KEYS.items()
        for key in keys
        if other != stated_key
        and key in craft
        and not (stated_key == "cruise_power_w" and key == "oswald_efficiency")
    ]
    return faults + [
        f"craft.{key} is not used beside craft.{stated_key}; remove it." for key in spare
    ]


def _launch(craft: Mapping[str, Any]) -> list[str]:
    """Whether a wing's launch power is stated once."""
    ways = [key for key in ("thrust_table", "launch_w_per_kg") if key in craft]
    faults = []
    if len(ways) != 1:
        found = "both are" if ways else "neither is"
        faults.append(
            f"the craft's launch power is given by thrust_table or by launch_w_per_kg; {found} there."
        )
    if "thrust_table" not in craft:
        faults += [
            f"craft.{key} chooses from a thrust table, but there is no craft.thrust_table."
            for key in ("motor", "propeller", "table_voltage_v")
            if key in craft
        ]
    return faults


def _phases(kind: str, craft: Mapping[str, Any], phases: list[Mapping[str, Any]]) -> list[str]:
    faults = []
    for number, phase in enumerate(phases, 1):
        what = phase.get("kind")
        if kind == "fixed wing" and what == "hover":
            faults.append(f"mission phase {number}: a fixed wing cannot hover; loiter is needed.")
        if (
            kind == "multirotor"
            and what in ("cruise", "loiter", "legs")
            and "airspeed_m_s" not in phase
        ):
            faults.append(
                f"mission phase {number}: airspeed_m_s is missing; a multirotor needs it for {what}."
            )
    stated = [phase.get("drop_g", 0.0) for phase in phases]
    drops = [d for d in stated if isinstance(d, int | float) and 0 <= d <= INPUTS["drop_g"].most]
    payload = craft.get("payload_g")
    if isinstance(payload, int | float) and 0 <= payload < sum(drops):
        faults.append(
            f"mission drops {sum(drops):g} g in all, more than the payload of {payload:g} g."
        )
    return faults
