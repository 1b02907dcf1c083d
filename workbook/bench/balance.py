"""The balance lead: its pins in order, and the voltages to read before it is plugged in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError
from workbook.notices import notice
from workbook.numbers import FloatArray
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
    """

    pin: int
    junction: str
    full_v: float
    storage_v: float
    arrival_v: float


def balance_lead(
    series: int, full_cell_v: float = 4.2, storage_cell_v: float = 3.7, arrival_cell_v: float = 3.5
) -> tuple[BalancePin, ...]:
    """Lay out the balance lead and the voltages to expect on it.

    Args:
        series: S, 1 or more.
        full_cell_v: of a full cell.
        storage_cell_v: of a cell at storage charge.
        arrival_cell_v: of a cell as it was bought and built in.

    Returns:
        The S + 1 wires in order of voltage.

    Source: series connection adds.

    Example:
        >>> lead = balance_lead(4)
        >>> [round(pin.full_v, 2) for pin in lead]
        [0.0, 4.2, 8.4, 12.6, 16.8]
        >>> lead[2].junction
        'plus of group 2, minus of group 3'
    """
    return tuple(
        BalancePin(
            pin,
            _junction(pin, series),
            full_v=pin * full_cell_v,
            storage_v=pin * storage_cell_v,
            arrival_v=pin * arrival_cell_v,
        )
        for pin in range(series + 1)
    )


def before_plugging_in(series: int) -> str:
    """What to read on the plug of S cells before it is plugged in, and how its wires are joined."""
    return notice("balance", "before_plugging_in", pins=series + 1)


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
        findings.append(notice("balance", "no_cell", cell_v=cell))
    for pin, volt in enumerate(step.tolist(), start=1):
        given = {"before": pin - 1, "pin": pin, "step_v": volt}
        if abs(volt - cell) <= TOLERANCE_V:
            continue
        if abs(volt) <= TOLERANCE_V:
            findings.append(notice("balance", "not_joined", **given))
        elif volt < 0:
            findings.append(notice("balance", "swapped", **given))
        elif abs(volt - 2 * cell) <= 2 * TOLERANCE_V:
            findings.append(notice("balance", "skipped", **given))
        else:
            off = notice("balance", "off", **given, cell_v=cell, tolerance_v=TOLERANCE_V)
            findings.append(off)
    return BalanceReading(step, not findings, tuple(findings))


def pin_step(pin: int, cell_v: float) -> Step:
    """Working of the voltage of one balance pin against pin 0.

    Args:
        pin: 1 to S.
        cell_v: voltage of every group now.

    Example:
        >>> pin_step(4, 3.6).text()
        'voltage of pin 4 against pin 0 = groups between x cell voltage = 4 x 3.6 V = 14.4 V  [cells in ...'
    """
    return step("pin_v", pin * cell_v, pin=pin, cell_v=cell_v)
