"""Copper leads: size, resistance, voltage drop, heat, and the choice of gauge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.bench.strip import AIR_C, MOST_C
from workbook.errors import InputError, refuse
from workbook.numbers import FINITE, JUST_ABOVE_0, Number, range_problems
from workbook.units import with_unit
from workbook.working import Step, step

COPPER_OHM_MM2_PER_M = 0.017241
"""Annealed copper at 20 C, 100 % IACS. Source: IEC 60028."""
COPPER_PER_K = 0.00393
"""Temperature coefficient at 20 C, constant mass. Source: IEC 60028."""
STRANDED = 1.02
"""A stranded lead has about 2 % more resistance than solid of its area (lay of the strands).
Source: NFPA 70, chapter 9, table 8: 7-strand rows over solid rows are 1.02 to 1.03."""
COPPER_J_PER_MM3_K = 8960e-9 * 385.0
"""Heat that warms a cubic millimetre of copper by one kelvin. Source: CRC Handbook, from memory."""
SILICONE_W_PER_M_K = 0.24
"""Solid silicone rubber sheet; guarded heat flow meter (ASTM E1530) readings run 0.22 to 0.25."""
STILL_AIR_W_PER_M2_K = 15.0
"""Convection and radiation from a thin lead in still air. Common practice, no source; with it the
heat balance meets published free-air tables (see tests/published/test_wire.py)."""
SILICONE_C = 200.0
"""Temperature for which silicone-insulated lead is commonly sold. Common practice, no source."""
BUNDLE_CURRENT = (1.0, 0.94, 0.89, 0.83, 0.76)
"""Share of the free-air current for 1 to 5 loaded wires tied together. Source: wire table printed
after MIL-W-5088B in an electronic load manual (conductor 105 C, air 50 C)."""

CIRCULAR_MILS_PER_MM2 = 1.0 / (np.pi / 4.0 * 0.0254**2)
"""A circular mil is the area of a circle one thousandth of an inch across."""
COPPER_MELTS_C = 1083.0
"""Melting point used in Onderdonk's equation."""

TIED_WIRES = 2
"""Loaded wires tied together: the plus and minus lead side by side."""

GAUGES_AWG = (8, 10, 12, 14, 16, 18, 20, 22)
"""Gauges in which silicone-insulated lead is commonly sold."""
_OUTSIDE_MM = {8: 6.3, 10: 5.5, 12: 4.5, 14: 3.5, 16: 3.0, 18: 2.3, 20: 1.8, 22: 1.7}
"""Outside diameter of silicone lead. Common practice, no source: measure your own."""


def diameter_mm(awg: Number) -> Number:
    """Diameter of a solid round wire of the gauge.

    Args:
        awg: American wire gauge number; 0 is 1/0, -1 is 2/0.

    Returns:
        Diameter in mm.

    Source: ASTM B258, d = 0.127 mm x 92^((36 - n)/39).

    Example:
        >>> float(diameter_mm(12))
        2.0525
    """
    gauge = np.asarray(awg, float)
    diameter: Number = 0.127 * 92.0 ** ((36.0 - gauge) / 39.0)
    return diameter


def area_mm2(awg: Number) -> Number:
    """Copper cross-section of the gauge, solid or stranded.

    Source: ASTM B258.

    Example:
        >>> float(area_mm2(12))
        3.3088
    """
    area: Number = np.pi / 4.0 * diameter_mm(awg) ** 2
    return area


def outside_mm(awg: Number) -> Number:
    """Outside diameter of a silicone-insulated lead of the gauge, straight lines between sizes.

    Source: common practice, no source; makers differ by a tenth or two of a millimetre.

    Example:
        >>> float(outside_mm(12))
        4.5
    """
    gauges = np.array(list(_OUTSIDE_MM), float)
    size: Number = np.interp(awg, gauges, np.array(list(_OUTSIDE_MM.values())))
    return size


