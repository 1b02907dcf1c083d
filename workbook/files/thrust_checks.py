"""Checks on the rows of one thrust table: do its figures agree with each other and with physics?"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np

from workbook.craft.rotor import figure_of_merit
from workbook.craft.thrust_table import METRES_PER_INCH, diameter_from_name_m
from workbook.errors import Problem
from workbook.files.thrust_values import Row, spans

INSTRUMENT_SHARE = 0.03
"""Disagreement allowed between instruments beyond the printed rounding: common practice, no source."""
LEAST_GF_W, MOST_GF_W = 0.3, 40.0
"""Thrust per watt outside which a unit must be wrong; 3 to 13 g/W is usual (common practice)."""


def _power_gap(row: Row) -> tuple[float, float]:
    """Power less V x I, and what rounding and instruments allow."""
    v, a, w = row.value("voltage_v"), row.value("current_a"), row.value("power_w")
    allowed = row.half("power_w") + v * row.half("current_a") + a * row.half("voltage_v")
    return w - v * a, allowed + INSTRUMENT_SHARE * w


def _efficiency_gap(row: Row) -> tuple[float, float]:
    """Stated g/W less thrust over power, and what rounding and instruments allow."""
    t, w, e = row.value("thrust_gf"), row.value("power_w"), row.value("efficiency_gf_w")
    if not w > 0:
        return math.nan, math.nan
    allowed = row.half("efficiency_gf_w") + row.half("thrust_gf") / w + e * row.half("power_w") / w
    return e - t / w, allowed + INSTRUMENT_SHARE * e


def power_agrees(row: Row) -> bool:
    """Whether a row's power is V x I within its rounding; true when one of them is blank."""
    gap, allowed = _power_gap(row)
    return not abs(gap) > allowed * (1 + 1e-9)


def _disagreeing(rows: Sequence[Row], gap_of: Callable[[Row], tuple[float, float]]) -> list[Row]:
    return [row for row in rows if abs((gap := gap_of(row))[0]) > gap[1] * (1 + 1e-9)]


def _place(name: str, rows: Sequence[Row], quantity: str) -> str:
    plural = "rows" if len({row.number for row in rows}) > 1 else "row"
    heading = rows[0].headings.get(quantity, "")
    column = f', column "{heading}"' if heading else ""
    return f"{name}, {plural} {spans([row.number for row in rows])}{column}"


def swapped(rows: Sequence[Row], name: str) -> list[Problem]:
    """Two headings that fit each other's figures and not their own."""
    full = [r for r in rows if all(r.value(k) > 0 for k in ("voltage_v", "current_a", "power_w"))]
    if len(full) < 3 or not {"voltage_v", "current_a", "power_w"} <= full[0].headings.keys():
        return []
    v, a, w = (
        np.array([row.value(k) for row in full]) for k in ("voltage_v", "current_a", "power_w")
    )

    def fits(product: object, whole: object) -> bool:
        return bool(
            np.median(np.abs(np.asarray(product) / np.asarray(whole) - 1)) < INSTRUMENT_SHARE
        )

    pairs = []
    if not fits(v * a, w):
        pairs += [("current_a", "power_w")] if fits(v * w, a) else []
        pairs += [("voltage_v", "power_w")] if fits(w * a, v) else []
    elif v.max() > 1.5 * v.min() and a.max() < 1.1 * a.min():
        pairs += [("voltage_v", "current_a")]
    headings = full[0].headings
    return [
        Problem(
            f'columns "{headings[one]}" and "{headings[two]}" look swapped: the figures fit only the '
            "other way round. Correct the headings.",
            f"{name}, rows {spans([row.number for row in full])}",
        )
        for one, two in pairs
    ]


def impossible(rows: Sequence[Row], propeller: str, name: str) -> list[Problem]:
    """Rows that no propeller or motor can give."""
    problems: list[Problem] = []
    diameter = diameter_from_name_m(propeller)
    for row in rows:
        thrust, power = row.value("thrust_gf"), row.value("power_w")
        if diameter is not None and power > 0:
            merit = figure_of_merit(
                thrust - row.half("thrust_gf"), power + row.half("power_w"), diameter
            )
            if merit > 1:
                problems.append(
                    Problem(
                        f"{thrust:g} gf from {power:.4g} W is more than an ideal propeller of "
                        f"{diameter / METRES_PER_INCH:.3g} in can give (figure of merit "
                        f"{float(merit):.2f}; 1 at most); check the units and the propeller.",
                        _place(name, [row], "thrust_gf"),
                    )
                )
        motor = row.value("motor_efficiency_pct")
        if motor > 100:
            problems.append(
                Problem(
                    f"motor efficiency is {motor:g} %; no more than 100 % is possible.",
                    _place(name, [row], "motor_efficiency_pct"),
                )
            )
    return problems


def doubts(rows: Sequence[Row], propeller: str, name: str) -> list[Problem]:
    """What does not fit but does not make the rows useless; rows come by rising thrust."""
    found: list[Problem] = []
    off = _disagreeing(rows, _power_gap)
    if off:
        worst = max(off, key=lambda r: abs(_power_gap(r)[0]) / r.value("power_w"))
        v, a, w = (worst.value(k) for k in ("voltage_v", "current_a", "power_w"))
        found.append(
            Problem(
                f"power is not voltage x current; most in row {worst.number}: {w:.4g} W against "
                f"{v:.4g} V x {a:.4g} A = {v * a:.4g} W. Power is used as printed.",
                _place(name, off, "power_w"),
            )
        )
    off = _disagreeing(rows, _efficiency_gap)
    if off:
        worst = max(off, key=lambda r: abs(_efficiency_gap(r)[0]) / r.value("efficiency_gf_w"))
        t, w, e = (worst.value(k) for k in ("thrust_gf", "power_w", "efficiency_gf_w"))
        found.append(
            Problem(
                f"efficiency is not thrust over power; most in row {worst.number}: {e:.4g} g/W "
                f"against {t:.4g} gf / {w:.4g} W = {t / w:.4g} g/W. It is not used further.",
                _place(name, off, "efficiency_gf_w"),
            )
        )
    for quantity, word in (("power_w", "power"), ("current_a", "current")):
        falling = [
            row
            for before, row in itertools.pairwise(rows)
            if row.value(quantity) + row.half(quantity)
            < before.value(quantity) - before.half(quantity)
        ]
        if falling:
            found.append(
                Problem(
                    f"{word} falls while thrust rises; check for a slip of the pen.",
                    _place(name, falling, quantity),
                )
            )
    odd = [
        r for r in rows if not LEAST_GF_W <= r.value("thrust_gf") / r.value("power_w") <= MOST_GF_W
    ]
    if odd:
        row = odd[0]
        found.append(
            Problem(
                f"{row.value('thrust_gf') / row.value('power_w'):.3g} g/W is far from any motor's "
                "(3 to 13 g/W is usual); check the units.",
                _place(name, odd, "thrust_gf"),
            )
        )
    if diameter_from_name_m(propeller) is None:
        reason = (
            f'no diameter can be read from the propeller\'s name "{propeller}"'
            if propeller
            else "no propeller is named"
        )
        found.append(Problem(f"{reason}; the check against an ideal propeller was not made.", name))
    return found
