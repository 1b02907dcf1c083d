"""Lesson 11: the current's way out: strips, tabs, leads, connector."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial
from typing import Any

import ipywidgets as W
import numpy as np

from workbook import svg
from workbook.bench.arrange import CellPlace
from workbook.bench.current_path import CurrentPath, current_path, path_steps
from workbook.bench.flight_load import part_currents
from workbook.bench.interconnect import Interconnect
from workbook.bench.layout import Layout
from workbook.bench.strip import AIR_C, MATERIALS, MOST_C, Strip
from workbook.bench.strip_plan import StripNetwork
from workbook.bench.wire import GAUGES_AWG, WireRow, temperature_c
from workbook.lessons.lesson_view import LessonView
from workbook.quantities import INPUTS
from workbook.sheet.plan import flight_load
from workbook.sizing.size import size
from workbook.units import number_in, with_unit
from workbook.widgets.charts import Level, Line, LineChart, Point
from workbook.widgets.controls import ChoiceControl, NumberControl, controls
from workbook.widgets.picture import Picture
from workbook.widgets.style import ALTERNATIVE, FAINT, INK, LIMIT, PACK
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

HOTTEST_SHOWN_C = 160.0
"""Top of the chart; a hotter lead is marked there and its heat given in words."""
MELTS_C = 1085.0
"""Copper melts; nickel and steel do so later, their joints long before. Source: CRC Handbook, copper, 1084.6 °C."""
NAMES = {"series": "series step", "parallel": "parallel link", "tab": "tab and end strips"}
ROLES = ("alternative", "pack", "caution")
"""Of the next thicker lead, the lead chosen and the next thinner."""


class WireAndStrips(LessonView):
    """Slide current and sections; see every piece of strip, the lead and the heat."""

    def build(self) -> W.Widget:
        """Controls at the currents that the design's parts are made for."""
        self.pack = self.design.one_pack
        made_for = part_currents(self.pack, flight_load(size(self.design), of_one=True))
        self.inputs = {
            "current_a": NumberControl.of(
                "steady_current_a", _start_current("steady_current_a", made_for.continuous_a)
            ),
            "burst_a": NumberControl.of(
                "burst_current_a", _start_current("burst_current_a", made_for.burst_a)
            ),
            **controls(lead_mm=150),
            "awg": ChoiceControl("AWG", GAUGES_AWG, 12),
            "material": ChoiceControl("strip", list(MATERIALS), "nickel 200"),
            "width_mm": NumberControl.of("strip_width_mm", 8),
            "thickness_mm": NumberControl.of("strip_thickness_mm", 0.15),
            **controls(series_layers=1, end_layers=1),
            "tabs": ChoiceControl("tabs", {"one at each end": "one", "one on each cell": "each"}),
            **controls(weak_cell_pct=0),
        }
        self.picture = StripPicture()
        self.chart = LineChart(
            f"Lead: temperature after minutes at a current, air at {with_unit(AIR_C, '°C', 0)}",
            "steady current, A",
            "copper, °C",
        )
        self.figures, self.strips, self.gauges = KeyFigures(), Table(), Table()
        return self.side_by_side(
            [*self.inputs.values(), self.figures],
            [self.picture, self.strips, self.chart, self.gauges],
        )

    def compute(
        self, material: str, width_mm: float, thickness_mm: float, **values: Any
    ) -> CurrentPath:
        """Follow the current."""
        return current_path(self.pack, strip=Strip(material, width_mm, thickness_mm), **values)

    def render(self, result: CurrentPath) -> None:
        """Draw the net, the strips' table, the lead's chart and every gauge."""
        series, tab = result.reading("series"), result.reading("tab")
        layout, strips, connector = result.layout, result.strips, result.connector
        assert layout is not None, "one pack is laid out"
        assert strips is not None, "and joined"
        assert connector is not None, "and its leads end somewhere"
        assert tab is not None, "every pack has tabs"
        phrase = f"{with_unit(tab.current_a, 'A', 1, 'up')} through each tab"
        if series is not None:
            phrase = (
                f"A series step shares {result.current_a:g} A over {series.paths} pieces, "
                f"{with_unit(series.current_a, 'A', 1, 'up')} in the most loaded one. The end strips carry up to "
                f"{with_unit(tab.current_a, 'A', 1, 'up')}."
            )
        link = result.reading("parallel")
        if link is not None:
            phrase += f" A parallel link inside carries at most {with_unit(link.current_a, 'A', 1, 'up')}."
        self.picture.update(layout, strips.network, phrase)
        self.strips.update(
            ("strip", "A", "layers", "may carry, A", "hottest", "drop, mV", ""),
            [
                (
                    NAMES[r.kind],
                    number_in(r.current_a, "A", 1, "up"),
                    f"{r.layers}",
                    number_in(r.allowed_a, "A", 1, "down"),
                    _degrees(r.hottest_c),
                    number_in(r.drop_mv, "mV", 1, "up"),
                    "✓ holds" if r.holds else "✕ too thin",
                )
                for r in result.readings
            ],
            "Most loaded piece of each kind",
            words=(6,),
        )
        lead = self._show_leads(result)
        plug = connector.chosen
        self.figures.show(
            Figure("voltage lost on the way", number_in(result.drop_v, "V", 2, "up"), "V"),
            Figure("heat on the way", number_in(result.loss_w, "W", 1, "up"), "W"),
            Figure("all joints", number_in(result.joint_mohm, "mΩ", 1, "up"), "mΩ"),
            Figure("connector", f"{plug.class_a:g} A" if plug else "none listed"),
            Figure("lead melts at", number_in(lead.melting.steady_a, "A", 0, "down"), "A"),
        )

    def _show_leads(self, result: CurrentPath) -> WireRow:
        rows, lead = result.wire.rows, result.wire.chosen
        assert lead is not None, "a gauge was chosen"
        index = rows.index(lead)
        near = {
            k: role
            for k, role in zip((index - 1, index, index + 1), ROLES, strict=True)
            if 0 <= k < len(rows)
        }
        across = np.linspace(0.0, max(60.0, 1.5 * result.current_a), 120)
        awg = np.array([rows[k].awg for k in near])[:, None]
        heat = temperature_c(awg, across, AIR_C, loaded_wires=2)
        seen = np.where(heat <= HOTTEST_SHOWN_C, heat, np.nan)
        verdict = "keeps every limit" if lead.fits else lead.why
        self.chart.update(
            [
                Line(f"{rows[k].awg} AWG", across, line, role)
                for (k, role), line in zip(near.items(), seen, strict=True)
            ],
            levels=[Level(f"limit {with_unit(MOST_C, '°C', 0)}", MOST_C)],
            points=[Point("yours", result.current_a, min(lead.temperature_c, HOTTEST_SHOWN_C))],
            x_range=(0.0, across[-1]),
            y_range=(20.0, HOTTEST_SHOWN_C),
            finding=f"{lead.awg} AWG, {with_unit(result.wire.length_mm, 'mm')} each way: {with_unit(lead.drop_mv, 'mV', 0, 'up')} and {with_unit(lead.loss_w, 'W', 1, 'up')} "
            f"lost at {result.current_a:g} A, {_degrees(lead.temperature_c)}; {_degrees(lead.burst_temperature_c)} after a "
            f"burst of 10 s. {lead.awg} AWG {verdict}.",
        )
        self.gauges.update(
            ("AWG", "mm²", "drop, mV", "heat, W", "steady", "after burst", ""),
            [
                (
                    f"{r.awg}",
                    f"{r.area_mm2:.2f}",
                    number_in(r.drop_mv, "mV", 0, "up"),
                    number_in(r.loss_w, "W", 1, "up"),
                    _degrees(r.temperature_c),
                    _degrees(r.burst_temperature_c),
                    "✓ holds" if r.fits else f"✕ {r.why.split(';')[0]}",
                )
                for r in rows
            ],
            "Every gauge, both leads",
            bold=index,
            words=(6,),
        )
        return lead

    def working(self, result: CurrentPath) -> Iterable[Step]:
        """Steps of the whole way."""
        return path_steps(result)

    def kept_figures(self, result: CurrentPath) -> Mapping[str, Any]:
        """The joints go on into the design."""
        return {"joint_mohm": round(result.joint_mohm, 1), "lead_mm": result.wire.length_mm}


