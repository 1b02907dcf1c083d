"""How the cells stand in the craft: the arrangements that fit the bay, their size, mass and balance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from itertools import permutations

import numpy as np

from workbook.battery.pack import Pack
from workbook.bench.arrange import CellBlock, Grid, GroupMap, grids, place_cells
from workbook.bench.bench_settings import SIDES, Bay
from workbook.bench.interconnect import Interconnect, Tap, balance_taps, connections, series_path_mm
from workbook.errors import Problem, refuse
from workbook.numbers import FINITE, JUST_ABOVE_0, range_problems
from workbook.units import sides_text, with_unit
from workbook.working import Step, step

PACKINGS = ("square", "staggered")
"""How cells can stand beside one another: rows in line, or each half a pitch aside."""
NICKEL_G_PER_MM3 = 8.9e-3
"""Source: CRC Handbook, from memory. Copper is 8.96e-3, steel 7.85e-3: close enough for a mass."""
SHEET_G_PER_MM3 = 1.2e-3
"""Fish paper (vulcanised fibre). Common practice, no source."""
WRAP_G_PER_MM3 = 1.35e-3
"""Shrink sleeve (PVC). Common practice, no source."""
PADDING_G_PER_MM3 = 0.05e-3
"""Soft foam. Common practice, no source: weigh your own."""


@dataclass(frozen=True)
class Fittings:
    """What goes on and between the cells. The defaults are common practice, no source: measure yours.

    Attributes:
        spacing_mm: gap between cans: 0 without a holder, the web's thickness in a holder.
        barrier_mm: thickness of the sheet between touching cans of different groups.
        holder_g: holder per cell.
        ring_mm: thickness of the insulating ring on every plus end.
        ring_g: mass of a ring.
        strip_width_mm: width of the strip.
        strip_thickness_mm: thickness of one layer of strip.
        strip_layers: layers where strips lie thickest on one another.
        sheet_mm: insulating sheet over every end face, over the strips.
        wrap_mm: shrink sleeve.
        padding_mm: foam between the wrapped pack and the bay, on every side.
        tab_mm: how far a terminal tab stands out beyond the cans (it is folded up against the pack).
        tabs: "one" tab at each end of the pack carries all the current; "each" end cell that has a
            way out on that side gets its own, all soldered to one lead.
    """

    spacing_mm: float = 0.0
    barrier_mm: float = 0.2
    holder_g: float = 0.0
    ring_mm: float = 0.2
    ring_g: float = 0.05
    strip_width_mm: float = 8.0
    strip_thickness_mm: float = 0.15
    strip_layers: int = 2
    sheet_mm: float = 0.5
    wrap_mm: float = 0.15
    padding_mm: float = 0.0
    tab_mm: float = 12.0
    tabs: str = "one"

    @property
    def end_mm(self) -> float:
        """Height that ring, strips and sheet add on one end face."""
        return self.ring_mm + self.strip_layers * self.strip_thickness_mm + self.sheet_mm


@dataclass(frozen=True)
class MassLine:
    """One part of the pack's mass."""

    name: str
    mass_g: float


@dataclass(frozen=True)
class Lying:
    """How the pack's box lies in the craft.

    Attributes:
        turn: which of the pack's x, y and z lies along the craft's length, width and height.
        over_mm: by how much the worst side is too long; below 0 where it fits, 0 without a bay.
        box_mm: outer size along x, y and z.
        bay: the room; None where none was given.
    """

    turn: tuple[str, str, str]
    over_mm: float
    box_mm: tuple[float, float, float]
    bay: Bay | None

    @property
    def sides_mm(self) -> tuple[float, ...]:
        """Outer size along the craft, across and up."""
        sizes = dict(zip("xyz", self.box_mm, strict=True))
        return tuple(sizes[side] for side in self.turn)

    @property
    def fits(self) -> bool:
        """Whether it goes into the bay (True without a bay)."""
        return self.over_mm <= 1e-9

    @property
    def why(self) -> str:
        """The reason in words."""
        if self.bay is None:
            return "No bay was given."
        words = sides_text(self.sides_mm, "mm", 1)
        bay_words = sides_text(self.bay.room_mm, "mm")
        spare = [
            (side, have - size)
            for side, size, have in zip(SIDES, self.sides_mm, self.bay.room_mm, strict=True)
        ]
        if self.fits:
            left = ", ".join(f"{with_unit(gap, 'mm', 1)} in {side}" for side, gap in spare)
            return f"It needs {words} of the {bay_words} bay; left over: {left}."
        short = " and ".join(
            f"{with_unit(max(-gap, 0.1), 'mm', 1)} in {side}" for side, gap in spare if gap < -1e-9
        )
        return (
            f"It needs {words}, turned the best way allowed; the bay is {bay_words}: too much "
            f"by {short}."
        )


