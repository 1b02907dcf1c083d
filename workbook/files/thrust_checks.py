"""Checks on the rows of one thrust table: do its figures agree with each other and with physics?"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from workbook.craft.rotor import figure_of_merit
from workbook.craft.thrust_table import METRES_PER_INCH, diameter_from_name_m
from workbook.errors import Problem
from workbook.files.columns import spans
from workbook.files.thrust_rows import LEAST_GF_W, MOST_GF_W, Rows, ThrustRows, half
from workbook.numbers import FloatArray

INSTRUMENT_SHARE = 0.03
"""Disagreement allowed between instruments beyond the printed rounding: common practice, no source."""


def power_agrees(rows: Rows, volts: str = "voltage_v") -> NDArray[np.bool_]:
    """Which rows' power is V x I within its rounding; true when one of them is blank."""
    v, a, w = (rows[key] for key in (volts, "current_a", "power_w"))
    rounding = rows[half("power_w")] + v * rows[half("current_a")] + a * rows[half(volts)]
    return _agrees(w, v * a, rounding)


def _efficiency_agrees(rows: Rows) -> NDArray[np.bool_]:
    """Which rows' stated g/W is thrust over power within its rounding."""
    t, w, e = (rows[key] for key in ("thrust_gf", "power_w", "efficiency_gf_w"))
    slack = (rows[half("thrust_gf")] + e * rows[half("power_w")]) / w
    return _agrees(e, t / w, rows[half("efficiency_gf_w")] + slack)


def _agrees(stated: FloatArray, found: FloatArray, rounding: FloatArray) -> NDArray[np.bool_]:
    """Where a figure is another within rounding and what instruments may disagree; true of blanks."""
    allowed = (rounding + INSTRUMENT_SHARE * stated) * (1 + 1e-9)
    return np.asarray(~(np.abs(stated - found) > allowed))


def _fits(product: FloatArray, whole: FloatArray) -> bool:
    return bool(np.median(np.abs(product / whole - 1)) < INSTRUMENT_SHARE)


def refuse_swapped(out: ThrustRows, rows: Rows) -> None:
    """Two headings of a block that fit each other's figures and not their own."""
    keys = ["voltage_v", "current_a", "power_w"]
    full = rows.take(np.all([rows[key] > 0 for key in keys], axis=0))
    headings = out.headings[rows["block"][0]]
    if len(full) < 3 or not set(keys) <= headings.keys():
        return
    v, a, w = (full[key] for key in keys)
    pairs = []
    if not _fits(v * a, w):
        pairs += [("current_a", "power_w")] if _fits(v * w, a) else []
        pairs += [("voltage_v", "power_w")] if _fits(w * a, v) else []
    elif v.max() > 1.5 * v.min() and a.max() < 1.1 * a.min():
        pairs += [("voltage_v", "current_a")]
    for one, two in pairs:
        message = (
            f'columns "{headings[one]}" and "{headings[two]}" look swapped: the figures fit only the '
            "other way round. Correct the headings."
        )
        out.problems.append(Problem(message, f"{out.name}, rows {spans(full['number'])}"))


def refuse_impossible(out: ThrustRows, rows: Rows) -> None:
    """A unit that must be wrong, and rows that no propeller or motor can give."""
    load = float(np.median(rows["thrust_gf"] / rows["power_w"]))
    block, propeller = rows["block"][0], rows["propeller"][0]
    if not LEAST_GF_W <= load <= MOST_GF_W and "thrust_gf" in out.unstated[block]:
        heading = out.headings[block]["thrust_gf"]
        message = (
            f"no unit is stated for thrust, and gram-force would give {load:.3g} g/W; "
            "write the unit into the heading."
        )
        out.problems.append(Problem(message, f'{out.name}, column "{heading}"'))
    diameter = diameter_from_name_m(propeller)
    if diameter is not None:
        merit = figure_of_merit(
            rows["thrust_gf"] - rows[half("thrust_gf")],
            rows["power_w"] + rows[half("power_w")],
            diameter,
        )
        for place in np.flatnonzero(merit > 1).tolist():
            message = (
                f"{rows['thrust_gf'][place]:g} gf from {rows['power_w'][place]:.4g} W is more than an "
                f"ideal propeller of {diameter / METRES_PER_INCH:.3g} in can give (figure of merit "
                f"{merit[place]:.2f}; 1 at most); check the units and the propeller."
            )
            out.add_problem(message, rows.take([place]), "thrust_gf")
    key = "motor_efficiency_pct"
    for place in np.flatnonzero(rows[key] > 100).tolist():
        message = f"motor efficiency is {rows[key][place]:g} %; no more than 100 % is possible."
        out.add_problem(message, rows.take([place]), key)


def add_doubts(out: ThrustRows, rows: Rows) -> None:
    """Add notices about what does not fit but does not make the rows useless; rows come by rising thrust."""
    off = rows.take(~power_agrees(rows))
    if len(off):
        gap = 1 - off["voltage_v"] * off["current_a"] / off["power_w"]
        worst = np.argmax(np.abs(gap))
        v, a, w = (off[key][worst] for key in ("voltage_v", "current_a", "power_w"))
        message = (
            f"power is not voltage x current; most in row {off['number'][worst]}: {w:.4g} W against "
            f"{v:.4g} V x {a:.4g} A = {v * a:.4g} W. Power is used as printed."
        )
        out.add_notice(message, off, "power_w")
    off = rows.take(~_efficiency_agrees(rows))
    if len(off):
        gap = 1 - off["thrust_gf"] / off["power_w"] / off["efficiency_gf_w"]
        worst = np.argmax(np.abs(gap))
        t, w, e = (off[key][worst] for key in ("thrust_gf", "power_w", "efficiency_gf_w"))
        message = (
            f"efficiency is not thrust over power; most in row {off['number'][worst]}: {e:.4g} g/W "
            f"against {t:.4g} gf / {w:.4g} W = {t / w:.4g} g/W. It is not used further."
        )
        out.add_notice(message, off, "efficiency_gf_w")
    for key, word in (("power_w", "power"), ("current_a", "current")):
        before = np.append(np.nan, (rows[key] - rows[half(key)])[:-1])
        falling = rows.take(rows[key] + rows[half(key)] < before)
        message = f"{word} falls while thrust rises; check for a slip of the pen."
        out.add_notice(message, falling, key, about="table")
    loads = rows["thrust_gf"] / rows["power_w"]
    odd = ~((loads >= LEAST_GF_W) & (loads <= MOST_GF_W))
    if odd.any():
        message = (
            f"{loads[odd][0]:.3g} g/W is far from any motor's (3 to 13 g/W is usual); "
            "check the units."
        )
        out.add_notice(message, rows.take(odd), "thrust_gf", about="table")
    heading = out.headings[rows["block"][0]].get("thrust_gf", "")
    if re.search(r"\b(total|all|sum|together|combined)\b", heading.casefold()):
        message = f'the heading "{heading}" may mean all motors together; the thrust of one motor is needed.'
        out.add_notice(message, rows, "thrust_gf", about="table")
    propeller = rows["propeller"][0]
    if diameter_from_name_m(propeller) is None:
        why = "no propeller is named"
        if propeller:
            why = f'no diameter can be read from the propeller\'s name "{propeller}"'
        message = f"{why}; the check against an ideal propeller was not made."
        out.notices.append(Problem(message, out.name))
