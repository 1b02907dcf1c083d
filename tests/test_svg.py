"""Shapes as SVG text: well formed, escaped, rounded."""

from xml.etree import ElementTree

from workbook import svg


def test_text_of_a_user_stays_text() -> None:
    odd = '</svg><script>"&'
    drawn = svg.document(
        svg.group(svg.text(1, 2, odd, data_note=odd)), width=10, height=5, name=odd, unit="mm"
    )
    root = ElementTree.fromstring(drawn)
    (words,) = root.iter("text")
    assert words.text == words.get("data-note") == root.get("aria-label") == odd
    assert root.get("viewBox") == "0 0 10 5"
    assert root.get("width") == "10mm"


def test_shapes_inside_one_another() -> None:
    inner = svg.group(svg.line(0, 0, 1, 1), svg.box(0, 0, 2, 3), class_="inner")
    root = ElementTree.fromstring(svg.group(inner, svg.polygon([(0, 0), (1, 0), (0, 1)])))
    assert [e.tag for e in root.iter()] == ["g", "g", "line", "rect", "polygon"]


def test_zero_is_written_and_nothing_is_left_out() -> None:
    assert svg.element("a", x=0.0, y=None, dash="") == '<a x="0"/>'
    assert svg.number(-1e-9) == "0"
    assert svg.box(0, 0, -1, 2) == ""
