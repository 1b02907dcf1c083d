"""The design: a craft, a pack, what is asked of the flight, the pack flown now; and what a choice must keep to."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, Generic, Literal, TypeAlias

import numpy as np
from typing_extensions import TypeVar

from workbook.battery.heat import Air
from workbook.battery.pack import Pack
from workbook.battery.two_packs import ONE_PACK, Joining
from workbook.bench.bench_settings import Bay
from workbook.bench.transport import APPROVAL, APPROVAL_WH, CABIN, CABIN_WH
from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.errors import Problem, refuse
from workbook.numbers import FloatArray, Number

BEST_RANGE, BEST_ENDURANCE = "best range", "best endurance"
"""Airspeeds of a fixed wing asked for by name."""

Craft = TypeVar("Craft", bound=Multirotor | FixedWing, default=Multirotor, covariant=True)


PACK_RESISTANCE_RANGE, PACK_CAPACITY_RANGE = (0.6, 5.0), (0.3, 1.1)
"""What flights may make of the cells' resistance and charge: no cell is so much better than its datasheet that a plan
may count on more. Common practice, no source."""


@dataclass(frozen=True)
class Flight:
    """What is asked of the flight. Voltages are per cell, under load.

    Attributes:
        landing_v: cell voltage under load at which the flight ends.
        reserve_pct: share of the pack's charge that stays in it, whichever end comes first.
        thrust_reserve: least full-throttle thrust to weight of a multirotor, at the end of the
            flight.
        wanted_min: flight time asked for, where one is asked.
        continuous_share_pct: share of the cell's continuous rating that is allowed to be used.
        throttle_cap_pct: highest throttle that the radio or autopilot lets through.
        field_height_m, air_temperature_c: where the flight is.
        pack_temperature_c: the cells' temperature at take-off.
        pack_cycles, pack_years: age of the pack, in full cycles and in years.
        pack_resistance_factor, pack_capacity_factor: of the cells over what their datasheet, temperature and age give,
            as measured in flight.
        pack_airflow: "wrapped" (a middle cell of a wrapped pack), "still" or "forced" air.
        cruise_m_s: airspeed of a fixed wing in steady flight, or "best range" or "best endurance".
        wanted_km: distance in still air asked of a fixed wing, where one is asked.
        climb_m_s: rate of climb asked of a fixed wing at the end of the flight, where one is asked.
    """

    landing_v: Number
    reserve_pct: Number
    thrust_reserve: Number = 1.0
    wanted_min: Number | None = None
    continuous_share_pct: Number = 100.0
    throttle_cap_pct: Number = 100.0
    field_height_m: Number = 0.0
    air_temperature_c: Number = 15.0
    pack_temperature_c: Number = 25.0
    pack_cycles: Number = 0.0
    pack_years: Number = 0.0
    pack_resistance_factor: Number = 1.0
    pack_capacity_factor: Number = 1.0
    pack_airflow: Air = "wrapped"
    cruise_m_s: Number | str = BEST_RANGE
    wanted_km: Number | None = None
    climb_m_s: Number | None = None


@dataclass(frozen=True)
class MissionPhase:
    """One phase of a mission as a builder writes it down; single figures.

    Attributes:
        kind: "rest", "launch", "hover", "climb", "cruise", "loiter", "descent" or "legs".
        label: what it is called; its kind where left out.
        duration_s: how long, for rest, launch, hover, loiter.
        distance_m: over ground, for cruise.
        height_m, rate_m_s: how far up or down and how fast, for climb and descent; above 0.
        airspeed_m_s: through the air; None for the craft's own (see `workbook.sizing.mission`).
        headwind_m_s: from ahead, below 0 from behind; in hover, the wind that is held against.
        drop_g: payload dropped before the phase begins.
        gust_factor: power over that of calm air (gusts, a payload that swings); 1 and more.
        length_m, width_m, spacing_m, turn_s: field, spacing and extra time of turns, for legs.
    """

    kind: str
    label: str = ""
    duration_s: float | None = None
    distance_m: float | None = None
    height_m: float | None = None
    rate_m_s: float | None = None
    airspeed_m_s: float | None = None
    headwind_m_s: float = 0.0
    drop_g: float = 0.0
    gust_factor: float = 1.0
    length_m: float | None = None
    width_m: float | None = None
    spacing_m: float | None = None
    turn_s: float = 0.0


@dataclass(frozen=True)
class ReferencePack:
    """The pack flown now, with its own landing voltage and reserve.

    Attributes:
        name: what the club calls it.
        pack: the pack as a whole, its mass as weighed.
        landing_v: cell voltage under load at which it is landed.
        reserve_pct: share of its charge left at landing.
    """

    name: str
    pack: Pack
    landing_v: float
    reserve_pct: float


OriginName: TypeAlias = Literal["measured", "maker's", "assumed"]
"""Where a figure comes from."""


@dataclass(frozen=True)
class Origin:
    """Where one figure of a design comes from.

    Attributes:
        key: the figure, as a design file names it.
        origin: measured, its maker's, or assumed.
        uncertainty_pct: of a measured one, half the interval that holds the truth 95 times in 100.
        note: how and when.
    """

    key: str
    origin: OriginName
    uncertainty_pct: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Allowances:
    """What reality takes from the plan: factors on the plan's figures, 1 where nothing is taken.

    Attributes:
        mass_factor: all-up mass over the weighed one.
        power_factor: steady power over the table's (tolerance, wind, climb share).
        avionics_factor: avionics power over the stated one.
        thrust_factor: full-throttle thrust over the table's.
        capacity_factor: usable charge over the datasheet's (tolerance, cold, age, spread).
        resistance_factor: cell resistance over the identified one (cold, age).
        joint_factor: joint resistance over the stated one.
        cold_factor: what cold does to the cells over what is known of it; it acts in the cold only.

    Example:
        >>> Allowances(power_factor=1.1).power_factor
        1.1
    """

    mass_factor: Number = 1.0
    power_factor: Number = 1.0
    avionics_factor: Number = 1.0
    thrust_factor: Number = 1.0
    capacity_factor: Number = 1.0
    resistance_factor: Number = 1.0
    joint_factor: Number = 1.0
    cold_factor: Number = 1.0


@dataclass(frozen=True)
class Design(Generic[Craft]):
    """Everything that the computation needs to size a pack.

    Any figure in it may be an array: the answer then has that shape. The mission is one plan of
    single figures, flown by a single design. `pack` is all cells together; `joining` says into how many packs they
    are divided. `sure` names the doubts that its builder has answered
    (see `workbook.sizing.doubts`); `origins` says where figures come from (see `workbook.sizing.origins`).
    """

    name: str
    craft: Craft
    pack: Pack
    flight: Flight
    today: ReferencePack | None = None
    mission: tuple[MissionPhase, ...] = ()
    sure: tuple[str, ...] = ()
    origins: tuple[Origin, ...] = ()
    joining: Joining = ONE_PACK

    @property
    def one_pack(self) -> Pack:
        """The pack, or one of the equal packs that the cells are divided into."""
        return self.joining.one_of(self.pack)

    def changed(self, **values: Any) -> Design[Craft]:
        """A new design with figures of the craft, the pack, the flight or its packs' joining replaced by name.

        Raises:
            TypeError: no part of the design has that figure.
        """
        parts: dict[str, Any] = {}
        for part_name in ("craft", "pack", "flight", "joining"):
            part = getattr(self, part_name)
            own = {f.name for f in fields(part) if f.name != "name"}
            mine = {key: values.pop(key) for key in list(values) if key in own}
            parts[part_name] = replace(part, **mine) if mine else part
        if values:
            raise TypeError(f"no part of a design has {', '.join(sorted(values))}.")
        return replace(self, **parts)


@dataclass(frozen=True)
class Constraints:
    """What a choice must keep to beside the design's own limits; None where nothing is asked.

    Attributes:
        bay: the space for the pack, in any order of its sides. The check is a necessary one: a pack
            that passes may still not fit, one that fails cannot.
        max_price: cost of the cells, in the unit of the catalogue's prices. A cell without a price
            does not pass.
        transport: highest class accepted, as `workbook.bench.transport.passenger_class` has it.
        max_pack_mass_g: heaviest pack.

    Raises:
        InputError: a side of the bay or a class that cannot be.

    Example:
        >>> Constraints(Bay(150.0, 70.0, 50.0)).bay_sides_mm
        [50.0, 70.0, 150.0]
    """

    bay: Bay | None = None
    max_price: float | None = None
    transport: int | None = None
    max_pack_mass_g: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        problems = [
            Problem(f"{side:g} mm is not possible; above 0 mm is needed.", "bay")
            for side in self.bay_sides_mm
            if not side > 0
        ]
        if self.transport is not None and self.transport not in (0, 1, 2):
            problems.append(Problem(f"{self.transport}; 0, 1 or 2 is needed.", "transport"))
        refuse(problems)

    @property
    def bay_sides_mm(self) -> list[float]:
        """Sides of the bay, shortest first; none without a bay."""
        bay = self.bay
        return [] if bay is None else sorted((bay.length_mm, bay.width_mm, bay.height_mm))

    @property
    def bay_cm3(self) -> float | None:
        """Volume of the bay; None without one."""
        return np.prod(self.bay_sides_mm).item() / 1000.0 if self.bay else None

    @property
    def most_wh(self) -> float | None:
        """Most energy that the class of transport allows; None where any does."""
        limits = {CABIN: CABIN_WH, APPROVAL: APPROVAL_WH}
        return None if self.transport is None else limits.get(self.transport)


NO_CONSTRAINTS = Constraints()


def price(design: Design[Any]) -> FloatArray:
    """Money for the pack's cells; NaN where the catalogue has no price."""
    each = design.pack.cell.price
    return np.asarray(design.pack.cells * (np.nan if each is None else each), dtype=float)
