"""Every limit of a design, read as limits, as reasons to stop, and as constraints of a choice.

The limits are in one table, `workbook/data/limits.toml`, which says how to add one. Command line, JSON,
sheet, bench, sweep and budget read it. What a path of the table can reach is what `Subject` has.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

import numpy as np

from workbook.battery.two_packs import JoiningCurrents, joining_currents
from workbook.craft.wing import STALL_MARGIN
from workbook.data.tables import data_sections
from workbook.numbers import SAME_FIGURE, FloatArray, Number, in_digits, rounded
from workbook.quantities import RESULTS, unit_of
from workbook.sizing.conditions import has_size
from workbook.sizing.craft_type import CraftType
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import NO_CONSTRAINTS, Allowances, Constraints, Design, price
from workbook.sizing.flight_times import FlightTimes, HalfOfFlights
from workbook.sizing.operating_point import NO_ALLOWANCES, OperatingPoint
from workbook.sizing.pair import Pair, pair_of
from workbook.units import filled, shown, shown_unit

if TYPE_CHECKING:
    from workbook.sizing.mission import MissionPlan, MissionRun, PhaseRun

DENSEST = np.pi / (2.0 * np.sqrt(3.0))
"""Share of a space that parallel round cells can fill at most: 0.9069, the hexagonal packing.
Source: Thue; Fejes Toth (1940)."""

CLOSE_PCT = 10.0
"""A margin below this is called close. Common practice, no source."""

HIGHEST_CHARGE_V = 4.20
"""Usual full-charge voltage of a lithium-ion cell. Common practice; the cell's datasheet rules."""

LEAST_THRUST_TO_WEIGHT = 1.3
"""Below this a multirotor cannot arrest a descent with any surety. Common practice, no source."""

LEAST_CLIMB_M_S = 1.0
"""A wing that climbs more slowly on its burst current or full power cannot clear trees or sinking
air with any surety. Common practice, no source."""

OVER_TESTED = {"current_a": 1.25, "power_w": 1.4}
"""A motor that takes more than so many times the highest current or power of its table, its maker's rating not
known, is overloaded. A full pack has 1.14 times the nominal voltage at which tables are taken, which makes power
at full throttle 1.4 times and current 1.25 times the table's (as voltage^2.7 and ^1.7): that much is common
practice for a moment, no source."""

TABLE_V_FROM, TABLE_V_TO = 0.7, 1.3
"""Share of the thrust table's supply voltage within which its figures are carried over. Thrust at equal throttle
goes as voltage^1.69 to 1.98 for nine motors of ten (see `workbook.craft.voltage`): taken as 1.8 that is up to 7 %
off at 0.7 and 5 % at 1.3. Beyond nothing was tried, and above it motors burn."""

STEEPEST_DIVE = 0.5
"""Rate of sink over airspeed of a wing, at most: 30° down. Steeper its own drag does not hold the airspeed of the
plan, and it gains speed. Common practice, no source."""

USUAL_C = 25.0
"""Temperature at which cells are rated; how cold they are is counted down from it."""

Verdict: TypeAlias = Literal["holds", "close", "broken", "not checked"]

Concern: TypeAlias = Literal["pack", "flight", "part"]
"""What a limit keeps safe: the pack, the flight, or another part's rating."""


def margin_text(margin_pct: float) -> str:
    """A margin as it is printed, rounded down, with %; "none" where less than nothing is left twice over, a dash
    where there is no such figure.

    Args:
        margin_pct: what is left, percent of the limit.

    Example:
        >>> margin_text(11.97), margin_text(-18746.0), margin_text(float("nan"))
        ('11 %', 'none', '-')
    """
    if np.isnan(margin_pct):
        return "-"
    return "none" if margin_pct < -100.0 else f"{rounded(min(margin_pct, 100.0), 0, 'down'):.0f} %"


