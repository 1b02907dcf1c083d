"""From a graph's picture to a cell: curves within 10 mV and 1 % of charge, constant-power time within 1 %.

The graphs are drawn from a cell of the workbook's own: its model is the truth behind the picture. Clicks
miss the line by a pixel or so, as a hand does.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.pictures.drawn import COLOURS, GraphPicture
from workbook.battery.discharge import constant_power
from workbook.errors import InputError
from workbook.files.cell_file import OwnCell, find_cell, own_cell
from workbook.numbers import FloatArray
from workbook.pictures.axes import ACROSS, UP, Axes, KnownPoint, fit_axes
from workbook.pictures.curves import (
    MOST_POINTS,
    NamedCurve,
    charge_ah,
    discharge_curve,
    points_text,
    unseen_text,
)
from workbook.pictures.opening import open_picture
from workbook.pictures.trace import TracedCurve, can_follow, evened, follow

needs_follower = pytest.mark.skipif(not can_follow(), reason="scikit-image is not installed")
pytestmark = needs_follower
CURRENTS_A = (1.0, 4.0, 8.5)
SHARES = (0.0, 0.25, 0.5, 0.75, 0.93, 0.99, 1.0)
"""Where along a curve a hand clicks: the ends, the knee, and a few between."""
Curve = tuple[FloatArray, FloatArray]


@cache
def truth() -> tuple[Curve, ...]:
    """The curves behind the pictures."""
    cell = find_cell("Bittern")
    found = (cell.curve_at(amps, cell.cutoff_v) for amps in CURRENTS_A)
    return tuple((one.charge_ah, one.voltage_v) for one in found)


def axes_of(graph: GraphPicture, across: float = 1000.0) -> Axes:
    far = 0.9 * graph.last_ah
    known = [
        KnownPoint(*graph.at(0.0, 2.5), ACROSS, 0.0),
        KnownPoint(*graph.at(far, 2.5), ACROSS, far * across),
        KnownPoint(*graph.at(0.0, 2.5), UP, 2.5),
        KnownPoint(*graph.at(0.0, 4.0), UP, 4.0),
        KnownPoint(*graph.at(far, 4.0), UP, 4.0),
    ]
    return fit_axes(known if graph.rotated_deg else known[:4])


def traced(graph: GraphPicture, curve: Curve, seed: int = 0) -> TracedCurve:
    charge, volts = curve
    hand = np.random.default_rng(seed)
    places = {min(len(charge) - 1, round(share * (len(charge) - 1))) for share in SHARES}
    near = [graph.beside_legend(q, v, 8.0) for q, v in zip(charge, volts, strict=True)]
    if any(near):  # nobody clicks on what lies over the curve, but just before it and just after it
        first, last = near.index(True), len(near) - 1 - near[::-1].index(True)
        places = {k for k in places if not first <= k <= last} | {first - 1, last + 1}
    clicks = [
        tuple(np.array(graph.at(charge[k], volts[k])) + hand.normal(0, 0.8, 2)) for k in places
    ]
    return follow(evened(open_picture(graph.draw(), "graph").pixels), clicks)


def off(points: Curve, true: Curve) -> tuple[float, float]:
    """Root mean square of the voltage error, mV, over the first nine tenths, and of the charge error, %, over all."""
    (q, v), (true_q, true_v) = points, true
    at_q = np.linspace(q[0], 0.9 * true_q[-1], 400)
    mv = 1000 * (np.interp(at_q, q, v) - np.interp(at_q, true_q, true_v))
    at_v = np.linspace(max(v[-1], true_v[-1]), min(v[0], true_v[0]), 400)
    pct = 100 * (np.interp(at_v, v[::-1], q[::-1]) - np.interp(at_v, true_v[::-1], true_q[::-1]))
    return float(np.sqrt(np.mean(mv**2))), float(np.sqrt(np.mean((pct / true_q[-1]) ** 2)))


def judged(**how: Any) -> list[tuple[float, float]]:
    return judged_graph(
        GraphPicture(truth(), [f"{amps:g} A" for amps in CURRENTS_A], **how), CURRENTS_A
    )


def judged_graph(graph: GraphPicture, currents_a: Sequence[float]) -> list[tuple[float, float]]:
    found = []
    for seed, (amps, true) in enumerate(zip(currents_a, graph.curves, strict=True)):
        curve = NamedCurve(traced(graph, true, seed), amps)
        points = discharge_curve(curve, axes_of(graph), "mAh", 5.0)
        assert len(points.capacity_ah) <= MOST_POINTS
        found.append(off((np.array(points.capacity_ah), np.array(points.voltage_v)), true))
    return found


HOW: dict[str, dict[str, Any]] = {
    "as drawn": {},
    "turned and compressed": {"rotated_deg": 1.5, "jpeg": 50},
    "all black": {"colours": [(20, 20, 20)] * 3},
    "small": {"size": (560, 380)},
    "a lamp at one side": {"light": 0.4, "noise": 8, "line_px": 3},
    "broad lines": {"line_px": 6},
    "blurred": {"size": (1500, 950), "blur_px": 1.5, "jpeg": 60},
    "no grid, no legend": {"grid": False, "legend": False},
    "turned back, noisy": {"rotated_deg": -2.0, "noise": 6, "jpeg": 70},
    "turned back, very noisy": {"rotated_deg": -2.0, "noise": 15, "jpeg": 40},
}
LONG = [pytest.param(name, marks=pytest.mark.long) for name in list(HOW)[3:]]


@pytest.mark.parametrize("how", [*list(HOW)[:3], *LONG])
def test_curves_are_recovered(how: str) -> None:
    for mv, pct in judged(**HOW[how]):
        assert mv <= 10.0
        assert pct <= 1.0


def any_graph(seed: int) -> tuple[GraphPicture, list[float]]:
    """Three curves of some cell in some colours, size and light, a legend over them, spoilt by so much."""
    pick = random.Random(seed)
    cell = find_cell(pick.choice(["Bittern", "Sedge", "Avocet", "Curlew", "Teal"]))
    top_a = min(cell.curves[-1].current_a, cell.continuous_a)
    currents_a = [round(top_a / part, 2) for part in (8.0, 2.5, 1.0)]
    found = [cell.curve_at(amps, cell.cutoff_v) for amps in currents_a]
    last_ah = 1.06 * max(one.charge_ah[-1] for one in found)
    colours = [tuple(pick.randrange(210) for _ in range(3)) for _ in found]
    graph = GraphPicture(
        [(one.charge_ah, one.voltage_v) for one in found],
        [f"{amps:g} A" for amps in currents_a],
        colours=colours if pick.random() < 0.7 else [(20, 20, 20)] * 3,  # type: ignore[arg-type]
        size=pick.choice([(700, 460), (900, 600), (1300, 820)]),
        line_px=pick.choice([2.0, 2.5, 3.0, 4.0, 6.0]),
        last_ah=last_ah,
        grid=pick.random() < 0.7,
        legend=pick.random() < 0.75,
        legend_at=(pick.uniform(0.1, 0.7) * last_ah, pick.uniform(3.1, 4.1)),
        rotated_deg=pick.uniform(-2.0, 2.0),
        jpeg=pick.choice([0, 30, 40, 50, 70, 90]),
        noise=pick.choice([0.0, 3.0, 6.0, 10.0, 15.0]),
        blur_px=pick.choice([0.0, 0.5, 1.0]),
        light=pick.choice([0.0, 0.2, 0.4]),
        seed=seed,
    )
    return graph, currents_a


@pytest.mark.long
@pytest.mark.parametrize("seed", range(300, 312))
def test_the_curves_of_any_graph_are_recovered(seed: int) -> None:
    for mv, pct in judged_graph(*any_graph(seed)):
        assert mv <= 10.0
        assert pct <= 1.0


def test_a_legends_frame_is_not_followed_and_the_curve_goes_on_under_it() -> None:
    """What a frame of the curve's own colour hides, the two ends show: the curve is bent there, as a knee is."""
    charge = np.linspace(0.0, 5.0, 200)
    bent = 4.1 - 0.12 * charge - 0.02 * charge**2
    graph = GraphPicture(
        [(charge, bent)], ["1 A", "2 A", "3 A"], [(20, 20, 20)] * 3, legend_at=(1.5, 3.9), noise=10
    )
    follows = traced(graph, (charge, bent))
    at_ah, volts = axes_of(graph).figures(follows.pixels).T
    assert np.abs(volts - np.interp(at_ah / 1000.0, charge, bent)).max() < 0.02
    assert np.diff(np.sort(at_ah)).max() < 20.0  # mAh: no gap is left