@dataclass(frozen=True)
class Layout(CellBlock):
    """One arrangement of the pack, and how it lies in the craft.

    Attributes:
        fittings: what goes on and between the cells.
        cell_g: mass of a cell.
        cell_v: voltage of a full cell.
        bay: the room for it; None where there is none to fit.
    """

    fittings: Fittings
    cell_g: float
    cell_v: float
    bay: Bay | None

    @cached_property
    def box_mm(self) -> tuple[float, float, float]:
        """Outer size along x, y and z, with wrap and padding."""
        x, y, _ = np.ptp(self.centres_mm, axis=0).tolist()
        return _outer_mm(x, y, self.layers, self.diameter_mm, self.cell_height_mm, self.fittings)

    @cached_property
    def lying(self) -> Lying:
        """How its box is turned, whether it fits, and why."""
        return _lying(self.box_mm, self.bay)

    @property
    def fits(self) -> bool:
        """Whether it goes into the bay (True without a bay)."""
        return self.lying.fits

    @property
    def why(self) -> str:
        """Why it fits or not, in words."""
        return self.lying.why

    @cached_property
    def links(self) -> tuple[Interconnect, ...]:
        """Every piece of strip, junction by junction."""
        f = self.fittings
        return connections(self, f.tabs, f.tab_mm, f.strip_width_mm)

    @cached_property
    def taps(self) -> tuple[Tap, ...]:
        """Where the S + 1 balance wires are joined, B0 to BS."""
        return balance_taps(self, self.links)

    @cached_property
    def series_path_mm(self) -> float:
        """Length of the one strip that would resist as much as all series steps."""
        return series_path_mm(self.links)

    @cached_property
    def masses(self) -> tuple[MassLine, ...]:
        """Cells and additions, one line each."""
        f, count = self.fittings, len(self.cells)
        strip_mm3 = sum(k.length_mm for k in self.links) * f.strip_width_mm * f.strip_thickness_mm
        x, y, z = self.box_mm
        skin_mm2 = 2.0 * (x * y + y * z + x * z)
        return (
            MassLine("cells", count * self.cell_g),
            MassLine("holders", count * f.holder_g),
            MassLine("insulating rings", count * f.ring_g),
            MassLine("strips", strip_mm3 * NICKEL_G_PER_MM3),
            MassLine("insulating sheets", 2 * self.layers * x * y * f.sheet_mm * SHEET_G_PER_MM3),
            MassLine("wrap", skin_mm2 * f.wrap_mm * WRAP_G_PER_MM3),
            MassLine("padding", skin_mm2 * f.padding_mm * PADDING_G_PER_MM3),
        )

    @property
    def mass_g(self) -> float:
        """Everything."""
        return sum(line.mass_g for line in self.masses)

    @property
    def overhead_pct(self) -> float:
        """All but the cells over the cells, as `Pack.overhead_pct` takes it."""
        return 100.0 * (self.mass_g / (len(self.cells) * self.cell_g) - 1.0)

    @property
    def name(self) -> str:
        """The arrangement and its outer size in words."""
        return f"{self.arrangement}, {sides_text(self.box_mm, 'mm', 0)}"


