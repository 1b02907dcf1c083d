"""How every widget looks: its colours, and the style sheet, put on the page with what is shown in a cell of its own."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ipywidgets as W
import traitlets

from workbook.widgets.keys import KeyGuard
from workbook.widgets.still import LIVE_AGAIN, still_html

INK = "#1f2430"
"""Text and axes."""

PAPER = "#ffffff"
"""The ground of every figure."""

QUIET = "#545c69"
"""Sources and other small print."""

HAIRLINE = "#e3e6ea"
"""Grid and table lines: decoration only, no meaning hangs on them."""


@dataclass(frozen=True)
class Role:
    """The meaning of a line, a point or a bar.

    Attributes:
        name: the role in words.
        colour: hexadecimal sRGB.
        dark: the same on a dark page, where no figure is turned over.
        dash: line style by its bqplot name.
        width_px: line width; dash and width together differ from role to role.
        marker: point shape by its bqplot name.
    """

    name: str
    colour: str
    dark: str
    dash: str
    width_px: float
    marker: str

    @property
    def text_colour(self) -> str:
        """Of its name: letters need more contrast than a faint line has."""
        return QUIET if self is FAINT else self.colour


PACK = Role("pack", "#2b37af", "#a9b4ff", "solid", 3.5, "circle")
LIMIT = Role("limit", "#7e1f0a", "#ff9d85", "dotted", 3.5, "square")
CAUTION = Role("caution", "#a56a00", "#f0b64a", "dashed", 1.75, "triangle-up")
ALTERNATIVE = Role("alternative", "#2b8653", "#6fd39b", "dashed", 3.0, "diamond")
TODAY = Role("today", "#441f3c", "#dcb4d3", "dash_dotted", 2.5, "cross")
FAINT = Role("faint", "#88929e", "#8d96a3", "solid", 1.25, "point")

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


PANEL_PX, FIGURE_PX = 400, 770
"""Widths of the controls and of the figures beside them: together they fit a laptop of 1366 pixels."""

LEAST_FIGURE_PX = 370
"""A narrower figure leaves no room for the names of its lines."""

LEAST_OF_TWO_PX = 290
"""The least width of two side by side, so that both are seen at once."""

PALETTE = {
    "ink": (INK, "#e4e7ec"),
    "paper": (PAPER, "#191c22"),
    "hairline": (HAIRLINE, "#3b414c"),
    "edge": ("#9aa2ad", "#6d7685"),
    "soft": ("#f1f2f4", "#252a33"),
    "quiet": (QUIET, "#a7aeba"),
    "holds": ("#e4e7fb", "#2b3366"),
    "close": ("#fbeed6", "#4d3c14"),
    "broken": ("#f3e3df", "#512a22"),
    **{name: (role.colour, role.dark) for name, role in ROLES.items()},
}
"""By name on a light page and on a dark one; `holds`, `close` and `broken` are backgrounds of table cells."""

COLOURS, IN_THE_DARK = ({name: pair[shade] for name, pair in PALETTE.items()} for shade in (0, 1))

FIGURES = ".wb .bqplot, .wb svg:not(.bqplot svg, svg svg)"
"""They are drawn for paper; in the dark they are turned over as a whole, but for a photograph in one."""

TURNED = 0.9
"""Share of a colour that is turned over: white becomes the dark grey of the page."""


def _colours(colours: dict[str, str]) -> str:
    return " ".join(f"--wb-{name}: {colour};" for name, colour in colours.items())


ARROW = "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 18 18'%3E%3Cpath fill='%23e4e7ec' d='M5 7l4 4 4-4z'/%3E%3C/svg%3E"
"""Of a list that opens: its own is a dark picture."""


def _dark(where: str) -> str:
    turned, back = (f"filter: invert({share}) hue-rotate(180deg);" for share in (TURNED, 1))
    figures = FIGURES.replace(".wb", f"{where} .wb")
    return (
        f'{where} .wb {{ {_colours(IN_THE_DARK)} color-scheme: dark; --jp-widgets-dropdown-arrow: url("{ARROW}"); }} '
        f"{figures} {{ {turned} }} {where} .wb .bqplot image {{ {back} }} "
        f"{where} .wb svg {{ background: none !important; }} "
        f"{where} .wb .bqplot .plotarea_background {{ fill: none !important; }}\n"
    )


CSS = (
    f".wb, {FIGURES} {{ {_colours(COLOURS)} }}\n"
    + Path(__file__).with_name("style.css").read_text("utf-8")
    + f"@media screen and (prefers-color-scheme: dark) {{ {_dark('.page')} }}\n"
    + _dark('[data-jp-theme-light="false"]')
)
"""A page follows the reader's system, JupyterLab its own theme."""


