"""One face of a layer: where its cells lie, what it is called, and how its labels shrink with the scale."""

import pytest

from tests.bench.arranged import example_pack
from workbook.bench.drawing_canvas import SMALLEST_TEXT_MM, TEXT_MM
from workbook.bench.face_drawing import Face, facing, label_form, lettering
from workbook.bench.layout import layouts

FORMS = ["plate", "tight", "stacked", "sign"]


@pytest.fixture(scope="module")
def two_layers():
    return layouts(example_pack(6, 4), (95.0, 70.0, 150.0))[0]


@pytest.mark.parametrize("scale", [1.0, 2.0])
def test_the_bottom_is_the_top_turned_about_the_long_axis(two_layers, scale):
    top, bottom = (Face(two_layers, 0, face, scale) for face in ("top", "bottom"))
    for cell in top.cells.values():
        x, y = top.middle_of(cell)
        assert bottom.middle_of(cell) == pytest.approx((x, -y))
        assert (x, y) == pytest.approx(
            (cell.x_mm / scale, -cell.y_mm / scale)
        )  # paper's y looks down
        assert {top.pole(cell), bottom.pole(cell)} == {"plus", "minus"}


def test_a_face_says_which_it_is_and_what_lies_on_it(two_layers):
    lower, upper = Face(two_layers, 0, "top", 1.0), Face(two_layers, 1, "top", 1.0)
    assert lower.title == "Top face, layer 1"
    volts = facing(two_layers, 0).volts
    assert lower.under_title == f"on it: layer 2's bottom, up to {volts:.1f} V"
    assert Face(two_layers, 1, "bottom", 1.0).under_title.endswith(f"up to {volts:.1f} V")
    assert upper.under_title == "outer face: fish paper, sleeve"


def test_only_one_face_carries_the_outer_size(two_layers):
    written = [
        f">{two_layers.box_mm[0]:.1f}" in Face(two_layers, layer, face, 1.0).placed(0.0, 0.0)
        for layer in (0, 1)
        for face in ("top", "bottom")
    ]
    assert written.count(True) == 1


def test_lettering_shrinks_with_the_scale_to_nine_points_and_no_further():
    assert lettering(1.0) == 1.0
    assert lettering(1.2) == pytest.approx(1.0 / 1.2)
    assert lettering(10.0) * TEXT_MM == pytest.approx(SMALLEST_TEXT_MM)  # 9 pt = 3.2 mm


@pytest.mark.parametrize(("series", "parallel"), [(4, 2), (6, 4), (14, 8)])
def test_labels_get_plainer_as_the_drawing_gets_smaller(series, parallel):
    layout = layouts(example_pack(series, parallel))[0]
    forms = [FORMS.index(label_form(layout, scale).form) for scale in (1.0, 2.0, 3.0, 5.0, 9.0)]
    assert forms[0] == 0
    assert forms == sorted(forms)
    assert forms[-1] == 3