@dataclass(frozen=True, eq=False)
class Limit:
    """One limit: it holds where the demand is not above the limit.

    Attributes:
        key: short name in lower case with underscores.
        name: in words.
        demand: what the design asks for; NaN where it has no value, which counts as broken where
            nothing says why it is not checked.
        limit: what there is to give.
        unit: of both; empty for a ratio.
        broken_text: what a broken limit means, in words; may be empty of one that holds.
        worst_at: the instant at which it was checked.
        concern: what it keeps safe.
        unchecked: why it could not be checked; empty where it was.

    Example:
        >>> cell = Limit("cell_current", "cell current", 9.0, 10.0, "A", "too much current.", "end")
        >>> cell.margin_pct, cell.verdict
        (10.0, 'holds')
    """

    key: str
    name: str
    demand: Number
    limit: Number
    unit: str
    broken_text: str
    worst_at: str
    concern: Concern = "pack"
    unchecked: str = ""

    @property
    def shown_unit(self) -> str:
        """The unit of both as they are printed."""
        return shown_unit(self.unit).name

    @cached_property
    def margin_pct(self) -> Number:
        """What is left of the limit, percent of it; NaN where there is no such figure."""
        with np.errstate(divide="ignore", invalid="ignore"):
            margin = 100.0 * (1.0 - np.divide(self.demand, self.limit))
        return margin if np.ndim(margin) else float(margin)

    @property
    def shown(self) -> tuple[str, str]:
        """A single demand and limit as they are printed: the demand up and the limit down, so that where the
        limit holds it holds of the printed figures too; a dash where there is no such figure.

        Example:
            >>> Limit("climb", "climb", 2.0003, 3.1009, "m/s", "too slow.", "end").shown
            ('2.001', '3.1')
            >>> Limit("cold", "below 25 °C", 0.04586, 45.0, "K", "too cold.", "flight").shown
            ('0.05', '45')
        """
        demand, most = (shown(float(one), self.unit) for one in (self.demand, self.limit))
        texts = "-", "-"
        for digits in (4, 6, 8):
            beside = most if np.isfinite(most) else None
            texts = in_digits(demand, digits, "up", beside), in_digits(most, digits, "down")
            if bool(self.broken) or "-" in texts or float(texts[0]) <= float(texts[1]):
                break
        return texts

    @property
    def margin_shown(self) -> str:
        """A single margin as `margin_text` has it; a dash too where it was not checked.

        Example:
            >>> short = Limit("endurance", "time", 23.0, 0.1, "min", "too short.", "flight")
            >>> short.margin_shown
            'none'
        """
        margin = float(self.margin_pct)
        if self.unchecked:
            return "-"
        return "none" if margin > 0.0 and bool(self.broken) else margin_text(margin)

    @property
    def sound_margin_pct(self) -> FloatArray:
        """The margin; NaN too where it has no sense, as where a climb asked for is a sink."""
        margin = np.asarray(self.margin_pct, dtype=float)
        return np.where(self.broken & ~(margin < 0.0), np.nan, margin)

    @cached_property
    def broken(self) -> np.ndarray:
        """Where the limit does not hold; nowhere where it could not be checked."""
        if self.unchecked:
            return np.zeros(np.shape(self.demand), dtype=bool)
        same = SAME_FIGURE * np.abs(self.limit)  # 3 x 4.2 V is 12.6 V, whatever binary makes of it
        return ~np.less_equal(self.demand, self.limit + same)

    @property
    def verdict(self) -> Verdict:
        """Its state, for a single design."""
        if self.unchecked:
            return "not checked"
        if self.broken:
            return "broken"
        return "close" if self.margin_pct < CLOSE_PCT - 1e-9 else "holds"


def unchecked_texts(limits: Iterable[Limit]) -> tuple[str, ...]:
    """What could not be checked and why, a sentence for each reason with every limit that has it.

    Example:
        >>> one, other = (
        ...     Limit(k, k, np.nan, 1.0, "A", "", "end", unchecked="no table") for k in ("a", "b")
        ... )
        >>> unchecked_texts([one, other])
        ('not checked: a; b: no table.',)
    """
    reasons: dict[str, list[str]] = {}
    for limit in limits:
        if limit.unchecked:
            reasons.setdefault(limit.unchecked, []).append(limit.name)
    return tuple(f"not checked: {'; '.join(names)}: {why}." for why, names in reasons.items())


class OfDesign:
    """What the limits of a flight and of a phase look at alike."""

    design: Design[Any]

    @property
    def cells_may_below_c(self) -> float:
        """How far below `USUAL_C` the cell's maker allows it to be."""
        return USUAL_C - self.design.pack.cell.min_temperature_c


def followed(subject: Any, path: str) -> Any:
    """What a path of the table leads to; None where there is nothing on the way.

    Example:
        >>> from types import SimpleNamespace
        >>> subject = SimpleNamespace(flights=None, run=SimpleNamespace(cell_a=4.0))
        >>> followed(subject, "run.cell_a"), followed(subject, "flights.met_pct")
        (4.0, None)
    """
    for name in path.split("."):
        subject = None if subject is None else getattr(subject, name)
    return subject


