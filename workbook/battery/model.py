"""Open-circuit voltage and resistance over depth of discharge, identified from datasheet curves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from workbook.battery.derating import (
    REFERENCE_C,
    TemperatureFit,
    capacity_at_temperature,
    resistance_at_temperature,
)
from workbook.errors import InputError
from workbook.numbers import FloatArray, Number
from workbook.units import with_unit

PUBLISHED_SHAPE = Path(__file__).parents[1] / "data" / "open_circuit.csv"
"""A published open-circuit curve; its first lines say what it is and is not."""

NODES = 201
"""Nodes over depth of discharge: one every half percent."""

ROOM_C = (18.0, 30.0)
"""Curves taken between these count as taken at 25 C: 20, 23 and 25 C are usual. Common practice, no source."""

LOOSE_FIT_MV = 40.0
"""A fit that misses its curves by more is loose. Common practice, no source."""

RESISTANCE_BAND = (0.3, 5.0)
"""Resistance at a node is kept within these multiples of the median. Common practice, no source."""

LEAST_OHM = 1.0e-9
"""Less than this is no resistance but rounding."""


class MonotoneCubic:
    """Points joined smoothly without a bump between them, as curves of a datasheet run.

    Beyond the ends the last piece is carried on.

    Args:
        x, y: two points or more, x rising.

    Source: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 300 (1984). It is what
        `scipy.interpolate.PchipInterpolator` gives, which takes longer to load than a design to size.

    Example:
        >>> MonotoneCubic([0.0, 1.0, 2.0], [4.0, 4.0, 3.0])(np.array([0.5, 1.5]))
        array([4.    , 3.6875])
    """

    def __init__(self, x: ArrayLike, y: ArrayLike) -> None:
        self.x, self.y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        width = np.diff(self.x)
        rise = np.diff(self.y) / width
        if len(rise) == 1:
            self.slope = np.repeat(rise, 2)
            return
        left, right = 2.0 * width[1:] + width[:-1], width[1:] + 2.0 * width[:-1]
        turns = rise[1:] * rise[:-1] <= 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = (left + right) / (left / rise[:-1] + right / rise[1:])
        first = _end_slope(width[:2], rise[:2])
        last = _end_slope(width[:-3:-1], rise[:-3:-1])
        self.slope = np.concatenate([[first], np.where(turns, 0.0, mean), [last]])

    def __call__(self, x: Number) -> FloatArray:
        """y at any x."""
        k = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, len(self.x) - 2)
        width = self.x[k + 1] - self.x[k]
        rise = (self.y[k + 1] - self.y[k]) / width
        bend = (self.slope[k] + self.slope[k + 1] - 2.0 * rise) / width
        away = x - self.x[k]
        curve = (rise - self.slope[k]) / width - bend
        return np.asarray(self.y[k] + away * (self.slope[k] + away * (curve + away * bend / width)))


def _end_slope(width: FloatArray, rise: FloatArray) -> float:
    """Slope at an end from the two pieces next to it, kept from bending the wrong way."""
    slope = ((2.0 * width[0] + width[1]) * rise[0] - width[0] * rise[1]) / width.sum()
    if slope * rise[0] <= 0.0:
        return 0.0
    steepest = 3.0 * abs(rise[0])
    if rise[0] * rise[1] <= 0.0 and abs(slope) > steepest:
        return float(np.copysign(steepest, rise[0]))
    return float(slope)


@dataclass(frozen=True)
class DischargeCurve:
    """Points read off one curve of the datasheet's discharge family.

    Attributes:
        current_a: the constant current of the curve, per cell.
        capacity_ah: charge delivered at each point, rising from 0 or near it.
        voltage_v: voltage under that current at each point.
        temperature_c: of the chamber in which it was taken.
    """

    current_a: float
    capacity_ah: tuple[float, ...]
    voltage_v: tuple[float, ...]
    temperature_c: float = REFERENCE_C

    @property
    def at_room_temperature(self) -> bool:
        """Whether it counts as taken at 25 C."""
        return ROOM_C[0] <= self.temperature_c <= ROOM_C[1]

    @cached_property
    def joined(self) -> MonotoneCubic:
        """Its points as one curve: voltage at any charge."""
        return MonotoneCubic(self.capacity_ah, self.voltage_v)

    @property
    def name(self) -> str:
        """Its current, and its temperature where that is not room temperature."""
        temperature = "" if self.at_room_temperature else f", {with_unit(self.temperature_c, '°C')}"
        return f"{self.current_a:g} A{temperature}"


@dataclass(frozen=True, eq=False)
class CurveFit:
    """One datasheet curve beside the model.

    Attributes:
        name: the curve's current, and its temperature where that is not room temperature.
        current_a: the curve's current.
        capacity_ah, voltage_v: its points.
        model_v: the model's voltage at those points.
        residual_mv: points less model.
        rms_mv, worst_mv: root mean square over delivered charge, and largest size, of the residuals.
    """

    name: str
    current_a: float
    capacity_ah: FloatArray
    voltage_v: FloatArray
    model_v: FloatArray
    residual_mv: FloatArray
    rms_mv: float
    worst_mv: float


@dataclass(frozen=True, eq=False)
class CellModel:
    """A cell as a voltage source and a resistance, both over depth of discharge.

    Between nodes both run straight. Depth 0 is full, depth 1 is `capacity_ah` delivered.

    Attributes:
        depth_of_discharge: uniform nodes from 0 to 1, shape (K,).
        open_circuit_v: voltage at rest at each node, shape (K,).
        resistance_mohm: at each node, at 25 C, fresh, shape (K,).
        capacity_ah: charge between depth 0 and 1.
        basis: how it was made: "curves", "one curve", or "stated resistance".
        caution: one sentence when the result deserves less trust, else empty.
        residual_rms_mv: how far the model lies from the curves it was made from; NaN without any.
        lowest_a, highest_a: range of current that the curves cover; NaN without curves.
        temperature: what curves at other temperatures say; None without such curves.
    """

    depth_of_discharge: FloatArray
    open_circuit_v: FloatArray
    resistance_mohm: FloatArray
    capacity_ah: float
    basis: str
    caution: str = ""
    residual_rms_mv: float = np.nan
    lowest_a: float = np.nan
    highest_a: float = np.nan
    temperature: TemperatureFit | None = None

    def open_circuit_at(self, depth_of_discharge: Number) -> FloatArray:
        """Voltage at rest at a depth of discharge from 0 to 1; NaN at NaN."""
        return np.asarray(
            np.interp(depth_of_discharge, self.depth_of_discharge, self.open_circuit_v)
        )

    def resistance_at(self, depth_of_discharge: Number) -> FloatArray:
        """Resistance in mohm at a depth of discharge from 0 to 1; NaN at NaN."""
        return np.asarray(
            np.interp(depth_of_discharge, self.depth_of_discharge, self.resistance_mohm)
        )

    def voltage_and_resistance_at(
        self, depth_of_discharge: Number
    ) -> tuple[FloatArray, FloatArray]:
        """Voltage at rest and resistance together: for ten thousand cells at a sixth of the time of the two alone.

        Args:
            depth_of_discharge: 0 or more; past 1 as at 1.
        """
        nodes = len(self.depth_of_discharge) - 1
        place = np.asarray(depth_of_discharge, dtype=float) * nodes
        node = np.fmin(place, nodes).astype(np.intp)
        part = place - node
        volts, mohm, volts_on, mohm_on = self._lines.take(node, axis=1)
        return volts + part * volts_on, mohm + part * mohm_on

    @cached_property
    def steps_v(self) -> FloatArray:
        """What the voltage at rest changes from each node to the next, shape (K - 1,)."""
        return np.diff(self.open_circuit_v)

    @cached_property
    def _lines(self) -> FloatArray:
        """From each node: both figures, and what each changes to the next; nothing past the last."""
        both = np.stack([self.open_circuit_v, self.resistance_mohm])
        return np.concatenate([both, np.diff(both, append=both[:, -1:])])

    def resistance_factor_at(self, temperature_c: Number) -> FloatArray:
        """Factor on the resistance at a cell temperature, C; by the usual law where no curve gives it."""
        law = self.temperature
        return law.resistance_at(temperature_c) if law else resistance_at_temperature(temperature_c)

    def capacity_factor_at(
        self, temperature_c: Number, current_a: Number | None = None
    ) -> FloatArray:
        """Factor on the charge at a cell temperature, C, and a current, A, late in the discharge.

        By the usual law, and at any current alike, where no curve gives it.
        """
        law = self.temperature
        if law is None:
            return capacity_at_temperature(temperature_c)
        return law.capacity_at(temperature_c, current_a)

    def fit(self, curve: DischargeCurve) -> CurveFit:
        """A curve beside the model; points beyond the model's capacity are left out of the figures."""
        charge, volts = np.array(curve.capacity_ah), np.array(curve.voltage_v)
        cell_c, amps = curve.temperature_c, curve.current_a
        room = curve.at_room_temperature
        of_charge, of_resistance = (
            (1.0, 1.0)
            if room
            else (self.capacity_factor_at(cell_c, amps), self.resistance_factor_at(cell_c))
        )
        depth = charge / (self.capacity_ah * of_charge)
        inside = depth <= 1.0
        drop_v = amps * of_resistance * self.resistance_at(depth) / 1000.0
        model_v = np.where(inside, self.open_circuit_at(depth) - drop_v, np.nan)
        residual = 1000.0 * (volts - model_v)
        weight = np.where(inside, np.gradient(charge), 0.0)  # points crowd where a curve bends
        rms = float(np.sqrt(np.nansum(weight * residual**2) / weight.sum()))
        worst = float(np.nanmax(np.abs(residual)))
        return CurveFit(curve.name, amps, charge, volts, model_v, residual, rms, worst)

    def trust(self, current_a: float) -> str:
        """One sentence on using the model at a current; empty where the curves reach that far.

        Example:
            >>> low = DischargeCurve(1.0, (0.0, 1.0, 2.0), (4.1, 3.7, 3.0))
            >>> high = DischargeCurve(5.0, (0.0, 1.0, 2.0), (4.0, 3.6, 2.9))
            >>> identify_curves((low, high)).trust(8.0)
            'At 8 A the model reaches beyond the datasheet curves, which end at 5 A.'
        """
        if not np.isfinite(self.highest_a):
            return (
                f"At {current_a:.3g} A nothing but the stated resistance stands behind the model."
            )
        if current_a > self.highest_a * 1.001:
            return (
                f"At {current_a:.3g} A the model reaches beyond the datasheet curves, "
                f"which end at {self.highest_a:g} A."
            )
        return ""


