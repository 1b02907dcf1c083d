"""The picture on the page: its pixels are the scales, clicks and drags are reported in them."""

from __future__ import annotations

import numpy as np

from workbook.pictures.opening import OpenedPicture
from workbook.widgets.picture_figure import PictureFigure, place
from workbook.widgets.style import PACK

PICTURE = OpenedPicture("a", np.zeros((1200, 600, 3), np.uint8))


def test_a_high_picture_is_shown_whole() -> None:
    figure = PictureFigure()
    figure.show(PICTURE)
    assert figure.size == (600, 1200)
    assert (figure.figure.layout.width, figure.figure.layout.height) == ("310px", "620px")


def test_a_picture_of_any_shape_takes_the_place_of_the_one_before() -> None:
    figure = PictureFigure()
    for high, wide in ((1200, 600), (300, 1500), (40, 400), (900, 100), (600, 600)):
        figure.show(OpenedPicture("a", np.zeros((high, wide, 3), np.uint8)))
        assert figure.size == (wide, high)
        assert figure.figure.min_aspect_ratio == figure.figure.max_aspect_ratio == wide / high


def test_a_click_is_reported_in_the_pictures_pixels() -> None:
    figure = PictureFigure()
    seen: list[tuple[float, float]] = []
    figure.on_click(lambda x, y: seen.append((x, y)))
    message = {"event": "element_click", "data": {"click_x": 12.5, "click_y": 40.0}}
    figure.image._handle_custom_msgs(figure.image, message, [])
    assert seen == [(12.5, 40.0)]


def test_a_dragged_point_is_reported_with_its_place() -> None:
    figure = PictureFigure()
    seen: list[tuple[int, float, float]] = []
    mark = figure.scatter(PACK, lambda n, x, y: seen.append((n, x, y)))
    place(mark, [(1.0, 2.0), (3.0, 4.0)])
    message = {"event": "drag_end", "index": 1, "point": {"x": 5.0, "y": 6.0}}
    mark._handle_custom_msgs(mark, message, [])
    assert seen == [(1, 5.0, 6.0)]


def test_a_picture_takes_no_more_than_its_column_and_its_height_follows() -> None:
    figure = PictureFigure()
    figure.show(OpenedPicture("a", np.zeros((300, 900, 3), np.uint8)))
    figure.fit(360)
    assert (figure.figure.layout.width, figure.figure.layout.height) == ("360px", "120px")
    figure.show(PICTURE)  # twice as high as wide: 620 px, the most, is reached first
    assert (figure.figure.layout.width, figure.figure.layout.height) == ("310px", "620px")
    figure.fit(1200)
    figure.show(OpenedPicture("a", np.zeros((300, 900, 3), np.uint8)))
    assert figure.figure.layout.width == "770px"