@dataclass(frozen=True, eq=False)
class Subject(OfDesign):
    """What a limit looks at: a design, its operating point where there is one, what a choice must keep to.

    The paths of the table begin here; None means that nothing of the kind is asked.
    """

    design: Design[Any]
    point: Any = None
    constraints: Constraints = NO_CONSTRAINTS
    allowances: Allowances = NO_ALLOWANCES
    flights: HalfOfFlights | None = None

    one = 1.0
    none_over = 0.0
    least_thrust_to_weight = LEAST_THRUST_TO_WEIGHT
    least_climb_m_s = LEAST_CLIMB_M_S
    least_stall_margin = STALL_MARGIN
    highest_charge_v = HIGHEST_CHARGE_V

    @property
    def craft_type(self) -> CraftType[Any, Any]:
        """The type of the craft."""
        return craft_type_of(self.design)

    def with_flights(self, flights: HalfOfFlights | None) -> Subject:
        """The same with what half of its flights reach; what was worked out stays."""
        other = copy.copy(self)
        vars(other)["flights"] = flights
        return other

    @cached_property
    def mission_plan(self) -> MissionPlan | None:
        """What the mission of a single design asks of its pack; None without a mission, or without a flight.

        Raises:
            InputError: a phase that the craft cannot fly.
        """
        if not self.design.mission or not np.isfinite(self.point.power_w):
            return None
        from workbook.sizing.mission import plan_mission

        return plan_mission(self.craft_type.mission_model(self.point))

    @property
    def pair(self) -> Pair | None:
        """Two packs in the flight; None with one pack."""
        return None if self.point is None else pair_of(self.point)

    @property
    def cells_over(self) -> Number | None:
        """Cells that are left over when two packs are made equal; None with one pack."""
        joining = self.design.joining
        return joining.over(self.design.pack) if joining.several else None

    @property
    def shared(self) -> Pair | None:
        """Two packs that share the current; None where no pack does."""
        return self.pair if self.design.joining.in_parallel else None

    @cached_property
    def weaker_v(self) -> Number | None:
        """Cell voltage of the weaker of two packs in series, at the end of the flight."""
        return self.pair.weaker_v if self.pair and not self.shared else None

    @property
    def joined(self) -> JoiningCurrents | None:
        """What flows when two packs are joined in parallel; None where none are."""
        joining = self.design.joining
        return joining_currents(joining, self.design.pack) if joining.in_parallel else None

    @cached_property
    def connector_a(self) -> FloatArray:
        """Highest current through the connector of a pack at full throttle, or at the throttle cap."""
        shared = self.shared
        return (
            self.pack_a
            if shared is None
            else np.asarray(shared.full_power_a * self.design.one_pack.parallel)
        )

    @property
    def all_up_mass_g(self) -> Number:
        """Of the operating point, or by the scale where there is none."""
        craft, pack_g = self.design.craft, self.design.pack.mass_g
        mass_g: Number = (
            craft.all_up_mass_g(pack_g) * self.allowances.mass_factor
            if self.point is None
            else self.point.all_up_mass_g
        )
        return mass_g

    @property
    def allowed_cell_a(self) -> FloatArray:
        """The share of the continuous current that may be used."""
        share_pct = np.asarray(self.design.flight.continuous_share_pct)
        return self.design.pack.cell.continuous_a * share_pct / 100.0

    @property
    def table_top_gf(self) -> FloatArray:
        """Highest thrust of the thrust table; NaN where the flight is outside it."""
        outside = np.isnan(self.point.power_per_motor_w)
        return np.where(outside, np.nan, self.design.craft.table.top_thrust_gf)

    @property
    def stall_m_s(self) -> FloatArray:
        """Stall speed; NaN where cruise is below it."""
        return np.where(np.isnan(self.point.power_w), np.nan, self.point.speeds.stall_m_s)

    @property
    def stall_margin(self) -> FloatArray:
        """Cruise speed over stall speed."""
        return np.asarray(self.point.cruise_m_s / self.point.speeds.stall_m_s)

    @property
    def grounded(self) -> FloatArray:
        """0 where the pack carries the load for any time, without end where it does not."""
        return np.where(np.asarray(self.point.run.time_s) > 0, 0.0, np.inf)

    @property
    def hottest_cell_c(self) -> FloatArray | None:
        """Inside the hottest cell, from take-off to the end; None where the cell's size is not stated."""
        return self.point.hottest_cell_c if has_size(self.design) else None

    @property
    def take_off_c(self) -> Number | None:
        """The cells at take-off, where that is all that is known of their temperature."""
        return None if has_size(self.design) else self.design.flight.pack_temperature_c

    @property
    def cells_below_c(self) -> FloatArray:
        """How far the coldest cell is below `USUAL_C` at take-off or in flight."""
        coldest = np.fmin(self.design.flight.pack_temperature_c, self.point.coldest_cell_c)
        return np.asarray(USUAL_C - coldest)

    @property
    def full_power_cell_a(self) -> FloatArray:
        """Highest cell current at full power, of the states of the pack; infinite where the watts stated for
        launch are more than a state can give."""
        cell_a = self._worst(np.maximum, "full_throttle.cell_a")
        out_of_reach = np.isnan(cell_a) & np.isfinite(self.point.power_w)
        stated = self.design.craft.table is None
        return np.where(out_of_reach & stated, np.inf, cell_a)

    @property
    def full_power_cell_v(self) -> FloatArray:
        """Lowest cell voltage at full power, of the states of the pack."""
        return self._worst(np.minimum, "full_throttle.cell_v")

    @property
    def full_power_pack_v(self) -> FloatArray:
        """Lowest voltage of the pack at full power, of its states."""
        return np.asarray(self.full_power_cell_v * self.design.pack.series)

    @property
    def full_power_w(self) -> FloatArray:
        """Least full power in cruise, of the states of the pack; as stated for launch without a table."""
        at_rest = self._worst(np.minimum, "full_throttle.power_w")
        in_flight = self._worst(np.minimum, "in_cruise.power_w")
        return np.where(np.isnan(in_flight), at_rest, in_flight)

    @property
    def climb_continuous_m_s(self) -> FloatArray:
        """Least climb on the continuous current, of the states of the pack, with the slowest propeller."""
        return self._worst(np.minimum, "continuous.climb_m_s")

    @property
    def climb_left_m_s(self) -> FloatArray:
        """Least climb at full power within the burst current, likewise."""
        burst = self._worst(np.minimum, "burst.climb_m_s")
        return np.minimum(burst, self._worst(np.minimum, "full_throttle.climb_m_s"))

    def _worst(self, pick: np.ufunc, path: str) -> FloatArray:
        worst: FloatArray = self.point.worst(pick, path)
        return worst

    @property
    def cruise_drag_gf(self) -> FloatArray:
        """Drag in cruise."""
        return np.asarray(self.all_up_mass_g / self.point.lift_over_drag)

    @property
    def cruise_thrust_gf(self) -> FloatArray:
        """Least thrust at cruise speed and full power, of the states of the pack."""
        return self._worst(np.minimum, "in_cruise.thrust_gf")

    @property
    def turn_w(self) -> FloatArray:
        """What a level turn at cruise speed takes from the pack."""
        return np.asarray(self.point.load.turn_w(self.point.cruise_m_s))

    @property
    def motor_a(self) -> FloatArray:
        """Highest current of one motor at full throttle, or at the throttle cap."""
        wing = self.craft_type.name == "fixed wing"
        return self._worst(np.maximum, "motor_a") if wing else self.point.full.motor_a

    @property
    def pack_a(self) -> FloatArray:
        """Highest current of the pack at full throttle, or at the throttle cap."""
        wing = self.craft_type.name == "fixed wing"
        cell_a = self.full_power_cell_a if wing else self.point.full.full_throttle.cell_a
        return np.asarray(cell_a * self.design.pack.parallel)

    @property
    def most_motor_a(self) -> float | None:
        """The motor's rated current, or so much over the table's highest (`OVER_TESTED`); None without either."""
        return self._rating(self.design.craft.motor_max_a, "current_a")

    @property
    def most_motor_w(self) -> float | None:
        """The motor's rated power, or so much over the table's highest (`OVER_TESTED`); None without either."""
        return self._rating(self.design.craft.motor_max_w, "power_w")

    def _rating(self, rated: float | None, column: str) -> float | None:
        tested = self._tested(column)
        if rated is not None or tested is None:
            return rated
        return OVER_TESTED[column] * tested

    def _tested(self, column: str) -> float | None:
        """The highest of a column of the thrust table."""
        table = self.design.craft.table
        return None if table is None else float(np.max(getattr(table, column)))

    @property
    def motor_a_doubt(self) -> str:
        """Why the motor's current is not checked: it is above what was tested, its rating not stated."""
        return self._untested_text(self.design.craft.motor_max_a, "current_a", self.motor_a, "A")

    @property
    def motor_w_doubt(self) -> str:
        """Why the motor's power is not checked, likewise."""
        asked_w = self.point.full.motor_w
        return self._untested_text(self.design.craft.motor_max_w, "power_w", asked_w, "W")

    def _untested_text(self, rated: float | None, column: str, asked: FloatArray, unit: str) -> str:
        tested = self._tested(column)
        if rated is not None or tested is None or not asked > tested:
            return ""
        return (
            f"{asked:.0f} {unit} is above the {tested:.0f} {unit} to which the thrust table was tested, "
            f"and the motor's own rating is not stated (craft.motor_max_{unit.lower()})"
        )

    @property
    def table_v(self) -> float | None:
        """Supply voltage of the thrust table; None without a table."""
        table = self.design.craft.table
        if table is None:
            return None
        return float(table.supply_v if np.isfinite(table.supply_v) else np.max(table.voltage_v))

    @property
    def table_most_v(self) -> float | None:
        """The highest pack voltage to which the table's figures are carried."""
        return None if self.table_v is None else TABLE_V_TO * self.table_v

    @property
    def table_least_v(self) -> float | None:
        """The lowest pack voltage to which the table's figures are carried."""
        return None if self.table_v is None else TABLE_V_FROM * self.table_v

    @property
    def landing_pack_v(self) -> FloatArray:
        """The pack under the load of steady flight at its end."""
        return np.asarray(self.point.run.end_v * self.design.pack.series)

    @property
    def price(self) -> FloatArray:
        """Money for the cells; NaN where it is not known."""
        return price(self.design)

    @property
    def cell_side_mm(self) -> float | None:
        """The side of a cell that fits the bay least; NaN where the cell's size is not stated."""
        return self._tightest_mm[0]

    @property
    def bay_side_mm(self) -> float | None:
        """The side of the bay that it must fit."""
        return self._tightest_mm[1]

    @property
    def packed_cm3(self) -> FloatArray:
        """Volume that the cells take when packed as densely as can be; NaN without their size."""
        known = 1.0 if has_size(self.design) else np.nan
        cell = self.design.pack.cell
        cell_cm3 = np.pi / 4.0 * cell.diameter_mm**2 * cell.height_mm / 1000.0
        return np.asarray(known * self.design.one_pack.cells * cell_cm3 / DENSEST)

    @cached_property
    def _tightest_mm(self) -> tuple[float | None, float | None]:
        bay = self.constraints.bay_sides_mm
        if not bay:
            return None, None
        if not has_size(self.design):
            return np.nan, bay[0]
        cell = self.design.pack.cell
        size = sorted((cell.diameter_mm, cell.diameter_mm, cell.height_mm))
        return max(zip(size, bay, strict=True), key=lambda pair: pair[0] / pair[1])


