"""The plan corrected by flights: what craft and pack take and give, from the plan as prior and the flights as evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from workbook.errors import InputError
from workbook.files.design_file import (
    MEASURED_IN_FLIGHT,
    DesignFile,
    corrected_design,
    without_measured,
)
from workbook.files.design_parts import MeasuredPart
from workbook.flightlog.comparison import FlightComparison, compare_flight
from workbook.flightlog.log import FlightLog
from workbook.flightlog.slip import ChargerSlip
from workbook.numbers import FloatArray, Side, in_digits, rounded
from workbook.quantities import INPUTS
from workbook.sizing.calibration import APART_PCT, COVERAGE, Readings
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import PACK_CAPACITY_RANGE, PACK_RESISTANCE_RANGE, Design

POWER, AVIONICS, RESISTANCE, CAPACITY = range(4)
"""What is corrected: factors on the motors' watts, on the electronics', on resistance and charge of the cells."""
FACTOR_PRIORS: dict[int, tuple[str, float, tuple[str, ...]]] = {
    POWER: ("watts of the motors over the plan's", 20.0, ("flight_factor", "cruise_power_w")),
    AVIONICS: ("electronics at rest", 30.0, ("avionics_w",)),
    RESISTANCE: ("resistance of the cells over the plan's", 50.0, ("pack_resistance_factor",)),
    CAPACITY: ("usable charge of the cells over the plan's", 6.0, ("pack_capacity_factor",)),
}
"""Of each its label, how far off the plan may be before any flight (percent, 95 times in 100) where the design does not
state it, and under which keys it does. Common practice, no source."""
LEARNT_PCT = 20.0
"""Of the variance that the plan leaves: a figure of which the flights take away less stays as planned."""
LEAST_SHARE = 0.1
"""Of a plan's figure that flights may leave of it; less is a slip, as a flight of another craft."""
CLIPPED_SHARE = 0.01
"""Share by which a figure put into the plan differs from that of the flights only where theirs is impossible."""
ALIKE_CORRELATION = 0.75
"""Correlation from which on two figures cannot be distinguished."""


@dataclass(frozen=True)
class CorrectedFigure:
    """One figure before and after.

    Attributes:
        key: as [measured] has it.
        label: in words.
        before, before_off: by the plan, and half of its interval of 95 in 100.
        after, after_off: by plan and flights together.
        learnt_pct: share of the plan's variance that the flights took away.
        used: whether it is put into the plan.
    """

    key: str
    label: str
    before: float
    before_off: float
    after: float
    after_off: float
    learnt_pct: float
    used: bool

    @property
    def text(self) -> str:
        """In a sentence."""
        text = (
            f"{self.label}: {in_digits(self.after)} ± {in_digits(self.after_off, 2)} (planned {in_digits(self.before)} ± "
            f"{in_digits(self.before_off, 2)})"
        )
        return (
            f"{text}."
            if self.used
            else f"{text}; the flights say little of it, and the plan's figure stays."
        )


@dataclass(frozen=True, eq=False)
class Correction:
    """A plan corrected by flights.

    Attributes:
        design: before.
        corrected: after.
        figures: what was looked at.
        ambiguities: figures that the flights cannot distinguish, a sentence each.
        doubts: flights that do not agree, and figures that no craft or pack can have, a sentence each; a person
            reads them before the plan is changed.
        changes: keys of [measured] with their values.
        flights: how many.
    """

    design: Design[Any]
    corrected: Design[Any]
    figures: tuple[CorrectedFigure, ...]
    ambiguities: tuple[str, ...]
    doubts: tuple[str, ...]
    changes: dict[str, float]
    flights: int

    @property
    def part(self) -> MeasuredPart:
        """The part [measured] of a design file; see `workbook.files.design_file.with_measured`."""
        return MeasuredPart(**self.changes, flights=self.flights)  # type: ignore[arg-type]

    def text(self) -> str:
        """In lines."""
        many = f"{self.flights} flight{'s' if self.flights > 1 else ''}"
        lines = [
            f"{self.design.name}, corrected by {many}",
            *(f"- {figure.text}" for figure in self.figures),
        ]
        return "\n".join(
            [*lines, *(f"- {sentence}" for sentence in (*self.doubts, *self.ambiguities))]
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "design": self.design.name,
            "flights": self.flights,
            "figures": [vars(figure) for figure in self.figures],
            "told_apart": list(self.ambiguities),
            "doubts": list(self.doubts),
            "measured": self.changes,
        }


