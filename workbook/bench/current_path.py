"""The way of the current out of a pack: strips inside, then leads and connector, with their working."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from workbook.battery.pack import Pack
from workbook.bench.connector import ConnectorChoice, choose_connector
from workbook.bench.interconnect import Interconnect
from workbook.bench.layout import Fittings, Layout, layouts
from workbook.bench.strip import AIR_C, MOST_C, STRIP_C, Strip, piece_steps, series_piece_step
from workbook.bench.strip_plan import StripLoad, StripNetwork, StripPlan, solve_strips
from workbook.bench.wire import WireChoice, choose_wire, lead_steps
from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.working import Step, step

KINDS = ("series", "parallel", "tab")


@dataclass(frozen=True)
class CurrentPath:
    """What carries the current, from the cells to the connector. None where it cannot be planned.

    Attributes:
        current_a, burst_a: steady pack current, and the highest for seconds.
        layout: how the cells stand; strips: what joins them.
        wire, connector: from pack to craft.
    """

    current_a: float
    burst_a: float
    layout: Layout | None
    strips: StripPlan | None
    wire: WireChoice
    connector: ConnectorChoice | None

    @property
    def joints_mohm(self) -> dict[str, float]:
        """Parts of the joint resistance that were found, by name."""
        found = {}
        if self.strips is not None:
            found["strips and welds"] = self.strips.joint_mohm
        if self.wire.chosen is not None:
            found["main leads, both"] = self.wire.chosen.resistance_mohm
        if self.connector is not None and self.connector.chosen is not None:
            found["connector"] = self.connector.chosen.contact_mohm
        return found

    @property
    def joint_mohm(self) -> float:
        """Strips, welds, both leads and connector: what a design calls its joints."""
        return sum(self.joints_mohm.values())

    @property
    def drop_v(self) -> float:
        """Voltage lost in all of it at the steady current."""
        return self.joint_mohm * self.current_a / 1000.0

    @property
    def loss_w(self) -> float:
        """Heat in all of it."""
        return self.joint_mohm * self.current_a**2 / 1000.0

    @property
    def readings(self) -> tuple[StripLoad, ...]:
        """The strips where they carry most; of a `current_path`, the most loaded piece of each kind:
        "series", "parallel" (inside the pack) and "tab" (tabs and the strips along the two end groups)."""
        return self.strips.places if self.strips else ()

    def reading(self, kind: str) -> StripLoad | None:
        """The most loaded piece of a kind; None where the pack has none of it."""
        return next((r for r in self.readings if r.kind == kind), None)


def place_of(link: Interconnect, series: int) -> str:
    """The kind under which a piece is read: strips along an end group count with its tab.

    Example:
        >>> import workbook as wb
        >>> [place_of(k, 2) for k in layouts(wb.Pack(wb.find_cell("Bittern"), 2, 2))[0].links]
        ['tab', 'parallel', 'parallel', 'tab', 'series', 'series', 'tab', 'tab']
    """
    at_end = link.kind == "parallel" and link.junction in (0, series)
    return "tab" if at_end else link.kind


def _readings(
    layout: Layout, network: StripNetwork, strip: Strip, layers: FloatArray
) -> tuple[StripLoad, ...]:
    amps = np.abs(network.current_a)
    length_mm = np.array([k.length_mm for k in network.links])
    may_a = strip.allowed_a * layers
    hot_c = np.asarray(strip.hottest_c(amps, length_mm, layers))
    places: dict[str, list[int]] = defaultdict(list)
    for link in network.links:
        places[place_of(link, layout.series)].append(link.number)
    found = []
    for kind in (kind for kind in KINDS if kind in places):
        here = places[kind]
        worst = here[np.argmax(amps[here] / may_a[here]).item()]
        link = network.links[worst]
        beside = [k for k in here if network.links[k].place == link.place]
        found.append(
            StripLoad(
                kind=kind,
                junction=link.junction,
                paths=len(beside),
                current_a=amps[worst].item(),
                layers=int(layers[worst]),
                allowed_a=may_a[worst].item(),
                hottest_c=hot_c[here].max().item(),
                drop_mv=abs(network.drop_mv[worst].item()),
            )
        )
    return tuple(found)


@lru_cache(maxsize=4)
def _one_layer(pack: Pack, fittings: Fittings) -> Layout:
    """The best arrangement of a pack in one layer: the same whatever current and thickness are tried on it."""
    return layouts(pack, None, fittings, max_layers=1, most=1)[0]


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
    weak_cell_pct: float = 0.0,
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
        weak_cell_pct: how much more resistance the first cell of the middle group has than the rest.

    Raises:
        InputError: a figure that cannot be used.

    Source: nodal analysis; ASTM B258, IEC 60028; rules of thumb as their own functions name them.

    Example:
        >>> import workbook as wb
        >>> path = current_path(wb.Pack(wb.find_cell("Bittern"), 4, 2), 20.0, 40.0, 150.0, 12)
        >>> [(r.kind, round(r.current_a)) for r in path.readings]
        [('series', 10), ('parallel', 0), ('tab', 20)]
    """
    strip = strip or Strip()
    choice = choose_wire(current_a, burst_a, lead_mm, max_temperature_c=MOST_C, air_c=AIR_C)
    if not weak_cell_pct >= 0:
        raise InputError(f"weak_cell_pct is {weak_cell_pct:g}; 0 or more is needed.")
    fittings = Fittings(strip_width_mm=strip.width_mm, tabs=tabs)
    layout = _one_layer(pack, fittings)
    by_place = {"series": series_layers, "parallel": 1, "tab": end_layers}
    layers = np.array([by_place[place_of(k, layout.series)] for k in layout.links])
    cell_mohm = np.full(len(layout.cells), pack.cell.resistance_mohm)
    cell_mohm[layout.group((layout.series + 1) // 2)[0].number] *= 1.0 + weak_cell_pct / 100.0
    network = solve_strips(
        layout, current_a, strip, layers.tolist(), cell_mohm=cell_mohm, temperature_c=STRIP_C
    )
    places = _readings(layout, network, strip, layers)
    return CurrentPath(
        current_a,
        burst_a,
        layout,
        StripPlan(layout, strip, current_a, places, network, layers.tolist()),
        replace(choice, chosen=choice.row(awg)),
        choose_connector(current_a, burst_a, layout.series, awg),
    )


def path_steps(path: CurrentPath) -> tuple[Step, ...]:
    """Working of the whole way: a series piece, the tab, the leads, and all of it together.

    Example:
        >>> import workbook as wb
        >>> steps = path_steps(
        ...     current_path(wb.Pack(wb.find_cell("Bittern"), 4, 2), 20.0, 40.0, 150.0, 12)
        ... )
        >>> [s.key for s in steps][0], steps[-1].key
        ('series_piece_a', 'path_loss_w')
    """
    steps: list[Step] = []
    layout, strips, lead = path.layout, path.strips, path.wire.chosen
    series, tab = path.reading("series"), path.reading("tab")
    if layout is None or strips is None or tab is None or lead is None:
        return ()
    if series is not None:
        steps.append(series_piece_step(path.current_a, series.paths))
        steps += piece_steps(strips.strip, layout.pitch_mm, series.layers, series.current_a)
    steps.append(
        step(
            "tab_a",
            tab.current_a,
            share_pct=100 * tab.current_a / path.current_a,
            path=path,
            tab=tab,
        )
    )
    steps += lead_steps(lead, path.current_a, path.wire.length_mm)
    parts = " + ".join(f"{mohm:.4g}" for mohm in path.joints_mohm.values())
    return (
        *steps,
        step(
            "joint_mohm",
            path.joint_mohm,
            joints=" + ".join(path.joints_mohm),
            parts=parts,
            layout=layout,
        ),
        step("path_drop_v", path.drop_v, path=path),
        step("path_loss_w", path.loss_w, path=path),
    )