@dataclass(frozen=True, eq=False)
class Rule:
    """The definition of one limit: a block of the table, which says what each field is."""

    key: str
    name: str
    quantity: str
    demand: str
    limit: str
    worst_at: str
    broken: str = ""
    stop: str = ""
    role: Literal["limit", "stop", "choice"] = "limit"
    craft: str = ""
    concern: Concern = "pack"
    short: str = ""
    unstated: str = ""
    unknown: str = "there is no such figure for this design"
    doubt: str = ""
    on_ground: bool = False
    implied: bool = False
    of_flights: bool = False
    alone: bool = False

    def check(self, subject: Subject, *, listed: bool = True) -> Limit | None:
        """The limit of one subject; None where its craft has none, or its design asks for none.

        Args:
            subject: what it looks at.
            listed: whether what cannot be checked is listed as such; where it is not, as in a choice,
                it counts as broken, and another part's rating that nobody states is no limit.
        """
        if self.craft and self.craft != craft_type_of(subject.design).name:
            return None
        demand, limit = followed(subject, self.demand), followed(subject, self.limit)
        stated = demand is not None and limit is not None
        if not stated and (not self.unstated or not (listed or self.concern != "part")):
            return None
        found = Limit(
            self.key,
            self.name,
            np.nan if demand is None else demand,
            np.nan if limit is None else limit,
            unit_of(self.quantity),
            "",
            self.worst_at,
            self.concern,
        )
        if listed and not self.doubt and not found.broken.any():
            return found  # what a limit means that holds is told nowhere
        words = {"demand": found.demand, "limit": found.limit, "s": subject}
        found = replace(
            found,
            broken_text=self._broken_text(words),
            unchecked=filled(self._unknown(subject, found) if stated else self.unstated, **words),
        )
        if listed:
            return found
        text = found.broken_text if stated else " ".join(unchecked_texts([found]))
        return replace(found, unchecked="", broken_text=text)

    def _broken_text(self, words: dict[str, Any]) -> str:
        """What a broken one means; of designs that differ in a figure which it names, only its name."""
        try:
            return filled(self.broken, **words)
        except TypeError:  # an array is not formatted as a number is
            return f"Broken: {self.name}."

    def _unknown(self, subject: Subject, found: Limit) -> str:
        """Why a limit whose figures are stated is not checked; arrays of designs give no reasons."""
        demand, limit = found.demand, found.limit
        if np.ndim(demand) or np.ndim(limit) or self.alone:
            return ""
        if np.isnan(demand) or np.isnan(limit):
            flyable = subject.point is None or np.isfinite(subject.point.power_w)
            return self.unknown if flyable else "steady flight cannot be computed"
        return str(followed(subject, self.doubt)) if self.doubt and demand <= limit else ""

    def breaks(self, limit: Limit) -> np.ndarray:
        """Where many designs break it: a figure that is missing is not checked, but where nothing else can be said.

        Args:
            limit: as `check` gives it for arrays of designs.
        """
        missing = np.isnan(limit.demand) | np.isnan(limit.limit)
        return limit.broken & (~missing | self.alone)

    @property
    def limit_text(self) -> str:
        """What a broken one means among the limits of a design; empty of one that only stops."""
        return "" if self.implied or self.key in STOPPING else self.broken

    def reason(self, limit: Limit, subject: Subject) -> str:
        """Why a single subject must not be built or flown; empty where its limit does not say so."""
        if not (self.stop and limit.broken):
            return ""
        figures = figures_to_stop(float(limit.demand), float(limit.limit))
        return filled(self.stop, **figures, s=subject)