def correct(design: Design[Any], comparisons: Sequence[FlightComparison]) -> Correction:
    """Correct a plan by flights held against it.

    Flights read with the same instruments share their error, which does not average out. A figure of which
    the flights show little stays as planned. Resistance is put on the cells: cells and joints cannot be distinguished
    in flight.

    Args:
        design: the plan that the flights were held against.
        comparisons: one or more.

    Raises:
        InputError: no flight, or flights of another craft or pack.

    Source: least squares with the plan as prior (JCGM 102:2011; Gauss-Markov), uncertainty from its normal matrix.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> from workbook.flightlog.comparison import compare_flight
        >>> from workbook.flightlog.slip import ChargerSlip
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> found = correct(six, [compare_flight(six, ChargerSlip(21.0, 8.0))])
        >>> 1.2 < found.corrected.craft.flight_factor < 1.45
        True
    """
    if not comparisons:
        raise InputError("no flight is given; one at least is needed.")
    for number, found in enumerate(comparisons, 1):
        if found.design.pack != design.pack or found.design.craft.name != design.craft.name:
            raise InputError(
                f"flight {number} was compared with another craft or pack; only its own can be corrected."
            )
    prior = _prior(design)
    factors, covariance = _solved(design, comparisons, prior)
    off = COVERAGE * np.sqrt(np.diag(covariance))
    learnt = 100.0 * (1.0 - np.diag(covariance)[:4] / (prior / COVERAGE) ** 2)
    used = learnt >= LEARNT_PCT
    figures = _figures(design, factors, off, prior, learnt, used)
    ratios = np.array([one.steady_w / one.motors_w for one in comparisons])
    apart_pct = 100.0 * float(np.ptp(ratios) / ratios.mean())
    disagree = (
        f"The flights differ by {apart_pct:.0f} % in power, more than steady flights do: look for the one in wind, of "
        "another mass, or of another craft, and leave it out.",
    )
    changes = _changes(design, comparisons[0], figures)
    corrected = corrected_design(design, changes)
    doubts = (*(disagree if apart_pct > APART_PCT else ()), *_cannot_be(figures, changes))
    logged = any(isinstance(found.flown, FlightLog) for found in comparisons)
    ambiguities = _alike(covariance, used, logged=logged)
    return Correction(design, corrected, figures, ambiguities, doubts, changes, len(comparisons))


def _cannot_be(figures: Sequence[CorrectedFigure], changes: dict[str, float]) -> tuple[str, ...]:
    """Figures of the flights that no craft or pack can have, a sentence each."""
    return tuple(
        f"{figure.label}: {in_digits(figure.after)} is not possible, and {changes[figure.key]:g} is taken. Look for another "
        "craft or pack, or a sensor that is not set, before you believe the rest."
        for figure in figures
        if figure.key in ("flight_factor", "pack_resistance_factor", "pack_capacity_factor")
        and abs(changes.get(figure.key, figure.after) / figure.after - 1.0) > CLIPPED_SHARE
    )


def correct_file(
    file: DesignFile, flown: Sequence[FlightLog | ChargerSlip], **conditions: Any
) -> Correction:
    """Correct the plan of a design file by flights: the plan without what it has in [measured] already.

    Args:
        file: the design as read.
        flown: logs and slips.
        conditions: as `workbook.flightlog.comparison.compare_flight` takes it.

    Raises:
        InputError: as `compare_flight` and `correct`.
    """
    base = file.with_part(without_measured(file.part)).design
    return correct(base, [compare_flight(base, one, **conditions) for one in flown])


def _prior(design: Design[Any]) -> FloatArray:
    """How far off each factor may be before the flights, as a share, 95 times in 100."""
    stated = {
        o.key: o.uncertainty_pct
        for o in design.origins
        if o.origin == "measured" and o.uncertainty_pct
    }
    offs = [
        next((stated[key] for key in keys if key in stated), usual_pct)
        for _, usual_pct, keys in FACTOR_PRIORS.values()
    ]
    return np.array(offs) / 100.0


