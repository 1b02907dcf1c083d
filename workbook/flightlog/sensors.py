"""The sensors of a log checked: current by what the charger put back, voltage by a meter; and what to set."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from workbook.errors import InputError, refuse
from workbook.flightlog.log import FlightLog
from workbook.flightlog.slip import CHARGE_SHARE_OFF
from workbook.numbers import Ranges, range_problems
from workbook.sizing.calibration import Readings

METER_PCT = 0.5
"""A handheld meter on its direct-voltage range, 95 times in 100. Common practice, no source."""
ODD_PCT = 20.0
"""A scale further off than this is another fault than a scale. Common practice, no source."""


@dataclass(frozen=True)
class SensorCheck:
    """The scales of a log's sensors: the true figure over the logged one; NaN where not checked.

    Attributes:
        current_scale, current_off_pct: of the current, and how far off that may be, 95 times in 100.
        voltage_scale, voltage_off_pct: of the voltage.
        doubts: a sentence each.
    """

    current_scale: float
    current_off_pct: float
    voltage_scale: float
    voltage_off_pct: float
    doubts: tuple[str, ...]

    def applied(self, log: FlightLog) -> FlightLog:
        """The log with the scales put in.

        Example:
            >>> log = FlightLog("x", *np.array([[0.0, 3600.0], [24.0, 24.0], [10.0, 10.0]]))
            >>> check_sensors(log, put_back_ah=10.71).applied(log).current_a.round(3)
            array([10.496, 10.496])
        """
        current, voltage = (
            1.0 if np.isnan(x) else x for x in (self.current_scale, self.voltage_scale)
        )
        return replace(
            log,
            current_a=log.current_a * current,
            voltage_v=log.voltage_v * voltage,
            charge_ah=None if log.charge_ah is None else log.charge_ah * current,
            cells_v=None if log.cells_v is None else log.cells_v * voltage,
        )

    def readings(self) -> Readings:
        """How far off readings may be with the scales put in."""
        usual = Readings()
        current = usual.current_pct if np.isnan(self.current_off_pct) else self.current_off_pct
        voltage = usual.voltage_pct if np.isnan(self.voltage_off_pct) else self.voltage_off_pct
        return replace(usual, current_pct=current, voltage_pct=voltage)

    def text(self) -> str:
        """What was found, and what to set."""
        lines = []
        for name, unit, scale, off in (
            ("current", "amperes per volt", self.current_scale, self.current_off_pct),
            ("voltage", "voltage divider", self.voltage_scale, self.voltage_off_pct),
        ):
            if np.isnan(scale):
                continue
            found = f"The {name} reads {abs(100.0 / scale - 100.0):.1f} % {'low' if scale > 1 else 'high'} (± {off:.1f} %)"
            if abs(scale - 1.0) * 100.0 <= off:
                lines.append(f"{found}: as near as this check can tell; leave it.")
            else:
                lines.append(f"{found}: multiply its scale ({unit}) by {scale:.3f}.")
        return "\n".join([*lines, *self.doubts])


def check_sensors(
    log: FlightLog,
    *,
    put_back_ah: float | None = None,
    charge_share_pct: float = 98.0,
    meter_v: float | None = None,
    meter_at_s: float | None = None,
) -> SensorCheck:
    """Check the sensors of a log by what is known of them.

    Args:
        log: of everything between two full charges.
        put_back_ah: what the charger counted until the pack was full again.
        charge_share_pct: of that, what the flight had taken.
        meter_v: voltage of the pack by a meter.
        meter_at_s: when, on the log's clock; the first row where left out.

    Raises:
        InputError: nothing to check by; figures that is not possible; a log without charge or without that time.

    Source: ratio of charges; first-order propagation, JCGM 100:2008, 5.1.2.

    Example:
        >>> log = FlightLog("x", *np.array([[0.0, 3600.0], [24.0, 24.0], [10.0, 10.0]]))
        >>> print(check_sensors(log, put_back_ah=10.71).text())
        The current reads 4.7 % low (± 3.4 %): multiply its scale (amperes per volt) by 1.050.
    """
    ranges: Ranges = {
        "charge put back": (put_back_ah, 0.01, 500.0, "0.01 to 500 Ah"),
        "share flown": (charge_share_pct, 80.0, 100.0, "80 to 100 %"),
        "meter reading": (meter_v, 1.0, 130.0, "1 to 130 V, of the whole pack,"),
    }
    refuse(range_problems(ranges))
    if put_back_ah is None and meter_v is None:
        raise InputError(
            "nothing to check by; what the charger put back, or a meter's voltage, is needed."
        )
    current = voltage = current_off = voltage_off = np.nan
    if put_back_ah is not None:
        known = np.isfinite(log.current_a)
        taken = float(np.trapezoid(log.current_a[known], log.time_s[known])) / 3600.0
        if not taken > 0.0:
            raise InputError("no charge was taken in it; the log of a flight is needed.", log.name)
        current = put_back_ah * charge_share_pct / 100.0 / taken
        current_off = float(np.hypot(Readings().charge_pct, CHARGE_SHARE_OFF))
    if meter_v is not None:
        at_s = float(log.time_s[0]) if meter_at_s is None else meter_at_s
        near = (np.abs(log.time_s - at_s) <= max(3.0, 3.0 * log.step_s)) & np.isfinite(
            log.voltage_v
        )
        if not near.any():
            raise InputError(f"nothing is logged at {at_s:g} s.", log.name)
        logged = float(np.mean(log.voltage_v[near]))
        voltage = meter_v / logged
        voltage_off = METER_PCT
    doubts = tuple(
        f"A {name} that is off by so much has another cause than its scale: {why}"
        for name, scale, why in (
            (
                "current",
                current,
                "was the pack full before and after, and is the whole flight in the log?",
            ),
            ("voltage", voltage, "is it the voltage of the whole pack, and at that time?"),
        )
        if np.isfinite(scale) and abs(100.0 * scale - 100.0) > ODD_PCT
    )
    return SensorCheck(current, current_off, voltage, voltage_off, doubts)
