"""How the cells stand in the craft: the arrangements that fit the bay, their size, mass and balance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from itertools import permutations

import numpy as np

from workbook.battery.cell import Cell
from workbook.battery.pack import Pack
from workbook.bench.arrange import CellPlace, Grid, grids, place_cells
from workbook.bench.links import Link, connections
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number

SIDES = ("length", "width", "height")
"""Sides of the bay and of the pack as it lies in it: along, across and up in the craft."""

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
        spacing_mm: gap between cans: 0 where they touch, the web's thickness in a holder.
        holder_g: holder per cell.
        ring_mm: thickness of the insulating ring on every plus end.
        ring_g: mass of a ring.
        strip_width_mm: width of the strip.
        strip_thickness_mm: thickness of one layer of strip.
        strip_layers: layers where strips lie thickest on one another.
        sheet_mm: insulating sheet over every end face, over the strips.
        wrap_mm: shrink sleeve.
        padding_mm: foam between the wrapped pack and the bay, on every side.
        tab_mm: how far a take-off tab stands out beyond the cans (it is folded up against the pack).
        tabs: "one" tab at each end of the pack carries all the current; "each" end cell that has a
            way out on that side gets its own, all soldered to one lead.
        leads_g: leads, connector and balance lead together.
    """

    spacing_mm: float = 0.0
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
    leads_g: float = 0.0

    @property
    def end_mm(self) -> float:
        """Height that ring, strips and sheet add on one end face."""
        return self.ring_mm + self.strip_layers * self.strip_thickness_mm + self.sheet_mm


@dataclass(frozen=True)
class Bay:
    """The room for the pack in the craft.

    Attributes:
        length_mm: along the craft.
        width_mm: across.
        height_mm: up.
        cell_axes: directions in which the cells may point; all three unless something forbids one.
    """

    length_mm: float
    width_mm: float
    height_mm: float
    cell_axes: tuple[str, ...] = SIDES


@dataclass(frozen=True)
class MassLine:
    """One part of the pack's mass."""

    name: str
    mass_g: float


@dataclass(frozen=True)
class Layout:
    """One arrangement of the pack, and how it lies in the craft.

    Attributes:
        series: S.
        parallel: P.
        grid: the grid that the cells stand on.
        cells: every cell, in the pack's own frame (z along the cells, x along the longer side).
        diameter_mm: of a cell.
        cell_height_mm: of a cell.
        pitch_mm: between neighbours' centres.
        fittings: what goes on and between the cells.
        box_mm: outer size along x, y and z, with wrap and padding.
        turn: which of the pack's x, y and z lies along the craft's length, width and height.
        length_mm: outer size along the craft.
        width_mm: outer size across the craft.
        height_mm: outer size upwards in the craft.
        masses: cells and additions, one line each.
        centre_of_mass_mm: from the middle of the outer box, along x, y and z.
        series_path_mm: length of the one strip that would resist as much as all series steps.
        fits: whether it goes into the bay (True without a bay).
        why: the reason in words.
    """

    series: int
    parallel: int
    grid: Grid
    cells: tuple[CellPlace, ...]
    diameter_mm: float
    cell_height_mm: float
    pitch_mm: float
    fittings: Fittings
    box_mm: tuple[float, float, float]
    turn: tuple[str, str, str]
    length_mm: float
    width_mm: float
    height_mm: float
    masses: tuple[MassLine, ...]
    centre_of_mass_mm: tuple[float, float, float]
    series_path_mm: float
    fits: bool
    why: str

    @property
    def packing(self) -> str:
        """ "square" or "staggered"."""
        return self.grid.packing

    @property
    def axis(self) -> str:
        """Direction of the cells' axis in the craft: "length", "width" or "height"."""
        return SIDES[self.turn.index("z")]

    @property
    def layers(self) -> int:
        """Layers end to end."""
        return self.grid.layers

    @property
    def mass_g(self) -> float:
        """Everything."""
        return sum(line.mass_g for line in self.masses)

    @property
    def overhead_pct(self) -> float:
        """All but cells and leads over the cells, as `Pack.overhead_pct` takes it."""
        by_name = {line.name: line.mass_g for line in self.masses}
        cells_g = by_name["cells"]
        return 100.0 * (self.mass_g - cells_g - by_name["leads and connector"]) / cells_g

    @property
    def volume_ml(self) -> float:
        """Of the outer box."""
        return float(np.prod(self.box_mm)) / 1000.0

    @cached_property
    def can_steps(self) -> int:
        """Most cells' voltages between two cans that stand next to each other.

        The whole can, crimp shoulder included, is the minus, so two neighbours of groups g and h
        differ by |g - h| cells.
        """
        group = np.array([c.group for c in self.cells])
        place = np.array([(c.x_mm, c.y_mm, 2.0 * self.pitch_mm * c.layer) for c in self.cells])
        apart = np.linalg.norm(place[:, None] - place[None], axis=-1)
        near = apart < 1.05 * self.pitch_mm
        return int(np.max(np.where(near, np.abs(group[:, None] - group[None]), 0)))

    @property
    def arrangement(self) -> str:
        """Rows, packing and layers in words."""
        rows = len({c.row for c in self.cells})
        columns = len({c.column for c in self.cells})
        rows, columns = min(rows, columns), max(rows, columns)
        kind = "stick" if self.layers > 1 and rows == 1 else "brick" if rows > 1 else "flat"
        count = "one layer" if self.layers == 1 else f"{self.layers} layers end to end"
        return f"{kind}, {self.packing}, {rows} x {columns} cells, {count}"

    @property
    def name(self) -> str:
        """The arrangement and its outer size in words."""
        return f"{self.arrangement}, {' x '.join(f'{side:.0f}' for side in self.box_mm)} mm"