def resistance_mohm(
    awg: Number, length_mm: Number, temperature_c: Number = 20.0, *, stranded: bool = True
) -> Number:
    """Resistance of one length of copper wire.

    Args:
        awg: gauge.
        length_mm: length of conductor, there and back counted as it is.
        temperature_c: conductor temperature.
        stranded: 2 % more for a stranded lead.

    Source: IEC 60028 resistivity and temperature coefficient; ASTM B258 geometry.

    Example:
        A pair of 250 mm leads, solid, 20 C (40 A drops 0.1042 V in them):

        >>> float(resistance_mohm(12, 500.0, stranded=False))
        2.6053
    """
    warm = 1.0 + COPPER_PER_K * (np.asarray(temperature_c, float)[()] - 20.0)
    lay = STRANDED if stranded else 1.0
    resistance: Number = COPPER_OHM_MM2_PER_M * lay * length_mm / area_mm2(awg) * warm
    return resistance


def _conductance_w_per_m_k(awg: Number) -> Number:
    """Heat leaving one metre of lead per kelvin: through the silicone, then from its surface."""
    outside_m = outside_mm(awg) / 1000.0
    # a stranded bundle is wider than solid copper of its area: about 0.77 of it is metal
    conductor_m = diameter_mm(awg) / np.sqrt(0.77) / 1000.0
    wall = np.log(np.maximum(outside_m / conductor_m, 1.0)) / (2.0 * np.pi * SILICONE_W_PER_M_K)
    conductance: Number = 1.0 / (wall + 1.0 / (np.pi * outside_m * STILL_AIR_W_PER_M2_K))
    return conductance


def bundle_factor(loaded_wires: Number) -> Number:
    """Share of the free-air current that a wire may carry when tied up with others.

    Args:
        loaded_wires: wires that carry current and touch along their length, 1 or more.

    Returns:
        1.0 for one wire down to 0.76 for five; held at 0.76 beyond, where the table stops.

    Source: `BUNDLE_CURRENT`.

    Example:
        >>> float(bundle_factor(2))
        0.94
    """
    share: Number = np.interp(loaded_wires, np.arange(1.0, 6.0), np.array(BUNDLE_CURRENT))
    return share


def temperature_c(
    awg: Number, current_a: Number, air_c: Number = 25.0, *, loaded_wires: Number = 1
) -> Number:
    """Conductor temperature of a long lead that has carried a current for minutes.

    Heat made in a metre, rising with the copper's temperature, equals heat lost from a metre.
    A short lead ends in a connector and a pack that carry heat away or bring it; the long lead is
    the careful reading as long as those ends are cooler than it.

    Args:
        awg: gauge.
        current_a: steady current.
        air_c: air around the lead, inside the craft.
        loaded_wires: loaded wires tied together (see `bundle_factor`).

    Returns:
        Temperature in C; infinite where the copper would warm without end.

    Source: steady heat balance; film coefficient by common practice, checked against tables.

    Example:
        >>> float(temperature_c(12, 40.0))
        78.9
    """
    made = (np.asarray(current_a, float)[()] / bundle_factor(loaded_wires)) ** 2
    watt_per_m = made * resistance_mohm(awg, 1000.0, 20.0) / 1000.0
    lost = _conductance_w_per_m_k(awg) - watt_per_m * COPPER_PER_K
    at_air = watt_per_m * (1.0 + COPPER_PER_K * (np.asarray(air_c, float)[()] - 20.0))
    rise = at_air / np.where(lost > 0.0, lost, np.nan)
    return np.where(lost > 0.0, air_c + rise, np.inf)[()]