def _start_current(key: str, current_a: float) -> float:
    """A current to start with: whole, and one that its control takes; the least where it is not known."""
    least, most = INPUTS[key].least, INPUTS[key].most
    return min(max(round(current_a), least), most) if math.isfinite(current_a) else least


def _degrees(value: float) -> str:
    if value >= MELTS_C:
        return "melts"
    return with_unit(value, "°C", 0, "up") if value <= 200.0 else f"above {with_unit(200.0, '°C')}"


WIDTH = 760
MOST_HIGH, MOST_PITCH = 450.0, 80.0
SMALL_A = 0.05
"""A piece that carries less is drawn without a figure."""
LOOKS = {
    "series": (PACK.colour, ""),
    "parallel": (ALTERNATIVE.colour, "7 4"),
    "tab": (LIMIT.colour, "2 3"),
}
LEGEND = (
    ("series", "series step"),
    ("parallel", "parallel link"),
    ("tab", "terminal tab"),
    ("", "thicker: more amperes"),
)
TEXT_PX, RADIUS = 15.5, 0.46
CAN_LOOK: dict[str, svg.Attribute] = {
    "fill": "#f3f4f6",
    "stroke": FAINT.colour,
    "stroke_width": 1.2,
}


class StripPicture(Picture):
    """Both faces of one layer of cells, seen as the builder sees them, with the current in each piece.

    Example:
        >>> from workbook.bench.current_path import current_path
        >>> import workbook as wb
        >>> path = current_path(wb.Pack(wb.find_cell("Bittern"), 2, 2), 20.0, 30.0, 100.0, 12)
        >>> picture = StripPicture()
        >>> picture.update(path.layout, path.strips.network, "Each step shares 20 A.")
        >>> picture.svg.value.count('data-kind="series"')
        2
    """

    narrow_px = 500

    def __init__(self) -> None:
        super().__init__("Current in every piece of strip", WIDTH, 330)

    def update(self, layout: Layout, network: StripNetwork, finding: str) -> None:
        """Show another pack.

        Args:
            layout: one layer of cells.
            network: its strips at one pack current.
            finding: what the picture shows, in words.
        """
        self.redraw = partial(self.update, layout, network, finding)
        xs, ys = [c.x_mm for c in layout.cells], [c.y_mm for c in layout.cells]
        pitch_mm = layout.pitch_mm
        wide = (max(xs) - min(xs)) / pitch_mm + 1.0
        high = (max(ys) - min(ys)) / pitch_mm + 1.0
        upright = any(link.to_cell is None and link.way[1] for link in network.links)
        high += 1.4 if upright else 0.15
        pitch = min(self.width_px / (wide + 2.2), MOST_HIGH / 2.0 / high, MOST_PITCH)
        panel_high = high * pitch + 4.0
        amps = np.abs(network.current_a).tolist()
        shapes, top = _legend(self.width_px)
        title_px = 22.0 if self.width_px == self.narrow_px else 0.0
        for face in ("top", "bottom"):
            shapes += svg.text(6, top + 20 - title_px / 4, f"{face} face", bold=True)
            top += title_px
            middle_y = top + panel_high / 2.0
            middle = (self.width_px / 2.0 + 20.0, middle_y)
            shapes += _strip_face(layout, face, middle, pitch).drawn(amps)
            top += panel_high
        self.height_px = round(top)
        self.draw(shapes, finding)


