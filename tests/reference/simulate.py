"""A cell under any load profile, stepped in time: voltage, heat, and the first end that is reached.

    dz/dt = I / (3600 Q c(T))                      depth of discharge
    dv/dt = (I R1 - v) / tau                       voltage over the delayed part of the resistance
    C dT/dt = I (U - V - I R_joints) - (T - T_air) / resistance to the air

with V = U - v - I R0 and, under a power P, V = (E + sqrt(E^2 - 4 P R0)) / 2 where E = U - v.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from workbook.battery.derating import REFERENCE_C
from workbook.battery.heat import HeatPath
from workbook.battery.model import CellModel
from workbook.errors import InputError, Problem, refuse
from workbook.numbers import FINITE, JUST_ABOVE_0, FloatArray, Number, flat, range_problems

Kind: TypeAlias = Literal["power", "current", "rest"]

ENDS = (
    "profile flown",
    "landing voltage",
    "rest voltage",
    "reserve",
    "power out of reach",
    "too hot",
)
"""Why a simulation ended, by the number in `Simulation.end`."""

LONGEST_S = 48 * 3600.0
"""An open-ended segment is given up after this time."""

HALVINGS = 48
"""Of a step, to find the end inside it: far below a microsecond."""


@dataclass(frozen=True)
class Segment:
    """One part of a load profile, for one cell.

    Attributes:
        duration_s: how long; infinite for "until an end is reached" (the last segment only).
        kind: "power" (value in W), "current" (value in A), or "rest" (value not used).
        value: 0 or more; an array gives each design its own.
    """

    duration_s: float
    kind: Kind
    value: Number = 0.0


@dataclass(frozen=True)
class RcBranch:
    """Part of the resistance answers at once, the rest with a delay: a first-order RC branch.

    A datasheet's curves show the whole resistance R, long after the load was put on. Of it
    R1 = share x R comes late, with C1 = time_constant / R1, and R0 = R - R1 at once.

    Attributes:
        share: delayed share of the cell's own resistance, 0 to below 1.
        time_constant_s: R1 C1, above 0.
    """

    share: Number
    time_constant_s: Number


@dataclass(frozen=True)
class Until:
    """What ends a simulation. Each may be an array; an end that is None or NaN is not looked for.

    Attributes:
        landing_v: terminal voltage under load.
        rest_v: voltage at rest (of the open circuit).
        last_depth_of_discharge: depth of discharge.
        highest_c: temperature of the cell's inside.
    """

    landing_v: Number | None = None
    rest_v: Number | None = None
    last_depth_of_discharge: Number | None = 1.0
    highest_c: Number | None = None


@dataclass(frozen=True)
class Trace:
    """What was recorded, at the start, after each step and on both sides of each change of load.

    All of shape (rows, *designs). After a design's end its last row is repeated.
    """

    time_s: FloatArray
    depth_of_discharge: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    temperature_c: FloatArray


@dataclass(frozen=True)
class Simulation:
    """A simulated flight of one cell, per design.

    Attributes:
        time_s, charge_ah, energy_wh: until the end.
        end: why it ended, a number into `ENDS`.
        end_depth_of_discharge, end_v, end_a, end_open_circuit_v, end_c: at the end; `end_c` is of the inside.
        lowest_v, highest_a, highest_c, lowest_c: over the whole flight, at the recorded instants.
        trace: what was recorded, or None.
    """

    time_s: FloatArray
    charge_ah: FloatArray
    energy_wh: FloatArray
    end: NDArray[np.intp]
    end_depth_of_discharge: FloatArray
    end_v: FloatArray
    end_a: FloatArray
    end_open_circuit_v: FloatArray
    end_c: FloatArray
    lowest_v: FloatArray
    highest_a: FloatArray
    highest_c: FloatArray
    lowest_c: FloatArray
    trace: Trace | None

    def design(self, number: int) -> Simulation:
        """One of several designs, by its place in a single row of them; without the trace."""
        taken = {f.name: getattr(self, f.name)[number] for f in fields(self) if f.name != "trace"}
        return Simulation(**taken, trace=None)

    @property
    def end_text(self) -> str:
        """Why a single design ended, in words."""
        return ENDS[int(self.end)]


def simulate(
    model: CellModel,
    profile: Sequence[Segment],
    until: Until,
    *,
    heat: HeatPath | None = None,
    air_c: Number = REFERENCE_C,
    start_c: Number | None = None,
    start_depth_of_discharge: Number = 0.0,
    branch: RcBranch | None = None,
    extra_mohm: Number = 0.0,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
    cold: bool = True,
    step_s: float = 5.0,
    record: bool = True,
) -> Simulation:
    """Step one cell, or many designs of it, through a load profile until an end is reached.

    Each step is a classical fourth-order Runge-Kutta step with a cubic between its ends; an end that
    is crossed is found on that cubic, not at the step. An end that is met and left again within
    one step is not seen.

    Args:
        model: the cell.
        profile: segments, flown in order.
        until: what ends the flight before the profile does.
        heat: how the cell sheds heat; None keeps its temperature at `start_c`.
        air_c: temperature of the air.
        start_c: of the cell: None for soaked at air temperature, higher for a warmed pack.
        start_depth_of_discharge: depth of discharge at the start, 0 to 1.
        branch: delayed part of the resistance; None for none of it.
        extra_mohm: joints and leads, as seen by one cell; not touched by temperature, and their heat is
            made outside the cell.
        resistance_factor, capacity_factor: on the cell's own.
        cold: whether temperature acts on resistance and capacity.
        step_s: longest step, above 0; no longer than half a branch's time constant is used.
        record: whether to keep a trace (rows x designs numbers for each of five quantities).

    Returns:
        The simulation; all arguments broadcast.

    Raises:
        InputError: an empty profile, an argument out of its range, or no end in `LONGEST_S`.

    Source: first-order equivalent circuit with a lumped heat balance; all of I (U - V) is heat, of which
        I^2 R of joints and leads is made outside the cell.

    Example:
        >>> from workbook.battery.heat import heat_path
        >>> from workbook.files.cell_file import find_cell
        >>> cell = find_cell("Bittern")
        >>> climb_then_hover = [Segment(30.0, "power", 25.0), Segment(float("inf"), "power", 14.0)]
        >>> flight = simulate(
        ...     cell.model, climb_then_hover, Until(landing_v=3.0), heat=heat_path(cell), air_c=5.0
        ... )
        >>> print(flight.end_text, (flight.time_s / 60).round(0), flight.end_c.round(0))
        landing voltage 71.0 28.0
    """
    _check_profile(profile, step_s)
    held = 0.0 if heat is None else 1.0
    heat = heat or HeatPath(1.0, 0.0, 1.0)
    branch = branch or RcBranch(0.0, 1.0e3)
    given: dict[str, Number] = {
        "start_depth_of_discharge": start_depth_of_discharge,
        "start_c": air_c if start_c is None else start_c,
        "air_c": air_c,
        "warmed": held / np.asarray(heat.stored_j_k),
        "loss_w_k": heat.loss_w_k,
        "share": branch.share,
        "time_constant_s": branch.time_constant_s,
        "extra_mohm": extra_mohm,
        "resistance_factor": resistance_factor,
        "capacity_ah": model.capacity_ah * np.asarray(capacity_factor),
        "landing_v": _or_never(until.landing_v, -np.inf),
        "rest_v": _or_never(until.rest_v, -np.inf),
        "last_depth_of_discharge": _or_never(until.last_depth_of_discharge, 1.0),
        "highest_c": _or_never(until.highest_c, np.inf),
    }
    shape, rows = flat(*given.values(), *(part.value for part in profile))
    figures = dict(zip(given, rows, strict=False))
    refuse(range_problems({name: (figures[name], *RANGES[name]) for name in RANGES}))
    limit_s = np.inf
    if np.any(figures["share"]):
        limit_s = 0.5 * float(np.min(figures["time_constant_s"]))
    if held:
        limit_s = min(limit_s, 0.5 * float(np.min(heat.time_constant_s)))
    flight = _SteadyRun(_Designs(model, cold, **figures), min(step_s, limit_s), record)
    for part, value in zip(profile, rows[len(given) :], strict=True):
        flight.fly(part, value)
    return flight.results(shape)


def _or_never(value: Number | None, never: float) -> FloatArray:
    """An end's value, or one that is never reached where there is None or NaN."""
    values = np.asarray(np.nan if value is None else value, dtype=float)
    return np.where(np.isnan(values), never, values)