def identify_curves(
    curves: tuple[DischargeCurve, ...], stated_mohm: float = np.nan, charge_v: float = 4.2
) -> CellModel:
    """Make a model from one or more discharge curves.

    With two curves or more: voltage is regressed on current at equal delivered charge, each curve
    weighted by the root of its current, since flight happens near the higher ones; the intercept is
    the open-circuit voltage, the slope the resistance. With one curve the stated resistance is used.

    Where a curve starts late or ends early, the others carry on with the distance they had from the
    fitted line at that point, so that neither result jumps there. Past the end of a curve the
    resistance does not fall, and with one curve left it stays as it was.

    Where all curves together lie further than `LOOSE_FIT_MV` from one line, the highest are left out
    until the others do not, and the caution says so.

    Args:
        curves: at least one, in any order, each at another current, as `workbook.files.cell_check` lets them pass.
        stated_mohm: resistance to use when there is one curve only.
        charge_v: full-charge voltage, which a curve that starts late is not extended above.

    Raises:
        InputError: curves that do not go together, or a resistance that comes out as zero or less.

    Source: least squares.

    Example:
        >>> low = DischargeCurve(1.0, (0.0, 1.0, 2.0), (4.10, 3.70, 3.00))
        >>> high = DischargeCurve(6.0, (0.0, 1.0, 2.0), (4.00, 3.60, 2.90))
        >>> model = identify_curves((low, high))
        >>> print(model.resistance_mohm.round(3).max(), model.open_circuit_v[0].round(3))
        20.0 4.12
    """
    family = sorted(curves, key=lambda c: c.current_a)
    capacity_ah = max(c.capacity_ah[-1] for c in family)
    charge = np.linspace(0.0, capacity_ah, NODES)
    one = len(family) == 1
    u, r, caution = (
        _one_curve(family[0], charge, stated_mohm, charge_v)
        if one
        else _usual_resistance(family, charge, *_regress(family, charge, charge_v))
    )
    if u.min() <= 0 and len(family) > 2:
        return _without_the_highest(family, charge_v)
    if u.min() <= 0:
        raise InputError(_ends_apart(family), "curves")
    model = CellModel(
        depth_of_discharge=np.linspace(0.0, 1.0, NODES),
        open_circuit_v=u,
        resistance_mohm=1000.0 * r,
        capacity_ah=capacity_ah,
        basis="one curve" if one else "curves",
        caution=caution,
        lowest_a=family[0].current_a,
        highest_a=family[-1].current_a,
    )
    residual_mv = float(np.sqrt(np.mean([model.fit(c).rms_mv ** 2 for c in family])))
    if residual_mv > LOOSE_FIT_MV and len(family) > 2:
        return _without_the_highest(family, charge_v)
    if residual_mv > LOOSE_FIT_MV and not caution:
        caution = f"The model misses the datasheet curves by {residual_mv:.0f} mV; read them again."
    return replace(model, residual_rms_mv=residual_mv, caution=caution)