def figures_to_stop(demand: float, limit: float) -> dict[str, float]:
    """What a reason to stop names: neither less asked for than there is, nor more that there is.

    Example:
        >>> figures_to_stop(demand=1.3, limit=1.2986)
        {'demand': 1.3, 'limit': 1.29}
    """
    return {"demand": rounded(demand, 2, "up"), "limit": rounded(limit, 2, "down")}


@dataclass(frozen=True, eq=False)
class PhaseSubject(OfDesign):
    """What a limit of a mission looks at: one phase as flown, of a design, and the share of the pack that
    carries more of two."""

    run: PhaseRun
    design: Design[Any]
    share: float = 1.0

    @property
    def cell_a(self) -> float:
        """Highest current of a cell, in the pack that carries more."""
        return self.share * self.run.cell_a

    @property
    def brief(self) -> bool:
        """Whether the burst current may be used."""
        lasts_s = max(self.run.duration_s, self.run.burst.over_s)
        return lasts_s <= self.design.pack.cell.burst_s + 1e-9

    @property
    def lasting(self) -> bool:
        """Whether the continuous current holds."""
        return not self.brief

    @property
    def launch(self) -> bool:
        """Whether it is a launch."""
        return self.run.kind == "launch"

    @property
    def flown(self) -> bool:
        """Whether the landing voltage holds."""
        return not self.launch

    @property
    def throttled(self) -> bool:
        """Whether the motors give no more than the phase asks."""
        return self.run.kind not in ("rest", "launch")

    always = True
    whole_pct = 100.0

    @property
    def on_a_wing(self) -> bool:
        """Whether a wing carries the craft through the air."""
        from workbook.sizing.mission import FORWARD_KINDS

        return self.run.kind in FORWARD_KINDS and craft_type_of(self.design).name == "fixed wing"

    @property
    def pulled(self) -> bool:
        """Whether propellers carry the craft through the air."""
        return self.on_a_wing or self.run.airspeed_m_s > 0.0

    @property
    def paced(self) -> bool:
        """Whether the plan states the airspeed of a wing."""
        return self.on_a_wing and self.run.airspeed_stated

    @property
    def turning(self) -> bool:
        """Whether a wing flies level and must be able to turn."""
        return self.on_a_wing and self.run.kind in ("cruise", "loiter", "legs")

    @property
    def climbing(self) -> bool:
        """Whether rotors lift the craft."""
        return self.run.needs.climb_m_s > 0.0

    @property
    def sinking(self) -> bool:
        """Whether rotors let the craft down."""
        return self.run.needs.sink_m_s > 0.0

    @property
    def diving(self) -> bool:
        """Whether a wing is let down."""
        return self.run.needs.dive_m_s > 0.0

    @property
    def steepest_m_s(self) -> float:
        """Rate of sink of the steepest dive at its airspeed."""
        return STEEPEST_DIVE * self.run.airspeed_m_s

    @property
    def slowest_m_s(self) -> float:
        """Stall speed with its margin."""
        return STALL_MARGIN * self.run.needs.stall_m_s

    @property
    def cells_below_c(self) -> float | None:
        """How far the coldest cell is below `USUAL_C`; None where the cell's size is not stated."""
        return USUAL_C - self.run.coldest_cell_c if has_size(self.design) else None

    @property
    def cell_c(self) -> float | None:
        """Highest temperature inside a cell; None where the cell's size is not stated."""
        return self.run.cell_c if has_size(self.design) else None


