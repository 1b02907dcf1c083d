"""The parts of a design file: every key with its range, and which keys go together."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field

from workbook.files.bench_part import BenchPart

FORMAT = "lithium pack design 1"


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True, frozen=True)


class _AnyCraftPart(_Part):
    """What is known of any craft, without its pack."""

    mass_without_pack_g: float = Field(
        gt=0, le=100_000, description="mass that flies, without pack and payload"
    )
    payload_g: float = Field(ge=0, le=50_000, description="mass carried")
    motor: str | None = Field(None, description="motor, where the table holds several")
    propeller: str | None = Field(None, description="propeller, where the table holds several")
    table_voltage_v: float | None = Field(
        None, gt=0, le=200, description="supply voltage, where the table holds several or none"
    )
    avionics_w: float = Field(ge=0, le=1000, description="power of the electronics at rest")
    max_all_up_mass_g: float | None = Field(
        None, gt=0, le=200_000, description="highest take-off mass"
    )
    controller_max_v: float | None = Field(
        None, gt=0, le=200, description="speed controllers' highest voltage"
    )
    controller_max_a: float | None = Field(
        None, gt=0, le=500, description="one speed controller's current"
    )


class MultirotorPart(_AnyCraftPart):
    """A multirotor without its pack."""

    kind: Literal["multirotor"] = Field(description="what holds it up")
    rotors: int = Field(ge=1, le=16, description="number of rotors")
    thrust_table: str = Field(min_length=1, description="path of the thrust table, from this file")
    flight_factor: float = Field(
        ge=1, le=2, description="watts in flight over watts on the bench at equal thrust"
    )
    drag_area_m2: float | None = Field(
        None,
        ge=0,
        le=2,
        description="drag coefficient times frontal area of the body, for forward flight; 0.03 if "
        "not given, 0.01 to 0.06 is usual",
    )


class FixedWingPart(_AnyCraftPart):
    """A fixed wing without its pack. Its drag is told in one of three ways (see `DRAG_KEYS`)."""

    kind: Literal["fixed wing"] = Field(description="what holds it up")
    motors: int = Field(ge=1, le=16, description="number of motors")
    wing_area_m2: float = Field(gt=0, le=20, description="wing area")
    span_m: float = Field(gt=0, le=20, description="wing span")
    largest_lift: float = Field(
        gt=0.3, le=3, description="lift coefficient at the stall; 1.0 to 1.4 without flaps is usual"
    )
    zero_lift_drag: float | None = Field(
        None, gt=0, le=0.5, description="drag coefficient at zero lift; 0.025 to 0.05 is usual"
    )
    oswald_efficiency: float | None = Field(
        None, gt=0.3, le=1, description="Oswald efficiency; 0.7 to 0.9 is usual"
    )
    glide_ratio: float | None = Field(
        None, gt=1, le=60, description="best glide ratio as measured, propeller folded"
    )
    glide_m_s: float | None = Field(None, gt=0, le=100, description="airspeed of that glide")
    glide_mass_g: float | None = Field(
        None, gt=0, le=200_000, description="all-up mass in that glide"
    )
    cruise_power_w: float | None = Field(
        None,
        gt=0,
        le=20_000,
        description="watts from the pack in level cruise as measured, electronics included",
    )
    cruise_power_m_s: float | None = Field(
        None, gt=0, le=100, description="airspeed of that cruise"
    )
    cruise_power_mass_g: float | None = Field(
        None, gt=0, le=200_000, description="all-up mass in that cruise"
    )
    propeller_efficiency: float = Field(
        gt=0, le=0.9, description="propeller in cruise; 0.55 to 0.65 is usual for small ones"
    )
    motor_efficiency: float = Field(
        gt=0, le=0.98, description="motor and controller in cruise; 0.7 to 0.85 is usual"
    )
    thrust_table: str | None = Field(
        None, min_length=1, description="path of the static thrust table, from this file"
    )
    launch_w_per_kg: float | None = Field(
        None,
        gt=0,
        le=2000,
        description="watts at launch for each kilogram, where there is no table; 150 to 250 is usual",
    )


CraftPart: TypeAlias = MultirotorPart | FixedWingPart

DRAG_KEYS: dict[str, tuple[str, ...]] = {
    "zero_lift_drag": ("oswald_efficiency",),
    "glide_ratio": ("glide_m_s", "glide_mass_g"),
    "cruise_power_w": ("cruise_power_m_s", "cruise_power_mass_g"),
}
"""The three ways to tell a wing's drag: one of these keys, and what it needs beside it."""


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
    thrust_reserve: float | None = Field(
        None, ge=1, le=5, description="least thrust over weight at the end; multirotor only"
    )
    cruise_m_s: (
        Annotated[float, Field(gt=0, le=100)] | Literal["best range", "best endurance"] | None
    ) = Field(
        None,
        description='airspeed in cruise, fixed wing only: above 0 up to 100, "best range" or "best endurance"',
    )
    climb_m_s: float | None = Field(
        None, gt=0, le=50, description="rate of climb asked for at the end; fixed wing only"
    )
    wanted_km: float | None = Field(
        None, gt=0, le=2000, description="distance in still air asked for; fixed wing only"
    )
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
    pack_cycles: float = Field(0.0, ge=0, le=2000, description="full cycles that the pack has done")
    pack_years: float = Field(0.0, ge=0, le=20, description="age of the pack")
    pack_airflow: Literal["wrapped", "still", "forced"] = Field(
        "wrapped", description="air around the cells: wrapped, still or forced"
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


class _PhasePart(_Part):
    """What any phase of a mission may state."""

    label: str = Field("", description="what it is called; its kind if not given")
    drop_g: float = Field(0.0, ge=0, le=50_000, description="payload dropped before it begins")
    gust_factor: float = Field(
        1.0, ge=1, le=3, description="power over that of calm air (gusts, a payload that swings)"
    )


class RestPart(_PhasePart):
    """Standing by, propellers still."""

    kind: Literal["rest"]
    duration_s: float = Field(gt=0, le=86_400, description="how long")


class LaunchPart(_PhasePart):
    """Full power at take-off."""

    kind: Literal["launch"]
    duration_s: float = Field(gt=0, le=600, description="how long")


class HoverPart(_PhasePart):
    """Hover on the spot; multirotor only."""

    kind: Literal["hover"]
    duration_s: float = Field(gt=0, le=86_400, description="how long")
    wind_m_s: float = Field(0.0, ge=0, le=40, description="wind that it holds against")


class ClimbPart(_PhasePart):
    """Climb by a height."""

    kind: Literal["climb"]
    height_m: float = Field(gt=0, le=9000, description="how far up")
    climb_m_s: float = Field(gt=0, le=50, description="rate of climb")
    airspeed_m_s: float | None = Field(None, ge=0, le=100, description="through the air")


class DescentPart(_PhasePart):
    """Come down by a height."""

    kind: Literal["descent"]
    height_m: float = Field(gt=0, le=9000, description="how far down")
    sink_m_s: float = Field(gt=0, le=50, description="rate of sink")
    airspeed_m_s: float | None = Field(None, ge=0, le=100, description="through the air")


class CruisePart(_PhasePart):
    """Level flight over a distance on the ground."""

    kind: Literal["cruise"]
    distance_m: float = Field(gt=0, le=1_000_000, description="over ground")
    airspeed_m_s: float | None = Field(None, gt=0, le=100, description="through the air")
    headwind_m_s: float = Field(0.0, ge=-40, le=40, description="from ahead; below 0 from behind")


class LoiterPart(_PhasePart):
    """Level flight for a time."""

    kind: Literal["loiter"]
    duration_s: float = Field(gt=0, le=86_400, description="how long")
    airspeed_m_s: float | None = Field(None, gt=0, le=100, description="through the air")


class LegsPart(_PhasePart):
    """A field flown in parallel legs, wind along them."""

    kind: Literal["legs"]
    length_m: float = Field(gt=0, le=100_000, description="of the field, along the legs")
    width_m: float = Field(gt=0, le=100_000, description="of the field, across the legs")
    spacing_m: float = Field(gt=0, le=10_000, description="between legs")
    airspeed_m_s: float | None = Field(None, gt=0, le=100, description="through the air")
    wind_m_s: float = Field(0.0, ge=0, le=40, description="along the legs, to and fro")
    turn_s: float = Field(0.0, ge=0, le=600, description="extra time of a turn")


PhasePart: TypeAlias = (
    RestPart | LaunchPart | HoverPart | ClimbPart | DescentPart | CruisePart | LoiterPart | LegsPart
)


class DesignPart(_Part):
    """A whole design file."""

    format: Literal["lithium pack design 1"] = Field(description=f'the format: "{FORMAT}"')
    name: str = Field(min_length=1, description="name of the design")
    note: str = Field("", description="anything to be remembered")
    craft: CraftPart = Field(discriminator="kind")
    pack: PackPart
    flight: FlightPart
    today: TodayPart | None = None
    bench: BenchPart | None = None
    mission: list[Annotated[PhasePart, Field(discriminator="kind")]] = Field(
        default_factory=list, max_length=200, description="phases in the order flown"
    )


FLIGHT_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "multirotor": (("thrust_reserve",), ("cruise_m_s", "climb_m_s", "wanted_km")),
    "fixed wing": (("cruise_m_s",), ("thrust_reserve",)),
}
"""Of each kind of craft: keys of the flight that it needs, and keys that are not for it."""