def example_pack(series: int, parallel: int) -> Pack:
    """A pack of an invented 21700 cell, for worked examples.

    Example:
        >>> float(example_pack(4, 2).mass_g)
        552.0
    """
    cell = Cell(
        "Invented", "21700", "energy", 69.0, 21.2, 70.2, 4.9, 5.0, 3.6,
        4.2, 2.5, 10.0, 15.0, 10.0, 1.5, 3.5, 25.0,
    )  # fmt: skip
    return Pack(cell, series, parallel)


def _whole(name: str, value: Number, most: int) -> Problem | None:
    ok = np.ndim(value) == 0 and float(value) == int(value) and 1 <= float(value) <= most
    shown = f"{float(value):g}" if np.ndim(value) == 0 else "a range"
    return None if ok else Problem(f"{name} is {shown}; a whole number from 1 to {most} is needed.")


def _check(pack: Pack, bay: Bay | None, fittings: Fittings, packings: Sequence[str]) -> None:
    wrong = [_whole("series", pack.series, 24), _whole("parallel", pack.parallel, 24)]
    sizes = [("diameter_mm", pack.cell.diameter_mm), ("height_mm", pack.cell.height_mm)]
    if bay is not None:
        sizes += [(f"bay {side}_mm", getattr(bay, f"{side}_mm")) for side in SIDES]
        if not bay.cell_axes or set(bay.cell_axes) - set(SIDES):
            wrong.append(
                Problem(f"bay cell_axes is {bay.cell_axes}; some of {', '.join(SIDES)} are needed.")
            )
    wrong += [
        Problem(f"{name} is {value:g}; a size above 0 mm is needed.")
        for name, value in sizes
        if not (np.isfinite(value) and value > 0)
    ]
    wrong += [
        Problem(f"{f.name} is {getattr(fittings, f.name):g}; 0 or more is needed.")
        for f in fields(fittings)
        if f.name != "tabs" and not getattr(fittings, f.name) >= 0
    ]
    if not fittings.strip_width_mm <= 0.6 * pack.cell.diameter_mm:
        wrong.append(
            Problem(
                f"strip_width_mm is {fittings.strip_width_mm:g}; at most 0.6 of the cell's diameter, "
                f"{0.6 * pack.cell.diameter_mm:.1f}, is needed to keep clear of its neighbours."
            )
        )
    if fittings.tabs not in ("one", "each"):
        wrong.append(Problem(f"tabs is {fittings.tabs}; one or each is needed."))
    if not packings or set(packings) - {"square", "staggered"}:
        wrong.append(
            Problem(f"packings is {tuple(packings)}; square, staggered or both is needed.")
        )
    found = [p for p in wrong if p is not None]
    if found:
        raise InputError(found)