def _utilisation(demand: float, limit: float) -> float:
    """How near a demand is to its limit, 1 at it."""
    return demand / limit if limit > 0.0 else np.inf


@dataclass(frozen=True, eq=False)
class MissionRule:
    """The definition of one limit of a mission: a block of the table."""

    key: str
    name: str
    quantity: str
    phases: str
    demand: str
    limit: str
    broken: str
    concern: Concern = "flight"
    unstated: str = ""
    unknown: str = "there is no such figure for this mission"
    at_end: bool = False

    def nearest(
        self, design: Design[Any], phases: tuple[PhaseRun, ...], share: float = 1.0
    ) -> Limit | None:
        """The limit in the phase that is nearest to it; None where no phase has it."""
        subjects = (PhaseSubject(run, design, share) for run in phases if np.isfinite(run.cell_a))
        checked = [
            ((followed(s, self.demand), followed(s, self.limit)), s)
            for s in subjects
            if followed(s, self.phases)
        ]
        for pair, subject in checked:
            stated = all(figure is not None for figure in pair)
            if not stated and not self.unstated:
                return None
            if not stated or np.isnan(pair).any():
                reason = filled(self.unknown if stated else self.unstated, s=subject)
                return self._limit(subject, subject.run.end_min, unchecked=reason)
        if not checked:
            return None
        (demand, limit), subject = max(checked, key=lambda one: _utilisation(*one[0]))
        minute = subject.run.end_min if self.at_end else subject.run.worst_min
        return self._limit(subject, minute, demand, limit)

    def _limit(
        self,
        subject: PhaseSubject,
        minute: float,
        demand: float = np.nan,
        limit: float = np.nan,
        unchecked: str = "",
    ) -> Limit:
        place = f"{subject.run.label}, minute {minute:.1f}"
        return Limit(
            self.key,
            filled(self.name, s=subject),
            demand,
            limit,
            unit_of(self.quantity),
            f"{filled(self.broken, s=subject)} ({place}).",
            place,
            self.concern,
            unchecked,
        )