def together(data: Mapping[str, Any]) -> list[str]:
    """What is wrong with a design's keys taken together, one sentence each.

    Args:
        data: the contents of a file as parsed; parts that are missing or odd are passed over, the
            check of single keys tells them.
    """
    craft, flight = data.get("craft"), data.get("flight")
    if not isinstance(craft, Mapping) or craft.get("kind") not in FLIGHT_KEYS:
        return []
    kind = str(craft["kind"])
    said = []
    if isinstance(flight, Mapping):
        needed, barred = FLIGHT_KEYS[kind]
        for key in needed:
            if key not in flight:
                what = FlightPart.model_fields[key].description
                said.append(f"flight.{key} is missing; a {kind} needs it ({what}).")
        for key in barred:
            if key in flight:
                said.append(f"flight.{key} is not for a {kind}; remove it.")
    if kind == "fixed wing":
        said += _drag(craft) + _launch(craft)
    phases = data.get("mission")
    if isinstance(phases, list):
        said += _phases(kind, craft, [p for p in phases if isinstance(p, Mapping)])
    return said


def _drag(craft: Mapping[str, Any]) -> list[str]:
    """A wing's drag told once and in full."""
    ways = [key for key in DRAG_KEYS if key in craft]
    if len(ways) != 1:
        found = " and ".join(ways) if ways else "none"
        return [
            f"craft tells its drag by one of {', '.join(DRAG_KEYS)}; {found} "
            f"{'are' if len(ways) > 1 else 'is'} there."
        ]
    way = ways[0]
    said = [
        f"craft.{key} is missing; craft.{way} needs it beside it."
        for key in DRAG_KEYS[way]
        if key not in craft
    ]
    spare = [
        key
        for other, keys in DRAG_KEYS.items()
        for key in keys
        if other != way
        and key in craft
        and not (way == "cruise_power_w" and key == "oswald_efficiency")
    ]
    return said + [f"craft.{key} is not used beside craft.{way}; remove it." for key in spare]


