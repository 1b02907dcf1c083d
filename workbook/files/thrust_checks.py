"""Checks on the rows of one thrust table: do its figures agree with each other and with physics?"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from workbook.craft.rotor import figure_of_merit
from workbook.craft.thrust_table import METRES_PER_INCH, diameter_from_name_m
from workbook.errors import Problem
from workbook.files.columns import spans
from workbook.files.thrust_rows import LEAST_GF_W, MOST_GF_W, ThrustRows, half

INSTRUMENT_SHARE = 0.03
"""Disagreement allowed between instruments beyond the printed rounding: common practice, no source."""


def power_agrees(rows: pd.DataFrame, volts: str = "voltage_v") -> pd.Series:
    """Which rows' power is V x I within its rounding; true when one of them is blank."""
    v, a, w = (rows[key] for key in (volts, "current_a", "power_w"))
    allowed = rows[half("power_w")] + v * rows[half("current_a")] + a * rows[half(volts)]
    return ~((w - v * a).abs() > (allowed + INSTRUMENT_SHARE * w) * (1 + 1e-9))


def _efficiency_agrees(rows: pd.DataFrame) -> pd.Series:
    """Which rows' stated g/W is thrust over power within its rounding."""
    t, w, e = (rows[key] for key in ("thrust_gf", "power_w", "efficiency_gf_w"))
    slack = (rows[half("thrust_gf")] + e * rows[half("power_w")]) / w
    allowed = rows[half("efficiency_gf_w")] + slack + INSTRUMENT_SHARE * e
    return ~((e - t / w).abs() > allowed * (1 + 1e-9))


def refuse_swapped(out: ThrustRows, rows: pd.DataFrame) -> None:
    """Two headings of a block that fit each other's figures and not their own."""
    keys = ["voltage_v", "current_a", "power_w"]
    full = rows[(rows[keys] > 0).all(axis=1)]
    headings = out.headings[int(rows["block"].iloc[0])]
    if len(full) < 3 or not set(keys) <= headings.keys():
        return
    v, a, w = (full[key] for key in keys)

    def fits(product: pd.Series, whole: pd.Series) -> bool:
        return bool((product / whole - 1).abs().median() < INSTRUMENT_SHARE)

    pairs = []
    if not fits(v * a, w):
        pairs += [("current_a", "power_w")] if fits(v * w, a) else []
        pairs += [("voltage_v", "power_w")] if fits(w * a, v) else []
    elif v.max() > 1.5 * v.min() and a.max() < 1.1 * a.min():
        pairs += [("voltage_v", "current_a")]
    for one, two in pairs:
        told = (
            f'columns "{headings[one]}" and "{headings[two]}" look swapped: the figures fit only the '
            "other way round. Correct the headings."
        )
        out.problems.append(Problem(told, f"{out.name}, rows {spans(full['number'])}"))


def refuse_impossible(out: ThrustRows, rows: pd.DataFrame) -> None:
    """A unit that must be wrong, and rows that no propeller or motor can give."""
    loads = rows["thrust_gf"] / rows["power_w"]
    first = rows.iloc[0]
    if (
        not LEAST_GF_W <= loads.median() <= MOST_GF_W
        and "thrust_gf" in out.unstated[first["block"]]
    ):
        heading = out.headings[first["block"]]["thrust_gf"]
        told = (
            f"no unit is stated for thrust, and gram-force would give {loads.median():.3g} g/W; "
            "write the unit into the heading."
        )
        out.problems.append(Problem(told, f'{out.name}, column "{heading}"'))
    diameter = diameter_from_name_m(first["propeller"])
    if diameter is not None:
        merit = figure_of_merit(
            (rows["thrust_gf"] - rows[half("thrust_gf")]).to_numpy(),
            (rows["power_w"] + rows[half("power_w")]).to_numpy(),
            diameter,
        )
        for place in np.flatnonzero(merit > 1):
            row = rows.iloc[[place]]
            told = (
                f"{row['thrust_gf'].iloc[0]:g} gf from {row['power_w'].iloc[0]:.4g} W is more than an "
                f"ideal propeller of {diameter / METRES_PER_INCH:.3g} in can give (figure of merit "
                f"{merit[place]:.2f}; 1 at most); check the units and the propeller."
            )
            out.refuse(told, row, "thrust_gf")
    key = "motor_efficiency_pct"
    for place in np.flatnonzero(rows[key] > 100):
        row = rows.iloc[[place]]
        told = f"motor efficiency is {row[key].iloc[0]:g} %; no more than 100 % is possible."
        out.refuse(told, row, key)


def tell_doubts(out: ThrustRows, rows: pd.DataFrame) -> None:
    """What does not fit but does not make the rows useless; rows come by rising thrust."""
    off = rows[~power_agrees(rows)]
    if len(off):
        gap = ((off["power_w"] - off["voltage_v"] * off["current_a"]) / off["power_w"]).abs()
        worst = off.loc[gap.idxmax()]
        v, a, w = (worst[key] for key in ("voltage_v", "current_a", "power_w"))
        told = (
            f"power is not voltage x current; most in row {worst['number']}: {w:.4g} W against "
            f"{v:.4g} V x {a:.4g} A = {v * a:.4g} W. Power is used as printed."
        )
        out.tell(told, off, "power_w")
    off = rows[~_efficiency_agrees(rows)]
    if len(off):
        gap = (1 - off["thrust_gf"] / off["power_w"] / off["efficiency_gf_w"]).abs()
        worst = off.loc[gap.idxmax()]
        t, w, e = (worst[key] for key in ("thrust_gf", "power_w", "efficiency_gf_w"))
        told = (
            f"efficiency is not thrust over power; most in row {worst['number']}: {e:.4g} g/W "
            f"against {t:.4g} gf / {w:.4g} W = {t / w:.4g} g/W. It is not used further."
        )
        out.tell(told, off, "efficiency_gf_w")
    for key, word in (("power_w", "power"), ("current_a", "current")):
        before = (rows[key] - rows[half(key)]).shift()
        falling = rows[rows[key] + rows[half(key)] < before]
        told = f"{word} falls while thrust rises; check for a slip of the pen."
        out.tell(told, falling, key, about="table")
    loads = rows["thrust_gf"] / rows["power_w"]
    odd = rows[~loads.between(LEAST_GF_W, MOST_GF_W)]
    if len(odd):
        told = (
            f"{loads[odd.index[0]]:.3g} g/W is far from any motor's (3 to 13 g/W is usual); "
            "check the units."
        )
        out.tell(told, odd, "thrust_gf", about="table")
    heading = out.headings[int(rows["block"].iloc[0])].get("thrust_gf", "")
    if re.search(r"\b(total|all|sum|together|combined)\b", heading.casefold()):
        told = f'the heading "{heading}" may mean all motors together; the thrust of one motor is needed.'
        out.tell(told, rows, "thrust_gf", about="table")
    propeller = rows["propeller"].iloc[0]
    if diameter_from_name_m(propeller) is None:
        why = "no propeller is named"
        if propeller:
            why = f'no diameter can be read from the propeller\'s name "{propeller}"'
        told = f"{why}; the check against an ideal propeller was not made."
        out.notices.append(Problem(told, out.name))