_BLOCKS = data_sections("limits.toml")

RULES = tuple(Rule(**block) for block in _BLOCKS["limit"])
"""Every limit, in the order in which they are shown."""

STOPPING = frozenset(rule.key for rule in RULES if rule.role == "stop")
"""Keys of those that are reasons to stop, and only listed among the limits where they could not be checked."""

BY_CELL_SHARE = (
    "continuous_cell_current",
    "burst_cell_current",
    "shared_steady_current",
    "shared_burst_current",
)
"""Limits whose demand the worst cell of a parallel group sets."""

MISSION_RULES = tuple(MissionRule(**block) for block in _BLOCKS["mission"])
"""Every limit of a mission but its charge, in the order in which they are shown."""


def _choice_limits(subject: Subject, which: Callable[[Rule], bool]) -> tuple[Limit, ...]:
    """The limits of a subject by some rules, as a choice takes them: what cannot be checked counts as broken."""
    found = (rule.check(subject, listed=False) for rule in RULES if which(rule))
    return tuple(limit for limit in found if limit is not None)


def limits(
    design: Design[Any], point: OperatingPoint[Any, Any], flights: HalfOfFlights | None = None
) -> tuple[Limit, ...]:
    """Every limit that the design states, checked at its worst instant.

    Args:
        design: the design, or arrays of designs, of any craft.
        point: its operating point.
        flights: what half of its flights reach; without it the limits of flights are left out.

    Returns:
        The limits; demand and limit have the shape of the point. What could not be checked is among
        them, reasons to stop that could not be checked as well.
    """
    return limits_of(rule_limits(Subject(design, point, flights=flights)))


RuleLimits: TypeAlias = Sequence[tuple[Rule, Limit]]
"""Rules, each with the limit that it makes of one subject."""


def rule_limits(subject: Subject) -> RuleLimits:
    """Every rule that a subject has, with its limit; what only bounds a choice is left out."""
    found = ((rule, rule.check(subject)) for rule in RULES if rule.role != "choice")
    return [(rule, limit) for rule, limit in found if limit is not None]


