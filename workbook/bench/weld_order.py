"""The order in which the strips of a pack are welded: junction by junction, with what to measure after each."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from workbook.bench.layout import Layout

KINDS = ("parallel", "series", "tab")


@dataclass(frozen=True)
class WeldStep:
    """All strips of one junction, welded before the next one is begun.

    Attributes:
        junction: 0 (pack minus) to S (pack plus).
        where: layers and faces on which its strips lie, in words.
        pieces: how many pieces of each kind, in words.
        measure_v: from B0 to this junction afterwards, cells as they are now; 0 at B0.
    """

    junction: int
    where: str
    pieces: str
    measure_v: float

    @property
    def measure(self) -> str:
        """What to measure, in words; empty at B0."""
        return f"B0 to B{self.junction}" if self.junction else ""


def weld_order(layout: Layout, cell_v: float) -> tuple[WeldStep, ...]:
    """Steps from the pack's minus to its plus.

    After each step only one more group joins what is live, and its voltage shows whether it stands the
    right way round. What is not being welded stays covered.

    Args:
        layout: the layout.
        cell_v: voltage of every cell now.

    Source: common practice, no source; voltages in series add.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> for one in weld_order(layouts(example_pack(2, 2))[0], 3.5):
        ...     print(one.junction, one.where, one.pieces, one.measure_v)
        0 ... 0.0
        1 ... 3.5
        2 ... 7.0
    """
    single = layout.layers == 1
    steps = []
    for junction in range(layout.series + 1):
        links = [link for link in layout.links if link.junction == junction]
        places = sorted({(link.layer, link.face) for link in links})
        count = Counter(link.kind for link in links)
        steps.append(
            WeldStep(
                junction,
                " and ".join(
                    face if single else f"layer {layer + 1} {face}" for layer, face in places
                ),
                ", ".join(f"{count[kind]} {kind}" for kind in KINDS if count[kind]),
                junction * cell_v,
            )
        )
    return tuple(steps)
