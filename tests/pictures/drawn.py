"""Pictures drawn from known figures: thrust tables and discharge graphs, spoilt as screens and cameras spoil them."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

FONTS = Path("/usr/share/fonts/truetype")
SANS = FONTS / "dejavu" / "DejaVuSans.ttf"
INK, PAPER = (25, 25, 30), (252, 252, 250)


def invented_rows(
    supply_v: float = 22.2, rows: int = 16, top_gf: float = 2400.0
) -> list[list[str]]:
    """A thrust table made of closed forms: throttle, thrust, volts, amps, watts, rpm, g/W; all rounded as printed.

    Thrust goes with throttle to the power 1.8, power with thrust to the power 1.45; the supply sags by
    12 mohm. Watts are volts times amperes as printed, g/W thrust over watts.
    """
    table = []
    for share in np.linspace(0.25, 1.0, rows):
        thrust = round(top_gf * share**1.8)
        power = 620.0 * (thrust / top_gf) ** 1.45 * top_gf / 2400.0
        volts = supply_v - 0.012 * power / supply_v
        amps = round(power / volts, 2)
        volts = round(volts, 2)
        watts = round(volts * amps, 1)
        table.append(
            [
                f"{100 * share:.0f}",
                f"{thrust}",
                f"{volts:.2f}",
                f"{amps:.2f}",
                f"{watts:.1f}",
                f"{round(7200 * share**0.9)}",
                f"{thrust / watts:.2f}",
            ]
        )
    return table


HEADINGS = (
    "Throttle (%)",
    "Thrust (g)",
    "Voltage (V)",
    "Current (A)",
    "Power (W)",
    "RPM",
    "Efficiency (g/W)",
)


@dataclass(frozen=True)
class TablePicture:
    """How a table is drawn and spoilt.

    Attributes:
        lost: cells left empty, row and column.
        corners: how far each corner moves, in shares of the picture: perspective of a photograph.
        light: how much darker one side is, 0 to 1.
        ink, paper: colours of the text and of what it stands on.
    """

    ink: tuple[int, int, int] = INK
    paper: tuple[int, int, int] = PAPER
    font: Path = SANS
    size_px: int = 20
    grid: bool = True
    shaded: bool = True
    comma: bool = False
    headings: Sequence[str] = HEADINGS
    rows: Sequence[Sequence[str]] = field(default_factory=invented_rows)
    title: str = "Survey motor 311 rpm/V, propeller 14x4.8"
    lost: Sequence[tuple[int, int]] = ()
    rotated_deg: float = 0.0
    blur_px: float = 0.0
    noise: float = 0.0
    jpeg: int = 0
    corners: Sequence[tuple[float, float]] = ()
    light: float = 0.0
    seed: int = 1

    @property
    def cells(self) -> list[list[str]]:
        """The texts as printed, headings first."""
        texts = [[str(cell) for cell in row] for row in self.rows]
        for row, column in self.lost:
            texts[row][column] = ""
        if self.comma:
            texts = [[cell.replace(".", ",") for cell in row] for row in texts]
        return [list(self.headings), *texts]

    def draw(self) -> bytes:
        """The picture's bytes: PNG, or JPEG at a quality."""
        return spoilt(self._clean(), self)

    def _clean(self) -> Image.Image:
        font = ImageFont.truetype(str(self.font), self.size_px)
        high, pad = round(1.9 * self.size_px), self.size_px
        widths = [
            round(max(font.getlength(row[k]) for row in self.cells) + 1.6 * pad)
            for k in range(len(self.headings))
        ]
        left, top = 2 * pad, 4 * pad
        size = (2 * left + sum(widths), top + high * len(self.cells) + 2 * pad)
        image = Image.new("RGB", size, self.paper)
        draw = ImageDraw.Draw(image)
        draw.text((left, pad), self.title, self.ink, font)
        for n, row in enumerate(self.cells):
            y, x = top + n * high, left
            if self.shaded and (n == 0 or n % 2 == 0):
                fill = (188, 204, 226) if n == 0 else (236, 239, 244)
                draw.rectangle((x, y, x + sum(widths), y + high), fill)
            for text, width in zip(row, widths, strict=True):
                draw.text((x + width / 2, y + high / 2), text, self.ink, font, anchor="mm")
                if self.grid:
                    draw.rectangle((x, y, x + width, y + high), outline=(120, 120, 125))
                x += width
        return image