def _check_profile(profile: Sequence[Segment], step_s: float) -> None:
    problems = range_problems({"step_s": (step_s, JUST_ABOVE_0, np.inf, "above 0 s")})
    if not profile:
        problems.append(Problem("at least one segment is needed.", "profile"))
    for number, part in enumerate(profile, 1):
        where = f"profile, segment {number}"
        if part.kind not in ("power", "current", "rest"):
            right = "'power', 'current' or 'rest' is needed."
            problems.append(Problem(f"kind is {part.kind!r}; {right}", where))
        if not part.duration_s > 0 or (np.isinf(part.duration_s) and number < len(profile)):
            right = "above 0 s is needed, and only the last may be infinite."
            problems.append(Problem(f"duration is {part.duration_s:g} s; {right}", where))
        wrong = range_problems({where: (part.value, 0.0, FINITE, "0 or more")})
        problems += (Problem(f"value of {problem.what}", where) for problem in wrong)
    refuse(problems)


RANGES = {
    "start_depth_of_discharge": (0.0, 1.0, "0 to 1"),
    "last_depth_of_discharge": (0.0, 1.0, "0 to 1"),
    "start_c": (-60.0, 150.0, "-60 to 150 °C"),
    "air_c": (-60.0, 80.0, "-60 to 80 °C"),
    "share": (0.0, 0.999, "0 to 0.999"),
    "time_constant_s": (1.0e-3, np.inf, "above 0 s"),
    "extra_mohm": (0.0, np.inf, "0 mΩ or more"),
    "resistance_factor": (1.0e-9, np.inf, "above 0"),
    "capacity_ah": (1.0e-9, np.inf, "above 0 Ah"),
    "warmed": (0.0, np.inf, "a heat capacity above 0"),
    "loss_w_k": (0.0, np.inf, "0 W/K or more"),
}