def _box_mm(
    cells: tuple[CellPlace, ...], cell: Cell, layers: int, layer_mm: float, f: Fittings
) -> tuple[float, float, float]:
    """Outer size along x, y and z."""
    skin_mm = 2.0 * (f.wrap_mm + f.padding_mm)
    x = np.array([c.x_mm for c in cells])
    y = np.array([c.y_mm for c in cells])
    return (
        float(np.ptp(x)) + cell.diameter_mm + skin_mm,
        float(np.ptp(y)) + cell.diameter_mm + skin_mm,
        (layers - 1) * layer_mm + cell.height_mm + 2.0 * f.end_mm + skin_mm,
    )


def _lie(
    box_mm: tuple[float, float, float], bay: Bay | None
) -> tuple[tuple[str, str, str], bool, str, float]:
    """How to turn the box into the bay: turn, whether it fits, why, and by how much it does not."""
    sizes = dict(zip("xyz", box_mm, strict=True))
    if bay is None:
        order = sorted("xyz", key=lambda side: -sizes[side])
        return (order[0], order[1], order[2]), True, "No bay was given.", 0.0
    room = (bay.length_mm, bay.width_mm, bay.height_mm)
    best: tuple[float, tuple[str, str, str]] | None = None
    for turn in permutations(("x", "y", "z"), 3):
        if SIDES[turn.index("z")] not in bay.cell_axes:
            continue
        over = max(sizes[side] - have for side, have in zip(turn, room, strict=True))
        if best is None or over < best[0] - 1e-9:
            best = (over, turn)
    assert best is not None
    over, turn = best
    words = " x ".join(f"{sizes[side]:.1f}" for side in turn)
    bay_words = " x ".join(f"{have:g}" for have in room)
    spare = [have - sizes[side] for side, have in zip(turn, room, strict=True)]
    if over <= 1e-9:
        left = ", ".join(f"{gap:.1f} mm in {side}" for side, gap in zip(SIDES, spare, strict=True))
        return (
            turn,
            True,
            f"It needs {words} mm of the {bay_words} mm bay; left over: {left}.",
            over,
        )
    short = " and ".join(
        f"{max(-gap, 0.1):.1f} mm in {side}"
        for side, gap in zip(SIDES, spare, strict=True)
        if gap < -1e-9
    )
    return (
        turn,
        False,
        f"It needs {words} mm, turned the best way allowed; the bay is {bay_words} mm: too much by "
        f"{short}.",
        over,
    )


def _series_path_mm(links: tuple[Link, ...]) -> float:
    """Sum over the series steps of one over the sum of 1/length."""
    steps: dict[int, float] = {}
    for link in links:
        if link.kind == "series":
            steps[link.junction] = steps.get(link.junction, 0.0) + 1.0 / link.length_mm
    return sum(1.0 / total for total in steps.values())


def link_middle_mm(layout: Layout, link: Link) -> FloatArray:
    """Middle of a link in the pack's frame, shape (3,)."""
    cell = layout.cells[link.from_cell]
    up = 1.0 if link.face == "top" else -1.0
    here = np.array([cell.x_mm, cell.y_mm, cell.z_mm + up * layout.cell_height_mm / 2.0])
    if link.to_cell is None:
        return here + link.length_mm / 2.0 * np.array([*link.way, 0.0])
    other = layout.cells[link.to_cell]
    if link.folded:
        lift = (other.z_mm - cell.z_mm - layout.cell_height_mm) / 2.0
        return here + np.array([*link.way, 0.0]) * layout.diameter_mm / 4.0 + [0.0, 0.0, lift]
    there = np.array([other.x_mm, other.y_mm, here[2]])
    middle: FloatArray = (here + there) / 2.0
    return middle