def _without_the_highest(family: list[DischargeCurve], charge_v: float) -> CellModel:
    """The model of all curves but the highest, where that does not lie on one line with the others."""
    fewer = identify_curves(tuple(family[:-1]), charge_v=charge_v)
    left_out = (
        f"The curves above {fewer.highest_a:g} A do not lie on one line with the others and were "
        f"left out; above {fewer.highest_a:g} A the model reaches beyond what it was made from."
    )
    return replace(fewer, caution=left_out)


def _ends_apart(family: list[DischargeCurve]) -> str:
    """Why no voltage at rest comes of curves, in words."""
    ends = ", ".join(f"{c.capacity_ah[-1]:.4g} Ah at {c.current_a:g} A" for c in family)
    return (
        f"the curves end at {ends}: so far apart that one resistance does not explain both, and the voltage at "
        "rest comes out at 0 V or less. Read every curve down to the same voltage, or leave the highest out."
    )


def _one_curve(
    curve: DischargeCurve, charge: FloatArray, stated_mohm: float, charge_v: float
) -> tuple[FloatArray, FloatArray, str]:
    """Open-circuit voltage, resistance in ohm and a caution, from one curve and a stated resistance."""
    r = np.full(charge.shape, stated_mohm / 1000.0)
    caution = (
        "Made from one discharge curve and the stated resistance; a second curve at a higher "
        "current would show how far the voltage sags."
    )
    return _reader(curve, charge_v)(charge) + curve.current_a * r, r, caution


