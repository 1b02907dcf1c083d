"""The finished pack held against the acceptance table of its sheet, and the figures for it out of a log of its proof."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from workbook.bench.procedure import CheckItem
from workbook.errors import InputError
from workbook.flightlog.faults import stretches
from workbook.flightlog.log import FlightLog
from workbook.numbers import FloatArray, Side

FAILS = "FAILS"
"""Begins the words of a book about a pack that is not accepted."""


@dataclass(frozen=True)
class Judged:
    """One line of the acceptance table with what was measured.

    Attributes:
        item: the line.
        found: what was measured; None where it was not.
    """

    item: CheckItem
    found: float | None

    @property
    def passes(self) -> bool | None:
        """Whether it lies within the limits; None where it was not measured."""
        return None if self.found is None else self.item.passes(self.found)

    def text(self) -> str:
        """In a sentence."""
        item = self.item
        if self.found is None:
            return f"{item.text}: not measured ({item.limits_text} passes)."
        over = item.high is not None and self.found > item.high
        side: Side = "up" if over else "down" if not self.passes else "nearest"
        word = "passes" if self.passes else FAILS
        return f"{item.text}: {item.shown(self.found, side)} {item.shown_unit}, {word} ({item.limits_text})."


@dataclass(frozen=True)
class Acceptance:
    """The verdict of the acceptance table on a pack.

    Attributes:
        lines: of the table, in its order.
    """

    lines: tuple[Judged, ...]

    @property
    def failed(self) -> tuple[Judged, ...]:
        """What does not pass."""
        return tuple(line for line in self.lines if line.passes is False)

    @property
    def open(self) -> tuple[Judged, ...]:
        """What was not measured."""
        return tuple(line for line in self.lines if line.passes is None)

    @property
    def passes(self) -> bool:
        """Whether everything was measured and passes."""
        return not self.failed and not self.open

    @property
    def words(self) -> str:
        """The verdict on one line, as it goes into the pack's book."""
        if self.failed:
            return f"{FAILS}: " + " ".join(line.text() for line in self.failed)
        if self.open:
            return f"passes as far as measured; not measured: {', '.join(line.item.text for line in self.open)}"
        return "passes every line of the acceptance table"


def accept(items: Sequence[CheckItem], figures: Mapping[str, float]) -> Acceptance:
    """Hold measured figures against an acceptance table.

    Args:
        items: the table (`BuildPlan.acceptance`).
        figures: what was measured, by the keys of `workbook.quantities.NOTED`.

    Raises:
        InputError: the table is empty, as of a design whose flight cannot be computed, or nothing on it was measured.

    Source: the limits are those of `workbook/data/checks.toml`: common practice, no source.

    Example:
        >>> from workbook.bench.procedure import checks
        >>> table = checks(
        ...     "acceptance", series=6, pack_mohm=40.0, mass_g=900.0, charge_ah=8.0, max_c=60.0
        ... )
        >>> found = accept(table, {"resistance_mohm": 50.4, "mass_g": 905.0})
        >>> found.passes, found.failed[0].text()
        (False, 'resistance of the pack: 51 mΩ, FAILS (up to 48\\xa0mΩ).')
    """
    if not items:
        message = "the design's sheet has no acceptance table, because its flight is not known; mend the design first."
        raise InputError(message)
    known = {key: value for key, value in figures.items() if math.isfinite(value)}
    lines = tuple(Judged(item, known.get(item.key)) for item in items)
    if all(line.found is None for line in lines):
        message = f"nothing on the acceptance table was measured; it asks for {', '.join(i.text for i in items)}."
        raise InputError(message)
    return Acceptance(lines)


# the log of a proof discharge or of a charge -----------------------------------------------------

LOADED_SHARE = 0.2
"""Of the usual current: below it the load is off."""
LEAST_LOADED_S = 30.0
REST_S, LOADED_S = 3.0, (8.0, 12.0)
"""Voltage at rest is that of the last seconds before a load comes on; the loaded one is read so many seconds after."""
HALF_CHARGE = (0.25, 0.75)
"""Of the charge of the test: where the load must come on for the resistance of half charge."""
LAST_S = 60.0
LONGEST_GAP_S = 5.0
"""Longer than this, charge is not counted across a gap."""


