"""Charging: constant current, then constant voltage, within the cell's limits and the charger's."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.errors import Problem, refuse
from workbook.notices import notice
from workbook.numbers import JUST_ABOVE_0, FloatArray, Number, Ranges, flat, range_problems
from workbook.quantities import RESULTS
from workbook.units import with_unit
from workbook.working import Step, step

FULL_SHARE = 0.8
"""Fill whose time is given beside that of the whole charge."""
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
SPREAD_S = 450.0
"""Most that is added to the time of a charge for each e-fold by which its current falls at the end.

Lithium still spreads inside the grains while the current falls, which a resistance cannot show; cells of slow
grains take nearly all of it, others next to none, so that a plan states both ends.

Source: fitted here to charges at 0.3 to 1 It down to 0.05 It of seven cell models that were made known by their
discharge curves alone: Chen2020 and OKane2022 need 320 to 430 s, ORegan2022 240 to 360 s, Ai2020 110 to 150 s,
Mohtat2020, Marquis2019 and Ecker2015 0 to 70 s (published parameter sets of those names in PyBaMM 26.10, as full
electrochemical models at 25 C). Down to 0.02 It the slowest took up to 5 % more than so stated.
"""

FIRST_DEPTH = 0.1
"""Depth of discharge above which a discharge curve's start is not trusted in charge."""


def at_charge(model: CellModel, charge_v: float = 4.2) -> CellModel:
    """The cell as a charger sees it near full.

    Discharge curves start from a rested cell, so the resistance read off their first part is low
    and the open-circuit voltage a little under the charge voltage. A charge arrives there with the
    cell at work: above `FIRST_DEPTH` the resistance does not fall, and a full cell
    rests at `charge_v`.

    Args:
        model: identified from discharge curves.
        charge_v: full-charge voltage at rest.

    Example:
        >>> depth = np.linspace(0, 1, 11)
        >>> ohm = np.array([15.0] + [25.0] * 10)
        >>> model = at_charge(CellModel(depth, 4.17 - depth, ohm, 5.0, "curves"))
        >>> float(model.open_circuit_v[0]), float(model.resistance_mohm[0])
        (4.20, 25.0)
    """
    missing = charge_v - model.open_circuit_v[0]
    fade = np.clip(1.0 - model.depth_of_discharge / FIRST_DEPTH, 0.0, 1.0)
    lowest = np.interp(FIRST_DEPTH, model.depth_of_discharge, model.resistance_mohm)
    early = model.depth_of_discharge < FIRST_DEPTH
    return replace(
        model,
        open_circuit_v=model.open_circuit_v + missing * fade,
        resistance_mohm=np.where(
            early, np.maximum(model.resistance_mohm, lowest), model.resistance_mohm
        ),
    )


@dataclass(frozen=True, eq=False)
class ChargeRun:
    """A charge of one cell, per design (arrays of one shape).

    Attributes:
        current_s: time until the voltage is reached and the current begins to fall.
        share_s: time until `FULL_SHARE` of the capacity is in.
        full_s: time until the current has fallen to the end current, or depth 0.
        charge_ah, energy_wh: put in until then.
        end_depth_of_discharge: depth of discharge at the end; 0 is full.
        course_s, course_v, course_a, course_depth: time, voltage on the charger, current and depth of discharge on the
            way, of one more axis, the last; a point may come twice.
    """

    current_s: FloatArray
    share_s: FloatArray
    full_s: FloatArray
    charge_ah: FloatArray
    energy_wh: FloatArray
    end_depth_of_discharge: FloatArray
    course_s: FloatArray
    course_v: FloatArray
    course_a: FloatArray
    course_depth: FloatArray