def test_crossing_curves_are_kept_apart() -> None:
    charge = np.linspace(0.0, 5.0, 120)
    level, falling = 3.7 - 0.1 * charge, 4.2 - 0.3 * charge  # they cross at 2.5 Ah, 3.45 V
    graph = GraphPicture(
        [(charge, level), (charge, falling)], ["cold", "warm"], [(20, 20, 20)] * 2, legend=False
    )
    for line in (level, falling):
        curve = NamedCurve(traced(graph, (charge, line)), 2.0)
        points = discharge_curve(curve, axes_of(graph), "mAh", 5.0)
        mv, pct = off((np.array(points.capacity_ah), np.array(points.voltage_v)), (charge, line))
        assert mv <= 10.0
        assert pct <= 1.0


def cell_from(graph: GraphPicture) -> OwnCell:
    pairs = zip(CURRENTS_A, truth(), strict=True)
    curves = [
        discharge_curve(NamedCurve(traced(graph, true), amps), axes_of(graph), "mAh", 5.0)
        for amps, true in pairs
    ]
    cell = find_cell("Bittern")
    return own_cell(
        points_text(curves), "From a picture", cell_format="21700", kind=cell.kind, mass_g=cell.mass_g,
        rated_capacity_ah=cell.rated_capacity_ah, continuous_a=cell.continuous_a, burst_a=cell.burst_a,
        standard_charge_a=cell.standard_charge_a, max_charge_a=cell.max_charge_a,
        resistance_mohm=cell.resistance_mohm,
    )  # fmt: skip