def bench_figures(log: FlightLog) -> tuple[dict[str, float], tuple[str, ...]]:
    """The figures of a pack in a log of a proof discharge or of a charge.

    Args:
        log: as read; a discharge, or a charge, whichever way its current counts.

    Returns:
        Figures by the keys of `workbook.quantities.NOTED`: minutes and charge; of a discharge the least voltage under
        load, the resistance where the load came on again after a rest near half charge, and the spread of the
        groups in the last minute; of a charge their spread at rest after it; the hottest temperature. And remarks on what the log does not have.

    Raises:
        InputError: no load of half a minute is in it.

    Source: charge is the integral of current over time; resistance is drop over current (Ohm), read 8 to 12 s after
        the load comes on: common practice, no source.

    Example:
        >>> time = np.arange(0.0, 3600.0)
        >>> amps = np.where((time > 60.0) & (abs(time - 1800.0) > 30.0), 5.0, 0.0)
        >>> found, _ = bench_figures(FlightLog("proof", time, 25.0 - 0.04 * amps, amps))
        >>> round(found["charge_ah"], 2), round(found["resistance_mohm"], 1)
        (4.83, 40.0)
    """
    known = np.isfinite(log.voltage_v) & np.isfinite(log.current_a)
    log = log.kept(known)
    remarks: list[str] = []
    amps = np.abs(log.current_a)
    usual = float(np.percentile(amps, 90)) if len(log) else 0.0
    loaded = amps > LOADED_SHARE * usual
    steps = np.diff(log.time_s)
    usual_s = float(np.median(steps)) if steps.size else 0.0
    counted = (loaded[1:] | loaded[:-1]) & (steps <= max(LONGEST_GAP_S, 3.0 * usual_s))
    lasting_s = float(steps[counted].sum())
    if usual <= 0.0 or lasting_s < LEAST_LOADED_S:
        message = f"no load of {LEAST_LOADED_S:g} s or more is in it; a proof discharge or a charge is needed."
        raise InputError(message, log.name)
    missing_s = log.duration_s - float(steps[steps <= LONGEST_GAP_S].sum())
    if missing_s > LONGEST_GAP_S:
        remarks.append(f"{missing_s:.0f} s are missing in the log; their charge is not counted.")
    mean_a = 0.5 * (amps[1:] + amps[:-1])
    figures = {
        "time_min": round(lasting_s / 60.0, 2),
        "charge_ah": round(float((mean_a * steps)[counted].sum()) / 3600.0, 3),
    }
    figures |= dict(_state(log, loaded, remarks))
    if log.temperature_c is not None:
        figures["temperature_c"] = round(float(np.nanmax(log.temperature_c)), 1)
    else:
        remarks.append("No temperature is logged: hold a probe to the hottest cell.")
    return figures, tuple(remarks)


def _state(
    log: FlightLog, loaded: NDArray[np.bool_], remarks: list[str]
) -> Iterator[tuple[str, float]]:
    """Voltages, resistance and spread, of a discharge or of a charge."""
    rows = np.flatnonzero(loaded)
    first, last = rows[0], rows[-1]
    charged = log.voltage_v[last] > log.voltage_v[first]
    if log.cells_v is None:
        remarks.append(
            "No group voltages are logged: read the spread of the groups at the balance plug."
        )
    if charged:
        rest = np.flatnonzero((log.time_s > log.time_s[last] + LAST_S) & ~loaded)
        if log.cells_v is not None and rest.size:
            yield "spread_full_mv", _spread_mv(log.cells_v[:, rest[-1:]])
        elif log.cells_v is not None:
            remarks.append(
                "The log ends with the charge: read the spread of the groups an hour later."
            )
        return
    yield "loaded_v", round(float(log.voltage_v[loaded].min()), 2)
    half = [
        (abs(share - 0.5), mohm)
        for share, mohm in _resistances(log, loaded)
        if HALF_CHARGE[0] <= share <= HALF_CHARGE[1]
    ]
    if half:
        yield "resistance_mohm", round(min(half)[1], 2)
    else:
        remarks.append(
            "The load does not come on again from rest near half charge: it shows no resistance of the pack."
        )
    if log.cells_v is not None:
        end = loaded & (log.time_s > log.time_s[last] - LAST_S)
        yield "spread_empty_mv", _spread_mv(log.cells_v[:, end])
        groups = np.nanmean(log.cells_v[:, end], axis=1)
        if groups.size > 1:
            yield "low_group", float(np.nanargmin(groups) + 1)


def _spread_mv(cells_v: FloatArray) -> float:
    """Highest group less lowest, each the mean of its readings."""
    groups = np.nanmean(cells_v, axis=1)
    return round(1000.0 * float(np.nanmax(groups) - np.nanmin(groups)), 1)


def _resistances(log: FlightLog, loaded: NDArray[np.bool_]) -> Iterator[tuple[float, float]]:
    """Wherever the load comes on after a rest and stays: share of the charge taken by then, and the pack's mohm."""
    time_s = log.time_s
    taken = np.cumsum(np.abs(log.current_a) * np.diff(time_s, prepend=time_s[0]))
    for (start, load_on), (_, end) in pairwise(stretches(loaded)):
        lasting = time_s[end - 1] - time_s[load_on]
        if loaded[start] or not loaded[load_on] or lasting < LOADED_S[1]:
            continue
        rest = slice(int(np.searchsorted(time_s, time_s[load_on - 1] - REST_S)), load_on)
        under_load = slice(
            *(int(np.searchsorted(time_s, time_s[load_on] + wait)) for wait in LOADED_S)
        )
        if time_s[load_on - 1] - time_s[start] < REST_S or under_load.start == under_load.stop:
            continue
        drop_v = float(np.mean(log.voltage_v[rest]) - np.mean(log.voltage_v[under_load]))
        more_a = float(np.mean(log.current_a[under_load]) - np.mean(log.current_a[rest]))
        if more_a > 0.0:
            yield float(taken[load_on] / taken[-1]), 1000.0 * drop_v / more_a