def _usual_resistance(
    family: list[DischargeCurve], charge: FloatArray, u: FloatArray, r: FloatArray
) -> tuple[FloatArray, FloatArray, str]:
    """The regression with its resistance kept within usual bounds, and a caution where it was not."""
    middle = float(np.median(r))
    if middle <= LEAST_OHM or np.mean(r <= LEAST_OHM) > 0.1:
        near_ah = charge[np.argmax(r <= LEAST_OHM)]
        raise InputError(
            f"more current gives no less voltage near {near_ah:.2f} Ah; each curve of a "
            "higher current must lie below (are two curves or their currents swapped?).",
            "curves",
        )
    kept = np.clip(r, middle * RESISTANCE_BAND[0], middle * RESISTANCE_BAND[1])
    odd = kept != r
    if not odd.any():
        return u, r, ""
    # the line turns about the mean current, weighted as in the regression
    amps = np.array([c.current_a for c in family])
    u = u + amps @ np.sqrt(amps) / np.sqrt(amps).sum() * (kept - r)
    caution = (
        f"The curves lie oddly to each other near {charge[odd][0]:.2f} Ah; the "
        "resistance was kept within usual bounds there. Read their points again."
    )
    return u, kept, caution if odd.mean() > 0.1 else ""


def published_shape(
    capacity_ah: float, resistance_mohm: float, charge_v: float, cutoff_v: float
) -> CellModel:
    """A model without any curve: the usual open-circuit voltage over the cell's own window.

    Args:
        capacity_ah: that the cell typically gives, above 0.
        resistance_mohm: as stated, above 0.
        charge_v, cutoff_v: ends of its window.

    Source: Chen et al., J. Electrochem. Soc. 167, 080534 (2020).

    Example:
        >>> model = published_shape(5.0, 30.0, 4.2, 2.5)
        >>> model.basis, float(model.open_circuit_at(0.5).round(2))
        ('stated resistance', 3.75)
    """
    known_depth, known_v = np.loadtxt(PUBLISHED_SHAPE, delimiter=",", unpack=True)
    shape = MonotoneCubic(known_depth, known_v)
    fine = np.linspace(0.0, 1.0, 2001)
    last = np.interp(-cutoff_v, -shape(fine), fine)  # where the cutoff is met
    depth = np.linspace(0.0, 1.0, NODES)
    raised_v = (charge_v - known_v[0]) * (1.0 - depth)
    return CellModel(
        depth_of_discharge=depth,
        open_circuit_v=shape(depth * last) + raised_v,
        resistance_mohm=np.full(NODES, resistance_mohm, dtype=float),
        capacity_ah=capacity_ah,
        basis="stated resistance",
        caution=(
            "No discharge curve: the usual voltage curve of this chemistry and the stated "
            "resistance stand in, so times can be out by 10 % or more. Add curves from the datasheet."
        ),
    )