@pytest.mark.parametrize("power_w", [8.0, 20.0, 28.0])
def test_the_cell_read_from_a_picture_flies_as_long_as_the_one_behind_it(power_w: float) -> None:
    graph = GraphPicture(truth(), ["1 A", "4 A", "8.5 A"], jpeg=60)
    read, true = (
        constant_power(cell.datasheet_model, power_w, 3.0).time_s.item()
        for cell in (cell_from(graph).cell, find_cell("Bittern"))
    )
    assert read == pytest.approx(true, rel=0.01)


@pytest.mark.parametrize(
    ("across", "unit", "amps", "expected"),
    [
        ([0.0, 2500.0], "mAh", 1.0, [0.0, 2.5]),
        ([0.0, 2.5], "Ah", 1.0, [0.0, 2.5]),
        ([0.0, 50.0], "% taken", 1.0, [0.0, 2.5]),
        ([100.0, 50.0], "% left", 1.0, [0.0, 2.5]),
        ([0.0, 0.5], "h", 5.0, [0.0, 2.5]),
        ([0.0, 30.0], "min", 5.0, [0.0, 2.5]),
        ([0.0, 1800.0], "s", 5.0, [0.0, 2.5]),
    ],
)
def test_every_unit_of_the_axis_is_charge(
    across: list[float], unit: str, amps: float, expected: list[float]
) -> None:
    """Half of 5 Ah, each way; a time at 5 A for half an hour is 2.5 Ah."""
    assert charge_ah(np.array(across), unit, amps, 5.0) == pytest.approx(np.array(expected))


def test_what_hides_a_curve_is_reported() -> None:
    graph = GraphPicture(truth()[:1], ["1 A"] * 14, legend_at=(1.9, 4.0))
    curve = NamedCurve(traced(graph, truth()[0]), 1.0)
    assert "was not seen in its colour" in unseen_text(curve)
    assert unseen_text(NamedCurve(TracedCurve(curve.traced.pixels, 0.99), 1.0)) == ""


def test_figures_that_no_cell_has_are_refused() -> None:
    graph = GraphPicture(truth()[:1], ["1 A"], legend=False)
    curve = NamedCurve(traced(graph, truth()[0]), 1.0)
    swapped = axes_of(graph, across=1000.0)
    with pytest.raises(InputError, match="which no cell does"):
        discharge_curve(curve, Axes(10 * swapped.matrix), "mAh", 5.0)
    with pytest.raises(InputError, match="names no curve"):
        discharge_curve(NamedCurve(curve.traced, 0.0), swapped, "mAh", 5.0)


def test_the_colours_of_the_drawn_curves_differ() -> None:
    assert len(set(COLOURS)) == len(COLOURS)
