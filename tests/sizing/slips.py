"""Sound designs drawn at random, and the slips of unit that people make in them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from workbook.battery.cell import Cell
from workbook.battery.pack import Pack
from workbook.battery.polymer import polymer_cell
from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.craft.rotor import disc_area_m2, hover
from workbook.craft.thrust_table import METRES_PER_INCH, ThrustTable
from workbook.craft.wing import Polar
from workbook.errors import InputError
from workbook.files.cell_check import check_cell
from workbook.files.cell_file import catalogue
from workbook.numbers import STANDARD_GRAVITY_M_S2
from workbook.quantities import INPUTS
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design, Flight, MissionPhase, ReferencePack
from workbook.sizing.size import SizingResult, size

OZ, LB, FT, INCH, FT2 = 28.349523125, 453.59237, 0.3048, 0.0254, 0.09290304
"""Grams, metres, square metres. Source: international yard and pound agreement, 1959."""

Change = Callable[[Design[Any]], Design[Any]]


# sound designs ------------------------------------------------------------------------------------


def _table(
    rng: np.random.Generator, rotors: int, series: int, inches: float, named: bool
) -> ThrustTable:
    """A table with the losses and disc loadings of real ones: 0.40 to 0.58 of the ideal, 18 to 35 kg/m2."""
    area = float(disc_area_m2(inches * METRES_PER_INCH))
    top_gf = 1000.0 * rng.uniform(18.0, 35.0) * area
    share = np.linspace(0.08, 1.0, 12)
    thrust = top_gf * share
    merit = rng.uniform(0.42, 0.58) * (1.0 - 0.15 * share)
    ideal = hover(thrust / 1000.0 * STANDARD_GRAVITY_M_S2, area).ideal_power_w
    volts = np.full(12, series * rng.uniform(3.6, 3.9))
    watts = ideal / merit
    throttle = 100.0 * share ** (1.0 / 1.8)
    name = f"{inches:.0f}x{inches / 2.6:.1f}" if named else ""
    thrust_n, diameter_m = thrust / 1000.0 * STANDARD_GRAVITY_M_S2, inches * METRES_PER_INCH
    turns = np.sqrt(
        thrust_n / (rng.uniform(0.07, 0.14) * 1.225 * diameter_m**4)
    )  # 1/s, of T = C_T rho n^2 D^4
    rpm = 60.0 * turns if named and rng.random() < 0.5 else thrust * np.nan
    return ThrustTable("m", name, thrust, watts / volts, volts, watts, throttle, rpm,
                       supply_v=float(volts[0]))  # fmt: skip


def _flight(rng: np.random.Generator, **others: Any) -> Flight:
    return Flight(
        landing_v=rng.choice([3.0, 3.1, 3.2]),
        reserve_pct=rng.choice([15.0, 20.0, 25.0]),
        continuous_share_pct=rng.choice([70.0, 80.0, 90.0, 100.0]),
        field_height_m=rng.choice([0.0, 200.0, 1200.0]),
        air_temperature_c=rng.uniform(0.0, 30.0),
        pack_temperature_c=rng.uniform(18.0, 32.0),
        pack_cycles=rng.choice([0.0, 20.0, 60.0]),
        **others,
    )


def _reference(rng: np.random.Generator, series: int, capacity_ah: float) -> ReferencePack:
    mass_g = series * capacity_ah * 3700.0 / rng.uniform(130.0, 180.0)
    cell = polymer_cell(capacity_ah, mass_g / series, rng.uniform(14.0, 28.0) / capacity_ah,
                        rng.uniform(20.0, 40.0), 70.0)  # fmt: skip
    return ReferencePack("now", Pack(cell, series, 1), 3.5, 20.0)


def _pack(rng: np.random.Generator, series: int, parallel: int) -> Pack:
    cell = rng.choice(np.array(list(catalogue().values()), dtype=object))
    cells_g = series * parallel * cell.mass_g
    return Pack(cell, series, parallel, rng.uniform(8.0, 14.0), cells_g * rng.uniform(0.04, 0.12),
                rng.uniform(3.0, 9.0))  # fmt: skip


def multirotor(rng: np.random.Generator) -> Design[Any]:
    """A multirotor that is sound in every input; whether it holds is not looked at."""
    rotors, series = int(rng.choice([4, 6, 8])), int(rng.choice([4, 6, 6, 12]))
    inches = float(
        rng.choice([9.0, 10.0, 13.0, 15.0, 18.0]) if series < 12 else rng.choice([22.0, 28.0])
    )
    table = _table(rng, rotors, series, inches, bool(rng.random() < 0.6))
    all_up_g = table.top_thrust_gf * rotors / rng.uniform(1.9, 3.2)
    one_string = _pack(rng, series, 1)
    parallel = max(1, round(all_up_g * rng.uniform(0.28, 0.45) / one_string.mass_g))
    pack = replace(one_string, parallel=parallel, extra_mass_g=one_string.extra_mass_g * parallel)
    rest_g = max(all_up_g - pack.mass_g, 0.5 * pack.mass_g)
    payload_g = rest_g * float(rng.choice([0.0, rng.uniform(0.03, 0.25)]))
    craft = Multirotor(
        name="x", rotors=rotors, table=table, mass_without_pack_g=rest_g - payload_g,
        payload_g=payload_g, avionics_w=float(all_up_g / 1000.0 * rng.uniform(3.0, 8.0)),
        flight_factor=rng.uniform(1.05, 1.2), drag_area_m2=rng.uniform(0.008, 0.025) * (all_up_g / 1000.0) ** (2.0 / 3.0),
        max_all_up_mass_g=float(rng.choice([1.3, 1.8])) * (rest_g + pack.mass_g),
        controller_max_v=series * 4.4, controller_max_a=float(table.current_a[-1] * rng.uniform(1.2, 2.0)),
        motor_max_a=float(table.current_a[-1] * rng.uniform(1.3, 1.6)),
        motor_max_w=float(table.power_w[-1] * rng.uniform(1.4, 1.8)),
        connector_max_a=float(pack.burst_a * rng.uniform(1.0, 3.0)),
        power_module_max_a=float(pack.burst_a * rng.uniform(1.0, 4.0)),
    )  # fmt: skip
    mission = () if not table.propeller or rng.random() < 0.4 else (
        MissionPhase("rest", "stand by", duration_s=60.0),
        MissionPhase("climb", "up", height_m=40.0, rate_m_s=1.5),
        MissionPhase("hover", "look", duration_s=40.0),
        MissionPhase("cruise", "out", distance_m=500.0, airspeed_m_s=7.0),
        MissionPhase("descent", "down", height_m=40.0, rate_m_s=1.0),
    )  # fmt: skip
    design = Design("x", craft, pack, _flight(rng, thrust_reserve=float(rng.choice([1.2, 1.3]))),
                    _reference(rng, series, parallel * 3.0), mission)  # fmt: skip
    return _asking(rng, design)


def wing(rng: np.random.Generator) -> Design[Any]:
    """A fixed wing that is sound in every input; whether it holds is not looked at."""
    span_m, ratio = rng.uniform(1.2, 2.8), rng.uniform(6.0, 13.0)
    area = span_m**2 / ratio
    all_up_g = 100.0 * area * rng.uniform(40.0, 75.0)
    series = int(rng.choice([3, 4, 6]))
    one_string = _pack(rng, series, 1)
    parallel = max(1, round(all_up_g * rng.uniform(0.2, 0.4) / one_string.mass_g))
    pack = replace(one_string, parallel=parallel, extra_mass_g=one_string.extra_mass_g * parallel)
    rest_g = max(all_up_g - pack.mass_g, 0.6 * pack.mass_g)
    payload_g = rest_g * float(rng.choice([0.0, rng.uniform(0.03, 0.2)]))
    table = None
    if rng.random() < 0.6:
        inches = float(rng.choice([9.0, 10.0, 11.0, 13.0]))
        made = _table(rng, 1, series, inches, True)
        scale = all_up_g * rng.uniform(0.6, 1.0) / made.top_thrust_gf
        inches *= float(np.sqrt(scale))
        table = replace(made, thrust_gf=made.thrust_gf * scale, power_w=made.power_w * scale,
                        current_a=made.current_a * scale, speed_rpm=made.speed_rpm / np.sqrt(scale),
                        propeller=f"{inches:.0f}x{inches * 0.6:.0f}")  # fmt: skip
    craft = FixedWing(
        name="w", motors=1, mass_without_pack_g=rest_g - payload_g, payload_g=payload_g,
        avionics_w=rng.uniform(4.0, 10.0), table=table,
        polar=Polar(area, span_m, rng.uniform(0.025, 0.05), rng.uniform(0.7, 0.88), rng.uniform(1.0, 1.3)),
        propeller_efficiency=rng.uniform(0.5, 0.65), motor_efficiency=rng.uniform(0.7, 0.85),
        launch_w_per_kg=rng.uniform(150.0, 250.0), max_all_up_mass_g=1.4 * (rest_g + pack.mass_g),
        controller_max_v=series * 4.4, controller_max_a=60.0,
    )  # fmt: skip
    flight = _flight(rng, climb_m_s=rng.uniform(1.0, 2.0))
    stall = operate(Design("w", craft, pack, flight)).speeds.stall_m_s
    flight = replace(flight, cruise_m_s=float(stall) * rng.uniform(1.35, 1.7))
    return _asking(rng, Design("w", craft, pack, flight, _reference(rng, series, parallel * 3.0)))


def _asking(rng: np.random.Generator, design: Design[Any]) -> Design[Any]:
    """The same, asking for a part of the time and the distance that it can do."""
    point = operate(design)
    asked: dict[str, Any] = {"wanted_min": float(point.endurance_min) * rng.uniform(0.4, 0.8)}
    if isinstance(design.craft, FixedWing):
        asked["wanted_km"] = float(point.range_km) * rng.uniform(0.4, 0.8)
    return design.changed(**asked)


def sound_designs(seed: int) -> Iterator[Design[Any]]:
    """Sound designs without end, each second one a wing."""
    rng = np.random.default_rng(seed)
    while True:
        for draw in (multirotor, wing):
            try:
                yield draw(rng)
            except InputError:
                continue


def holding(seed: int) -> Iterator[tuple[Design[Any], SizingResult]]:
    """Those of them that hold."""
    for design in sound_designs(seed):
        result = size(design)
        if result.holds:
            yield design, result


# slips --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Slip:
    """One figure of a design in a wrong unit.

    Attributes:
        name: of the figure and the slip.
        of: the slipped design; None where this design has no such figure.
    """

    name: str
    of: Callable[[Design[Any]], Design[Any] | None]


def _figure(key: str, *factors: float, least: float = 0.0) -> list[Slip]:
    """A figure of craft, pack or flight times each factor, where it is stated and not 0."""

    def slipped(design: Design[Any], factor: float) -> Design[Any] | None:
        for part in (design.craft, design.pack, design.flight):
            value = getattr(part, key, None)
            if isinstance(value, int | float | np.number) and value > least:
                return design.changed(**{key: float(value) * factor})
        return None

    return [Slip(f"{key} x {f:.4g}", lambda d, f=f: slipped(d, f)) for f in factors]


def _shape(key: str, *factors: float) -> list[Slip]:
    def slipped(design: Design[Any], factor: float) -> Design[Any] | None:
        if not isinstance(design.craft, FixedWing):
            return None
        polar = design.craft.polar
        return design.changed(polar=replace(polar, **{key: getattr(polar, key) * factor}))

    return [Slip(f"{key} x {f:.4g}", lambda d, f=f: slipped(d, f)) for f in factors]


def _cell(keys: str, *factors: float) -> list[Slip]:
    def slipped(design: Design[Any], factor: float) -> Design[Any]:
        cell = design.pack.cell
        return design.changed(
            cell=replace(cell, **{k: getattr(cell, k) * factor for k in keys.split()})
        )

    return [Slip(f"cell {keys} x {f:.4g}", lambda d, f=f: slipped(d, f)) for f in factors]


def _curves(key: str, *factors: float) -> list[Slip]:
    def slipped(design: Design[Any], factor: float) -> Design[Any]:
        cell = design.pack.cell
        curves = tuple(
            replace(c, **{key: c.current_a * factor if key == "current_a" else tuple(v * factor for v in getattr(c, key))})
            for c in cell.curves
        )  # fmt: skip
        return design.changed(cell=replace(cell, curves=curves))

    return [Slip(f"curves {key} x {f:.4g}", lambda d, f=f: slipped(d, f)) for f in factors]


def _columns(keys: str, *factors: float | str) -> list[Slip]:
    def slipped(design: Design[Any], factor: float | str) -> Design[Any] | None:
        craft = design.craft
        if craft.table is None or (factor == "rotors" and not isinstance(craft, Multirotor)):
            return None
        by = float(craft.rotors) if factor == "rotors" else float(factor)
        changed = {key: getattr(craft.table, key) * by for key in keys.split()}
        if all(np.isnan(column).all() for column in changed.values()):
            return None
        return design.changed(table=replace(craft.table, **changed))

    return [Slip(f"table {keys} x {f}", lambda d, f=f: slipped(d, f)) for f in factors]


def _today(key: str, *factors: float) -> list[Slip]:
    def slipped(design: Design[Any], factor: float) -> Design[Any] | None:
        today = design.today
        if today is None:
            return None
        if key == "reserve_pct":
            return replace(design, today=replace(today, reserve_pct=today.reserve_pct * factor))
        cell = today.pack.cell
        stated = {
            "capacity_ah": cell.rated_capacity_ah, "mass_g": cell.mass_g,
            "resistance_mohm": cell.resistance_mohm,
        }  # fmt: skip
        stated[key] *= factor
        c = cell.continuous_a / cell.rated_capacity_ah, cell.burst_a / cell.rated_capacity_ah
        pack = replace(today.pack, cell=polymer_cell(**stated, continuous_c=c[0], burst_c=c[1]))
        return replace(design, today=replace(today, pack=pack))

    return [Slip(f"today {key} x {f:.4g}", lambda d, f=f: slipped(d, f)) for f in factors]


def _phase(key: str, *factors: float) -> list[Slip]:
    def slipped(design: Design[Any], factor: float) -> Design[Any] | None:
        phases = list(design.mission)
        for k, phase in enumerate(phases):
            if getattr(phase, key) is not None:
                phases[k] = replace(phase, **{key: getattr(phase, key) * factor})
                return replace(design, mission=tuple(phases))
        return None

    return [Slip(f"phase {key} x {f:.4g}", lambda d, f=f: slipped(d, f)) for f in factors]


def _fahrenheit(key: str) -> list[Slip]:
    """A temperature in degrees Fahrenheit, of a day that is 5 °C or warmer: colder ones read as a heat that is harmless."""

    def slipped(design: Design[Any]) -> Design[Any] | None:
        value = getattr(design.flight, key)
        return design.changed(**{key: 32.0 + 1.8 * value}) if value >= 5.0 else None

    return [Slip(f"{key} in °F", slipped)]


def _hot_cell(design: Design[Any]) -> Design[Any]:
    cell = design.pack.cell
    return design.changed(cell=replace(cell, max_temperature_c=32.0 + 1.8 * cell.max_temperature_c))


def _amperes(design: Design[Any]) -> Design[Any]:
    return design.changed(avionics_w=design.craft.avionics_w / float(design.pack.nominal_v))


GRAMS = (1e-3, 1e-2, 1.0 / OZ, 1.0 / LB, 1e2, 1e3)
THOUSANDS = (1e-3, 1e-2, 1e2, 1e3)
SLIPS: tuple[Slip, ...] = (
    *_figure("mass_without_pack_g", *GRAMS),
    *_figure("payload_g", *GRAMS),
    *_figure("max_all_up_mass_g", *GRAMS),
    *_figure("extra_mass_g", *GRAMS),
    *_figure("avionics_w", *THOUSANDS),
    Slip("avionics in A", _amperes),
    *_figure("controller_max_v", *THOUSANDS),
    *_figure("controller_max_a", *THOUSANDS),
    *_figure("motor_max_a", 10.0, *THOUSANDS),
    *_figure("motor_max_w", 10.0, *THOUSANDS),
    *_figure("connector_max_a", 10.0, *THOUSANDS),
    *_figure("power_module_max_a", 10.0, *THOUSANDS),
    *_figure("flight_factor", *THOUSANDS),
    *_figure("drag_area_m2", 0.1, *THOUSANDS),
    *_figure("propeller_efficiency", *THOUSANDS),
    *_figure("motor_efficiency", *THOUSANDS),
    *_figure("launch_w_per_kg", *THOUSANDS),
    *_shape("wing_area_m2", 1.0 / FT2, 1.0 / INCH**2, 1e-4, *THOUSANDS),
    *_shape("span_m", 1.0 / FT, 1.0 / INCH, *THOUSANDS),
    *_shape("zero_lift_drag", *THOUSANDS),
    *_shape("largest_lift", 0.5, 2.0, 10.0),
    *_shape("oswald_efficiency", *THOUSANDS),
    *_figure("overhead_pct", *THOUSANDS),
    *_figure("joint_mohm", *THOUSANDS),
    *_figure("landing_v", *THOUSANDS),
    *_figure("reserve_pct", *THOUSANDS),
    *_figure("continuous_share_pct", *THOUSANDS),
    Slip("throttle cap of 70 % as a fraction", lambda d: d.changed(throttle_cap_pct=0.7)),
    *_figure("wanted_min", 1.0 / 60.0, 60.0, *THOUSANDS),
    *_figure("wanted_km", *THOUSANDS),
    *_figure("climb_m_s", 60.0 / FT, *THOUSANDS),
    *_figure("cruise_m_s", *THOUSANDS),
    *_figure("field_height_m", 1.0 / FT, 1e2, 1e3, least=1000.0),
    *_fahrenheit("air_temperature_c"),
    *_fahrenheit("pack_temperature_c"),
    *_cell("mass_g", *GRAMS),
    *_cell("rated_capacity_ah typical_capacity_ah", *THOUSANDS),
    *_cell("rated_capacity_ah", *THOUSANDS),
    *_cell("diameter_mm height_mm", 0.1, 0.1 / 2.54, 10.0, *THOUSANDS),
    *_cell("continuous_a", *THOUSANDS),
    *_cell("continuous_a burst_a", *THOUSANDS),
    *_cell("burst_a", *THOUSANDS),
    *_cell("resistance_mohm", *THOUSANDS),
    *_cell("max_charge_a", *THOUSANDS),
    *_cell("cutoff_v", *THOUSANDS),
    *_cell("nominal_v", *THOUSANDS),
    *_cell("charge_v", *THOUSANDS),
    *_cell("burst_s", 60.0, 1.0 / 60.0),
    *_cell("standard_charge_a", *THOUSANDS),
    Slip("cell's highest temperature in °F", _hot_cell),
    *_curves("current_a", *THOUSANDS),
    *_curves("capacity_ah", *THOUSANDS),
    *_columns(
        "thrust_gf", "rotors", 1.0 / 9.80665, 9.80665, 1e-3, 1.0 / OZ, 1.0 / LB, 1e3, 1e2, OZ
    ),
    *_columns("current_a", *THOUSANDS),
    *_columns("power_w", *THOUSANDS),
    *_columns("current_a power_w", *THOUSANDS),
    *_columns("thrust_gf current_a power_w", "rotors"),
    *_columns("speed_rpm", 1.0 / 60.0, 0.5, 1e-3, 60.0),
    *_today("capacity_ah", *THOUSANDS),
    *_today("mass_g", *GRAMS),
    *_today("resistance_mohm", *THOUSANDS),
    *_today("reserve_pct", 1e-2),
    *_phase("duration_s", 1.0 / 60.0 / 60.0, 1e-2, 1e-3),
    *_phase("distance_m", 1e-3, 1e3),
    *_phase("height_m", 1e-3, 1e2, 1e3),
)
"""Every slip that is tried. Left out: those that a sound design may well have (a field of 100 m as 328, a pack of
6 months as 6 years) and that change nothing or err to the side of less."""


def refused(design: Design[Any], slipped: Design[Any]) -> bool:
    """Whether a reader refuses the file: a figure out of its range, or a cell that cannot be."""
    for part, before in (
        (slipped.craft, design.craft),
        (slipped.pack, design.pack),
        (slipped.flight, design.flight),
    ):
        for key in (f.name for f in fields(part) if f.name in INPUTS):
            value = getattr(part, key)
            if isinstance(value, int | float | np.number) and value != getattr(before, key):
                of = INPUTS[key]
                if not of.least <= value <= of.most or (of.above and value <= of.least):
                    return True
    if isinstance(slipped.craft, FixedWing):
        for key in (
            "wing_area_m2",
            "span_m",
            "zero_lift_drag",
            "largest_lift",
            "oswald_efficiency",
        ):
            if not INPUTS[key].least <= getattr(slipped.craft.polar, key) <= INPUTS[key].most:
                return True
    if slipped.today is not None:
        cell, pack = slipped.today.pack.cell, slipped.today.pack
        figures = {
            "capacity_ah": cell.rated_capacity_ah,
            "mass_g": pack.mass_g,
            "resistance_mohm": cell.resistance_mohm,
        }
        if any(not 0.0 < value <= INPUTS[key].most for key, value in figures.items()):
            return True
    for phase in slipped.mission:
        for key in ("duration_s", "distance_m", "height_m"):
            value = getattr(phase, key)
            if value is not None and value > INPUTS[key].most:
                return True
    return cell_refused(slipped.pack.cell)


def cell_refused(cell: Cell) -> bool:
    """Whether its file would be refused."""
    return bool(check_cell(cell).refusals)


def remarked(design: Design[Any], slipped: Design[Any]) -> str:
    """How a slip shows: refused, doubtful, not yet and so on; empty where it does not."""
    try:
        if refused(design, slipped):
            return "refused"
        result = size(slipped)
    except InputError:
        return "refused"
    if result.open_doubts:
        return "doubtful"
    return "" if result.holds else result.verdict