@lru_cache(maxsize=2)  # at either width
def _legend(width_px: float) -> tuple[str, float]:
    """What the strokes mean, in rows; and where they end."""
    shapes, x, y = "", 6.0, 14.0
    for kind, name in LEGEND:
        wide = 52 + 8.2 * len(name)
        if x + wide > width_px:
            x, y = 6.0, y + 22.0
        if kind:
            colour, dash = LOOKS[kind]
            shapes += svg.line(x, y, x + 44, y, colour, 6, dash)
        shapes += svg.text(x + (52 if kind else 0), y + 5, name)
        x += wide + 18.0
    return shapes, y + 14.0


@dataclass(frozen=True)
class _StripFace:
    """One face of the pack as the builder sees it: the bottom is turned over, so rows change places."""

    layout: Layout
    face: str
    middle: tuple[float, float]
    pitch: float

    def drawn(self, amps: Sequence[float]) -> str:
        """Cans below, pieces over them, figures and poles on top.

        Args:
            amps: in each piece of either face.
        """
        most_a = max(amps, default=0.0) or 1.0
        pieces, labels = "", ""
        for link, ((x1, y1), (x2, y2)) in self.links:
            amount = amps[link.number]
            colour, dash = LOOKS[link.kind]
            data = {"data_kind": link.kind, "data_current_a": f"{amount:.4g}"}
            wide = 1.5 + 12.0 * amount / most_a
            pieces += svg.line(x1, y1, x2, y2, colour, wide, dash, **data)
            if amount >= SMALL_A:
                tab = link.to_cell is None
                share = 0.86 if tab else 0.5
                x, y = x1 + (x2 - x1) * share, y1 + (y2 - y1) * share
                labels += _label(x, y, amount, colour, tab)
        return self.cans + pieces + labels + self.poles

    @property
    def _sign(self) -> float:
        return -1.0 if self.face == "top" else 1.0

    @cached_property
    def positions(self) -> dict[int, tuple[float, float]]:
        """Middle of each can, by its number."""
        (x, y), scale = self.middle, self.pitch / self.layout.pitch_mm
        return {
            cell.number: (x + cell.x_mm * scale, y + self._sign * cell.y_mm * scale)
            for cell in self.layout.cells
        }

    @cached_property
    def links(self) -> list[tuple[Interconnect, tuple[tuple[float, float], tuple[float, float]]]]:
        """The pieces on this face, and where each begins and ends."""
        return [
            (link, (self.positions[link.from_cell], self._far_end(link)))
            for link in self.layout.links
            if link.face == self.face
        ]

    def _far_end(self, link: Interconnect) -> tuple[float, float]:
        if link.to_cell is not None:
            return self.positions[link.to_cell]
        x, y = self.positions[link.from_cell]
        reach = 0.95 * self.pitch
        return x + link.way[0] * reach, y + self._sign * link.way[1] * reach

    @cached_property
    def cans(self) -> str:
        """All cans."""
        circles = (
            svg.element("circle", cx=x, cy=y, r=RADIUS * self.pitch)
            for x, y in self.positions.values()
        )
        return svg.group(*circles, **CAN_LOOK)

    @cached_property
    def poles(self) -> str:
        """The joint on each can, and its pole where no piece leaves it."""
        directions: dict[int, list[float]] = {number: [] for number in self.positions}
        for link, ((x1, y1), (x2, y2)) in self.links:
            away = math.atan2(y2 - y1, x2 - x1)
            directions[link.from_cell].append(away)
            if link.to_cell is not None:
                directions[link.to_cell].append(away + math.pi)
        return "".join(self._pole(cell, directions[cell.number]) for cell in self.layout.cells)

    def _pole(self, cell: CellPlace, directions: list[float]) -> str:
        (x, y), away = self.positions[cell.number], _freest_direction(directions)
        reach = 0.64 * RADIUS * self.pitch
        sign = "+" if cell.plus_up == (self.face == "top") else "−"
        return svg.element("circle", cx=x, cy=y, r=3.4, fill=INK) + svg.text(
            x + reach * math.cos(away),
            y + reach * math.sin(away) + 5.0,
            f"{sign}{cell.group}",
            anchor="middle",
            size=TEXT_PX if self.pitch > 50 else 13.0,
            colour="#545c69",
        )


_strip_face = lru_cache(maxsize=4)(_StripFace)
"""The same face for the same layout: what does not change with the current is drawn once."""


def _label(x: float, y: float, amps: float, colour: str, bold: bool) -> str:
    text = f"{amps:.1f}" if amps < 99.95 else f"{amps:.0f}"
    half = 4.6 * len(text) + 2.0
    ground = svg.box(x - half, y - 10, 2 * half, 20, "#ffffff", colour, 1.0, 5)
    return ground + svg.text(x, y + 5.5, text, anchor="middle", size=TEXT_PX, bold=bold)


def _freest_direction(directions: list[float]) -> float:
    """The direction, of eight, that is farthest from all given ones."""
    tries = [math.pi * (k / 4.0 - 0.75) for k in range(8)]

    def room(angle: float) -> float:
        return min((abs(math.remainder(angle - w, 2.0 * math.pi)) for w in directions), default=0.0)

    return max(tries, key=lambda t: round(room(t), 3))
