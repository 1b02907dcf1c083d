"""How wide the page leaves our panels, and whether its window is short, told to the computation that places names on charts."""

from __future__ import annotations

import anywidget
import traitlets


class PageWidth(anywidget.AnyWidget):
    """Takes no room, and tells how many pixels wide the panel is that it stands in.

    Attributes:
        width: of the panel, in px; 0 until the page has told.
        short: whether the window is less than 620 px high, as a laptop's is at 150 %.
    """

    width = traitlets.Int(0).tag(sync=True)
    short = traitlets.Bool(False).tag(sync=True)

    _esm = """
    function render({ model, el }) {
      el.style.display = "none";
      let waiting = 0;
      const measure = () => {
        const panel = el.isConnected ? el.closest(".wb") : null;
        const width = panel ? Math.floor(panel.clientWidth) : 0;
        const short = window.innerHeight < 620;
        if (width > 0 && (Math.abs(width - model.get("width")) > 8 || short !== model.get("short"))) {
          model.set({ width, short });
          model.save_changes();
        }
      };
      const later = () => { clearTimeout(waiting); waiting = setTimeout(measure, 120); };
      const observer = new ResizeObserver(later);
      const begin = () => {
        const panel = el.closest(".wb");
        if (panel) { observer.observe(panel); measure(); } else { requestAnimationFrame(begin); }
      };
      begin();
      window.addEventListener("resize", later);
      return () => { observer.disconnect(); window.removeEventListener("resize", later); clearTimeout(waiting); };
    }
    export default { render };
    """
