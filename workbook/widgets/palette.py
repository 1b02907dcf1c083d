"""One palette of six roles: a colour, a dash and a marker each, so that shape doubles colour.

The colours stay apart for readers with protanopia, deuteranopia or tritanopia, and each stands out
from white; `tests/widgets/test_palette.py` computes both.
"""

from __future__ import annotations

from dataclasses import dataclass

INK = "#1f2430"
"""Text and axes."""

PAPER = "#ffffff"
"""The ground of every figure."""

HAIRLINE = "#e3e6ea"
"""Grid and table lines: decoration only, no meaning hangs on them."""


@dataclass(frozen=True)
class Role:
    """What a line, a point or a bar stands for.

    Attributes:
        name: the role in words.
        colour: hexadecimal sRGB.
        dash: line style by its bqplot name.
        width_px: line width; dash and width together differ from role to role.
        marker: point shape by its bqplot name.
    """

    name: str
    colour: str
    dash: str
    width_px: float
    marker: str


PACK = Role("pack", "#2b37af", "solid", 3.5, "circle")
LIMIT = Role("limit", "#7e1f0a", "dotted", 3.5, "square")
CAUTION = Role("caution", "#a56a00", "dashed", 1.75, "triangle-up")
ALTERNATIVE = Role("alternative", "#2b8653", "dashed", 3.0, "diamond")
TODAY = Role("today", "#441f3c", "dash_dotted", 2.5, "cross")
FAINT = Role("faint", "#88929e", "solid", 1.25, "ellipse")

ROLES: dict[str, Role] = {r.name: r for r in (PACK, LIMIT, CAUTION, ALTERNATIVE, TODAY, FAINT)}


def role(name: str) -> Role:
    """A role by its name.

    Args:
        name: `pack`, `limit`, `caution`, `alternative`, `today` or `faint`.

    Raises:
        KeyError: there is no such role.

    Example:
        >>> role("pack").dash
        'solid'
    """
    if name not in ROLES:
        raise KeyError(f"no role '{name}'; one of {', '.join(ROLES)} is needed.")
    return ROLES[name]