def _check(pack: Pack, bay: Bay | None, fittings: Fittings, packings: Sequence[str]) -> None:
    """Refuse what cannot be laid out, all in one error."""
    counts = {"series": pack.series, "parallel": pack.parallel}
    above_0 = (JUST_ABOVE_0, FINITE, "a size above 0 mm")
    most_mm = 0.6 * pack.cell.diameter_mm
    wrong = range_problems(
        {
            **{name: (count, 1.0, 24.0, "1 to 24") for name, count in counts.items()},
            "diameter_mm": (pack.cell.diameter_mm, *above_0),
            "height_mm": (pack.cell.height_mm, *above_0),
            **{f"bay {side}_mm": (getattr(bay, f"{side}_mm", None), *above_0) for side in SIDES},
            **{
                f.name: (getattr(fittings, f.name), 0.0, FINITE, "0 or more")
                for f in fields(fittings)
                if f.name != "tabs"
            },
            "strip_width_mm": (
                fittings.strip_width_mm,
                0.0,
                most_mm,
                f"at most {most_mm:.1f}, 0.6 of the cell's diameter,",
            ),
        }
    )
    wrong += [
        Problem(f"{name} is {count}; one whole number is needed.")
        for name, count in counts.items()
        if np.ndim(count) or count % 1
    ]
    choices = (
        ("tabs", (fittings.tabs,), ("one", "each")),
        ("packings", packings, PACKINGS),
        ("bay cell_axes", SIDES if bay is None else bay.cell_axes, SIDES),
    )
    wrong += [
        Problem(f"{name}: {', '.join(given) or 'none'}; of {', '.join(known)} is needed.")
        for name, given, known in choices
        if not given or set(given) - set(known)
    ]
    refuse(wrong)


def _outer_mm(
    x_mm: float, y_mm: float, layers: int, diameter_mm: float, height_mm: float, f: Fittings
) -> tuple[float, float, float]:
    """Outer size along x, y and z, from the spans between the outermost cells' middles."""
    skin_mm = 2.0 * (f.wrap_mm + f.padding_mm)
    layer_mm = height_mm + 2.0 * f.end_mm
    return x_mm + diameter_mm + skin_mm, y_mm + diameter_mm + skin_mm, layers * layer_mm + skin_mm


def _lying(box_mm: tuple[float, float, float], bay: Bay | None) -> Lying:
    """How to turn the box into the bay."""
    sizes = dict(zip("xyz", box_mm, strict=True))
    if bay is None:
        x, y, z = sorted("xyz", key=lambda side: -sizes[side])
        return Lying((x, y, z), 0.0, box_mm, None)
    room = bay.room_mm
    turns = [t for t in permutations(("x", "y", "z"), 3) if SIDES[t.index("z")] in bay.cell_axes]

    def over_mm(turn: tuple[str, str, str]) -> float:
        return max(sizes[side] - have for side, have in zip(turn, room, strict=True))

    turn = min(turns, key=lambda t: round(over_mm(t), 9))
    return Lying(turn, over_mm(turn), box_mm, bay)


def _pitch_mm(pack: Pack, f: Fittings) -> float:
    """Between neighbours' centres: a holder's web, or the sheet between groups, keeps them apart."""
    barrier_mm = f.barrier_mm if pack.series > 1 else 0.0
    return pack.cell.diameter_mm + max(f.spacing_mm, barrier_mm)


def lay_out(
    pack: Pack, grid: Grid, bay: Bay | None = None, fittings: Fittings | None = None
) -> Layout:
    """One arrangement of a pack: its cells on a grid, its box turned into the bay, its mass.

    Args:
        pack: one S and one P.
        grid: one of `workbook.bench.arrange.grids` for this S and P.
        bay: the room in the craft.
        fittings: what goes on and between the cells.

    Raises:
        InputError: as `layouts`.

    Source: geometry.

    Example:
        >>> import workbook as wb
        >>> grid = Grid("staggered", False, 1, 3, 2, 1, 3)
        >>> [
        ...     round(side, 1)
        ...     for side in lay_out(wb.Pack(wb.find_cell("Bittern"), 3, 2), grid).box_mm
        ... ]
        [75.0, 40.0, 72.5]
    """
    f = fittings or Fittings()
    _check(pack, bay, f, (grid.packing,))
    series, parallel, cell = int(pack.series), int(pack.parallel), pack.cell
    pitch_mm = _pitch_mm(pack, f)
    cells = place_cells(grid, series, parallel, pitch_mm, cell.height_mm + 2.0 * f.end_mm)
    sizes_mm = cell.diameter_mm, cell.height_mm, pitch_mm
    return Layout(
        series,
        parallel,
        grid,
        cells,
        *sizes_mm,
        f,
        cell_g=cell.mass_g,
        cell_v=cell.charge_v,
        bay=bay,
    )


