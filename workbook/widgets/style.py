"""How every widget looks: its colours, and the style sheet, put on the page by each part that needs it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import ipywidgets as W

from workbook.widgets.keys import KeyGuard
from workbook.widgets.still import LIVE_AGAIN, still_html

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
FAINT = Role("faint", "#88929e", "solid", 1.25, "point")

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

CSS = f"""
.wb, .wb *:not(.fa) {{ font-family: system-ui, "Segoe UI", "Noto Sans", sans-serif; }}
.wb {{ color: {INK}; background: #fff; font-size: 14px; line-height: 1.45;
  --jp-widgets-color: {INK}; --jp-widgets-label-color: {INK}; --jp-widgets-readout-color: {INK};
  --jp-widgets-input-color: {INK}; --jp-widgets-input-background-color: #fff;
  --jp-widgets-input-border-color: #9aa2ad; --jp-ui-font-color0: {INK}; --jp-ui-font-color1: {INK};
  --jp-content-font-color0: {INK}; --jp-content-font-color1: {INK}; --jp-layout-color0: #fff;
  --jp-layout-color1: #fff; --jp-layout-color2: #eee; --jp-border-color1: #9aa2ad;
  --jp-rendermime-table-row-background: #f4f5f7; }}
.wb .jp-RenderedHTMLCommon, .wb .widget-html-content, .wb option {{ color: {INK}; background: #fff; }}
.wb .widget-html-content, .wb .jupyter-widgets {{ font-size: inherit; line-height: inherit; }}
.wb .widget-label {{ color: {INK}; text-align: left; white-space: normal; line-height: 1.25;
  height: auto; min-height: 28px; display: flex; align-items: center; align-self: center; }}
.wb input[type="text"] {{ color: {INK}; font-size: inherit; }}
.wb input[type="text"], .wb input[type="number"], .wb textarea, .wb select {{ border: 1px solid #9aa2ad; padding: 2px 6px; }}
.wb input:focus, .wb button:focus, .wb select:focus, .wb .noUi-handle:focus {{
  outline: 3px solid {PACK.colour}; outline-offset: 1px; }}
.wb .noUi-connect {{ background: {PACK.colour}; }}
.wb .noUi-target {{ background: {HAIRLINE}; border: 1px solid #7b8492; }}
.wb .noUi-handle {{ border: 2px solid {PACK.colour} !important; }}
.wb .widget-slider .slider-container {{ margin-right: 14px; }}
.wb .wb-doubt input[type="text"] {{ border: 2px dashed {CAUTION.colour}; background: #fff6e3; }}
.wb-stale .wb-chart .bqplot, .wb-stale .wb-picture svg, .wb-stale .wb-figures, .wb-stale .wb-verdict,
.wb-stale table {{ opacity: 0.4; transition: opacity 0.1s 0.2s; }}
.wb-asked {{ color: {CAUTION.colour}; margin: 0 0 4px 0; }}
.wb-refusal {{ color: {LIMIT.colour}; margin: 0 0 4px 0; }}
.wb-title {{ font-weight: 600; font-size: 115%; margin: 2px 0; }}
.wb-finding {{ margin: 2px 16px 8px 0; max-width: 46em; }}
.wb .bqplot text {{ font-family: system-ui, "Segoe UI", "Noto Sans", sans-serif !important; }}
.wb-on-picture .bqplot .curve, .wb-on-picture .bqplot text {{ pointer-events: none; }}
.wb .bqplot .axis path.domain, .wb .bqplot .axis .tick line {{ stroke: #9aa2ad; }}
.wb .bqplot .object_grp text {{ paint-order: stroke; stroke: #fff; stroke-width: 4px;
  stroke-linejoin: round; }}
.wb-verdict {{ white-space: pre-line; border-left: 8px solid {PACK.colour}; padding: 6px 0 6px 14px; margin: 4px 0;
  max-width: min(52em, 100%); box-sizing: border-box; }}
.wb-verdict.wb-close {{ border-left-color: {CAUTION.colour}; border-left-style: double; }}
.wb-verdict.wb-unchecked {{ border-left-color: {CAUTION.colour}; border-left-style: dotted; }}
.wb-verdict.wb-broken {{ border-left-color: {LIMIT.colour}; border-left-style: dashed; }}
.wb-word {{ font-weight: 700; font-size: 130%; margin-right: 0.6em; white-space: nowrap; }}
.wb-holds .wb-word {{ color: {PACK.colour}; }}
.wb-close .wb-word {{ color: {CAUTION.colour}; }}
.wb-broken .wb-word {{ color: {LIMIT.colour}; }}
.wb table {{ border-collapse: collapse; margin: 4px 0 8px 0; }}
.wb caption {{ text-align: left; font-weight: 600; padding: 4px 0; caption-side: top; }}
.wb th, .wb td {{ padding: 3px 14px 3px 0; border-bottom: 1px solid {HAIRLINE}; text-align: left;
  vertical-align: top; font-weight: 400; background: none; }}
.wb thead th {{ font-weight: 600; border-bottom: 1px solid #9aa2ad; }}
.wb td.wb-num, .wb th.wb-num {{ text-align: right; font-variant-numeric: tabular-nums;
  white-space: nowrap; }}
.wb .wb-figures {{ display: flex; flex-wrap: wrap; gap: 8px 36px; margin: 6px 0; padding: 0; }}
.wb .wb-figures div {{ margin: 0; }}
.wb .wb-figures dt, .wb .wb-figures dd {{ float: none; display: block; width: auto; margin: 0;
  padding: 0; }}
.wb .wb-figures dt {{ font-weight: 400; font-size: 93%; }}
.wb .wb-figures dd {{ font-size: 150%; font-weight: 600;
  font-variant-numeric: tabular-nums; }}
.wb .wb-figures dd.wb-beside {{ font-size: 100%; font-weight: 400; }}
.wb .wb-grid td {{ text-align: center; padding: 4px 8px; border: 2px solid #fff;
  font-variant-numeric: tabular-nums; }}
.wb .wb-grid td.wb-holds {{ background: #e4e7fb; }}
.wb .wb-grid td.wb-close {{ background: #fbeed6; }}
.wb .wb-grid td.wb-broken {{ background: #f3e3df; color: {LIMIT.colour}; }}
.wb .wb-grid td.wb-chosen {{ outline: 3px solid {INK}; outline-offset: -3px; font-weight: 700; }}
.wb-step {{ margin: 0 0 8px 0; }}
.wb-step .wb-source {{ color: #545c69; font-size: 93%; }}
.wb .jupyter-widget-Collapse-header::before, .wb .jupyter-widgets-Collapse-header::before {{
  content: "▸ "; font: inherit; }}
.wb .jupyter-widget-Collapse-open > .jupyter-widget-Collapse-header::before,
.wb .jupyter-widgets-Collapse-open > .jupyter-widgets-Collapse-header::before {{ content: "▾ "; }}
.wb .jupyter-widget-Collapse-header, .wb .jupyter-widgets-Collapse-header {{ color: {INK}; }}
.wb .jupyter-widget-Collapse-header .fa, .wb .jupyter-widgets-Collapse-header .fa {{ display: none; }}
.wb ul {{ margin: 4px 0; padding-left: 1.4em; }}
.wb-narrow > .wb-right {{ display: contents; }}
.wb-narrow > .wb-right > * {{ order: 1; }}
.wb-narrow > .wb-right > :first-child {{ order: -1; position: sticky; top: 0; z-index: 3; background: #fff;
  max-height: 46vh; overflow-y: auto; flex: 0 0 auto; border-bottom: 1px solid {HAIRLINE}; }}
.wb-narrow > *, .wb-narrow > .wb-right > * {{ min-width: 0; max-width: 100%; box-sizing: border-box; }}
.wb .widget-text, .wb .widget-textarea, .wb .widget-dropdown {{ max-width: calc(100% - 4px); }}
.wb .widget-dropdown > select {{ min-width: 0; }}
@media (max-width: 600px) {{
  .wb-word {{ display: block; white-space: normal; }}
  .wb table {{ font-size: 12px; }}
  .wb th, .wb td {{ padding: 3px 6px 3px 0; white-space: normal !important; overflow-wrap: anywhere; }}
  .wb td.wb-num {{ overflow-wrap: normal; }}
  .wb .widget-html-content {{ overflow-x: auto; }}
  .wb-cards thead {{ display: none; }}
  .wb-cards tr {{ display: block; padding: 6px 0; border-bottom: 1px solid {HAIRLINE}; }}
  .wb-cards th, .wb-cards td {{ display: inline-block; border: 0; padding: 0 12px 2px 0; text-align: left; }}
  .wb-cards th, .wb-cards td:last-child {{ display: block; }}
  .wb-allowances .widget-hbox {{ height: auto !important; min-height: 30px; }}
  .wb-allowances .widget-hbox > .widget-text {{ width: 54px !important; flex: 0 0 54px; }}
  .wb-allowances .widget-hbox > .widget-html b {{ font-size: 11px; }}
  .wb-allowances .widget-hbox > .widget-html {{ flex: 0 0 auto; width: 54px !important; min-width: 0; }}
  .wb-allowances .widget-hbox > .widget-html:first-child {{ flex: 1 1 100px; width: auto !important; }}
}}
.wb-exercise input {{ scroll-margin-bottom: 180px; }}
.wb .widget-radio-box label {{ min-height: 26px; margin: 0; }}
.wb svg {{ max-width: 100%; }}
.wb .bqplot.figure {{ overflow: hidden; }}
.wb-picture svg {{ height: auto; }}
.wb-big, .wb-big .wb {{ font-size: 24px; }}
.wb-big .jupyter-widgets, .wb-big .widget-label, .wb-big input, .wb-big select, .wb-big button {{
  font-size: 24px !important; }}
.wb-big .bqplot .axislabel {{ font-size: 24px !important; }}
.wb-big .wb-figures dt, .wb-big .wb-source, .wb-big .wb-refusal {{ font-size: 100%; }}
.wb-big .widget-text, .wb-big .widget-text input, .wb-big .widget-dropdown, .wb-big .widget-dropdown select,
.wb-big .jupyter-button {{ height: 40px !important; line-height: 40px; }}
.wb-lead {{ font-size: 200%; font-weight: 700; line-height: 1.2; }}
.wb-big .wb-lead {{ font-size: 72px; }}
"""


def style_sheet() -> W.HTML:
    """A widget that carries the style sheet; it takes no room on the page."""
    return W.HTML(f"<style>{CSS}</style>", layout=W.Layout(display="none"))


class Panel(W.VBox):  # type: ignore[misc]  # ipywidgets tells no types
    """A box on the page with the style sheet in it, at laptop or projector size.

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

    def __init__(self, *children: W.Widget, name: str = "", **layout: str) -> None:
        super().__init__([style_sheet(), *children], layout=W.Layout(**layout))
        self.add_class("wb")
        if name:
            self.add_class(f"wb-{name}")

    def _repr_mimebundle_(self, **how: Any) -> dict[str, Any]:
        """Live, with its keys kept from the notebook around it; and what stays of it where no kernel runs."""
        if not any(isinstance(part, KeyGuard) for part in self.children):
            self.set_trait("children", (*self.children, KeyGuard()))
        live = super()._repr_mimebundle_(**how) or {}
        return live | {"text/plain": LIVE_AGAIN, "text/html": still_html(self)}

    @contextmanager
    def quiet(self) -> Iterator[None]:
        """While its parts are filled by the panel itself, which `busy` tells to those who watch them."""
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
            room_px: width of the column that they stand in.
        """


def fitted_px(usual_px: int, room_px: int) -> int:
    """How wide a figure is in a column: in proportion to it, yet no narrower than can be read, nor wider than the column.

    Args:
        usual_px: its width in a column of `FIGURE_PX`.
        room_px: width of the column.

    Example:
        >>> fitted_px(760, 770), fitted_px(380, 1140), fitted_px(380, 370), fitted_px(760, 370)
        (760, 562, 370, 370)
    """
    wide = usual_px * room_px // FIGURE_PX
    return min(max(wide, min(usual_px, LEAST_FIGURE_PX)), room_px)


def set_big(box: W.DOMWidget, big: bool) -> None:
    """Switch a box between laptop size and projector size (text of 18 pt and more)."""
    (box.add_class if big else box.remove_class)("wb-big")
