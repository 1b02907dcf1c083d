"""What lies on what in a pack, the voltage between it, and what keeps it apart."""

from __future__ import annotations

from dataclasses import dataclass

from workbook.bench.arrange import GroupMap
from workbook.bench.interconnect import tabs_apart_mm
from workbook.bench.layout import Layout
from workbook.units import with_unit


@dataclass(frozen=True)
class Contact:
    """Metal parts that would touch but for what is put between them. Cells full.

    Attributes:
        key: "cans", "faces", "shoulder" or "tabs".
        what: the two parts, in words.
        steps: most cells' voltages between them.
        volts: the same in volts.
        barrier: what keeps them apart, by its function.
        gap_mm: the room that the layout has for it.
        layer: of "faces", the lower one, 0 up; None else.
    """

    key: str
    what: str
    steps: int
    volts: float
    barrier: str
    gap_mm: float
    layer: int | None = None


def contacts(layout: Layout) -> tuple[Contact, ...]:
    """Every kind of near metal in a layout, each at its worst place.

    Args:
        layout: the layout.

    Returns:
        Neighbouring cans, the facing ends of each layer and the next, the strip over a plus end's
        shoulder, and the two terminal tabs.

    Source: geometry; the whole can is the minus. Thicknesses: common practice, no source.

    Example:
        >>> import workbook as wb
        >>> layout = wb.layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0]
        >>> [(c.key, c.steps, c.barrier) for c in contacts(layout)][0]
        ('cans', 1, '0.2 mm fish paper between them, as high as the cans')
    """
    f, groups = layout.fittings, GroupMap.from_grid(layout.grid, layout.series, layout.parallel)

    def contact(
        key: str, what: str, steps: int, barrier: str, gap_mm: float, layer: int | None = None
    ) -> Contact:
        return Contact(key, what, steps, steps * layout.cell_v, barrier, gap_mm, layer)

    found = []
    if groups.side_steps:
        held = f.spacing_mm >= max(f.barrier_mm, 1e-9)
        barrier = (
            f"the holder's web of {with_unit(f.spacing_mm, 'mm')}"
            if held
            else f"{with_unit(f.barrier_mm, 'mm')} fish paper between them, as high as the cans"
        )
        gap_mm = layout.pitch_mm - layout.diameter_mm
        found.append(contact("cans", "neighbouring cans", groups.side_steps, barrier, gap_mm))
    for lower, steps in enumerate(groups.facing_steps):
        what = f"top of layer {lower + 1} and bottom of layer {lower + 2}"
        barrier = f"polyimide tape over the strips and {with_unit(f.sheet_mm, 'mm')} fish paper, on each of both"
        found.append(contact("faces", what, steps, barrier, 2.0 * f.sheet_mm, lower))
    what = "a strip on a plus end and that can's shoulder"
    found.append(
        contact(
            "shoulder", what, 1, f"a fish-paper ring of {with_unit(f.ring_mm, 'mm')}", f.ring_mm
        )
    )
    # measured from cell end to cell end: the strip itself is thick
    thick_mm = f.strip_layers * f.strip_thickness_mm
    apart_mm = tabs_apart_mm(layout, layout.links, f.strip_width_mm) - thick_mm
    found.append(
        contact("tabs", "plus and minus tabs", layout.series, "the way between them", apart_mm)
    )
    return tuple(found)


def touching(layout: Layout) -> Contact:
    """The contact with the highest voltage among those that only a barrier keeps apart.

    Example:
        >>> import workbook as wb
        >>> touching(
        ...     wb.layouts(wb.Pack(wb.find_cell("Bittern"), 6, 4), (95.0, 70.0, 150.0))[0]
        ... ).volts
        12.6
    """
    near = [c for c in contacts(layout) if c.key != "tabs"]
    return max(near, key=lambda c: c.steps)


def barrier_lines(layout: Layout) -> tuple[str, ...]:
    """What is near what, the highest voltage between it and what keeps it apart, one line each.

    Args:
        layout: the layout.

    Example:
        >>> import workbook as wb
        >>> print(barrier_lines(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0])[0])
        Highest voltage between touching metal: 4.2 V, neighbouring cans.
    """
    near = contacts(layout)
    worst = touching(layout)
    lines = [
        f"Highest voltage between touching metal: {worst.volts:.1f} V, {worst.what}.",
        *(
            f"{c.what[0].upper()}{c.what[1:]}, {'up to ' if c.steps > 1 else ''}{c.volts:.1f} V: "
            f"{c.barrier}."
            for c in near
            if c.key != "tabs"
        ),
        tab_words(layout),
    ]
    if layout.grid.order == "stacks":
        lines.append(
            "Weld the facing ends of each stack first, fold it over its edges and put its sheets in; "
            "then stand the stacks side by side and join the outer faces."
        )
    elif layout.layers > 1:
        lines.append(
            "Weld the layers side by side, then put the sheets in and fold the layers together."
        )
    if layout.fittings.padding_mm > 0:
        lines.append("Foam outside is against blows: it insulates nothing.")
    lines.append("A can's sleeve is thin: refuse any cell whose sleeve is nicked.")
    return tuple(lines)


def tab_words(layout: Layout) -> str:
    """How the terminal tabs leave the pack, in words.

    Example:
        >>> import workbook as wb
        >>> print(tab_words(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 2, 1))[0]))
        Plus and minus tabs leave on opposite sides, 21 mm apart, with 8.4 V between them.
    """
    tabs = next(c for c in contacts(layout) if c.key == "tabs")
    ends = [k for k in layout.links if k.kind == "tab"]
    (a, b), (x, y) = ends[0].way, ends[-1].way
    turn = a * x + b * y
    other_face = (ends[0].layer, ends[0].face) != (ends[-1].layer, ends[-1].face)
    sides = {-1: "on opposite sides", 0: "on adjoining sides", 1: "on one side"}[turn]
    faces = ", from two faces" if other_face else ""
    return (
        f"Plus and minus tabs leave {sides}{faces}, {with_unit(tabs.gap_mm, 'mm', 0)} apart, with "
        f"{tabs.volts:.1f} V between them."
    )
