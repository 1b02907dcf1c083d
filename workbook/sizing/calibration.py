"""What a known flight says of the plan: the flight factor of a multirotor, the cruise power of a fixed wing.

A builder knows how long the craft hovers on a pack and what the charger puts back, or reads watts or amperes
in flight. From that follow the power that the flight took, what it takes over the thrust table or the polar,
and how sure that is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.battery.discharge import constant_power
from workbook.battery.pack import Pack
from workbook.errors import InputError, Problem, refuse
from workbook.notices import notice
from workbook.numbers import FloatArray
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design, Origin
from workbook.sizing.operating_point import CraftLoad
from workbook.working import Step, step

COVERAGE = 1.96
"""Of an interval that holds the truth 95 times in 100; JCGM 100:2008, 6.3."""

EMPTY_V = 1.0
"""A landing voltage that no discharge meets before its charge is out."""


@dataclass(frozen=True)
class Readings:
    """How far off what is written down may be: half of an interval that holds the truth 95 times in 100.

    Attributes:
        time_s: take-off, landing and the stopwatch.
        charge_pct: what the charger counts, and that it stops where the flight began.
        energy_pct: mean voltage of the pack in flight, where only its charge was counted.
        power_pct: a power meter or the autopilot's watts.
        current_pct, voltage_pct: a current sensor and a voltage read in flight.
        mass_pct: the kitchen scale.
        avionics_pct: the electronics' watts.
        steadiness_pct: one flight against the next: air that moves, hands that correct.

    Source: common practice, no source.
    """

    time_s: float = 15.0
    charge_pct: float = 3.0
    energy_pct: float = 2.0
    power_pct: float = 4.0
    current_pct: float = 4.0
    voltage_pct: float = 1.0
    mass_pct: float = 0.5
    avionics_pct: float = 20.0
    steadiness_pct: float = 3.0


@dataclass(frozen=True)
class TestFlight:
    """One steady flight in calm air, as written down: minutes and Ah, or watts, or amperes and volts.

    Attributes:
        mass_g: all-up mass as flown, above 0.
        pack: the pack flown, full at the start; needed with `charge_ah`.
        time_min, charge_ah: minutes in the air, and what went back into the pack.
        power_w: mean of the pack in flight.
        current_a, voltage_v: mean of the pack in flight.
        airspeed_m_s: of a fixed wing.
    """

    __test__ = False  # no test of pytest's

    mass_g: float
    pack: Pack | None = None
    time_min: float | None = None
    charge_ah: float | None = None
    power_w: float | None = None
    current_a: float | None = None
    voltage_v: float | None = None
    airspeed_m_s: float | None = None

    def measured_w(self) -> float:
        """Mean power of the pack in flight, W.

        Raises:
            InputError: none of the three ways is given in full, or more than one; a figure that is not
                above 0; more charge than the pack has.

        Source: energy over time; the energy of a charge by the pack's own voltage under that power.

        Example:
            >>> round(TestFlight(2000.0, current_a=20.0, voltage_v=15.0).measured_w())
            300
        """
        problems = [
            Problem(f"{value:g} is not possible; more than 0 is needed.", name)
            for name, value in vars(self).items()
            if isinstance(value, int | float) and not (np.isfinite(value) and value > 0)
        ]
        refuse(problems)
        if self.ways != 1:
            raise InputError(
                "Describe a test flight in one way: minutes and Ah put back, or watts, or amperes and "
                f"volts; {self.ways or 'none'} of them {'is' if self.ways < 2 else 'are'} given."
            )
        if self.power_w is not None:
            return self.power_w
        if self.current_a is not None and self.voltage_v is not None:
            return self.current_a * self.voltage_v
        return self._drained_w()

    @property
    def ways(self) -> int:
        """In how many ways it is given in full."""
        pairs = ((self.time_min, self.charge_ah), (self.power_w,), (self.current_a, self.voltage_v))
        return sum(all(value is not None for value in pair) for pair in pairs)

    def _drained_w(self) -> float:
        """Constant power that takes the charge in the time."""
        pack, time_min, charge_ah = self.pack, self.time_min, self.charge_ah
        if pack is None or time_min is None or charge_ah is None:
            raise InputError("minutes and Ah need the pack that was flown beside them.")
        whole_ah = float(pack.parallel * pack.cell.model.capacity_ah)
        if charge_ah > whole_ah:
            raise InputError(
                f"{charge_ah:g} Ah cannot come out of a pack of {whole_ah:.3g} Ah; what was put "
                "back after one flight is needed.",
                "charge_ah",
            )
        power_w = charge_ah * float(pack.nominal_v) / (time_min / 60.0)
        for _ in range(50):
            run = constant_power(
                pack.cell.model,
                power_w / pack.cells,
                EMPTY_V,
                charge_ah / whole_ah,
                extra_mohm=pack.joint_mohm_per_cell,
            )
            new_w = float(run.energy_wh * pack.cells) / (time_min / 60.0)
            if run.infeasible or not np.isfinite(new_w):
                raise InputError(
                    f"{pack.cell.name} cannot give {charge_ah:g} Ah in {time_min:g} min.",
                    "time_min",
                )
            if abs(new_w - power_w) <= 1e-9 * power_w:
                break
            power_w = new_w
        return power_w

    @property
    def written(self) -> str:
        """What was written down, in words."""
        if self.power_w is not None:
            return f"{self.power_w:g} W as read"
        if self.current_a is not None:
            return f"{self.current_a:g} A x {self.voltage_v:g} V"
        return f"{self.charge_ah:g} Ah in {self.time_min:g} min, at the pack's own voltage"

    def spread_pct(self, errors: Readings) -> tuple[float, float]:
        """How far off its power may be, percent: by its instruments, and by this flight alone.

        Args:
            errors: how far off each reading may be.

        Source: first-order propagation of independent errors, JCGM 100:2008, 5.1.2.
        """
        if self.power_w is not None:
            return errors.power_pct, errors.steadiness_pct
        if self.current_a is not None:
            return float(np.hypot(errors.current_pct, errors.voltage_pct)), errors.steadiness_pct
        time_pct = 100.0 * errors.time_s / (60.0 * (self.time_min or np.nan))
        return (
            float(np.hypot(errors.charge_pct, errors.energy_pct)),
            float(np.hypot(time_pct, errors.steadiness_pct)),
        )


@dataclass(frozen=True)
class Calibration:
    """What the test flights say of a design.

    Attributes:
        design: the design that was held against them.
        flights: the flights.
        loads: the craft as it flew each.
        measured_w: power of each flight, shape (flights,).
        bench_w: what the motors would take of each by the bench or the plan, shape (flights,).
        ratio: watts of the motors in flight over those, all flights together.
        uncertainty: of the ratio, half the interval that holds the truth 95 times in 100.
        shares_pct: by name, each cause's part of the uncertainty's square.
    """

    design: Design[Any]
    flights: tuple[TestFlight, ...]
    loads: tuple[CraftLoad[Any], ...]
    measured_w: FloatArray
    bench_w: FloatArray
    ratio: float
    uncertainty: float
    shares_pct: dict[str, float]

    @property
    def ratios(self) -> FloatArray:
        """Of each flight by itself."""
        return np.asarray((self.measured_w - self.design.craft.avionics_w) / self.bench_w)

    @property
    def doubts(self) -> tuple[str, ...]:
        """What is implausible about it, a sentence each."""
        words = []
        least, most = craft_type_of(self.design).likely
        if self.ratio + self.uncertainty < least:
            words.append(notice("test_flights", "little", ratio=self.ratio, least=least))
        if self.ratio - self.uncertainty > most:
            words.append(notice("test_flights", "much", ratio=self.ratio, most=most))
        apart_pct = 100.0 * float(np.ptp(self.ratios)) / self.ratio
        if apart_pct > APART_PCT:
            words.append(notice("test_flights", "differ", apart_pct=apart_pct))
        return tuple(words)

    @property
    def changes(self) -> dict[str, float]:
        """Keys of the design file's craft that the flights set, with their values."""
        speed = self.flights[0].airspeed_m_s or 0.0
        return craft_type_of(self.design).calibrated(self.loads[0], speed, self.ratio)

    @property
    def origin(self) -> Origin:
        """The origin that belongs to the figure it sets."""
        count = len(self.flights)
        note = "a test flight" if count == 1 else f"{count} test flights"
        pct = round(100.0 * self.uncertainty / self.ratio, 1)
        return Origin(next(iter(self.changes)), "measured", pct, note)

    def text(self) -> str:
        """In a sentence, with its uncertainty and what makes most of it."""
        most = max(self.shares_pct, key=lambda name: self.shares_pct[name])
        return (
            f"In flight the motors take {self.ratio:.2f} ± {self.uncertainty:.2f} times their power by the figures "
            f"(95 in 100); most of the uncertainty comes from {most}."
        )

    def working(self) -> tuple[Step, ...]:
        """From the flights to the ratio."""
        avionics_w = self.design.craft.avionics_w
        own = (
            step(
                "steady_power_w",
                taken_w,
                steady=craft_type_of(self.design).steady,
                number=number,
                flight=flight,
            )
            for number, (flight, taken_w) in enumerate(
                zip(self.flights, self.measured_w, strict=True), 1
            )
        )
        return (
            *own,
            step(
                "flight_factor",
                self.ratio,
                found=self,
                avionics_w=avionics_w,
                together=", all flights weighed together" if len(self.flights) > 1 else "",
            ),
        )


