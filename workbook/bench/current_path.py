"""The way of the current out of a pack: strips inside, then leads and connector, with their working."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.battery.pack import Pack
from workbook.bench.connector import ConnectorChoice, choose_connector
from workbook.bench.fuse import MeltingPoint, melting_point
from workbook.bench.interconnect import Interconnect
from workbook.bench.layout import Fittings, Layout, layouts
from workbook.bench.strip import (
    RULE_A_PER_MM2,
    Strip,
    allowed_a,
    hottest_c,
    resistance_mohm,
    resistivity_ohm_m,
)
from workbook.bench.strip_network import StripNetwork, solve_strips
from workbook.bench.strip_plan import ROUNDING
from workbook.bench.wire import (
    COPPER_OHM_MM2_PER_M,
    COPPER_PER_K,
    STRANDED,
    WireChoice,
    WireRow,
    choose_wire,
)
from workbook.bench.wire import temperature_c as wire_temperature_c
from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.working import Step

STRIP_C = 60.0
"""Strip temperature at which resistances are stated: a warm pack. Common practice, no source."""
CELL_END_C = 50.0
"""Temperature of the cell ends late in a flight. Common practice, no source."""
MOST_C = 80.0
"""Hottest that a strip or a lead may get. Common practice, no source."""
AIR_C = 35.0
"""Air around the leads, inside a craft in summer. Common practice, no source."""
KINDS = ("series", "parallel", "take-off")


@dataclass(frozen=True)
class PathReading:
    """The most loaded piece of one kind of strip.

    Attributes:
        kind: "series", "parallel" (inside the pack) or "take-off" (tabs and the strips along the two
            end groups that feed them).
        paths: pieces side by side, where it carries most.
        current_a: in that piece, at the steady current.
        share_pct: of the pack current.
        layers: layers of strip there.
        allowed_a: what they may carry by the current density rule.
        hottest_c: estimated hottest point.
        drop_mv: voltage along the piece.
        holds: whether rule and temperature are kept.
    """

    kind: str
    paths: int
    current_a: float
    share_pct: float
    layers: int
    allowed_a: float
    hottest_c: float
    drop_mv: float
    holds: bool


@dataclass(frozen=True)
class CurrentPath:
    """What the current meets on its way out of one pack.

    Attributes:
        layout: how the cells stand.
        current_a: steady pack current.
        burst_a: highest pack current of seconds.
        strip: the strip off the reel.
        network: its solved currents.
        readings: the most loaded piece of each kind of strip.
        lead: the gauge that was asked about, with its figures.
        lead_mm: length of one lead.
        choice: every gauge, and the thinnest that keeps the limits.
        connector: the class for this current.
        melting: currents that melt a lead of that gauge.
        joint_mohm: strips, welds, both leads and connector: what a design calls its joints.
        drop_v: voltage lost in all of it at the steady current.
        loss_w: heat in all of it.
        holds: whether every strip and the lead keep their limits.
    """

    layout: Layout
    current_a: float
    burst_a: float
    strip: Strip
    network: StripNetwork
    readings: tuple[PathReading, ...]
    lead: WireRow
    lead_mm: float
    choice: WireChoice
    connector: ConnectorChoice
    melting: MeltingPoint
    joint_mohm: float
    drop_v: float
    loss_w: float
    holds: bool

    def reading(self, kind: str) -> PathReading | None:
        """The most loaded piece of a kind; None where the pack has none of it."""
        return next((r for r in self.readings if r.kind == kind), None)


def place_of(link: Interconnect, series: int) -> str:
    """The kind under which a piece is read: strips along an end group count with its tab.

    Example:
        >>> from workbook.bench.layout import example_pack
        >>> [place_of(k, 2) for k in layouts(example_pack(2, 2))[0].links]
        ['take-off', 'parallel', 'parallel', 'take-off', 'series', 'series', 'take-off', 'take-off']
    """
    at_end = link.kind == "parallel" and link.junction in (0, series)
    return "take-off" if at_end else link.kind


def _readings(
    layout: Layout, network: StripNetwork, strip: Strip, layers: FloatArray, pack_a: float
) -> tuple[PathReading, ...]:
    amps = np.abs(network.current_a)
    length_mm = np.array([k.length_mm for k in network.links])
    may_a = np.asarray(allowed_a(strip, layers), float)
    hot_c = np.asarray(hottest_c(amps, length_mm, strip, layers, CELL_END_C), float)
    found = []
    for kind in KINDS:
        here = [i for i, k in enumerate(network.links) if place_of(k, layout.series) == kind]
        if not here:
            continue
        worst = max(here, key=lambda i: float(amps[i] / may_a[i]))
        link = network.links[worst]
        beside = [
            i
            for i in here
            if network.links[i].junction == link.junction and network.links[i].kind == link.kind
        ]
        found.append(
            PathReading(
                kind=kind,
                paths=len(beside),
                current_a=float(amps[worst]),
                share_pct=100.0 * float(amps[worst]) / pack_a,
                layers=int(layers[worst]),
                allowed_a=float(may_a[worst]),
                hottest_c=float(hot_c[here].max()),
                drop_mv=abs(float(network.drop_mv[worst])),
                holds=bool(amps[worst] <= may_a[worst] * ROUNDING and hot_c[here].max() <= MOST_C),
            )
        )
    return tuple(found)


def current_path(
    pack: Pack,
    current_a: float,
    burst_a: float,
    lead_mm: float,
    awg: int,
    strip: Strip | None = None,
    *,
    series_layers: int = 1,
    end_layers: int = 1,
    tabs: str = "one",
    air_c: float = AIR_C,
    weak_cell_pct: float = 0.0,
    layout: Layout | None = None,
) -> CurrentPath:
    """Follow the current through strips, tabs, leads and connector of one pack.

    Args:
        pack: one S and one P.
        current_a: steady pack current, above 0.
        burst_a: highest pack current, for ten seconds; at least `current_a`.
        lead_mm: length of one main lead.
        awg: gauge of the main leads, one of `workbook.bench.wire.GAUGES_AWG`.
        strip: the strip off the reel.
        series_layers: layers of every series step.
        end_layers: layers of the tabs and of the strips along both end groups.
        tabs: "one" tab at each end, or one on "each" end cell.
        air_c: air around the leads.
        weak_cell_pct: how much more resistance the first cell of the middle group has than the rest.
        layout: how the cells stand; the best of `layouts` if left out.

    Raises:
        InputError: a figure that cannot be used.

    Source: nodal analysis; ASTM B258, IEC 60028; rules of thumb as their own functions name them.

    Example:
        >>> from workbook.bench.layout import example_pack
        >>> path = current_path(example_pack(4, 2), 20.0, 40.0, 150.0, 12)
        >>> [(r.kind, round(r.share_pct)) for r in path.readings]
        [('series', 50), ('parallel', 1), ('take-off', 100)]
    """
    strip = strip or Strip()
    if awg not in [row.awg for row in choose_wire(1.0, 1.0, 1.0).rows]:
        raise InputError(f"awg is {awg}; a gauge in which lead is sold is needed.")
    if not weak_cell_pct >= 0:
        raise InputError(f"weak_cell_pct is {weak_cell_pct:g}; 0 or more is needed.")
    choice = choose_wire(current_a, burst_a, lead_mm, max_temperature_c=MOST_C, air_c=air_c)
    if layout is None:
        layout = layouts(
            pack, None, Fittings(strip_width_mm=strip.width_mm, tabs=tabs), max_layers=1
        )[0]
    links = layout.links
    by_place = {"series": series_layers, "parallel": 1, "take-off": end_layers}
    layers = np.array([by_place[place_of(k, layout.series)] for k in links], float)
    cell_mohm = np.full(len(layout.cells), float(pack.cell.resistance_mohm))
    weak = next(c.number for c in layout.cells if c.group == (layout.series + 1) // 2)
    cell_mohm[weak] *= 1.0 + weak_cell_pct / 100.0
    network = solve_strips(
        layout,
        current_a,
        strip,
        [int(n) for n in layers],
        cell_mohm=cell_mohm,
        temperature_c=STRIP_C,
    )
    readings = _readings(layout, network, strip, layers, current_a)
    lead = next(row for row in choice.rows if row.awg == awg)
    connector = choose_connector(current_a, burst_a, layout.series, awg)
    contact = connector.chosen.contact_mohm if connector.chosen else 0.0
    joint_mohm = network.joint_mohm + lead.resistance_mohm + contact
    return CurrentPath(
        layout=layout,
        current_a=current_a,
        burst_a=burst_a,
        strip=strip,
        network=network,
        readings=readings,
        lead=lead,
        lead_mm=lead_mm,
        choice=choice,
        connector=connector,
        melting=melting_point(awg),
        joint_mohm=joint_mohm,
        drop_v=joint_mohm * current_a / 1000.0,
        loss_w=joint_mohm * current_a**2 / 1000.0,
        holds=lead.fits and connector.chosen is not None and all(r.holds for r in readings),
    )


def path_layers(path: CurrentPath) -> tuple[int, ...]:
    """Layers of each link of a path, in the order of its links."""
    by_place = {r.kind: r.layers for r in path.readings}
    return tuple(by_place[place_of(k, path.layout.series)] for k in path.network.links)


def lead_steps(row: WireRow, current_a: float, lead_mm: float) -> tuple[Step, ...]:
    """Working of a pair of main leads: section, resistance, drop, heat.

    Args:
        row: the gauge's figures.
        current_a: steady current.
        lead_mm: length of one lead.

    Example:
        >>> row = next(r for r in choose_wire(22.0, 40.0, 150.0).rows if r.awg == 12)
        >>> print(lead_steps(row, 22.0, 150.0)[2].text())
        drop in both leads = current x resistance = 22 A x 1.794 mohm = 39.47 mV  [Ohm's law]
    """
    at_c = min(row.temperature_c, 200.0)
    run_m = 2.0 * lead_mm / 1000.0
    return (
        Step(
            "lead_section_mm2",
            "copper section",
            "pi/4 x (0.127 mm x 92^((36 - gauge)/39))^2",
            f"pi/4 x (0.127 mm x 92^((36 - {row.awg})/39))^2",
            row.area_mm2,
            "mm2",
            "ASTM B258",
        ),
        Step(
            "lead_mohm",
            "resistance of both leads, warm",
            "resistivity x lay x length out and back / section x (1 + 0.00393 x (T - 20))",
            f"{COPPER_OHM_MM2_PER_M:g} x {STRANDED:g} x {run_m:.4g} m / {row.area_mm2:.4g} mm2 "
            f"x (1 + {COPPER_PER_K:g} x ({at_c:.1f} - 20)) x 1000",
            row.resistance_mohm,
            "mohm",
            "IEC 60028; lay of the strands NFPA 70, chapter 9, table 8",
        ),
        Step(
            "lead_drop_mv",
            "drop in both leads",
            "current x resistance",
            f"{current_a:g} A x {row.resistance_mohm:.4g} mohm",
            row.drop_mv,
            "mV",
            "Ohm's law",
        ),
        Step(
            "lead_loss_w",
            "heat in both leads",
            "current^2 x resistance",
            f"({current_a:g} A)^2 x {row.resistance_mohm:.4g} mohm / 1000",
            row.loss_w,
            "W",
            "Joule's law",
        ),
    )


def piece_steps(
    strip: Strip, length_mm: float, layers: int, current_a: float, temperature_c: float = STRIP_C
) -> tuple[Step, ...]:
    """Working of one piece of strip: section, what it may carry, resistance, drop.

    Args:
        strip: the strip.
        length_mm: between its welds.
        layers: on one another.
        current_a: in the piece.
        temperature_c: of the strip.

    Example:
        >>> print(piece_steps(Strip(), 21.2, 1, 8.0)[1].text())
        what it may carry = section x rule for this metal = 1.2 mm2 x 5 A/mm2 = 6 A  [common ...]
    """
    section = strip.section_mm2 * layers
    may_a = float(allowed_a(strip, layers))
    mohm = float(resistance_mohm(length_mm, strip, layers, temperature_c))
    return (
        Step(
            "strip_section_mm2",
            "section",
            "layers x width x thickness",
            f"{layers} x {strip.width_mm:g} mm x {strip.thickness_mm:g} mm",
            section,
            "mm2",
            "geometry",
        ),
        Step(
            "strip_allowed_a",
            "what it may carry",
            "section x rule for this metal",
            f"{section:.4g} mm2 x {may_a / section:.4g} A/mm2",
            may_a,
            "A",
            f"common practice, no source: {RULE_A_PER_MM2:g} A/mm2 for nickel as sold; "
            "other metals at equal heat",
        ),
        Step(
            "strip_mohm",
            "resistance of the piece",
            "resistivity x length / section",
            f"{float(resistivity_ohm_m(strip.material, temperature_c)) * 1e6:.4g} mohm mm "
            f"x {length_mm:.4g} mm / {section:.4g} mm2",
            mohm,
            "mohm",
            f"resistivity of {strip.material} at {temperature_c:g} C",
        ),
        Step(
            "strip_drop_mv",
            "drop along the piece",
            "current x resistance",
            f"{current_a:.4g} A x {mohm:.4g} mohm",
            current_a * mohm,
            "mV",
            "Ohm's law",
        ),
    )


def series_piece_step(current_a: float, pieces: int) -> Step:
    """Working of the even share of one series piece.

    Args:
        current_a: pack current.
        pieces: side by side in the step.

    Example:
        >>> series_piece_step(24.0, 3).result
        8.0
    """
    return Step(
        "series_piece_a",
        "current of one series piece, shared evenly",
        "pack current / pieces side by side",
        f"{current_a:g} A / {pieces}",
        current_a / pieces,
        "A",
        "Kirchhoff's current law",
    )


def layers_steps(strip: Strip, current_a: float) -> tuple[Step, ...]:
    """Working of the least layers of strip that may carry a current, by the current density rule.

    Args:
        strip: the strip.
        current_a: steady current, above 0.

    Source: common practice, no source (see `workbook.bench.strip.allowed_a`).

    Example:
        >>> [s.result for s in layers_steps(Strip(), 20.0)]
        [1.2, 6.0, 4.0]
    """
    section, may = piece_steps(strip, 1.0, 1, current_a)[:2]
    layers = math.ceil(current_a / may.result / ROUNDING)
    return (
        section,
        may,
        Step(
            "layers",
            "layers",
            "current / what one layer may carry, rounded up",
            f"{current_a:g} A / {may.result:.4g} A = {current_a / may.result:.2f}",
            float(layers),
            "layers",
            "common practice, no source",
        ),
    )


def path_steps(path: CurrentPath) -> tuple[Step, ...]:
    """Working of the whole way: a series piece, the tab, the leads, and all of it together.

    Example:
        >>> from workbook.bench.layout import example_pack
        >>> steps = path_steps(current_path(example_pack(4, 2), 20.0, 40.0, 150.0, 12))
        >>> [s.key for s in steps][0], steps[-1].key
        ('series_piece_a', 'path_loss_w')
    """
    steps: list[Step] = []
    series = path.reading("series")
    parallel = path.layout.parallel
    if series is not None:
        steps.append(series_piece_step(path.current_a, series.paths))
        steps += piece_steps(path.strip, path.layout.pitch_mm, series.layers, series.current_a)
    tab = path.reading("take-off")
    assert tab is not None, "every pack has its two ends"
    steps.append(
        Step(
            "tab_a",
            "current where the pack leaves its strips",
            "pack current / tabs at one end, as the network shares it",
            f"{tab.share_pct:.1f} % of {path.current_a:g} A; {tab.layers} layers may carry "
            f"{tab.allowed_a:.3g} A",
            tab.current_a,
            "A",
            "nodal analysis",
        )
    )
    steps += lead_steps(path.lead, path.current_a, path.lead_mm)
    strips = path.network.joint_mohm
    contact = path.joint_mohm - strips - path.lead.resistance_mohm
    steps += [
        Step(
            "joint_mohm",
            "all joints of the pack",
            "strips and welds + both leads + connector",
            f"{strips:.4g} + {path.lead.resistance_mohm:.4g} + {contact:.4g} mohm",
            path.joint_mohm,
            "mohm",
            f"nodal analysis of {parallel} cells in parallel; connector: common practice, no source",
        ),
        Step(
            "path_drop_v",
            "voltage lost on the way",
            "current x resistance",
            f"{path.current_a:g} A x {path.joint_mohm:.4g} mohm / 1000",
            path.drop_v,
            "V",
            "Ohm's law",
        ),
        Step(
            "path_loss_w",
            "heat on the way",
            "current^2 x resistance",
            f"({path.current_a:g} A)^2 x {path.joint_mohm:.4g} mohm / 1000",
            path.loss_w,
            "W",
            "Joule's law",
        ),
    ]
    return tuple(steps)


def heat_against_current(
    awg: Sequence[int], current_a: FloatArray, air_c: float, *, loaded_wires: int = 2
) -> FloatArray:
    """Conductor temperatures for a chart.

    Args:
        awg: gauges, shape (G,).
        current_a: shape (K,).
        air_c: air around the lead.
        loaded_wires: loaded wires tied together.

    Returns:
        Temperature in C, shape (G, K).

    Example:
        >>> heat_against_current([12], np.array([22.0]), 35.0).round(0)
        array([[53.]])
    """
    found: FloatArray = np.asarray(
        wire_temperature_c(
            np.asarray(awg, float)[:, None], current_a[None, :], air_c, loaded_wires=loaded_wires
        ),
        float,
    )
    return found