def temperature_after_burst_c(
    awg: Number,
    start_c: Number,
    burst_a: Number,
    burst_s: Number,
    air_c: Number = 25.0,
    *,
    loaded_wires: Number = 1,
) -> Number:
    """Conductor temperature at the end of a burst, from the temperature before it.

    Only the copper stores heat (the silicone's share is left out, which is the careful side).

    Args:
        awg: gauge.
        start_c: conductor temperature as the burst begins.
        burst_a: current in the burst.
        burst_s: how long it lasts.
        air_c: air around the lead.
        loaded_wires: loaded wires tied together.

    Source: lumped heat balance of one metre, solved exactly: c dT/dt = made(T) - lost(T).

    Example:
        >>> float(temperature_after_burst_c(12, 50.0, 80.0, 10.0))
        78.3
    """
    bundled = np.asarray(burst_a, float)[()] / bundle_factor(loaded_wires)
    watt_per_m = bundled**2 * resistance_mohm(awg, 1000.0, 20.0) / 1000.0
    lost = _conductance_w_per_m_k(awg) - watt_per_m * COPPER_PER_K
    stored = COPPER_J_PER_MM3_K * area_mm2(awg) * 1000.0
    at_air = watt_per_m * (1.0 + COPPER_PER_K * (np.asarray(air_c, float)[()] - 20.0))
    rise = np.asarray(start_c, float)[()] - air_c
    # rate x = (at_air - lost rise)/stored; the integral of exp(-lost t/stored) holds for any sign
    exponent = lost * np.asarray(burst_s, float)[()] / stored
    small = np.abs(exponent) < 1e-9
    safe = np.where(small, 1.0, exponent)
    gain = np.where(small, 1.0, -np.expm1(-safe) / safe)
    return (air_c + rise + (at_air - lost * rise) * burst_s / stored * gain)[()]


def allowed_a(awg: int) -> float:
    """Steady current at which a lead, tied to its other pole, comes to the highest temperature that it may have.

    Source: the heat balance of `temperature_c`, solved for the current.

    Example:
        >>> round(allowed_a(12), 1), round(float(temperature_c(12, 34.3, 35.0, loaded_wires=2)))
        (34.3, 80)
    """
    lost_w = float(_conductance_w_per_m_k(awg)) * (MOST_C - AIR_C)
    ohm = float(resistance_mohm(awg, 1000.0, MOST_C)) / 1000.0
    return float(np.sqrt(lost_w / ohm) * bundle_factor(TIED_WIRES))


def onderdonk_a(area_mm2: Number, time_s: Number, air_c: Number = 25.0) -> Number:
    """Current that melts a copper conductor in a short time, no heat lost on the way.

    The denominator is 234 + T_air (copper's resistance would reach zero near -234 C). A worked
    example that circulates subtracts the air temperature instead and reads 5 % too high.

    Args:
        area_mm2: copper section.
        time_s: time to melt; up to about 10 s, beyond which lost heat matters.
        air_c: starting temperature.

    Source: Onderdonk's equation as given by Brooks and Adam, In Search for Preece and Onderdonk
        (2015): I = A sqrt(log10((1083 - T_a)/(234 + T_a) + 1)/(33 t)), A in circular mils.

    Example:
        >>> float(onderdonk_a(3.3088, 1.0))
        955.3
    """
    circular_mils = np.asarray(area_mm2, float)[()] * CIRCULAR_MILS_PER_MM2
    span = np.log10((COPPER_MELTS_C - air_c) / (234.0 + air_c) + 1.0)
    return circular_mils * np.sqrt(span / (33.0 * time_s))


def preece_a(diameter_mm: Number) -> Number:
    """Steady current that melts a bare round copper wire in free air.

    Args:
        diameter_mm: of the solid wire.

    Source: Preece, I = 10244 d^1.5 with d in inch (copper constant as quoted by Brooks and Adam).

    Example:
        >>> float(preece_a(2.0525))
        235.3
    """
    return 10244.0 * (np.asarray(diameter_mm, float)[()] / 25.4) ** 1.5


@dataclass(frozen=True)
class MeltingPoint:
    """How much current a lead withstands in air of 25 °C before it melts, for seeing how far it is from that.

    Attributes:
        one_second_a: melts in 1 s (Onderdonk).
        steady_a: melts in the end, bare in free air (Preece).
    """

    one_second_a: Number
    steady_a: Number


