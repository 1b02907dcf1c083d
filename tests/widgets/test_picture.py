"""A picture tells in words what it shows, and grows as a whole."""

import re
from functools import partial

from workbook import svg
from workbook.widgets.picture import Picture


def test_a_picture_tells_what_it_shows_and_grows_as_a_whole():
    picture = Picture("<A line>", 200, 100)
    picture.draw(svg.line(0, 50, 200, 50), 'It says "so".')
    assert "&lt;A line&gt;" in picture.children[0].value
    assert 'aria-label="It says &quot;so&quot;."' in picture.svg.value
    assert 'width="200" height="100"' in picture.svg.value
    picture.set_big(True)
    assert 'viewBox="0 0 200 100" width="310" height="155"' in picture.svg.value
    assert picture.svg.value.count("<line") == 1


def test_a_whole_drawing_is_shown_to_the_width_of_the_picture():
    picture = Picture("Layout", 300, 100)
    drawing = svg.document(svg.line(0, 0, 9, 9), width=100, height=150, unit="mm")
    picture.show(drawing, "Two faces.")
    assert 'viewBox="0 0 300 450" width="300" height="450"' in picture.svg.value
    assert "mm" not in picture.svg.value
    assert 'viewBox="0 0 100 150"' in picture.svg.value


class Row(Picture):
    narrow_px = 120

    def update(self, position: float) -> None:
        self.redraw = partial(self.update, position)
        self.draw(svg.text(position * self.width_px, 20, "half way"), "Half way.")


def test_a_picture_is_drawn_narrow_where_the_page_leaves_little_room():
    row = Row("Row", 200, 100)
    row.update(0.5)
    row.fit(150)
    assert 'viewBox="0 0 200 100"' in row.svg.value  # it still scales
    row.fit(110)
    assert 'viewBox="0 0 120 100"' in row.svg.value
    assert 'x="60"' in row.svg.value
    row.fit(300)
    assert 'viewBox="0 0 200 100"' in row.svg.value


def test_the_room_of_a_picture_is_kept_until_it_is_drawn():
    picture = Picture("Strips", 300, 120)
    empty = picture.svg.value
    picture.draw("<path/>", "Two strips.")
    size = re.compile(r'viewBox="[^"]*"')
    assert size.findall(empty) == size.findall(picture.svg.value) == ['viewBox="0 0 300 120"']