def _weighed(layout: Layout, cell_g: float, links: tuple[Link, ...]) -> Layout:
    """The layout with its masses and centre of mass."""
    f, count = layout.fittings, len(layout.cells)
    centre = np.array([(c.x_mm, c.y_mm, c.z_mm) for c in layout.cells])
    half = layout.cell_height_mm / 2.0
    plus_end = centre + np.array([[0.0, 0.0, half if c.plus_up else -half] for c in layout.cells])
    section_mm2 = f.strip_width_mm * f.strip_thickness_mm
    strip_g = np.array([k.length_mm for k in links]) * section_mm2 * NICKEL_G_PER_MM3
    strip_at = np.array([link_middle_mm(layout, k) for k in links])
    tab_at = np.array([link_middle_mm(layout, k) for k in links if k.kind == "take-off"]).mean(
        axis=0
    )
    x, y, z = layout.box_mm
    skin_mm2 = 2.0 * (x * y + y * z + x * z)
    sheet_g = 2 * layout.layers * x * y * f.sheet_mm * SHEET_G_PER_MM3
    middle = np.zeros(3)
    parts = [
        ("cells", count * cell_g, centre.mean(axis=0)),
        ("holders", count * f.holder_g, centre.mean(axis=0)),
        ("insulating rings", count * f.ring_g, plus_end.mean(axis=0)),
        ("strips", float(strip_g.sum()), np.average(strip_at, axis=0, weights=strip_g + 1e-12)),
        ("insulating sheets", sheet_g, middle),
        ("wrap", skin_mm2 * f.wrap_mm * WRAP_G_PER_MM3, middle),
        ("padding", skin_mm2 * f.padding_mm * PADDING_G_PER_MM3, middle),
        ("leads and connector", f.leads_g, tab_at),
    ]
    total_g = sum(mass for _, mass, _ in parts)
    moment = sum((mass * place for _, mass, place in parts), np.zeros(3))
    at = np.round(moment / total_g, 6) + 0.0
    return replace(
        layout,
        masses=tuple(MassLine(name, float(mass)) for name, mass, _ in parts),
        centre_of_mass_mm=(float(at[0]), float(at[1]), float(at[2])),
    )


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
        >>> grid = Grid("staggered", False, 1, 3, 2, 1, 3)
        >>> [round(side, 1) for side in lay_out(example_pack(3, 2), grid).box_mm]
        [74.5, 39.9, 72.5]
    """
    f = fittings or Fittings()
    _check(pack, bay, f, (grid.packing,))
    series, parallel, cell = int(pack.series), int(pack.parallel), pack.cell
    pitch_mm = cell.diameter_mm + f.spacing_mm
    layer_mm = cell.height_mm + 2.0 * f.end_mm
    cells = place_cells(grid, series, parallel, pitch_mm, layer_mm)
    # a part-filled last row may leave the block off the grid's middle
    at = np.array([(c.x_mm, c.y_mm) for c in cells])
    off = (at.max(axis=0) + at.min(axis=0)) / 2.0
    cells = tuple(
        replace(c, x_mm=c.x_mm - float(off[0]), y_mm=c.y_mm - float(off[1])) for c in cells
    )
    box_mm = _box_mm(cells, cell, grid.layers, layer_mm, f)
    turn, fits, why, _ = _lie(box_mm, bay)
    sizes = dict(zip("xyz", box_mm, strict=True))
    layout = Layout(
        series, parallel, grid, cells, cell.diameter_mm, cell.height_mm, pitch_mm, f, box_mm, turn,
        sizes[turn[0]], sizes[turn[1]], sizes[turn[2]], (), (0.0, 0.0, 0.0), 0.0, fits, why,
    )  # fmt: skip
    links = connections(layout)
    return _weighed(replace(layout, series_path_mm=_series_path_mm(links)), cell.mass_g, links)


def layouts(
    pack: Pack,
    bay: Bay | None = None,
    fittings: Fittings | None = None,
    *,
    packings: Sequence[str] = ("square", "staggered"),
    max_layers: int = 2,
    most: int = 12,
) -> tuple[Layout, ...]:
    """The arrangements of a pack, best first.

    Those that fit the bay come first; among them the ones with the shortest series path (short
    links and many side by side lose least), then the smallest box. Those that do not fit follow,
    the nearest miss first, each with the reason.

    Args:
        pack: one S and one P, whole numbers up to 24.
        bay: the room in the craft; without one every arrangement counts as fitting.
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
        >>> best = layouts(example_pack(4, 2), Bay(100.0, 60.0, 80.0))[0]
        >>> print(best.name, "-", best.why)
        brick, square, 2 x 4 cells, one layer, 85 x 43 x 72 mm - It needs 85.1 x 42.7 x 72.5 ...
    """
    f = fittings or Fittings()
    _check(pack, bay, f, packings)
    best: dict[tuple[object, ...], tuple[tuple[float, ...], Grid]] = {}
    pitch_mm = pack.cell.diameter_mm + f.spacing_mm
    layer_mm = pack.cell.height_mm + 2.0 * f.end_mm
    for grid in grids(int(pack.series), int(pack.parallel), tuple(packings), max_layers):
        path = grid.path(grid.groups_per_layer * int(pack.parallel))
        span = np.ptp(grid.xy_mm(path, pitch_mm), axis=0)
        rough = np.append(span + pack.cell.diameter_mm, grid.layers * layer_mm)
        key = (grid.packing, grid.layers, *np.round(rough, 2))
        score = (_rough_path(grid, path, int(pack.parallel)), float(grid.across))
        if key not in best or score < best[key][0]:
            best[key] = (score, grid)
    built = [lay_out(pack, grid, bay, f) for _, grid in best.values()]
    fitting = sorted(
        (k for k in built if k.fits), key=lambda k: (round(k.series_path_mm, 6), k.volume_ml)
    )
    missing = sorted((k for k in built if not k.fits), key=lambda k: _lie(k.box_mm, bay)[3])
    return (*fitting[:most], *missing[:most])


def _rough_path(grid: Grid, path: list[tuple[int, int]], parallel: int) -> float:
    """Sum over the steps in a layer of one over the neighbours, to tell grids of one size apart."""
    group = np.full((grid.strip * grid.strips, grid.columns), -1)
    for place, (row, column) in enumerate(path):
        group[row, column] = place // parallel
    pairs = np.concatenate(
        [
            np.column_stack([group[:, :-1].ravel(), group[:, 1:].ravel()]),
            np.column_stack([group[:-1].ravel(), group[1:].ravel()]),
        ]
    )
    low, high = pairs.min(axis=1), pairs.max(axis=1)
    steps = np.bincount(low[(high - low == 1) & (low >= 0)])
    return float(np.sum(1.0 / np.minimum(steps[steps > 0], parallel)))


def centre_of_gravity_shift_mm(pack_g: Number, all_up_g: Number, moved_mm: Number) -> Number:
    """How far the craft's centre of gravity moves when the pack is moved.

    Args:
        pack_g: pack mass.
        all_up_g: the whole craft with the pack.
        moved_mm: how far the pack is moved, forward positive.

    Returns:
        Shift in mm, the same way.

    Source: statics, moved mass over whole mass times the way.

    Example:
        >>> float(centre_of_gravity_shift_mm(600.0, 2400.0, 20.0))
        5.0
    """
    return np.asarray(pack_g, float)[()] * moved_mm / all_up_g


def pack_place_mm(
    craft_g: Number, craft_at_mm: Number, pack_g: Number, wanted_at_mm: Number
) -> Number:
    """Where the pack's centre of mass must be for the craft to balance at a wanted point.

    Args:
        craft_g: the craft without the pack.
        craft_at_mm: its centre of gravity, from any mark, forward positive.
        pack_g: the pack.
        wanted_at_mm: the wanted centre of gravity of both, from the same mark.

    Returns:
        The pack's place from the same mark.

    Source: statics, moments about the wanted point.

    Example:
        >>> float(pack_place_mm(1800.0, -10.0, 600.0, 0.0))
        30.0
    """
    arm = np.asarray(wanted_at_mm, float)[()] - craft_at_mm
    return wanted_at_mm + craft_g * arm / pack_g


def barrier_words(layout: Layout, charge_v: float) -> str:
    """What stands between cans of different groups, in words.

    Args:
        layout: the layout.
        charge_v: full-charge voltage of one cell.

    Example:
        >>> print(barrier_words(layouts(example_pack(4, 2))[0], 4.2))
        Neighbouring cans differ by up to 4.2 V: the whole can is the minus, and its sleeve is thin. ...
    """
    volts = layout.can_steps * charge_v
    if layout.can_steps == 0:
        return "All cans that stand next to each other are at the same voltage."
    words = (
        f"Neighbouring cans differ by up to {volts:.1f} V: the whole can is the minus, and its sleeve "
        "is thin. "
    )
    if layout.fittings.spacing_mm > 0:
        return words + "Holders keep them apart here; put nothing sharp between them."
    return words + (
        "Put a strip of insulating sheet or a holder between touching cans of different groups, and "
        "refuse any cell whose sleeve is nicked."
    )
