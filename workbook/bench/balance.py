"""The balance lead: its pins in order, and the voltages to read before it is plugged in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError, refuse
from workbook.numbers import FloatArray, range_problems
from workbook.working import Step, step

BALANCE_AWG = 22
"""Charger balance currents are 0.2 to 2 A; 22 AWG is the usual lead. Common practice, no source."""


@dataclass(frozen=True)
class BalancePin:
    """One wire of the balance lead.

    Attributes:
        pin: 0 is the pack's minus; pin S is the pack's plus.
        junction: what it is joined to, in words.
        full_v: voltage against pin 0, full pack.
        storage_v: the same, storage charge.
        arrival_v: the same, cells as they arrived.
        step_arrival_v: voltage against the pin before, as arrived (0 for pin 0).
    """

    pin: int
    junction: str
    full_v: float
    storage_v: float
    arrival_v: float
    step_arrival_v: float


@dataclass(frozen=True)
class BalanceLead:
    """The lead of an S-cell pack: S + 1 wires in order of voltage.

    Attributes:
        series: S.
        pins: pin 0 to pin S.
        awg: gauge.
        caution: what to check before plugging in.
    """

    series: int
    pins: tuple[BalancePin, ...]
    awg: int
    caution: str


def balance_lead(
    series: int, full_cell_v: float = 4.2, storage_cell_v: float = 3.7, arrival_cell_v: float = 3.5
) -> BalanceLead:
    """Lay out the balance lead and the voltages to expect on it.

    Args:
        series: S, 1 to 24.
        full_cell_v: charge voltage of one cell.
        storage_cell_v: storage voltage of one cell.
        arrival_cell_v: of a cell as it arrived.

    Raises:
        InputError: S outside 1 to 24, or a voltage outside 0 to 5 V.

    Source: series connection adds; common practice for gauge.

    Example:
        >>> lead = balance_lead(4)
        >>> [round(p.full_v, 2) for p in lead.pins]
        [0.0, 4.2, 8.4, 12.6, 16.8]
        >>> lead.pins[2].junction
        'plus of group 2, minus of group 3'
    """
    if not (float(series).is_integer() and 1 <= series <= 24):
        raise InputError(f"series is {series:g}; a whole number from 1 to 24 is needed.")
    series = int(series)
    cells_v = {
        "full_cell_v": full_cell_v,
        "storage_cell_v": storage_cell_v,
        "arrival_cell_v": arrival_cell_v,
    }
    refuse(range_problems({k: (v, 0.0, 5.0, "0 to 5 V") for k, v in cells_v.items()}))
    pins = tuple(
        BalancePin(
            pin,
            _junction(pin, series),
            full_v=pin * full_cell_v,
            storage_v=pin * storage_cell_v,
            arrival_v=pin * arrival_cell_v,
            step_arrival_v=arrival_cell_v if pin else 0.0,
        )
        for pin in range(series + 1)
    )
    caution = (
        f"Before plugging in, read each of the {series + 1} pins against pin 0, then each against "
        "the one before. Every step must be one cell's voltage: none zero, doubled or negative. "
        "Go by position, never by wire colour. A swapped wire can burn the charger, the lead and "
        "your fingers. Solder one wire at a time onto the strip beside the cell drawn, never over a "
        "cell's end, and insulate it before the next; lead it over fish paper, away from bare strip."
    )
    return BalanceLead(series, pins, BALANCE_AWG, caution)


def _junction(pin: int, series: int) -> str:
    """What a pin is joined to, in words."""
    if pin == 0:
        return "minus of group 1, the pack's minus"
    if pin == series:
        return f"plus of group {series}, the pack's plus"
    return f"plus of group {pin}, minus of group {pin + 1}"


@dataclass(frozen=True)
class BalanceReading:
    """What a meter found on the balance plug.

    Attributes:
        step_v: voltage of each pin against the one before, S figures.
        safe: whether it may be plugged in.
        findings: one sentence for each fault; empty when safe.
    """

    step_v: FloatArray
    safe: bool
    findings: tuple[str, ...]


TOLERANCE_V = 0.1
"""How far a step may be from a cell's voltage. Common practice, no source."""


def check_readings(readings_v: Sequence[float], series: int) -> BalanceReading:
    """Judge the plug before it is plugged in.

    Args:
        readings_v: pin 1 to pin S against pin 0 (S figures), or with pin 0 itself first (S + 1).
        series: S.

    Raises:
        InputError: the wrong number of readings, or one that is not a number.

    Source: common practice, no source.

    Example:
        Wires 2 and 3 swapped:

        >>> found = check_readings([3.6, 10.8, 7.2, 14.4], 4)
        >>> found.safe
        False
        >>> print(found.findings[0])
        Pin 1 to pin 2 reads 7.20 V, two cells: a wire is skipped or swapped.
    """
    volts = np.asarray(readings_v, float)
    if volts.size == series:
        volts = np.concatenate(([0.0], volts))
    if volts.size != series + 1 or not np.all(np.isfinite(volts)):
        raise InputError(
            f"{np.asarray(readings_v).size} readings given for {series} cells in series; pin 1 to "
            f"pin {series} against pin 0, all numbers, are needed."
        )
    step = np.diff(volts)
    # the middle step; with so many wires swapped that it is no cell, the whole span over S
    middle = float(np.median(step))
    cell = middle if 2.5 <= middle <= 4.25 else float(np.ptp(volts)) / series
    findings = []
    if not 2.5 <= cell <= 4.25:
        findings.append(f"The usual step is {cell:.2f} V; a lithium-ion cell reads 2.5 to 4.25 V.")
    for k, volt in enumerate(step, start=1):
        place = f"Pin {k - 1} to pin {k} reads {volt:.2f} V"
        if abs(volt - cell) <= TOLERANCE_V:
            continue
        if abs(volt) <= TOLERANCE_V:
            findings.append(f"{place}: two wires on one junction, or a wire not joined.")
        elif volt < 0:
            findings.append(f"{place}, negative: wires are swapped.")
        elif abs(volt - 2 * cell) <= 2 * TOLERANCE_V:
            findings.append(f"{place}, two cells: a wire is skipped or swapped.")
        else:
            findings.append(f"{place}; {cell:.2f} V within {TOLERANCE_V:g} V is expected.")
    return BalanceReading(step, not findings, tuple(findings))


def pin_step(lead: BalanceLead, pin: int, cell_v: float) -> Step:
    """Working of the voltage of one balance pin against pin 0.

    Args:
        lead: the lead.
        pin: 1 to S.
        cell_v: voltage of one cell now.

    Raises:
        InputError: a pin that the lead has not.

    Example:
        >>> pin_step(balance_lead(6), 4, 3.6).text()
        'voltage of pin 4 against pin 0 = groups between x cell voltage = 4 x 3.6 V = 14.4 V  [cells in ...'
    """
    if not 1 <= pin <= lead.series:
        raise InputError(f"pin is {pin}; 1 to {lead.series} is needed.")
    return step("pin_v", pin * cell_v, pin=pin, cell_v=cell_v)
