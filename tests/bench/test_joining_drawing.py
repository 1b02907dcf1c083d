"""The drawing of two packs: each lead ends where it should, and what it says is what is there."""

from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree

import pytest

from workbook.bench.joining_drawing import PLUS, draw_joining


@pytest.mark.parametrize(
    ("joined", "together"), [("parallel", "25.2 V full"), ("series", "50.4 V full")]
)
def test_both_packs_the_craft_and_its_voltage_are_named(joined, together):
    root = ElementTree.fromstring(draw_joining(joined, ("A", "B"), "6S2P", 25.2))
    words = ["".join(node.itertext()) for node in root.iter() if node.tag.endswith("text")]
    assert {"Pack A", "Pack B", "to the craft", together} <= set(words)
    assert together in root.get("aria-label", "")


@pytest.mark.parametrize(
    ("joined", "nets_of_poles"),
    [
        ("parallel", [[("A", False), ("B", False)], [("A", True), ("B", True)]]),
        ("series", [[("A", False)], [("A", True), ("B", False)], [("B", True)]]),
    ],
)
def test_every_wire_hangs_together(joined, nets_of_poles):
    """Ends of wires that touch are joined: in parallel three nets of two poles, in series the middle one has both."""
    root = ElementTree.fromstring(draw_joining(joined, ("A", "B"), "6S2P", 25.2))
    strokes = [
        ([tuple(map(float, p.split(","))) for p in n.get("points").split()], n.get("stroke"))
        for n in root.iter()
        if n.tag.endswith("polyline")
    ]
    wires = [
        ((*one, *other), stroke == PLUS)
        for points, stroke in strokes
        for one, other in pairwise(points)
    ]
    assert len(wires) >= 11

    def touches(point, wire):
        x1, y1, x2, y2 = wire
        x, y = point
        on_x = min(x1, x2) - 0.1 <= x <= max(x1, x2) + 0.1
        return on_x and min(y1, y2) - 0.1 <= y <= max(y1, y2) + 0.1

    nets: list[set[int]] = []
    for k, (one, _) in enumerate(wires):
        joined_to = [
            j
            for j, (other, _) in enumerate(wires)
            if any(touches(p, other) for p in (one[:2], one[2:]))
        ]
        linked = {k, *joined_to}
        touching = [net for net in nets if net & linked]
        nets = [net for net in nets if net not in touching] + [linked.union(*touching)]
    # wires from a pack to its connector end under the connector's box, 14 px before those beyond it
    poles = [
        {
            ("A" if y < 120 else "B", plus)
            for k in net
            for (x1, y1, x2, y2), plus in [wires[k]]
            for x, y in ((x1, y1), (x2, y2))
            if x == 314
        }
        for net in nets
    ]
    assert sorted(sorted(net) for net in poles if net) == nets_of_poles