@dataclass(frozen=True)
class WireRow:
    """What one gauge would do. Drop and loss are for the whole run, at the conductor's temperature.

    Attributes:
        awg: gauge.
        area_mm2: copper section.
        resistance_mohm: of the whole run, out and back.
        drop_mv: voltage lost at the steady current (taken at 200 C where the lead passes that).
        loss_w: power lost at the steady current.
        temperature_c: conductor, steady current.
        burst_temperature_c: conductor, at the end of the burst.
        mass_g: copper and silicone of the whole run.
        melting: currents that melt it.
        fits: whether every limit is kept.
        why: the reason in words.
    """

    awg: int
    area_mm2: float
    resistance_mohm: float
    drop_mv: float
    loss_w: float
    temperature_c: float
    burst_temperature_c: float
    mass_g: float
    melting: MeltingPoint
    fits: bool
    why: str


@dataclass(frozen=True)
class WireChoice:
    """The thinnest gauge that keeps every limit, and the whole table behind it.

    Attributes:
        chosen: the row chosen; None when no listed gauge is thick enough.
        rows: every gauge, thickest first.
        why: the reason in words.
        length_mm: of one lead, pack to connector.
    """

    chosen: WireRow | None
    rows: tuple[WireRow, ...]
    why: str
    length_mm: float

    def row(self, awg: int) -> WireRow:
        """What one gauge would do.

        Raises:
            InputError: no gauge in which lead is sold.
        """
        found = [row for row in self.rows if row.awg == awg]
        if not found:
            raise InputError(f"awg is {awg}; a gauge in which lead is sold is needed.")
        return found[0]


def _mass_g(awg: Number, length_mm: Number) -> Number:
    """Copper 8.96 g/cm3 and silicone 1.2 g/cm3 over the whole run."""
    copper_mm2 = area_mm2(awg)
    silicone_mm2 = np.maximum(np.pi / 4.0 * outside_mm(awg) ** 2 - copper_mm2 / 0.77, 0.0)
    return (8.96e-3 * copper_mm2 + 1.2e-3 * silicone_mm2) * length_mm


MOST_DROP_MV = 150.0
"""Most voltage lost in both leads at the steady current: about 1 % of a four-cell pack. Common practice, no source."""


def _heat_words(temperature_c: float) -> str:
    """How hot a lead gets; above what its insulation takes the figure says nothing."""
    if temperature_c > SILICONE_C:
        return f"passes {with_unit(SILICONE_C, '°C')}"
    return f"reaches {with_unit(temperature_c, '°C', 0)}"