def layouts(
    pack: Pack,
    bay: Bay | tuple[float, float, float] | None = None,
    fittings: Fittings | None = None,
    *,
    packings: Sequence[str] = PACKINGS,
    max_layers: int = 2,
    most: int = 12,
) -> tuple[Layout, ...]:
    """The arrangements of a pack, best first.

    Those that fit the bay come first; among them the ones with the least voltage between touching
    metal, then the shortest series path (short links and many side by side lose least), then the
    smallest box. Those that do not fit follow, the nearest miss first, each with the reason.

    Args:
        pack: one S and one P, whole numbers up to 24.
        bay: the room in the craft, or its length, width and height in mm; without one every
            arrangement counts as fitting.
        fittings: holders, rings, strips, wrap and padding.
        packings: of "square" and "staggered".
        max_layers: most layers end to end; S allows sticks of single groups.
        most: most arrangements of each kind, fitting and not, in the answer.

    Returns:
        Up to `most` that fit and up to `most` that do not.

    Raises:
        InputError: S, P, a size or a choice that cannot be used.

    Source: geometry; staggered rows lie sqrt(3)/2 of the pitch apart.

    Example:
        >>> import workbook as wb
        >>> best = layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2), (100.0, 60.0, 80.0))[0]
        >>> print(best.name, "-", best.why)
        brick, square, 2 x 4 cells, one layer, 86 x 43 x 72 mm - It needs 85.7 x 42.9 x 72.5 ...
    """
    f = fittings or Fittings()
    bay = Bay(*bay) if isinstance(bay, tuple) else bay
    _check(pack, bay, f, packings)
    pitch_mm, cell = _pitch_mm(pack, f), pack.cell
    alike: dict[tuple[object, ...], list[_Arrangement]] = {}
    lying: dict[tuple[object, ...], Lying] = {}
    for tried in _arrangements(int(pack.series), int(pack.parallel), tuple(packings), max_layers):
        x_mm, y_mm = (pitch_mm * span for span in tried.spans)
        grid = tried.grid
        box_mm = _outer_mm(x_mm, y_mm, grid.layers, cell.diameter_mm, cell.height_mm, f)
        key = (grid.packing, grid.order, grid.layers, *(round(side, 2) for side in box_mm))
        if key not in alike:
            alike[key], lying[key] = [], _lying(box_mm, bay)
        alike[key].append(tried)
    fitting = [(_best(alike[key], pitch_mm), lying[key]) for key in alike if lying[key].fits]
    missing = sorted((key for key in alike if not lying[key].fits), key=lambda k: lying[k].over_mm)
    return (
        *_best_fitting(fitting, most, pack, bay, f),
        *(lay_out(pack, _best(alike[key], pitch_mm).grid, bay, f) for key in missing[:most]),
    )


@dataclass(frozen=True)
class _Arrangement:
    """A grid before its cells are placed: what is quick to know of it, whatever goes on and between the cells."""

    grid: Grid
    series: int
    parallel: int

    @cached_property
    def spans(self) -> tuple[float, float]:
        """Between the outermost cells' middles along x and y, in pitches."""
        cells = min(self.grid.groups_per_layer, self.series) * self.parallel
        x, y = np.ptp(self.grid.xy_mm(self.grid.path(cells), 1.0), axis=0).tolist()
        return x, y

    @cached_property
    def least(self) -> tuple[int, float]:
        """Least voltage between touching metal, in cells, and least path, in pitches."""
        groups = GroupMap.from_grid(self.grid, self.series, self.parallel)
        return groups.touching_steps, groups.least_path

    def bound(self, pitch_mm: float) -> tuple[float, float]:
        """No layout of this grid sorts before it: least voltage, least path in mm."""
        return self.least[0], round(self.least[1] * pitch_mm, 6)