def _launch(craft: Mapping[str, Any]) -> list[str]:
    """A wing's launch power told once."""
    ways = [key for key in ("thrust_table", "launch_w_per_kg") if key in craft]
    said = []
    if len(ways) != 1:
        found = "both are" if ways else "neither is"
        said.append(
            f"craft tells its launch power by thrust_table or by launch_w_per_kg; {found} there."
        )
    if "thrust_table" not in craft:
        said += [
            f"craft.{key} chooses from a thrust table, but there is no craft.thrust_table."
            for key in ("motor", "propeller", "table_voltage_v")
            if key in craft
        ]
    return said


def _phases(kind: str, craft: Mapping[str, Any], phases: list[Mapping[str, Any]]) -> list[str]:
    said = []
    for number, phase in enumerate(phases, 1):
        what = phase.get("kind")
        if kind == "fixed wing" and what == "hover":
            said.append(f"mission phase {number}: a fixed wing cannot hover; loiter is needed.")
        if (
            kind == "multirotor"
            and what in ("cruise", "loiter", "legs")
            and "airspeed_m_s" not in phase
        ):
            said.append(
                f"mission phase {number}: airspeed_m_s is missing; a multirotor needs it for {what}."
            )
    drops = [d for d in (p.get("drop_g", 0.0) for p in phases) if isinstance(d, int | float)]
    payload = craft.get("payload_g")
    if isinstance(payload, int | float) and sum(drops) > payload:
        said.append(
            f"mission drops {sum(drops):g} g in all, more than the payload of {payload:g} g."
        )
    return said