@dataclass(frozen=True)
class _Terminals:
    """What is seen at the cell's ends, how much power it could still give beyond what is asked, and what
    the delayed part of its resistance tends to."""

    voltage_v: FloatArray
    current_a: FloatArray
    open_circuit_v: FloatArray
    spare: FloatArray
    late_v: Number

    @property
    def seen(self) -> FloatArray:
        """What is noted of it, one row each."""
        return np.stack([self.voltage_v, self.current_a, self.open_circuit_v])


@dataclass(frozen=True)
class _Crossing:
    """Designs that pass an end within one step, with the state and its rates at both ends of the step."""

    index: NDArray[np.intp]
    clock_s: FloatArray
    drawn: FloatArray
    state: FloatArray
    rate: FloatArray
    after: FloatArray
    rate_after: FloatArray


DEPTH, DELAYED_V, TEMPERATURE_C, CHARGE_AH, ENERGY_WH = range(5)
"""Rows of a state, an array of shape (5, designs)."""


@dataclass(frozen=True)
class _Designs:
    """The constants of each design, flat, and the equations that they stand in."""

    model: CellModel
    cold: bool
    start_depth_of_discharge: FloatArray
    start_c: FloatArray
    air_c: FloatArray
    warmed: FloatArray
    loss_w_k: FloatArray
    share: FloatArray
    time_constant_s: FloatArray
    extra_mohm: FloatArray
    resistance_factor: FloatArray
    capacity_ah: FloatArray
    landing_v: FloatArray
    rest_v: FloatArray
    last_depth_of_discharge: FloatArray
    highest_c: FloatArray

    def only(self, which: NDArray[Any]) -> _Designs:
        """Some of the designs."""
        arrays = {
            f.name: getattr(self, f.name)[which]
            for f in fields(self)
            if f.name not in ("model", "cold")
        }
        return replace(self, **arrays)

    @cached_property
    def delayed(self) -> bool:
        """Whether part of any resistance answers late."""
        return bool(np.any(self.share))

    def terminals(self, state: FloatArray, kind: Kind, value: FloatArray) -> _Terminals:
        """Voltage and current; where the power is out of reach, those of the most that there is."""
        u, mohm = self.model.voltage_and_resistance_at(state[DEPTH])
        driving = u - state[DELAYED_V]
        if kind == "rest":
            return _Terminals(driving, np.zeros_like(driving), u, np.ones_like(driving), 0.0)
        own = mohm * self.resistance_factor / 1000.0
        if self.cold:
            own = own * self.model.resistance_factor_at(state[TEMPERATURE_C])
        ohm = own * (1.0 - self.share) + self.extra_mohm / 1000.0
        if kind == "current":
            volts, amps, spare = driving - value * ohm, value, np.ones_like(driving)
        else:
            spare = driving**2 - 4.0 * value * ohm
            volts = 0.5 * (driving + np.sqrt(np.maximum(spare, 0.0)))
            # the current that goes with this voltage, also where the power is out of reach
            amps = np.minimum(value / volts, driving / (2.0 * ohm))
        return _Terminals(volts, amps, u, spare, amps * self.share * own if self.delayed else 0.0)

    def rates(self, state: FloatArray, at: _Terminals) -> FloatArray:
        """d(state)/dt, what is seen at the ends being known."""
        usable = self.capacity_ah
        if self.cold:
            usable = usable * self.model.capacity_factor_at(state[TEMPERATURE_C], at.current_a)
        amps = at.current_a / 3600.0
        outside_v = at.current_a * self.extra_mohm / 1000.0
        made_w = at.current_a * (at.open_circuit_v - at.voltage_v - outside_v)
        shed_w = (state[TEMPERATURE_C] - self.air_c) * self.loss_w_k
        change = np.empty_like(state)
        change[DEPTH] = amps / usable
        change[DELAYED_V] = (at.late_v - state[DELAYED_V]) / self.time_constant_s
        change[TEMPERATURE_C] = (made_w - shed_w) * self.warmed
        change[CHARGE_AH] = amps
        change[ENERGY_WH] = amps * at.voltage_v
        return change

    def margins(self, state: FloatArray, at: _Terminals) -> FloatArray:
        """How far each end in `ENDS`, from the second on, still is; below 0 when it is passed."""
        left = np.empty_like(state)
        left[0] = at.voltage_v - self.landing_v
        left[1] = at.open_circuit_v - self.rest_v
        left[2] = self.last_depth_of_discharge - state[DEPTH]
        left[3] = at.spare
        left[4] = self.highest_c - state[TEMPERATURE_C]
        return left