def _reader(curve: DischargeCurve, charge_v: float) -> Callable[[FloatArray], FloatArray]:
    """Voltage of a curve at any charge: monotone between points, straight ahead of the first."""
    inside = curve.joined
    first, top = curve.capacity_ah[0], curve.voltage_v[0]
    slope = float(inside.slope[0])

    def read(charge: FloatArray) -> FloatArray:
        ahead = np.clip(top + slope * (charge - first), top, max(charge_v, top))
        return np.where(charge < first, ahead, inside(np.maximum(charge, first)))

    return read


def _regress(
    family: list[DischargeCurve], charge: FloatArray, charge_v: float
) -> tuple[FloatArray, FloatArray]:
    """Open-circuit voltage and resistance in ohm at each charge, from two curves or more."""
    reach = [(c.capacity_ah[0], c.capacity_ah[-1]) for c in family]
    start, stop = max(a for a, _ in reach), min(b for _, b in reach)
    if stop <= start:
        raise InputError(
            "the curves share no range of delivered charge; read them from 0 Ah.", "curves"
        )
    read = [_reader(c, charge_v) for c in family]
    current = np.array([c.current_a for c in family])

    def line(
        q: FloatArray, chosen: list[int], off_v: FloatArray, r_held: float
    ) -> tuple[FloatArray, FloatArray]:
        """U and R at charges by the curves in `chosen`, each moved by its `off_v`; R not below `r_held`."""
        volts = np.array([read[k](q) + off_v[k] for k in chosen])
        weight = np.sqrt(current[chosen])
        weight /= weight.sum()
        mean_a, mean_v = weight @ current[chosen], weight @ volts
        away = current[chosen] - mean_a
        r = np.full_like(q, r_held)
        if len(chosen) > 1:
            r = np.maximum(-((weight * away) @ volts) / ((weight * away) @ away), r_held)
        return mean_v + mean_a * r, r

    everywhere = list(range(len(family)))
    u, r = line(charge, everywhere, np.zeros(len(family)), -np.inf)
    for side, ends in ((1.0, [b for _, b in reach]), (-1.0, [a for a, _ in reach])):
        chosen, off_v, r_held = everywhere, np.zeros(len(family)), -np.inf
        for end in sorted(set(ends), reverse=side < 0)[:-1]:
            before_u, before_r = line(np.array([end]), chosen, off_v, r_held)
            chosen = [k for k in chosen if side * ends[k] > side * end]
            off_v, r_now = off_v.copy(), float(before_r[0])
            for k in chosen:
                off_v[k] = before_u[0] - current[k] * r_now - float(read[k](np.array([end]))[0])
            r_held = r_now if side > 0 or len(chosen) == 1 else -np.inf  # R rises towards empty
            beyond = side * charge > side * end
            u[beyond], r[beyond] = line(charge[beyond], chosen, off_v, r_held)
    return u, r