def charge(
    model: CellModel,
    current_a: Number,
    charge_v: Number = 4.2,
    end_a: Number = 0.1,
    *,
    from_depth_of_discharge: Number = 1.0,
    power_w: Number = np.inf,
    extra_mohm: Number = 0.0,
    resistance_factor: Number = 1.0,
    spread_s: Number = 0.0,
) -> ChargeRun:
    """Charge one cell at constant current, then at constant voltage.

    At each depth of discharge the current is the least of what is set, what the charger's power
    allows and what the voltage allows, (charge_v - U) / R; time is the integral of Q / I, exact
    where U runs straight and R is constant. `at_charge` and `CHARGE_RESISTANCE` carry a cell
    identified in discharge over to charge.

    Args:
        model: the cell.
        current_a: constant current per cell, above 0.
        charge_v: constant voltage per cell.
        end_a: current per cell at which the charge ends.
        from_depth_of_discharge: at the start, 0 to 1.
        power_w: the charger's power per cell.
        extra_mohm: joints and leads per cell.
        resistance_factor: on the cell's own.
        spread_s: added to the time for each e-fold by which the current has fallen, see `SPREAD_S`.

    Returns:
        Times, charge and energy; 0 where the cell is already full enough, NaN in `share_s` where
        the charge ends before that share.

    Source: Ohm's law and the charge balance; CC-CV as in IEC 61960-3.

    Example:
        A cell of 3 Ah, U = 3.0 + 1.2 (1 - depth), 20 mΩ, at 1.5 A to 4.2 V and 0.15 A:
        7020 s and then 180 s x ln 10 = 414.5 s.

        >>> depth = np.linspace(0, 1, 201)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, 20.0), 3.0, "curves")
        >>> run = charge(model, 1.5, 4.2, 0.15)
        >>> float(run.current_s), float(run.full_s - run.current_s)
        (7020.0, 414.465)
    """
    shape, inputs = flat(
        current_a,
        charge_v,
        end_a,
        from_depth_of_discharge,
        power_w,
        extra_mohm,
        resistance_factor,
        spread_s,
    )
    i_set, v_set, i_end, z_from, power, extra, r_factor, slow_s = (a[:, None] for a in inputs)
    nodes, u_nodes = model.depth_of_discharge, model.open_circuit_v[None, :]
    r_nodes = (model.resistance_mohm[None, :] * r_factor + extra) / 1000.0
    set_nodes = np.minimum(i_set, _by_power(u_nodes, r_nodes, power))
    z_end = np.minimum(_last_crossing(nodes, v_set - u_nodes - i_end * r_nodes), z_from)
    z_voltage = _last_crossing(nodes, v_set - u_nodes - set_nodes * r_nodes)
    z_voltage = np.clip(z_voltage, z_end, z_from)
    z_share = np.clip(1.0 - FULL_SHARE, z_end, z_from)
    inside = np.clip(np.broadcast_to(nodes, r_nodes.shape), z_end, z_from)
    z = np.sort(np.concatenate([inside, z_voltage, z_share], axis=1), axis=1)[:, ::-1]
    u = model.open_circuit_at(z)
    r = (model.resistance_at(z) * r_factor + extra) / 1000.0
    by_set = np.minimum(i_set, _by_power(u, r, power))
    current = np.maximum(np.minimum(by_set, (v_set - u) / r), 1e-12)
    amount = model.capacity_ah * -np.diff(z, axis=1)
    seconds = 3600.0 * np.where(amount > 0, amount / _mean_current(current), 0.0)
    time_s = np.concatenate([np.zeros((len(z), 1)), np.cumsum(seconds, axis=1)], axis=1)
    time_s = time_s + slow_s * _current_folds(by_set, current, z <= z_voltage)
    volts = u + current * r

    def until(depth: FloatArray) -> FloatArray:
        """Time at which the charge has come up to `depth`, which is one of the points."""
        return np.asarray(np.where(z >= depth, time_s, 0.0).max(axis=1))

    out = (
        until(z_voltage),
        np.where((z_end <= 1.0 - FULL_SHARE + 1e-12)[:, 0], until(z_share), np.nan),
        time_s[:, -1],
        model.capacity_ah * (z_from - z_end)[:, 0],
        np.sum(amount * 0.5 * (volts[:, 1:] + volts[:, :-1]), axis=1),
        z_end[:, 0],
    )
    course = (np.reshape(a, (*shape, -1)) for a in (time_s, volts, current, z))
    return ChargeRun(*(np.reshape(a, shape)[()] for a in out), *course)


def _current_folds(
    by_set: FloatArray, current_a: FloatArray, fading: NDArray[np.bool_]
) -> FloatArray:
    """By how many e-folds the voltage has brought the current down from what was set; never falling again."""
    folds = np.where(fading, np.log(np.maximum(by_set / current_a, 1.0)), 0.0)
    return np.asarray(np.maximum.accumulate(folds, axis=-1))