APART_PCT = 12.0
"""Steady flights of one craft do not differ by more. Source: common practice, no source."""


def calibrate(
    design: Design[Any], flights: Sequence[TestFlight], errors: Readings | None = None
) -> Calibration:
    """Hold test flights against a design.

    What flights share (the charger, the scale, the electronics' watts) does not average out over them; what
    differs from flight to flight does. An error of the thrust table is part of what is found: use it with
    the same table.

    Args:
        design: the design; its craft is the one that flew, in calm air at its field height.
        flights: one or more, flown steadily: hover of a multirotor, cruise of a fixed wing.
        errors: how far off the readings may be; what is usual where left out.

    Raises:
        InputError: no flight; one that cannot be used (see `TestFlight.measured_w`), or that the craft
            cannot fly by its thrust table or polar; a power that the electronics alone exceed.

    Source: least squares with errors in common, JCGM 100:2008, 5.1.2 and 5.2; power as thrust^1.5,
        momentum theory.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> found = calibrate(six, [TestFlight(3462.0, six.today.pack, 21.0, 5.6)])
        >>> 1.0 < found.ratio - found.uncertainty < found.ratio < 1.4
        True
    """
    if not flights:
        raise InputError("no test flight is given; one at least is needed.")
    errors = errors or Readings()
    loads = tuple(_as_flown(design, flight) for flight in flights)
    measured = np.array([flight.measured_w() for flight in flights])
    avionics_w = design.craft.avionics_w
    if np.any(measured <= avionics_w):
        raise InputError(
            f"a flight took {measured.min():.0f} W, no more than the electronics alone "
            f"({avionics_w:g} W); the power of the whole pack is needed."
        )
    bench = np.array([_bench_w(design, *pair) for pair in zip(flights, loads, strict=True)])
    motors = measured - avionics_w
    gain = measured / motors  # a percent of the power, in percent of the ratio
    shared, alone = gain * np.array([flight.spread_pct(errors) for flight in flights]).T
    weights = alone**-2.0 / np.sum(alone**-2.0)
    causes = {
        "the instruments": weights @ shared,
        "the mass": 1.5 * errors.mass_pct,
        "the electronics' watts": errors.avionics_pct * avionics_w / (weights @ motors),
        "single flights": np.sqrt(np.sum((weights * alone) ** 2)),
    }
    total = np.sqrt(sum(part**2 for part in causes.values()))
    ratio = float(weights @ (motors / bench))
    return Calibration(
        design,
        tuple(flights),
        loads,
        measured,
        bench,
        ratio,
        ratio * float(total) / 100.0,
        {name: float(100.0 * (part / total) ** 2) for name, part in causes.items()},
    )


