"""A panel carries the style sheet and its size."""

import ipywidgets as W

from workbook.widgets.style import Panel


def test_a_panel_carries_the_style_sheet_and_goes_back_to_its_size():
    text = W.HTML("text")
    panel = Panel(text, name="lesson", max_width="400px")
    sheet, child = panel.children
    assert "<style>" in sheet.value
    assert sheet.layout.display == "none"
    assert child is text
    assert panel.layout.max_width == "400px"
    panel.set_big(True)
    panel.set_big(False)
    assert panel._dom_classes == ("wb", "wb-lesson")
