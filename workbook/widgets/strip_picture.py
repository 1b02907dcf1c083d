"""The strips of a pack as a net: every piece as thick as its current, with the figure on it."""

from __future__ import annotations

import math
from typing import Any

from workbook import svg
from workbook.widgets.palette import ALTERNATIVE, FAINT, INK, LIMIT, PACK
from workbook.widgets.picture import Picture

WIDTH = 760
MOST_HIGH, MOST_PITCH = 450.0, 80.0
SMALL_A = 0.05
"""A piece that carries less is drawn without a figure."""
LOOKS = {
    "series": (PACK.colour, ""),
    "parallel": (ALTERNATIVE.colour, "7 4"),
    "take-off": (LIMIT.colour, "2 3"),
}
KEY = (("series", "series step"), ("parallel", "parallel link"), ("take-off", "take-off tab"))
TEXT = 15.5


def _amps(value: float) -> str:
    return f"{value:.1f}" if value < 99.95 else f"{value:.0f}"


class StripPicture(Picture):
    """Both faces of one layer of cells, seen as the builder sees them, with the current in each piece.

    Example:
        >>> from workbook.bench.current_path import current_path
        >>> from workbook.bench.layout import example_pack
        >>> path = current_path(example_pack(2, 2), 20.0, 30.0, 100.0, 12)
        >>> picture = StripPicture()
        >>> picture.update(path.layout, path.network, "Each step shares 20 A.")
        >>> picture.svg.value.count('data-kind="series"')
        2
    """

    def __init__(self, title: str = "Current in every piece of strip") -> None:
        super().__init__(title, WIDTH, 330)

    def update(self, layout: Any, network: Any, finding: str) -> None:
        """Show another pack.

        Args:
            layout: a `workbook.bench.layout.Layout` of one layer of cells.
            network: its `StripNetwork` at one pack current.
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
        shapes = self._key()
        top = 28.0
        most = max((abs(float(a)) for a in network.current_a), default=1.0) or 1.0
        for number, face in enumerate(("top", "bottom")):
            down = top + number * panel_high
            shapes += self._face(layout, network, face, down, panel_high, pitch, most)
        self.height_px = round(top + 2.0 * panel_high)
        self.draw(shapes, finding)

    @staticmethod
    def _key() -> str:
        shapes, x = "", 6.0
        for kind, name in KEY:
            colour, dash = LOOKS[kind]
            shapes += svg.line(x, 14, x + 44, 14, colour, 6, dash)
            shapes += svg.text(x + 52, 19, name)
            x += 70 + 8.2 * len(name)
        return shapes + svg.text(x + 4, 19, "thicker: more ampere")

    @staticmethod
    def _face(
        layout: Any,
        network: Any,
        face: str,
        top: float,
        high: float,
        pitch: float,
        most: float,
    ) -> str:
        scale = pitch / layout.pitch_mm
        sign = -1.0 if face == "top" else 1.0  # the bottom face is turned over: rows change places
        middle = (WIDTH / 2.0 + 20.0, top + high / 2.0)

        def at(number: int) -> tuple[float, float]:
            cell = layout.cells[number]
            return middle[0] + cell.x_mm * scale, middle[1] + sign * cell.y_mm * scale

        shapes = svg.text(6, top + 20, f"{face} face", bold=True)
        radius = 0.46 * pitch
        for cell in layout.cells:
            x, y = at(cell.number)
            shapes += svg.element(
                "circle",
                cx=x,
                cy=y,
                r=radius,
                fill="#f3f4f6",
                stroke=FAINT.colour,
                stroke_width=1.2,
            )
        labels = ""
        ways: dict[int, list[float]] = {}
        for link, amps in zip(network.links, network.current_a, strict=True):
            if link.face != face:
                continue
            colour, dash = LOOKS[link.kind]
            x1, y1 = at(link.from_cell)
            if link.to_cell is None:
                x2 = x1 + link.way[0] * 0.95 * pitch
                y2 = y1 + sign * link.way[1] * 0.95 * pitch
            else:
                x2, y2 = at(link.to_cell)
            size = abs(float(amps))
            width = 1.5 + 12.0 * size / most
            ways.setdefault(link.from_cell, []).append(math.atan2(y2 - y1, x2 - x1))
            if link.to_cell is not None:
                ways.setdefault(link.to_cell, []).append(math.atan2(y1 - y2, x1 - x2))
            stroke = svg.line(x1, y1, x2, y2, colour, width, dash)
            shapes += svg.group(stroke, data_kind=link.kind, data_current_a=f"{size:.4g}")
            if size >= SMALL_A:
                text = _amps(size)
                tab = link.to_cell is None
                x = x1 + (x2 - x1) * (0.86 if tab else 0.5)
                y = y1 + (y2 - y1) * (0.86 if tab else 0.5)
                half = 4.6 * len(text) + 2.0
                labels += svg.box(x - half, y - 10, 2 * half, 20, "#ffffff", colour, 1.0, 5)
                labels += svg.text(x, y + 5.5, text, anchor="middle", size=TEXT, bold=tab)
        for cell in layout.cells:
            x, y = at(cell.number)
            plus = cell.plus_up == (face == "top")
            shapes += svg.element("circle", cx=x, cy=y, r=3.4, fill=INK)
            away = _freest(ways.get(cell.number, []))
            labels += svg.text(
                x + 0.64 * radius * math.cos(away),
                y + 0.64 * radius * math.sin(away) + 5.0,
                f"{'+' if plus else '−'}{cell.group}",
                anchor="middle",
                size=TEXT if pitch > 50 else 13.0,
                colour="#545c69",
            )
        return shapes + labels


def _freest(ways: list[float]) -> float:
    """The direction, of eight, that is farthest from all given ones."""
    tries = [math.pi * (k / 4.0 - 0.75) for k in range(8)]

    def room(angle: float) -> float:
        return min((abs(math.remainder(angle - w, 2.0 * math.pi)) for w in ways), default=0.0)

    return max(tries, key=lambda t: round(room(t), 3))