def spoilt(image: Image.Image, how: TablePicture) -> bytes:
    """A picture turned, bent, blurred, shaded, made noisy and compressed."""
    if how.corners:
        image = bent(image, how.corners)
    if how.rotated_deg:
        image = image.rotate(
            how.rotated_deg, Image.Resampling.BICUBIC, expand=True, fillcolor=how.paper
        )
    if how.blur_px:
        image = image.filter(ImageFilter.GaussianBlur(how.blur_px))
    pixels = np.asarray(image, dtype=float)
    if how.light:
        pixels = pixels * np.linspace(1.0 - how.light, 1.0, pixels.shape[1])[None, :, None]
    if how.noise:
        pixels = pixels + np.random.default_rng(how.seed).normal(0, how.noise, pixels.shape)
    return encoded(Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)), how.jpeg)


def encoded(image: Image.Image, jpeg: int = 0) -> bytes:
    """A picture as PNG, or as JPEG at a quality."""
    out = io.BytesIO()
    image.save(out, "JPEG" if jpeg else "PNG", **({"quality": jpeg} if jpeg else {}))
    return out.getvalue()


def bent(image: Image.Image, corners: Sequence[tuple[float, float]]) -> Image.Image:
    """A picture seen at an angle: each corner (from the upper left, clockwise) moved by shares of its size."""
    w, h = image.size
    flat = [(0, 0), (w, 0), (w, h), (0, h)]
    seen = [(x + dx * w, y + dy * h) for (x, y), (dx, dy) in zip(flat, corners, strict=True)]
    rows, right = [], []
    for (x, y), (u, v) in zip(seen, flat, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    terms = np.linalg.solve(np.array(rows, dtype=float), np.array(right, dtype=float))
    return image.transform(
        image.size,
        Image.Transform.PERSPECTIVE,
        tuple(terms),
        Image.Resampling.BICUBIC,
        fillcolor=PAPER,
    )


# graphs -------------------------------------------------------------------------------------------

COLOURS = ((200, 40, 30), (30, 90, 190), (20, 140, 70), (150, 60, 160))
LEGEND_PX, LEGEND_LINE_PX = 130, 22
FINER = 4
"""Graphs are drawn this much larger and made smaller, so that their lines have soft edges."""


@dataclass(frozen=True)
class GraphPicture:
    """Curves of charge and voltage as a datasheet's page shows them.

    Attributes:
        curves: charge in Ah and voltage in V of each.
        names: what the legend calls each.
        across: what 1 Ah is on the axis from left to right.
        legend: whether there is one.
        legend_at: charge and voltage of its upper left corner: over the curves.
    """

    curves: Sequence[tuple[np.ndarray, np.ndarray]]
    names: Sequence[str]
    colours: Sequence[tuple[int, int, int]] = COLOURS
    size: tuple[int, int] = (900, 600)
    line_px: float = 2.0
    last_ah: float = 5.5
    low_v: float = 2.4
    high_v: float = 4.3
    across: float = 1000.0
    grid: bool = True
    legend: bool = True
    legend_at: tuple[float, float] = (1.9, 3.85)
    rotated_deg: float = 0.0
    jpeg: int = 0
    blur_px: float = 0.0
    noise: float = 0.0
    light: float = 0.0
    corners: Sequence[tuple[float, float]] = ()
    seed: int = 1

    def at(self, ah: float, volts: float) -> tuple[float, float]:
        """Where a point of the graph stands in the picture, in pixels."""
        x, y = self._flat(ah, volts)
        w, h = self.size
        turn = math.radians(self.rotated_deg)
        dx, dy = x - w / 2, y - h / 2
        return (
            w / 2 + dx * math.cos(turn) + dy * math.sin(turn) - 0.5,
            h / 2 - dx * math.sin(turn) + dy * math.cos(turn) - 0.5,
        )

    def _flat(self, ah: float, volts: float) -> tuple[float, float]:
        w, h = self.size
        return (
            80 + (w - 110) * ah / self.last_ah,
            h - 60 - (h - 100) * (volts - self.low_v) / (self.high_v - self.low_v),
        )

    def beside_legend(self, ah: float, volts: float, by_px: float) -> bool:
        """Whether a point lies under the legend, or nearer to it than so many pixels."""
        x, y = self._flat(ah, volts)
        left, top = self._flat(*self.legend_at)
        right, bottom = left + LEGEND_PX, top + LEGEND_LINE_PX * len(self.names)
        across, down = left - by_px < x < right + by_px, top - by_px < y < bottom + by_px
        return self.legend and across and down

    def draw(self) -> bytes:
        """The picture's bytes: PNG, or JPEG at a quality."""
        w, h = self.size
        image = Image.new("RGB", (w * FINER, h * FINER), PAPER)
        draw, font = ImageDraw.Draw(image), ImageFont.truetype(str(SANS), 14 * FINER)
        self._axes(draw, font)
        for (ah, volts), colour in zip(self.curves, self.colours, strict=False):
            line = [
                tuple(FINER * c for c in self._flat(q, v)) for q, v in zip(ah, volts, strict=True)
            ]
            draw.line(line, colour, round(self.line_px * FINER), joint="curve")
        if self.legend:
            self._legend(draw, font)
        image = image.resize(self.size, Image.Resampling.BOX)
        image = image.rotate(self.rotated_deg, Image.Resampling.BICUBIC, fillcolor=PAPER)
        how = TablePicture(
            jpeg=self.jpeg, blur_px=self.blur_px, noise=self.noise, light=self.light, seed=self.seed
        )
        return spoilt(image, how)

    def _axes(self, draw: ImageDraw.ImageDraw, font: ImageFont.FreeTypeFont) -> None:
        def line(
            a: tuple[float, float], b: tuple[float, float], colour: tuple[int, int, int]
        ) -> None:
            draw.line([tuple(FINER * c for c in self._flat(*p)) for p in (a, b)], colour, FINER)

        for ah in np.arange(0, self.last_ah + 0.1, 0.5):
            line((ah, self.low_v), (ah, self.high_v), (215, 215, 215) if self.grid and ah else INK)
            x, y = self._flat(ah, self.low_v)
            draw.text((FINER * x, FINER * (y + 8)), f"{ah * self.across:g}", INK, font, anchor="mt")
        for volts in np.arange(2.5, self.high_v, 0.25):
            if self.grid:
                line((0, volts), (self.last_ah, volts), (215, 215, 215))
            x, y = self._flat(0, volts)
            draw.text((FINER * (x - 8), FINER * y), f"{volts:.2f}", INK, font, anchor="rm")
        line((0, self.low_v), (self.last_ah, self.low_v), INK)

    def _legend(self, draw: ImageDraw.ImageDraw, font: ImageFont.FreeTypeFont) -> None:
        x, y = (FINER * c for c in self._flat(*self.legend_at))
        high = LEGEND_LINE_PX * FINER
        draw.rectangle((x, y, x + LEGEND_PX * FINER, y + high * len(self.names)), PAPER, INK, FINER)
        for n, (name, colour) in enumerate(zip(self.names, self.colours, strict=False)):
            middle = y + high * (n + 0.5)
            draw.line(
                (x + 8 * FINER, middle, x + 38 * FINER, middle), colour, round(self.line_px * FINER)
            )
            draw.text((x + 46 * FINER, middle), name, INK, font, anchor="lm")