@lru_cache(maxsize=8)
def _arrangements(
    series: int, parallel: int, packings: tuple[str, ...], max_layers: int
) -> tuple[_Arrangement, ...]:
    """Every one that is worth trying; kept, since one pack is asked for with many fittings and bays."""
    tried = grids(series, parallel, packings, max_layers)
    return tuple(_Arrangement(grid, series, parallel) for grid in tried)


def _best(a_size: list[_Arrangement], pitch_mm: float) -> _Arrangement:
    return min(a_size, key=lambda k: (k.bound(pitch_mm), k.grid.across))


def _best_fitting(
    found: list[tuple[_Arrangement, Lying]], most: int, pack: Pack, bay: Bay | None, f: Fittings
) -> list[Layout]:
    """The best in order: least voltage, then shortest series path, then smallest box.

    A layout is worked out only while its voltage and least possible path could still put it among
    the best.
    """
    pitch_mm = _pitch_mm(pack, f)
    best: list[tuple[tuple[float, ...], Layout]] = []
    found = sorted(found, key=lambda k: (k[0].bound(pitch_mm), math.prod(k[1].box_mm)))
    for tried, _ in found:
        bound = tried.bound(pitch_mm)
        if len(best) == most and bound > best[-1][0][:2]:
            break
        layout = lay_out(pack, tried.grid, bay, f)
        score = (bound[0], round(layout.series_path_mm, 6), math.prod(layout.box_mm))
        best = sorted([*best, (score, layout)], key=lambda k: k[0])[:most]
    return [layout for _, layout in best]


def _across_step(layout: Layout, axis: int, key: str, label: str) -> Step:
    f = layout.fittings
    pitches = np.ptp(layout.centres_mm[:, axis]) / layout.pitch_mm
    skin = f.wrap_mm + f.padding_mm
    rows = "; staggered rows lie 0.866 pitch apart" if layout.grid.packing != "square" else ""
    return step(
        "box_side_mm",
        layout.box_mm[axis],
        key=key,
        label=label,
        pitches=pitches,
        layout=layout,
        skin=skin,
        rows=rows,
    )


def layout_steps(layout: Layout, bay: Bay | None = None) -> tuple[Step, ...]:
    """Working of the outer size and mass of a layout, and of the room left in a bay.

    Args:
        layout: the layout.
        bay: the room for it.

    Example:
        >>> import workbook as wb
        >>> print(layout_steps(layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0])[0].text())
        longer side = pitches between outermost cells x pitch + cell diameter + 2 x (wrap + padding)
        = 3 x 21.4 mm + 21.2 mm + 2 x 0.15 mm = 85.7 mm  [geometry]
    """
    f = layout.fittings
    skin = f.wrap_mm + f.padding_mm
    steps = [
        _across_step(layout, 0, "box_x_mm", "longer side"),
        _across_step(layout, 1, "box_y_mm", "shorter side"),
        step("box_z_mm", layout.box_mm[2], layout=layout, fittings=f, skin=skin),
    ]
    for side, size_mm in zip(SIDES, layout.lying.sides_mm, strict=True):
        if bay is not None:
            room_mm: float = getattr(bay, f"{side}_mm")
            steps.append(
                step("left_side_mm", room_mm - size_mm, side=side, room_mm=room_mm, size_mm=size_mm)
            )
    masses = [line for line in layout.masses if line.mass_g > 0]
    steps.append(
        step(
            "layout_mass_g",
            layout.mass_g,
            parts=" + ".join(line.name for line in masses),
            masses=" + ".join(f"{line.mass_g:.3g}" for line in masses),
        )
    )
    return tuple(steps)
