"""Shapes and the room they take: what is drawn lies within the box that is told, and signs keep off each other."""

import re

import pytest

from workbook.bench.drawing_canvas import Canvas, badge_half, labels


def points(shape):
    """Every place that a path of straight strokes goes through."""
    return [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", shape)]


@pytest.mark.parametrize("kind", ["series", "parallel", "tab"])
@pytest.mark.parametrize("end", [(40.0, 0.0), (0.0, -25.0), (30.0, 40.0)])
def test_a_hatch_stays_within_its_band(kind, end):
    canvas = Canvas(1.0, 1.0)
    canvas.band(kind, (0.0, 0.0), end, 8.0, (3.0, 5.0))
    left, top, right, bottom = canvas.box
    hatch = next(shape for shape in canvas.shapes if 'class="hatch"' in shape)
    assert len(points(hatch)) >= 4
    for x, y in points(hatch):
        assert left - 0.01 <= x <= right + 0.01
        assert top - 0.01 <= y <= bottom + 0.01


def test_a_band_reaches_past_its_ends_by_what_is_asked():
    canvas = Canvas(1.0, 1.0)
    canvas.band("series", (10.0, 5.0), (30.0, 5.0), 8.0, (3.0, 4.0))
    assert canvas.box == pytest.approx((7.0, 1.0, 34.0, 9.0))  # 10 - 3, 5 - 8/2, 30 + 4, 5 + 8/2


def test_a_sign_goes_to_the_first_place_that_is_free_and_takes_it():
    canvas = Canvas(1.0, 1.0)
    canvas.covers((0.0, 0.0), (10.0, 10.0))
    places = [(5.0, 5.0), (13.0, 5.0), (18.0, 5.0)]
    assert canvas.nearest_free(places, 2.0, 2.0) == (13.0, 5.0)  # 13 - 2 - 0.4 is beyond 10
    assert canvas.nearest_free(places, 2.0, 2.0) == (
        18.0,
        5.0,
    )  # 18 - 2 - 0.4 is beyond 13 + 2 + 0.4
    assert canvas.nearest_free(places, 2.0, 2.0) == (5.0, 5.0)  # nowhere is free: the nearest


def test_words_cover_the_side_that_they_are_anchored_to():
    for anchor, left, right in (("start", 0.0, 12.0), ("middle", -6.0, 6.0), ("end", -12.0, 0.0)):
        canvas = Canvas(1.0, 1.0)
        canvas.write((0.0, 0.0), "4S6P", size=5.0, anchor=anchor)  # 4 x 0.6 x 5 mm wide
        assert (canvas.box[0], canvas.box[2]) == pytest.approx((left, right))


def test_what_is_drawn_in_a_group_stands_in_one_element():
    canvas = Canvas(1.0, 1.0)
    with canvas.group(class_="cell", data_cell=7):
        canvas.end((0.0, 0.0), 9.0, "plus")
        canvas.end((20.0, 0.0), 9.0, "minus")
    (shape,) = canvas.shapes
    assert shape.startswith("<g")
    assert 'data-cell="7"' in shape
    assert shape.count("<circle") == 3  # the plus end has a ring


def test_labels_come_with_the_easiest_to_read_first_and_get_no_wider():
    for digits in (1, 2):
        forms = labels(digits)
        assert [form.form for form in forms] == ["plate", "tight", "stacked", "sign"]
        widths = [form.half_x for form in forms]
        assert widths == sorted(widths, reverse=True)


def test_a_badge_has_room_for_its_number():
    assert badge_half("B12")[0] > badge_half("B1")[0]
    canvas = Canvas(1.0, 1.0)
    canvas.badge((0.0, 0.0), "B12")
    left, top, right, bottom = canvas.box
    assert right - left == pytest.approx(2 * badge_half("B12")[0])
    assert bottom - top == pytest.approx(2 * badge_half("B12")[1])


def test_an_arrow_points_the_way_it_is_given():
    canvas = Canvas(1.0, 1.0)
    assert canvas.arrow((1.0, 2.0), (0.0, -1.0)) == pytest.approx((1.0, -4.0))  # 6 mm up
    assert canvas.box[1] == pytest.approx(-4.0 - 0.4 * 6.0)