def _as_flown(design: Design[Any], flight: TestFlight) -> CraftLoad[Any]:
    """The craft with the mass of a test flight."""
    rest_g = flight.mass_g - design.craft.all_up_mass_g(design.pack.mass_g)
    flown = replace(design, today=None, mission=()).changed(
        payload_g=design.craft.payload_g + rest_g
    )
    return craft_type_of(design).load(flown)


def _bench_w(design: Design[Any], flight: TestFlight, load: CraftLoad[Any]) -> float:
    """What the motors would take of a flight by the bench or the plan, without a flight factor."""
    craft_type = craft_type_of(design)
    if craft_type.test_airspeed and flight.airspeed_m_s is None:
        raise InputError(f"a test flight of a {craft_type.name} needs its airspeed.")
    power_w = craft_type.test_flight_w(load, flight.airspeed_m_s or 0.0)
    if np.isnan(power_w):
        speed = f" and {flight.airspeed_m_s:g} m/s" if flight.airspeed_m_s else ""
        raise InputError(
            f"at {flight.mass_g:g} g{speed} the craft does not fly by its figures; the all-up mass "
            "in grams as flown is needed."
        )
    factor = getattr(design.craft, "flight_factor", 1.0)
    return float((power_w - design.craft.avionics_w) / factor)