def choose_wire(
    current_a: float,
    burst_a: float,
    length_mm: float,
    max_temperature_c: float = MOST_C,
    *,
    burst_s: float = 10.0,
    air_c: float = AIR_C,
) -> WireChoice:
    """Choose the gauge of the pack's main leads.

    Args:
        current_a: steady current, A.
        burst_a: highest current, A, for `burst_s` from the steady temperature.
        length_mm: one lead from pack to connector; the run is counted out and back.
        max_temperature_c: highest conductor temperature. Silicone itself is sold for 200 C; 80 C
            spares the connector, the strips' solder and fingers (common practice, no source).
        burst_s: length of the burst, s.
        air_c: air inside the craft.

    Returns:
        The choice with every gauge's figures.

    Raises:
        InputError: a current, length or limit that is not above zero, a burst below the steady
            current, or an air as hot as the limit.

    Source: ASTM B258, IEC 60028, steady heat balance with a still-air film by common practice.

    Example:
        >>> choice = choose_wire(current_a=22.0, burst_a=40.0, length_mm=150.0)
        >>> choice.chosen.awg
        12
        >>> print(choice.why)
        12 AWG is the thinnest that keeps every limit: 14 AWG reaches 88 °C after 10 s at 40 A; ...
    """
    above_0 = (JUST_ABOVE_0, FINITE, "above 0")
    below_limit = (-90.0, np.nextafter(max_temperature_c, -np.inf), "-90 °C to below the limit")
    refuse(
        range_problems(
            {
                "current_a": (current_a, *above_0),
                "burst_a": (burst_a, current_a, FINITE, f"at least current_a, {current_a:g},"),
                "length_mm": (length_mm, *above_0),
                "burst_s": (burst_s, *above_0),
                "max_temperature_c": (max_temperature_c, *above_0),
                "air_c": (air_c, *below_limit),
            }
        )
    )
    awg = np.array(GAUGES_AWG, float)
    run_mm = 2.0 * length_mm
    steady_c = np.asarray(temperature_c(awg, current_a, air_c, loaded_wires=TIED_WIRES))
    start_c = np.minimum(steady_c, SILICONE_C)  # beyond it the row is refused, not calculated
    burst_c = np.asarray(
        temperature_after_burst_c(awg, start_c, burst_a, burst_s, air_c, loaded_wires=TIED_WIRES)
    )
    mohm = np.asarray(resistance_mohm(awg, run_mm, start_c))
    grams = np.asarray(_mass_g(awg, run_mm))
    burst = f"after {burst_s:g} s at {burst_a:g} A"
    rows = []
    for i, gauge in enumerate(GAUGES_AWG):
        drop_mv = mohm[i].item() * current_a
        why = ""
        if not steady_c[i] <= max_temperature_c:
            why = f"{_heat_words(steady_c[i])} at {current_a:g} A; {with_unit(max_temperature_c, '°C')} is allowed"
        elif not burst_c[i] <= max_temperature_c:
            why = f"{_heat_words(burst_c[i])} {burst}; {with_unit(max_temperature_c, '°C')} is allowed"
        elif not drop_mv <= MOST_DROP_MV:
            why = f"drops {drop_mv:.0f} mV at {current_a:g} A; {MOST_DROP_MV:g} mV is allowed"
        rows.append(
            WireRow(
                awg=gauge,
                area_mm2=float(area_mm2(gauge)),
                resistance_mohm=mohm[i].item(),
                drop_mv=drop_mv,
                loss_w=mohm[i].item() * current_a**2 / 1000.0,
                temperature_c=steady_c[i].item(),
                burst_temperature_c=burst_c[i].item(),
                mass_g=grams[i].item(),
                melting=MeltingPoint(
                    onderdonk_a(area_mm2(gauge), 1.0), preece_a(diameter_mm(gauge))
                ),
                fits=not why,
                why=why or "keeps every limit",
            )
        )
    return _thinnest(tuple(rows), length_mm)


def _thinnest(rows: tuple[WireRow, ...], length_mm: float) -> WireChoice:
    """The choice from every gauge's figures, thickest first."""
    fitting = [row for row in rows if row.fits]
    if not fitting:
        return WireChoice(
            None,
            rows,
            f"No listed gauge is thick enough: {rows[0].awg} AWG {rows[0].why}. Shorten the run, run "
            "two leads per pole, or lower the current. Do not build it with what is here.",
            length_mm,
        )
    chosen = fitting[-1]
    thinner = rows[rows.index(chosen) + 1 :]
    why = f"{chosen.awg} AWG is the thinnest that keeps every limit"
    why += f": {thinner[0].awg} AWG {thinner[0].why}." if thinner else "."
    return WireChoice(chosen, rows, why, length_mm)


def lead_steps(row: WireRow, current_a: float, lead_mm: float) -> tuple[Step, ...]:
    """Working of a pair of main leads: section, resistance, drop, heat.

    Args:
        row: the gauge's figures.
        current_a: steady current.
        lead_mm: length of one lead.

    Example:
        >>> row = choose_wire(22.0, 40.0, 150.0).row(12)
        >>> print(lead_steps(row, 22.0, 150.0)[2].text())
        drop in both leads = current x resistance = 22 A x 1.794 mΩ = 39.47 mV  [Ohm's law]
    """
    at_c = min(row.temperature_c, SILICONE_C)
    return (
        step("lead_section_mm2", row.area_mm2, row=row),
        step(
            "lead_mohm",
            row.resistance_mohm,
            copper_ohm_mm2_per_m=COPPER_OHM_MM2_PER_M,
            stranded=STRANDED,
            both_m=2 * lead_mm / 1000,
            row=row,
            copper_per_k=COPPER_PER_K,
            at_c=at_c,
        ),
        step("lead_drop_mv", row.drop_mv, current_a=current_a, row=row),
        step("lead_loss_w", row.loss_w, current_a=current_a, row=row),
    )
