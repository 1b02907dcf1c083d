"""The strips of a pack as a net: every piece as thick as its current, with the figure on it."""

from __future__ import annotations

import math

from workbook import svg
from workbook.bench.arrange import CellPlace
from workbook.bench.interconnect import Interconnect
from workbook.bench.layout import Layout
from workbook.bench.strip_plan import StripNetwork
from workbook.widgets.palette import ALTERNATIVE, FAINT, INK, LIMIT, PACK
from workbook.widgets.picture import Picture

WIDTH = 760
MOST_HIGH, MOST_PITCH = 450.0, 80.0
SMALL_A = 0.05
"""A piece that carries less is drawn without a figure."""
LOOKS = {
    "series": (PACK.colour, ""),
    "parallel": (ALTERNATIVE.colour, "7 4"),
    "tab": (LIMIT.colour, "2 3"),
}
KEY = (("series", "series step"), ("parallel", "parallel link"), ("tab", "terminal tab"))
TEXT, RADIUS = 15.5, 0.46
CAN: dict[str, svg.Attribute] = {"fill": "#f3f4f6", "stroke": FAINT.colour, "stroke_width": 1.2}


class StripPicture(Picture):
    """Both faces of one layer of cells, seen as the builder sees them, with the current in each piece.

    Example:
        >>> from workbook.bench.current_path import current_path
        >>> from workbook.bench.layout import example_pack
        >>> path = current_path(example_pack(2, 2), 20.0, 30.0, 100.0, 12)
        >>> picture = StripPicture()
        >>> picture.update(path.layout, path.strips.network, "Each step shares 20 A.")
        >>> picture.svg.value.count('data-kind="series"')
        2
    """

    def __init__(self, title: str = "Current in every piece of strip") -> None:
        super().__init__(title, WIDTH, 330)

    def update(self, layout: Layout, network: StripNetwork, finding: str) -> None:
        """Show another pack.

        Args:
            layout: one layer of cells.
            network: its strips at one pack current.
            finding: what the picture shows, in words.
        """
        xs, ys = [c.x_mm for c in layout.cells], [c.y_mm for c in layout.cells]
        pitch_mm = layout.pitch_mm
        wide = (max(xs) - min(xs)) / pitch_mm + 1.0
        high = (max(ys) - min(ys)) / pitch_mm + 1.0
        upright = any(link.to_cell is None and link.way[1] for link in network.links)
        high += 1.4 if upright else 0.15
        pitch = min(WIDTH / (wide + 2.2), MOST_HIGH / 2.0 / high, MOST_PITCH)
        panel_high = high * pitch + 4.0
        most = max((abs(float(a)) for a in network.current_a), default=1.0) or 1.0
        shapes, top = _key(), 28.0
        for face in ("top", "bottom"):
            middle_y = top + panel_high / 2.0
            shapes += svg.text(6, top + 20, f"{face} face", bold=True)
            shapes += _StripFace(layout, network, face, middle_y, pitch, most).drawn()
            top += panel_high
        self.height_px = round(top)
        self.draw(shapes, finding)


def _key() -> str:
    shapes, x = "", 6.0
    for kind, name in KEY:
        colour, dash = LOOKS[kind]
        shapes += svg.line(x, 14, x + 44, 14, colour, 6, dash)
        shapes += svg.text(x + 52, 19, name)
        x += 70 + 8.2 * len(name)
    return shapes + svg.text(x + 4, 19, "thicker: more ampere")


class _StripFace:
    """One face of the pack as the builder sees it: the bottom is turned over, so rows change places."""

    def __init__(
        self,
        layout: Layout,
        network: StripNetwork,
        face: str,
        middle_y: float,
        pitch: float,
        most_a: float,
    ) -> None:
        self.layout, self.face, self.pitch, self.most_a = layout, face, pitch, most_a
        self.pieces = [
            (link, abs(float(amps)))
            for link, amps in zip(network.links, network.current_a, strict=True)
            if link.face == face
        ]
        self.sign = -1.0 if face == "top" else 1.0
        scale = pitch / layout.pitch_mm
        self.at = {
            cell.number: (
                WIDTH / 2.0 + 20.0 + cell.x_mm * scale,
                middle_y + self.sign * cell.y_mm * scale,
            )
            for cell in layout.cells
        }

    def drawn(self) -> str:
        """Cans below, pieces over them, figures and poles on top."""
        cans = "".join(
            svg.element("circle", cx=x, cy=y, r=RADIUS * self.pitch, **CAN)
            for x, y in self.at.values()
        )
        pieces, amps = "", ""
        ways: dict[int, list[float]] = {number: [] for number in self.at}
        for link, size in self.pieces:
            (x1, y1), (x2, y2) = self.at[link.from_cell], self._far_end(link)
            away = math.atan2(y2 - y1, x2 - x1)
            ways[link.from_cell].append(away)
            if link.to_cell is not None:
                ways[link.to_cell].append(away + math.pi)
            colour, dash = LOOKS[link.kind]
            stroke = svg.line(x1, y1, x2, y2, colour, 1.5 + 12.0 * size / self.most_a, dash)
            pieces += svg.group(stroke, data_kind=link.kind, data_current_a=f"{size:.4g}")
            if size >= SMALL_A:
                tab = link.to_cell is None
                share = 0.86 if tab else 0.5
                amps += _label(x1 + (x2 - x1) * share, y1 + (y2 - y1) * share, size, colour, tab)
        poles = "".join(self._pole(cell, ways[cell.number]) for cell in self.layout.cells)
        return cans + pieces + amps + poles

    def _far_end(self, link: Interconnect) -> tuple[float, float]:
        if link.to_cell is not None:
            return self.at[link.to_cell]
        x, y = self.at[link.from_cell]
        reach = 0.95 * self.pitch
        return x + link.way[0] * reach, y + self.sign * link.way[1] * reach

    def _pole(self, cell: CellPlace, ways: list[float]) -> str:
        """The joint on a can, and its pole where no piece leaves it."""
        (x, y), away = self.at[cell.number], _freest(ways)
        reach = 0.64 * RADIUS * self.pitch
        sign = "+" if cell.plus_up == (self.face == "top") else "−"
        return svg.element("circle", cx=x, cy=y, r=3.4, fill=INK) + svg.text(
            x + reach * math.cos(away),
            y + reach * math.sin(away) + 5.0,
            f"{sign}{cell.group}",
            anchor="middle",
            size=TEXT if self.pitch > 50 else 13.0,
            colour="#545c69",
        )


def _label(x: float, y: float, amps: float, colour: str, bold: bool) -> str:
    text = f"{amps:.1f}" if amps < 99.95 else f"{amps:.0f}"
    half = 4.6 * len(text) + 2.0
    ground = svg.box(x - half, y - 10, 2 * half, 20, "#ffffff", colour, 1.0, 5)
    return ground + svg.text(x, y + 5.5, text, anchor="middle", size=TEXT, bold=bold)


def _freest(ways: list[float]) -> float:
    """The direction, of eight, that is farthest from all given ones."""
    tries = [math.pi * (k / 4.0 - 0.75) for k in range(8)]

    def room(angle: float) -> float:
        return min((abs(math.remainder(angle - w, 2.0 * math.pi)) for w in ways), default=0.0)

    return max(tries, key=lambda t: round(room(t), 3))