def limits_of(checked: RuleLimits) -> tuple[Limit, ...]:
    """The limits among those of all rules: without what is implied, and what only stops."""
    return tuple(
        limit
        for rule, limit in checked
        if not rule.implied and (limit.unchecked or limit.key not in STOPPING)
    )


def limits_of_flights(design: Design[Any], flights: HalfOfFlights) -> tuple[Limit, ...]:
    """The limits that are asked of drawn flights, not of the plan.

    Args:
        design: the design, or arrays of designs.
        flights: what half of its flights reach.
    """
    return _choice_limits(Subject(design, flights=flights), lambda rule: rule.of_flights)


def stops(design: Design[Any], point: OperatingPoint[Any, Any]) -> tuple[str, ...]:
    """Reasons, in words, why a single design must not be built or flown as it stands."""
    subject = Subject(design, point)
    return stops_of(rule_limits(subject), subject)


def stop_keys(design: Design[Any], point: OperatingPoint[Any, Any]) -> tuple[str, ...]:
    """Keys of the limits that `stops` gives the reasons of."""
    subject = Subject(design, point)
    return tuple(rule.key for rule, limit in rule_limits(subject) if rule.reason(limit, subject))


def stops_of(checked: RuleLimits, subject: Subject) -> tuple[str, ...]:
    """The same of limits that are checked already."""
    reasons = []
    for rule, limit in checked:
        reason = rule.reason(limit, subject)
        if reason and rule.alone:
            return (reason,)
        reasons.append(reason)
    return tuple(filter(None, reasons))


def ground_limits(
    design: Design[Any], constraints: Constraints = NO_CONSTRAINTS
) -> tuple[Limit, ...]:
    """The limits that need no operating point: a choice sets a pack aside by them before it flies.

    Args:
        design: the design, or arrays of designs.
        constraints: what the choice must keep to.
    """
    subject = Subject(design, None, constraints)
    return _choice_limits(subject, lambda rule: rule.on_ground)


def flight_limits(
    design: Design[Any], point: OperatingPoint[Any, Any], flights: HalfOfFlights | None = None
) -> tuple[Limit, ...]:
    """The limits of a design, and the reasons to stop that none of them implies, as limits.

    Args:
        design: the design, or arrays of designs.
        point: its operating point.
        flights: as in `limits`.
    """
    subject = Subject(design, point, flights=flights)
    flown = _choice_limits(subject, lambda rule: rule.role == "limit")
    return flown + _choice_limits(
        subject, lambda rule: rule.role == "stop" and not (rule.implied or rule.on_ground)
    )


def mission_limits(
    design: Design[Any], mission: MissionRun, pair: Pair | None = None
) -> tuple[Limit, ...]:
    """Every limit of a mission as planned, each in the phase where the least is left of it.

    Args:
        design: a single design with a mission.
        mission: that mission on its pack.
        pair: two packs in steady flight; that share of the one that carries more is counted on.
    """
    last = mission.phases[-1]
    why = (
        ""
        if mission.completes
        else f": {mission.ends_by} in {mission.ends_in}, minute {mission.ends_min:.1f}"
    )
    charge = Limit(
        "mission_charge",
        "charge used by the mission",
        100.0 * last.end_depth_of_discharge if last.flown else float("nan"),
        100.0 - float(design.flight.reserve_pct),
        "%",
        f"The pack does not carry the mission down to its reserve{why}.",
        f"{last.label}, minute {last.end_min:.1f}",
    )
    share = 1.0 if pair is None else float(np.max(pair.share))
    others = (rule.nearest(design, mission.phases, share) for rule in MISSION_RULES)
    return (charge, *(limit for limit in others if limit is not None))


def half_mission_limits(mission: MissionRun, flights: FlightTimes | None) -> tuple[Limit, ...]:
    """Whether half of the flights complete the mission; nothing where it is not flown even as planned.

    Args:
        mission: that mission on its pack.
        flights: how long its flights last, with what the mission takes of them.
    """
    if flights is None or not np.isfinite(flights.mission_pct):
        return ()
    last = mission.phases[-1]
    where = f"{last.label}, minute {last.end_min:.1f}"
    met = RESULTS["mission_met_pct"].number(flights.mission_met_pct)
    broken = (
        "Fewer than half of the flights would complete the mission down to its reserve: "
        f"{met} in a hundred do. Shorten it, or carry a larger pack or less mass."
    )
    name = "mission in one flight in two, of what the pack gives"
    return (
        Limit("mission_half", name, flights.mission_p50_pct, 100.0, "%", broken, where, "flight"),
    )