def _by_power(u: FloatArray, r_ohm: FloatArray, power_w: Number) -> FloatArray:
    """Current at which a charger's power is reached; infinite where that has no bound."""
    power = np.asarray(power_w)
    finite = np.where(np.isinf(power), 1.0, power)
    amps = 2.0 * finite / (u + np.sqrt(u**2 + 4.0 * r_ohm * finite))
    return np.asarray(np.where(np.isinf(power), np.inf, amps))


def _last_crossing(nodes: FloatArray, spare: FloatArray) -> FloatArray:
    """The deepest node at which `spare` turns negative on the way up to full, as a column; 0 if none."""
    below = spare <= 0.0
    k = np.where(below.any(axis=1), spare.shape[1] - 1 - below[:, ::-1].argmax(axis=1), 0)
    k1 = np.minimum(k + 1, spare.shape[1] - 1)
    rows = np.arange(len(spare))
    s0, s1 = spare[rows, k], spare[rows, k1]
    part = np.where(s1 > s0, -s0 / np.where(s1 > s0, s1 - s0, 1.0), 0.0)
    z = nodes[k] + np.clip(part, 0.0, 1.0) * (nodes[k1] - nodes[k])
    return np.asarray(np.where(below.any(axis=1), z, 0.0)[:, None])


def _mean_current(current_a: FloatArray) -> FloatArray:
    """Mean between neighbours of a current that runs straight over charge: for time, logarithmic."""
    first, second = current_a[:, :-1], current_a[:, 1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = (second - first) / first
        return np.where(np.abs(gap) > 1e-9, (second - first) / np.log1p(gap), first)


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

    def plan(
        self,
        pack: Pack,
        *,
        current_a: float | None = None,
        most_c: float = np.inf,
        cell_v: float | None = None,
        left_pct: float = 0.0,
        temperature_c: float = 25.0,
    ) -> ChargePlan:
        """The settings for a pack, what is over a limit, and how long the charge takes.

        Args:
            pack: one pack, S and P plain whole numbers.
            current_a: a current for the pack; the cells' standard charge current when left out.
            most_c: highest current over rated capacity, above 0, by a rule such as a club's.
            cell_v: a voltage per cell; the cell's charge voltage when left out, lower for longer life.
            left_pct: charge in the pack at the start, 0 to 100.
            temperature_c: of the cells, for the check of the window.

        Returns:
            The plan. Its current never passes the cells' highest charge current or the charger's,
            its voltage never the cell's charge voltage, whatever was asked for.

        Raises:
            InputError: a figure that cannot be.

        Source: limits from the cell's datasheet; CC-CV as in IEC 61960-3; end, first and storage
            shares: common practice, no source.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> plan = Charger(10.0, 200.0).plan(Pack(find_cell("Bittern"), 4, 2))
            >>> print(plan.text().splitlines()[4])
            Current: 3.2 A for the pack (2 cells in parallel x 1.6 A, their standard charge current)
        """
        cell, above_0 = pack.cell, (JUST_ABOVE_0, np.inf, "above 0")
        above_nominal = np.nextafter(cell.nominal_v, 5.0)
        ranges: Ranges = {
            "series": (pack.series, *above_0),
            "parallel": (pack.parallel, *above_0),
            "charger max_a": (self.max_a, *above_0),
            "charger max_w": (self.max_w, *above_0),
            "current_a": (current_a, *above_0),
            "cell_v": (cell_v, above_nominal, 4.5, f"{cell.nominal_v:g} to {cell.charge_v:g} V"),
            "left_pct": (left_pct, 0.0, 100.0, "0 to 100 %"),
        }
        refuse(range_problems(ranges))
        wanted_a, bound_by = self._current(pack, current_a, most_c)
        volts = min(cell.charge_v if cell_v is None else cell_v, cell.charge_v)
        end_a = min(END_SHARE * cell.rated_capacity_ah * int(pack.parallel), 0.5 * wanted_a)
        notices = self._notices(pack, current_a, wanted_a, cell_v, temperature_c)
        return ChargePlan(pack, self, volts, wanted_a, bound_by, end_a, left_pct, tuple(notices))

    def _current(self, pack: Pack, asked_a: float | None, most_c: float) -> tuple[float, str]:
        """The current that is set for a pack, and what holds it."""
        cell, parallel = pack.cell, int(pack.parallel)
        standard_a = parallel * cell.standard_charge_a
        highest_a = parallel * cell.max_charge_a
        standard = (
            f"{parallel} cells in parallel x {cell.standard_charge_a:g} A, their standard charge current"
            if parallel > 1
            else "the cell's standard charge current"
        )
        return min(
            (standard_a, standard) if asked_a is None else (asked_a, "as asked for"),
            (highest_a, "the cells' highest charge current"),
            (most_c * parallel * cell.rated_capacity_ah, f"the rule of {most_c:g} C at most"),
            (self.max_a, "the charger's highest current"),
            key=lambda bound: bound[0],
        )

    def _notices(
        self, pack: Pack, asked_a: float | None, set_a: float, cell_v: float | None, cells_c: float
    ) -> Iterator[Problem]:
        """What is over a limit: current, voltage, cells in series, temperature, power."""
        cell, parallel, series = pack.cell, int(pack.parallel), int(pack.series)
        standard_a, highest_a = parallel * cell.standard_charge_a, parallel * cell.max_charge_a
        wanted_a = standard_a if asked_a is None else asked_a
        pack_v = series * min(cell.charge_v if cell_v is None else cell_v, cell.charge_v)
        amps = {"wanted_a": wanted_a, "highest_a": highest_a, "standard_a": standard_a}
        if wanted_a > highest_a:
            text = notice("charge", "over_highest", **amps, parallel=parallel, cell=cell)
            yield Problem(text, "current_a")
        elif wanted_a > standard_a:
            yield Problem(notice("charge", "over_standard", **amps), "current_a")
        if cell_v is not None and cell_v > cell.charge_v:
            yield Problem(notice("charge", "over_voltage", cell_v=cell_v, cell=cell), "cell_v")
        if series > self.max_series:
            text = notice("charge", "too_many_cells", most=self.max_series, series=series)
            yield Problem(text, "series")
        if cells_c < cell.min_charge_temperature_c:
            yield Problem(notice("charge", "too_cold", at_c=cells_c, cell=cell), "temperature_c")
        elif cells_c > cell.max_charge_temperature_c:
            yield Problem(notice("charge", "too_warm", at_c=cells_c, cell=cell), "temperature_c")
        if (set_w := set_a * pack_v) > self.max_w:
            most = {"max_w": self.max_w, "end_a": self.max_w / pack_v}
            text = notice("charge", "over_power", set_a=set_a, pack_v=pack_v, set_w=set_w, **most)
            yield Problem(text, "charger max_w")


@dataclass(frozen=True, eq=False)
class ChargeCourse:
    """How a charge runs, arrays of shape (K,).

    Attributes:
        time_min: since the start.
        cell_v: voltage of one cell on the charger.
        pack_a: current into the pack.
        charged_pct: of the cell's capacity that is in it.
    """

    time_min: FloatArray
    cell_v: FloatArray
    pack_a: FloatArray
    charged_pct: FloatArray


@dataclass(frozen=True, eq=False)
class ChargePlan:
    """Settings for one pack on one charger, for a builder to copy.

    Attributes:
        pack, charger: planned for.
        cell_v: constant voltage per cell.
        current_a: constant current for the pack.
        bound_by: what holds the current: a phrase.
        end_a: current of the pack at which the charge ends.
        left_pct: charge in the pack at the start.
        notices: what is over a limit, in words.
    """

    pack: Pack
    charger: Charger
    cell_v: float
    current_a: float
    bound_by: str
    end_a: float
    left_pct: float
    notices: tuple[Problem, ...]

    @cached_property
    def run(self) -> ChargeRun:
        """Of one cell, if lithium spreads inside its grains at once."""
        return self._run(0.0)

    @cached_property
    def slow_run(self) -> ChargeRun:
        """Of one cell whose grains are slow, `SPREAD_S`; real cells lie between the two."""
        return self._run(SPREAD_S)

    def _run(self, spread_s: float) -> ChargeRun:
        pack, parallel = self.pack, int(self.pack.parallel)
        return charge(
            at_charge(pack.cell.model, pack.cell.charge_v),
            self.current_a / parallel,
            self.cell_v,
            self.end_a / parallel,
            from_depth_of_discharge=1.0 - self.left_pct / 100.0,
            power_w=self.charger.max_w / (self.series * parallel),
            extra_mohm=pack.joint_mohm_per_cell,
            resistance_factor=CHARGE_RESISTANCE,
            spread_s=spread_s,
        )

    @property
    def series(self) -> int:
        """Cells in series, to be set by hand."""
        return int(self.pack.series)

    @property
    def pack_v(self) -> float:
        """Constant voltage for the pack."""
        return self.series * self.cell_v

    @property
    def first_a(self) -> float:
        """Current for the first charge of a new pack."""
        return min(FIRST_SHARE * float(self.pack.capacity_ah), self.current_a)

    @property
    def minutes_80(self) -> float:
        """Until 80 % full, at the longest; NaN where the charge ends before."""
        return float(self.slow_run.share_s) / 60.0

    @property
    def minutes_full(self) -> float:
        """Until full, at the longest."""
        return float(self.slow_run.full_s) / 60.0

    @property
    def least_minutes_full(self) -> float:
        """Until full, at the shortest."""
        return float(self.run.full_s) / 60.0

    @property
    def charge_ah(self) -> float:
        """Put into the pack by then."""
        return float(self.run.charge_ah * self.pack.parallel)

    @property
    def energy_wh(self) -> float:
        """Put into the pack by then."""
        return float(self.run.energy_wh * self.pack.cells)

    @property
    def storage_v(self) -> float:
        """Voltage of one cell at rest for storage."""
        return float(self.pack.cell.model.open_circuit_at(1.0 - STORAGE_SHARE))

    @property
    def storage_pack_v(self) -> float:
        """The same of the pack."""
        return self.series * self.storage_v

    def course(self) -> ChargeCourse:
        """Voltage and current over the time of the charge, at the longest."""
        run = self.slow_run
        moves = np.diff(run.course_s, prepend=-1.0) > 0.0
        return ChargeCourse(
            run.course_s[moves] / 60.0,
            run.course_v[moves],
            run.course_a[moves] * float(self.pack.parallel),
            100.0 * (1.0 - run.course_depth[moves]),
        )

    def steps(self) -> tuple[Step, ...]:
        """The working of the settings."""
        s, p, cell = self.series, int(self.pack.parallel), self.pack.cell
        return (
            step("charge_current_a", self.current_a, p=p, cell_a=self.current_a / p),
            step("charge_v", self.pack_v, s=s, plan=self),
            step("charge_end_a", self.end_a, end_share=END_SHARE, p=p, cell=cell),
            step("storage_v", self.storage_pack_v, storage_pct=100 * STORAGE_SHARE, s=s, plan=self),
        )

    def settings(self) -> dict[str, float]:
        """What is set and expected, by its name in the table of quantities, which rounds it."""
        return {
            "charge_v": self.cell_v,
            "charge_pack_v": self.pack_v,
            "charge_current_a": self.current_a,
            "first_charge_a": self.first_a,
            "charge_end_a": self.end_a,
            "charge_min": self.minutes_full,
        }

    def text(self) -> str:
        """The settings as lines to copy onto paper or into the charger."""
        time = RESULTS["charge_min"]
        to_80 = "not reached" if np.isnan(self.minutes_80) else time.text(self.minutes_80)
        cell = self.pack.cell
        shown = {key: RESULTS[key].text(value) for key, value in self.settings().items()}
        lines = [
            f"Charger settings for a pack of {self.series}S{self.pack.parallel}P",
            "Programme: lithium-ion, balance charge, balance lead connected",
            f"Cells in series, set by hand: {self.series}",
            f"Voltage: {shown['charge_v']} per cell, {shown['charge_pack_v']} for the pack",
            f"Current: {shown['charge_current_a']} for the pack ({self.bound_by})",
            f"First charge of a new pack: {shown['first_charge_a']}, watched, cells checked every 10 min",
            f"End of charge: {shown['charge_end_a']}",
            f"Time: {to_80} to 80 %, {self.least_minutes_full:.0f} to {shown['charge_min']} to full",
            f"Put in: {self.charge_ah:.2f} Ah, {self.energy_wh:.1f} Wh",
            f"Storage: {self.storage_v:.2f} V per cell, {self.storage_pack_v:.2f} V for the pack,"
            " at rest",
            f"Cells between {cell.min_charge_temperature_c:.0f} and "
            f"{with_unit(cell.max_charge_temperature_c, '°C', 0)}, never below",
            "Never leave a charging pack alone; charge on a surface that cannot burn. The cell "
            "maker's datasheet overrides this sheet.",
        ]
        return "\n".join([*lines, *(f"Caution: {notice}" for notice in self.notices)])