def style_sheet() -> W.HTML:
    """A widget that carries the style sheet; it takes no room on the page."""
    return W.HTML(f"<style>{CSS}</style>", layout=W.Layout(display="none"))


class Panel(W.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A box on the page, at laptop or projector size; shown in a cell of its own it brings the style sheet.

    Args:
        children: from top to bottom.
        name: class of the page's element after `wb-`, where it needs one.
        layout: of the box.

    Example:
        >>> panel = Panel(W.HTML("text"), name="lesson")
        >>> panel.set_big(True)
        >>> panel._dom_classes
        ('wb', 'wb-lesson', 'wb-big')
    """

    busy = False
    _page_parts: tuple[W.Widget, ...] = ()
    """Style sheet and key guard; of nested panels only the outermost brings them."""

    def __init__(self, *children: W.Widget, name: str = "", **layout: str) -> None:
        super().__init__(children, layout=W.Layout(**layout))
        self.add_class("wb")
        if name:
            self.add_class(f"wb-{name}")

    def _repr_mimebundle_(self, **how: Any) -> dict[str, Any]:
        """Live, with its keys kept from the notebook around it; and what stays of it where no kernel runs."""
        if not self._page_parts:
            self._page_parts = style_sheet(), KeyGuard()
            self.set_trait("children", self.children)
        live = super()._repr_mimebundle_(**how) or {}
        return live | {"text/plain": LIVE_AGAIN, "text/html": still_html(self)}

    @traitlets.validate("children")
    def _with_style(self, proposal: Any) -> tuple[W.Widget, ...]:
        """Its children, and last the style sheet and key guard, whatever is put into it later."""
        held = (part for part in proposal["value"] if part not in self._page_parts)
        return (*held, *self._page_parts)

    @contextmanager
    def quiet(self) -> Iterator[None]:
        """While the panel itself fills its parts; observers see it by `busy`."""
        self.busy = True
        try:
            yield
        finally:
            self.busy = False

    def set_big(self, big: bool) -> None:
        """Projector size (text of 18 pt and more) or laptop size."""
        set_big(self, big)

    def fit(self, room_px: int) -> None:
        """Take the width that there is; most panels take it by themselves.

        Args:
            room_px: width of the column.
        """


def fitted_px(usual_px: int, room_px: int) -> int:
    """How wide a figure is in a column: in proportion to it, yet no narrower than can be read, nor wider than the column.

    Args:
        usual_px: its width in a column of `FIGURE_PX`.
        room_px: width of the column.

    Example:
        >>> fitted_px(760, 770), fitted_px(380, 1140), fitted_px(380, 370), fitted_px(760, 370)
        (760, 562, 370, 370)
        >>> fitted_px(380, 600)  # two side by side
        296
    """
    wide = usual_px * room_px // FIGURE_PX
    if 2 * usual_px <= FIGURE_PX and wide >= LEAST_OF_TWO_PX:
        return wide
    return min(max(wide, min(usual_px, LEAST_FIGURE_PX)), room_px)


def set_big(box: W.DOMWidget, big: bool) -> None:
    """Switch a box between laptop size and projector size (text of 18 pt and more)."""
    (box.add_class if big else box.remove_class)("wb-big")
