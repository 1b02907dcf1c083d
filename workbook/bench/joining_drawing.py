"""How two packs are joined, as a drawing: packs, their leads and connectors, the lead to the craft."""

from __future__ import annotations

from workbook import svg
from workbook.battery.two_packs import Joined

WIDTH, HEIGHT = 680, 236
PACK_WIDE, PACK_HIGH = 190.0, 64.0
TOP, LOW = 22.0, 142.0
CRAFT_X, JOINT_X = 520.0, 400.0
PLUS, MINUS = "#b3261e", "#1f2430"


def draw_joining(joined: Joined, names: tuple[str, str], one: str, full_v: float) -> str:
    """Two packs and what joins them, plus in red and whole, minus in black and dashed.

    Args:
        joined: "parallel" or "series".
        names: what the packs are called.
        one: one pack in words, as "6S2P".
        full_v: of one full pack.

    Example:
        >>> drawn = draw_joining("series", ("A", "B"), "6S2P", 25.2)
        >>> drawn.startswith("<svg"), "50.4 V full" in drawn
        (True, True)
    """
    shapes = [
        _pack(y, f"Pack {name}", one, full_v) for y, name in zip((TOP, LOW), names, strict=True)
    ]
    together = full_v * (2.0 if joined == "series" else 1.0)
    middle = (TOP + LOW + PACK_HIGH) / 2
    shapes.append(svg.box(CRAFT_X, middle - 36, 140, 72))
    shapes.append(svg.text(CRAFT_X + 70, middle - 4, "to the craft", anchor="middle", bold=True))
    shapes.append(svg.text(CRAFT_X + 70, middle + 20, f"{together:.1f} V full", anchor="middle"))
    shapes += _parallel(middle) if joined == "parallel" else _series(middle)
    name = f"two packs of {one} joined in {joined}, {together:.1f} V full"
    return svg.document(*shapes, width=WIDTH, height=HEIGHT, name=name)


def _pack(y: float, name: str, one: str, full_v: float) -> str:
    """A pack with its two leads up to its own connector."""
    plus, minus = _ends(y)
    right = 10 + PACK_WIDE
    return "".join(
        (
            svg.box(10, y, PACK_WIDE, PACK_HIGH),
            svg.text(20, y + 27, name, bold=True),
            svg.text(20, y + 50, f"{one}, {full_v:.1f} V full"),
            _wire((right, plus), (300, plus), plus=True),
            _wire((right, minus), (300, minus), plus=False),
            svg.box(286, y + 4, 28, PACK_HIGH - 8, "#ffffff"),
            svg.text(right + 8, plus - 5, "+", bold=True),
            svg.text(right + 8, minus + 17, "–", bold=True),
        )
    )


def _ends(y: float) -> tuple[float, float]:
    """Heights of plus and minus of a pack."""
    return y + 16.0, y + PACK_HIGH - 16.0


def _wire(*points: tuple[float, float], plus: bool) -> str:
    return svg.polyline(points, PLUS if plus else MINUS, 3, "" if plus else "7 3")


def _parallel(middle: float) -> list[str]:
    """Plus to plus and minus to minus, one lead to the craft."""
    shapes = []
    for plus, x, y in ((True, JOINT_X, middle - 16), (False, JOINT_X + 44, middle + 16)):
        first, second = (_ends(top)[0 if plus else 1] for top in (TOP, LOW))
        shapes.append(_wire((314, first), (x, first), (x, second), (314, second), plus=plus))
        shapes.append(_wire((x, y), (CRAFT_X, y), plus=plus))
    return shapes


def _series(middle: float) -> list[str]:
    """The plus of the first to the minus of the second; the other two ends to the craft."""
    (first_plus, first_minus), (second_plus, second_minus) = _ends(TOP), _ends(LOW)
    left, x, right, above, below = JOINT_X - 44, JOINT_X, JOINT_X + 44, middle - 16, middle + 16
    return [
        _wire(
            (314, first_minus), (right, first_minus), (right, below), (CRAFT_X, below), plus=False
        ),
        _wire((314, first_plus), (left, first_plus), (left, second_minus), plus=True),
        _wire((314, second_minus), (left, second_minus), plus=False),
        _wire((314, second_plus), (x, second_plus), (x, above), (CRAFT_X, above), plus=True),
    ]
