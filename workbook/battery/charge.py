"""Charging: constant current, then constant voltage, within the cell's limits and the charger's."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number
from workbook.working import Step

STORAGE_SHARE = 0.4
"""Charge left for storage. Source: common practice, no source (30 to 50 %)."""
END_SHARE = 0.05
"""Current that ends a charge, over the rated capacity. Source: common practice (0.02 to 0.1 It)."""
FIRST_SHARE = 0.25
"""First charge of a new pack, over the rated capacity. Source: common practice (0.2 to 0.3 It)."""
CHARGE_RESISTANCE = 1.4
"""Resistance in charge over that found in discharge.

Source: fitted here to the charge of the Chen2020 cell model (Chen et al., J. Electrochem. Soc. 167,
080534, 2020), 0.3 to 1 It; one cell, so an allowance rather than a law.
"""
FULL_TIME_MARGIN = 1.15
"""Most by which a charge takes longer than `charge` says, up to 0.5 It.

Source: against the same cell model, which is 4 % slower at 0.3 It and 10 % at 0.5 It (18 % at 1 It):
lithium still spreads inside the grains while the current falls, which a resistance cannot show.
"""


def at_charge(
    model: CellModel, charge_v: float = 4.2, first_depth_of_discharge: float = 0.1
) -> CellModel:
    """The cell as a charger sees it near full.

    Discharge curves start from a rested cell, so the resistance read off their first part is low
    and the open-circuit voltage a little under the charge voltage. A charge arrives there with the
    cell at work: above `first_depth_of_discharge` the resistance does not fall, and a full cell
    rests at `charge_v`.

    Args:
        model: identified from discharge curves.
        charge_v: full-charge voltage at rest.
        first_depth_of_discharge: depth above which the curves' start is not trusted.

    Example:
        >>> depth = np.linspace(0, 1, 11)
        >>> ohm = np.array([15.0] + [25.0] * 10)
        >>> model = at_charge(CellModel(depth, 4.17 - depth, ohm, 5.0, "curves"))
        >>> float(model.open_circuit_v[0]), float(model.resistance_mohm[0])
        (4.20, 25.0)
    """
    missing = charge_v - model.open_circuit_v[0]
    fade = np.clip(1.0 - model.depth_of_discharge / first_depth_of_discharge, 0.0, 1.0)
    lowest = np.interp(first_depth_of_discharge, model.depth_of_discharge, model.resistance_mohm)
    early = model.depth_of_discharge < first_depth_of_discharge
    return replace(
        model,
        open_circuit_v=model.open_circuit_v + missing * fade,
        resistance_mohm=np.where(
            early, np.maximum(model.resistance_mohm, lowest), model.resistance_mohm
        ),
    )


@dataclass(frozen=True)
class ChargeRun:
    """A charge of one cell, per design (arrays of one shape).

    Attributes:
        current_s: time until the voltage is reached and the current begins to fall.
        current_ah: charge put in by then.
        share_s: time until 80 % full (the share asked for).
        full_s: time until the current has fallen to the end current, or depth 0.
        charge_ah, energy_wh: put in until then.
        loss_wh: of it, warmth in the resistance.
        end_depth_of_discharge: depth of discharge at the end; 0 is full.
    """

    current_s: FloatArray
    current_ah: FloatArray
    share_s: FloatArray
    full_s: FloatArray
    charge_ah: FloatArray
    energy_wh: FloatArray
    loss_wh: FloatArray
    end_depth_of_discharge: FloatArray


def charge(
    model: CellModel,
    current_a: Number,
    charge_v: Number = 4.2,
    end_a: Number = 0.1,
    *,
    from_depth_of_discharge: Number = 1.0,
    power_w: Number = np.inf,
    share: Number = 0.8,
    extra_mohm: Number = 0.0,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
) -> ChargeRun:
    """Charge one cell at constant current, then at constant voltage.

    At each depth the current is the least of what is set, what the charger's power allows and what
    the voltage allows, (charge_v - U) / R; time is the integral of Q / I over depth, exact where U
    runs straight and R is constant. `at_charge` and `CHARGE_RESISTANCE` carry a cell identified in
    discharge over to charge.

    Args:
        model: the cell.
        current_a: constant current per cell, above 0.
        charge_v: constant voltage per cell.
        end_a: current per cell at which the charge ends.
        from_depth_of_discharge: depth of discharge at the start, 0 to 1.
        power_w: the charger's power per cell.
        share: fill whose time is asked for, 0 to 1 of the capacity.
        extra_mohm: joints and leads per cell.
        resistance_factor, capacity_factor: age and cold; 1 is fresh at 25 C.

    Returns:
        Times, charge and energy; 0 where the cell is already full enough, NaN in `share_s` where
        the charge ends before that share.

    Source: Ohm's law and the charge balance; CC-CV as in IEC 61960-3.

    Example:
        A cell of 3 Ah, U = 3.0 + 1.2 (1 - depth), 20 mohm, at 1.5 A to 4.2 V and 0.15 A:
        7020 s and then 180 s x ln 10 = 414.5 s.

        >>> depth = np.linspace(0, 1, 201)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, 20.0), 3.0, "curves")
        >>> run = charge(model, 1.5, 4.2, 0.15)
        >>> float(run.current_s), float(run.full_s - run.current_s)
        (7020.0, 414.465)
    """
    given = (
        current_a,
        charge_v,
        end_a,
        from_depth_of_discharge,
        power_w,
        share,
        extra_mohm,
        resistance_factor,
        capacity_factor,
    )
    shape = np.broadcast_shapes(*(np.shape(a) for a in given))
    i_set, v_set, i_end, z_from, power, share_, extra, r_factor, q_factor = (
        np.broadcast_to(np.asarray(a, dtype=float), shape).ravel()[:, None] for a in given
    )
    nodes = model.depth_of_discharge[None, :]
    r_nodes = model.resistance_mohm[None, :] * r_factor + extra
    u_nodes = model.open_circuit_v[None, :]

    def allowed(u: FloatArray, r_mohm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What the setting and the charger's power allow, and what the voltage allows."""
        r = r_mohm / 1000.0
        finite = np.where(np.isinf(power), 1.0, power)
        by_power = 2.0 * finite / (u + np.sqrt(u**2 + 4.0 * r * finite))
        by_power = np.where(np.isinf(power), np.inf, by_power)
        return np.minimum(i_set, by_power), (v_set - u) / r

    def crossing(spare: FloatArray) -> FloatArray:
        """The deepest depth at which `spare` turns negative on the way up to full; 0 if nowhere."""
        below = spare <= 0.0
        k = np.where(below.any(axis=1), spare.shape[1] - 1 - below[:, ::-1].argmax(axis=1), 0)
        k1 = np.minimum(k + 1, spare.shape[1] - 1)
        rows = np.arange(len(spare))
        s0, s1 = spare[rows, k], spare[rows, k1]
        part = np.where(s1 > s0, -s0 / np.where(s1 > s0, s1 - s0, 1.0), 0.0)
        z = model.depth_of_discharge[k] + np.clip(part, 0.0, 1.0) * (
            model.depth_of_discharge[k1] - model.depth_of_discharge[k]
        )
        return np.where(below.any(axis=1), z, 0.0)[:, None]

    set_nodes, _ = allowed(u_nodes, r_nodes)
    z_end = np.minimum(crossing(v_set - u_nodes - i_end * r_nodes / 1000.0), z_from)
    z_voltage = crossing(v_set - u_nodes - set_nodes * r_nodes / 1000.0)
    z_voltage = np.clip(z_voltage, z_end, z_from)
    z_share = np.clip(1.0 - share_, z_end, z_from)
    inside = np.clip(np.broadcast_to(nodes, r_nodes.shape), z_end, z_from)
    z = np.sort(np.concatenate([inside, z_voltage, z_share], axis=1), axis=1)[:, ::-1]
    u = np.interp(z, model.depth_of_discharge, model.open_circuit_v)
    r = np.interp(z, model.depth_of_discharge, model.resistance_mohm) * r_factor + extra
    by_set, by_voltage = allowed(u, r)
    current = np.maximum(np.minimum(by_set, by_voltage), 1e-12)
    amount = model.capacity_ah * q_factor * -np.diff(z, axis=1)
    first, second = current[:, :-1], current[:, 1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = (second - first) / first
        mean = np.where(np.abs(gap) > 1e-9, (second - first) / np.log1p(gap), first)
    seconds = 3600.0 * np.where(amount > 0, amount / mean, 0.0)
    volts = u + current * r / 1000.0
    zeros = np.zeros((len(z), 1))
    time_s = np.concatenate([zeros, np.cumsum(seconds, axis=1)], axis=1)

    def until(depth: FloatArray) -> FloatArray:
        """Time at which the charge has come up to `depth`, which is one of the points."""
        return np.asarray(np.where(z >= depth, time_s, 0.0).max(axis=1))

    q = model.capacity_ah * q_factor[:, 0]
    reached = (z_end <= 1.0 - share_ + 1e-12)[:, 0]
    out = (
        until(z_voltage),
        q * (z_from - z_voltage)[:, 0],
        np.where(reached, until(z_share), np.nan),
        time_s[:, -1],
        q * (z_from - z_end)[:, 0],
        np.sum(amount * 0.5 * (volts[:, 1:] + volts[:, :-1]), axis=1),
        np.sum(amount * 0.5 * ((volts - u)[:, 1:] + (volts - u)[:, :-1]), axis=1),
        z_end[:, 0],
    )
    return ChargeRun(*(np.reshape(a, shape)[()] for a in out))


@dataclass(frozen=True)
class Charger:
    """What a balance charger can do.

    Attributes:
        max_a: highest charge current, above 0.
        max_w: highest charge power, above 0.
        max_series: cells in series that it balances.
    """

    max_a: float
    max_w: float
    max_series: int = 6


@dataclass(frozen=True)
class ChargePlan:
    """Settings for one pack on one charger, for a builder to copy.

    Attributes:
        series, parallel: the pack.
        cell_v, pack_v: constant voltage, per cell and for the pack.
        current_a: constant current for the pack.
        bound_by: what holds the current: a phrase.
        first_a: for the first charge of a new pack.
        end_a: current of the pack at which the charge ends.
        minutes_80, minutes_full: from the depth asked for.
        charge_ah, energy_wh: put into the pack by then; loss_wh: of it, warmth.
        storage_v, storage_pack_v: at rest, per cell and for the pack.
        min_c, max_c: temperature window of the cells.
        notices: what is over a limit, in words.
        steps: the working.
    """

    series: int
    parallel: int
    cell_v: float
    pack_v: float
    current_a: float
    bound_by: str
    first_a: float
    end_a: float
    minutes_80: float
    minutes_full: float
    charge_ah: float
    energy_wh: float
    loss_wh: float
    storage_v: float
    storage_pack_v: float
    min_c: float
    max_c: float
    notices: tuple[Problem, ...]
    steps: tuple[Step, ...]

    def text(self) -> str:
        """The settings as lines to copy onto paper or into the charger."""
        to_80 = "not reached" if np.isnan(self.minutes_80) else f"{self.minutes_80:.0f} min"
        lines = [
            f"Charger settings for a pack of {self.series}S{self.parallel}P",
            "Programme: lithium-ion, balance charge, balance lead connected",
            f"Cells in series, set by hand: {self.series}",
            f"Voltage: {self.cell_v:.2f} V per cell, {self.pack_v:.2f} V for the pack",
            f"Current: {self.current_a:.1f} A for the pack ({self.bound_by})",
            f"First charge of a new pack: {self.first_a:.1f} A, watched, cells checked every 10 min",
            f"End of charge: {self.end_a:.2f} A",
            f"Time: {to_80} to 80 %, {self.minutes_full:.0f} to "
            f"{FULL_TIME_MARGIN * self.minutes_full:.0f} min to full",
            f"Put in: {self.charge_ah:.2f} Ah, {self.energy_wh:.1f} Wh",
            f"Storage: {self.storage_v:.2f} V per cell, {self.storage_pack_v:.2f} V for the pack,"
            " at rest",
            f"Cells between {self.min_c:.0f} and {self.max_c:.0f} C, never below",
            "Never leave a charging pack alone; charge on a surface that cannot burn. The cell "
            "maker's datasheet stands above this sheet.",
        ]
        return "\n".join([*lines, *(f"Caution: {notice}" for notice in self.notices)])


def charge_settings(
    pack: Pack,
    charger: Charger,
    *,
    current_a: float | None = None,
    cell_v: float | None = None,
    from_depth_of_discharge: float = 1.0,
    temperature_c: float = 25.0,
) -> ChargePlan:
    """The settings of a charger for a pack, and how long the charge takes.

    Args:
        pack: one pack, S and P plain whole numbers.
        charger: its limits.
        current_a: a current for the pack; the cells' standard charge current when left out.
        cell_v: a voltage per cell; the cell's charge voltage when left out, lower for longer life.
        from_depth_of_discharge: depth of discharge at the start, 0 to 1.
        temperature_c: of the cells, for the check of the window.

    Returns:
        Settings, times and what is over a limit. The current in the plan never passes the cells'
        highest charge current or the charger's, whatever was asked for.

    Raises:
        InputError: a figure that cannot be.

    Source: limits from the cell's datasheet; CC-CV as in IEC 61960-3; end, first and storage
        shares: common practice, no source.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> plan = charge_settings(Pack(find_cell("Bittern 50E"), 4, 2), Charger(10.0, 200.0))
        >>> print(plan.text().splitlines()[4])
        Current: 3.4 A for the pack (2 cells in parallel x 1.7 A, their standard charge current)
    """
    cell, series, parallel = pack.cell, int(pack.series), int(pack.parallel)
    problems = [
        Problem(f"{value:g} cannot be; a number above 0 is needed.", key)
        for key, value in (
            ("series", series),
            ("parallel", parallel),
            ("charger max_a", charger.max_a),
            ("charger max_w", charger.max_w),
            ("current_a", 1.0 if current_a is None else current_a),
        )
        if not value > 0
    ]
    volts = cell.charge_v if cell_v is None else cell_v
    if not cell.nominal_v < volts <= 4.5:
        told = f"{volts:g} V cannot be; {cell.nominal_v:g} to {cell.charge_v:g} V is right."
        problems.append(Problem(told, "cell_v"))
    if not 0.0 <= from_depth_of_discharge <= 1.0:
        problems.append(
            Problem(
                f"{from_depth_of_discharge:g} cannot be; 0 to 1 is right.",
                "from_depth_of_discharge",
            )
        )
    if problems:
        raise InputError(problems)

    notices: list[Problem] = []
    standard_a, highest_a = parallel * cell.standard_charge_a, parallel * cell.max_charge_a
    wanted = standard_a if current_a is None else current_a
    bound_by = (
        f"{parallel} cells in parallel x {cell.standard_charge_a:g} A, "
        "their standard charge current"
        if current_a is None
        else "as asked for"
    )
    if wanted > highest_a:
        notices.append(
            Problem(
                f"{wanted:g} A is above {highest_a:g} A, the highest charge current of "
                f"{parallel} x {cell.name}. It is unsafe: it plates lithium and can start a fire. "
                f"{highest_a:g} A is set at most.",
                "current_a",
            )
        )
        wanted, bound_by = highest_a, "the cells' highest charge current"
    elif wanted > standard_a:
        notices.append(
            Problem(
                f"{wanted:g} A is above the standard charge current, {standard_a:g} A; the cells "
                "take it but warm up and age faster.",
                "current_a",
            )
        )
    if wanted > charger.max_a:
        wanted, bound_by = charger.max_a, "the charger's highest current"
    if volts > cell.charge_v:
        notices.append(
            Problem(
                f"{volts:g} V is above the cell's charge voltage. It is unsafe; {cell.charge_v:g} V "
                "is set.",
                "cell_v",
            )
        )
        volts = cell.charge_v
    if series > charger.max_series:
        notices.append(
            Problem(
                f"the charger balances {charger.max_series} cells in series and the pack has "
                f"{series}; it must not be charged on it.",
                "series",
            )
        )
    if temperature_c < cell.min_charge_temperature_c:
        notices.append(
            Problem(
                f"cells at {temperature_c:g} C are below {cell.min_charge_temperature_c:g} C. Do "
                "not charge: lithium plates and the cell may fail later. Warm the pack first.",
                "temperature_c",
            )
        )
    elif temperature_c > cell.max_charge_temperature_c:
        notices.append(
            Problem(
                f"cells at {temperature_c:g} C are above {cell.max_charge_temperature_c:g} C. Do "
                "not charge: let the pack cool first.",
                "temperature_c",
            )
        )
    power_w = charger.max_w
    if wanted * series * volts > power_w:
        notices.append(
            Problem(
                f"{wanted:g} A at {series * volts:.2f} V is {wanted * series * volts:.0f} W; the "
                f"charger's {power_w:g} W holds it to {power_w / (series * volts):.1f} A near the "
                "end.",
                "charger max_w",
            )
        )
    end_a = min(END_SHARE * cell.rated_capacity_ah * parallel, 0.5 * wanted)
    run = charge(
        at_charge(cell.model, cell.charge_v),
        wanted / parallel,
        volts,
        end_a / parallel,
        from_depth_of_discharge=from_depth_of_discharge,
        power_w=power_w / (series * parallel),
        extra_mohm=pack.joint_mohm_per_cell,
        resistance_factor=CHARGE_RESISTANCE,
    )
    model, cells = cell.model, series * parallel
    storage_v = float(
        np.interp(1.0 - STORAGE_SHARE, model.depth_of_discharge, model.open_circuit_v)
    )
    first_a = min(FIRST_SHARE * cell.rated_capacity_ah * parallel, wanted)
    steps = (
        Step(
            "charge_current_a",
            "charge current",
            "least of P x the cells' current and the charger's",
            f"{parallel} x {wanted / parallel:.3g} A",
            wanted,
            "A",
            "cell's datasheet",
        ),
        Step(
            "charge_v",
            "charge voltage",
            "S x charge voltage of the cell",
            f"{series} x {volts:.2f} V",
            series * volts,
            "V",
            "cell's datasheet",
        ),
        Step(
            "charge_end_a",
            "end current",
            f"{END_SHARE:g} x P x rated capacity / 1 h",
            f"{END_SHARE:g} x {parallel} x {cell.rated_capacity_ah:g} A",
            end_a,
            "A",
            "common practice, no source",
        ),
        Step(
            "storage_v",
            "storage voltage",
            f"S x open-circuit voltage at {100 * STORAGE_SHARE:.0f} % charge",
            f"{series} x {storage_v:.3f} V",
            series * storage_v,
            "V",
            "common practice, no source",
        ),
    )
    return ChargePlan(
        series=series,
        parallel=parallel,
        cell_v=volts,
        pack_v=series * volts,
        current_a=wanted,
        bound_by=bound_by,
        first_a=first_a,
        end_a=end_a,
        minutes_80=float(run.share_s) / 60.0,
        minutes_full=float(run.full_s) / 60.0,
        charge_ah=parallel * float(run.charge_ah),
        energy_wh=cells * float(run.energy_wh),
        loss_wh=cells * float(run.loss_wh),
        storage_v=storage_v,
        storage_pack_v=series * storage_v,
        min_c=cell.min_charge_temperature_c,
        max_c=cell.max_charge_temperature_c,
        notices=tuple(notices),
        steps=steps,
    )