def _solved(
    design: Design[Any], flights: Sequence[FlightComparison], prior: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The four factors and their covariance.

    Beside them the instruments' errors are looked for: scale of current and of voltage of the logs, and of the slips.
    """
    from scipy.optimize import least_squares

    logs = [one for one in flights if isinstance(one.flown, FlightLog)]
    slips = [one for one in flights if isinstance(one.flown, ChargerSlip)]
    readings = logs[0].readings if logs else Readings()
    slip_pct = slips[0].measures.gain_pct if slips else readings.charge_pct
    gains = (
        np.array([readings.current_pct, readings.voltage_pct, slip_pct, 1.5 * Readings.mass_pct])
        / 100.0
    )
    width = np.concatenate([prior, np.maximum(gains, 1e-6)]) / COVERAGE
    factor, avionics_w = (
        float(getattr(design.craft, "flight_factor", 1.0)),
        float(design.craft.avionics_w),
    )
    known = [(one, one in logs, *_whitened(one)) for one in flights]

    def residual(unknowns: FloatArray) -> FloatArray:
        power, own, ohm, charge = 1.0 + unknowns[:4]
        parts = [unknowns / width]
        for one, logged, factors, whiten in known:
            amps, volts = (unknowns[4], unknowns[5]) if logged else (unknowns[6], 0.0)
            scale = (1.0 + amps) * (1.0 + volts)
            expected = (
                one.motors_w * factor * power * (1.0 + unknowns[7]) + avionics_w * own
            ) * scale
            measures = one.measures
            off_pct = 100.0 * (one.steady_w / expected - 1.0)
            parts.append(np.array([off_pct * COVERAGE / measures.alone_pct]))
            rest_w = measures.rest_power_w
            if np.isfinite(rest_w.value) and rest_w.uncertainty > 0:
                parts.append(
                    np.array([(rest_w.value - avionics_w * own) * COVERAGE / rest_w.uncertainty])
                )
            seen = np.array([ohm, charge])
            if logged:
                seen = np.array([ohm * (1.0 + volts) / (1.0 + amps), charge * (1.0 + amps)])
            away = factors - seen
            parts.append(whiten @ away[np.isfinite(away)])
        return np.concatenate(parts)

    found = least_squares(residual, np.zeros(8), x_scale=width)
    return found.x, np.linalg.inv(found.jac.T @ found.jac)


def _whitened(one: FlightComparison) -> tuple[FloatArray, FloatArray]:
    """The factors of a flight's pack, and what makes them independent, each with a standard deviation of 1."""
    factors, covariance = one.measures.pack_factors
    known = np.isfinite(factors)
    if not known.any():
        return factors, np.zeros((0, 0))
    return factors, np.linalg.inv(np.linalg.cholesky(covariance[np.ix_(known, known)]))


def _figures(
    design: Design[Any],
    factors: FloatArray,
    off: FloatArray,
    prior: FloatArray,
    learnt: FloatArray,
    used: np.ndarray,
) -> tuple[CorrectedFigure, ...]:
    """Before and after, in the design's own figures."""
    craft_key = craft_type_of(design).measured_in_flight[0]
    factor = float(getattr(design.craft, "flight_factor", 1.0))
    flight = design.flight
    before = {
        POWER: (craft_key, factor),
        AVIONICS: ("avionics_w", float(design.craft.avionics_w)),
        RESISTANCE: ("pack_resistance_factor", float(flight.pack_resistance_factor)),
        CAPACITY: ("pack_capacity_factor", float(flight.pack_capacity_factor)),
    }
    return tuple(
        CorrectedFigure(
            key=key,
            label=INPUTS[key].label if key == "flight_factor" else FACTOR_PRIORS[which][0],
            before=value,
            before_off=value * float(prior[which]),
            after=value * float(1.0 + factors[which]),
            after_off=value * float(off[which]),
            learnt_pct=float(max(learnt[which], 0.0)),
            used=bool(used[which]),
        )
        for which, (key, value) in before.items()
    )


CORRECTED_RANGES: dict[str, tuple[float, float, int, Side]] = {
    "avionics_w": (0.0, np.inf, 1, "up"),
    "pack_resistance_factor": (*PACK_RESISTANCE_RANGE, 3, "up"),
    "pack_capacity_factor": (*PACK_CAPACITY_RANGE, 3, "down"),
}
"""Least and most that a figure may be, its decimals, and the side to which it is rounded."""


def _changes(
    design: Design[Any], first: FlightComparison, figures: Sequence[CorrectedFigure]
) -> dict[str, float]:
    """What is used, by the keys of [measured]; how far off it may be is no more than all of it."""
    craft_type, changes = craft_type_of(design), dict[str, float]()
    for figure in (figure for figure in figures if figure.used):
        key, value = figure.key, max(figure.after, LEAST_SHARE * figure.before)
        if key in CORRECTED_RANGES:
            least, most, decimals, side = CORRECTED_RANGES[key]
            value = rounded(float(np.clip(value, least, most)), decimals, side)
            changes[key] = value
        else:
            load, speed_m_s = craft_type.load(first.design), first.airspeed_m_s or 0.0
            changes |= craft_type.calibrated(load, speed_m_s, value)
        if key == "flight_factor":  # less than the bench is no craft's
            may_be = INPUTS[key]
            changes[key] = float(np.clip(changes[key], may_be.least, may_be.most))
        off_pct = rounded(100.0 * figure.after_off / value, 1, "up")
        changes[MEASURED_IN_FLIGHT[key][0]] = min(off_pct, 100.0)
    return changes


def _alike(covariance: FloatArray, used: np.ndarray, *, logged: bool) -> tuple[str, ...]:
    """Figures that the flights cannot distinguish, a sentence each."""
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    sentences = []
    for one, other in combinations(range(4), 2):
        if abs(correlation[one, other]) > ALIKE_CORRELATION and (used[one] or used[other]):
            more = "less" if correlation[one, other] < 0 else "more"
            sentences.append(
                f"More of the {FACTOR_PRIORS[one][0]} and {more} of the {FACTOR_PRIORS[other][0]} would explain the flights as well; they "
                "cannot be told apart."
            )
    if abs(correlation[POWER, 4]) > ALIKE_CORRELATION and logged:
        sentences.append(
            "How much the motors take and how the current sensor is scaled cannot be told apart: check the sensor by what "
            "the charger puts back."
        )
    if used[RESISTANCE]:
        sentences.append(
            "Cells and joints cannot be told apart in flight; the resistance is put on the cells."
        )
    return tuple(sentences)