class _SteadyRun:
    """The designs under way: those that have ended keep their last state."""

    def __init__(self, designs: _Designs, step_s: float, record: bool) -> None:
        count = designs.start_depth_of_discharge.size
        self.designs = self.live = designs
        self.step_s = step_s
        self.record = record
        self.clock_s = 0.0
        self.index = np.arange(count)
        self.state = np.zeros((5, count))
        self.state[DEPTH], self.state[TEMPERATURE_C] = (
            designs.start_depth_of_discharge,
            designs.start_c,
        )
        self.time_s = np.zeros(count)
        self.end = np.zeros(count, dtype=np.intp)
        self.seen = np.zeros((3, count))  # voltage, current, open-circuit voltage
        self.lowest_v = np.full(count, np.inf)
        self.highest_a = np.zeros(count)
        self.highest_c = np.full(count, -np.inf)
        self.lowest_c = np.full(count, np.inf)
        self.rows: list[FloatArray] = []

    def fly(self, part: Segment, value: FloatArray) -> None:
        """Step through one segment."""
        endless = bool(np.isinf(part.duration_s))
        steps = int(np.ceil((LONGEST_S if endless else part.duration_s) / self.step_s - 1e-9))
        h = self.step_s if endless else part.duration_s / steps
        kind, drawn = part.kind, value[self.index]
        state = self.state[:, self.index]
        at = self.live.terminals(state, kind, drawn)
        rate, passed = self.live.rates(state, at), self.live.margins(state, at) < 0.0
        self._note(self.index, self.clock_s, state, at.seen)
        self._add_row()
        over = np.asarray(passed.any(axis=0))
        if over.any():
            self.end[self.index[over]] = 1 + passed[:, over].argmax(axis=0)
            drawn, state, rate = self._leave(over, drawn, state, rate)
        crossings: list[_Crossing] = []
        for _ in range(steps):
            if not self.index.size:
                break
            after = self._stepped(kind, drawn, h, state, rate)
            at = self.live.terminals(after, kind, drawn)
            rate_after, seen = self.live.rates(after, at), at.seen
            over = np.asarray((self.live.margins(after, at) < 0.0).any(axis=0))
            if over.any():
                step = (part[..., over] for part in (drawn, state, rate, after, rate_after))
                ended = self.index[over]
                crossings.append(_Crossing(ended, np.full(ended.size, self.clock_s), *step))
                drawn, after, rate_after, seen = self._leave(over, drawn, after, rate_after, seen)
            self.clock_s += h
            self._note(self.index, self.clock_s, after, seen)
            if self.record:  # a row of the trace has the ends that are met by then
                self._close(kind, h, crossings)
                self._add_row()
            state, rate = after, rate_after
        self._close(kind, h, crossings)
        if endless and self.index.size:
            hours = LONGEST_S / 3600.0
            raise InputError(f"No end is reached in {hours:g} h; the last segment needs a load.")

    def _stepped(
        self, kind: Kind, drawn: FloatArray, h: float, state: FloatArray, rate: FloatArray
    ) -> FloatArray:
        """One classical Runge-Kutta step."""

        def slope(there: FloatArray) -> FloatArray:
            return self.live.rates(there, self.live.terminals(there, kind, drawn))

        k2 = slope(state + 0.5 * h * rate)
        k3 = slope(state + 0.5 * h * k2)
        k4 = slope(state + h * k3)
        return np.asarray(state + h / 6.0 * (rate + 2.0 * k2 + 2.0 * k3 + k4))

    def _leave(self, over: NDArray[np.bool_], *arrays: FloatArray) -> tuple[FloatArray, ...]:
        """Go on without some designs; what is left of arrays of all."""
        on = ~over
        self.index, self.live = self.index[on], self.live.only(on)
        return tuple(array[..., on] for array in arrays)

    def _note(
        self, index: NDArray[np.intp], time_s: Number, state: FloatArray, seen: FloatArray
    ) -> None:
        """Note where some designs have come to."""
        at: Any = slice(None) if index.size == self.time_s.size else index
        self.state[:, at], self.seen[:, at], self.time_s[at] = state, seen, time_s
        self.lowest_v[at] = np.minimum(self.lowest_v[at], seen[0])
        self.highest_a[at] = np.maximum(self.highest_a[at], seen[1])
        self.highest_c[at] = np.maximum(self.highest_c[at], state[TEMPERATURE_C])
        self.lowest_c[at] = np.minimum(self.lowest_c[at], state[TEMPERATURE_C])

    def _close(self, kind: Kind, h: float, crossings: list[_Crossing]) -> None:
        """Find the ends within the steps in which they were passed, all at once."""
        if not crossings:
            return
        names = [f.name for f in fields(_Crossing)]
        rows = [[getattr(one, name) for one in crossings] for name in names]
        found = _Crossing(*(np.concatenate(row, axis=-1) for row in rows))
        crossings.clear()
        designs = self.designs.only(found.index)
        part, state, passed = _first_passed(designs, kind, h, found)
        at = designs.terminals(state, kind, found.drawn)
        # each by its own index: where all end at once, they are not in the order of the designs
        order = np.argsort(found.index)
        self._note(
            found.index[order],
            (found.clock_s + part * h)[order],
            state[:, order],
            at.seen[:, order],
        )
        self.end[found.index] = 1 + passed.argmax(axis=0)

    def _add_row(self) -> None:
        """Add where all designs have come to to the trace."""
        if self.record and self.time_s.size:
            seen = (self.state[DEPTH], self.seen[0], self.seen[1], self.state[TEMPERATURE_C])
            self.rows.append(np.stack([self.time_s, *seen]))

    def results(self, shape: tuple[int, ...]) -> Simulation:
        """The results in the callers' shape."""

        def shaped(a: FloatArray) -> FloatArray:
            return np.asarray(a.reshape(shape))[()]

        trace = None
        if self.record:
            rows = np.stack(self.rows, axis=1)
            trace = Trace(*(a.reshape(a.shape[0], *shape) for a in rows))
        return Simulation(
            time_s=shaped(self.time_s),
            charge_ah=shaped(self.state[CHARGE_AH]),
            energy_wh=shaped(self.state[ENERGY_WH]),
            end=np.asarray(self.end.reshape(shape))[()],
            end_depth_of_discharge=shaped(self.state[DEPTH]),
            end_v=shaped(self.seen[0]),
            end_a=shaped(self.seen[1]),
            end_open_circuit_v=shaped(self.seen[2]),
            end_c=shaped(self.state[TEMPERATURE_C]),
            lowest_v=shaped(self.lowest_v),
            highest_a=shaped(self.highest_a),
            highest_c=shaped(self.highest_c),
            lowest_c=shaped(self.lowest_c),
            trace=trace,
        )


def _first_passed(
    designs: _Designs, kind: Kind, h: float, step: _Crossing
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Part of the step at which an end is first passed, the state there, and which ends are.

    Source: cubic Hermite interpolation between the ends of the step, halved until nothing is left.
    """

    def at(part: FloatArray) -> FloatArray:
        far = part * part * (3.0 - 2.0 * part)
        slopes = part * (1.0 - part) * ((1.0 - part) * step.rate - part * step.rate_after)
        return (1.0 - far) * step.state + far * step.after + h * slopes

    def passed(there: FloatArray) -> NDArray[np.bool_]:
        return designs.margins(there, designs.terminals(there, kind, step.drawn)) < 0.0

    low, high = np.zeros(step.drawn.size), np.ones(step.drawn.size)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        beyond = passed(at(middle)).any(axis=0)
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    there = at(high)
    return high, there, passed(there)
