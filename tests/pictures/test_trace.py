"""A line drawn by a closed form is followed to a fraction of a pixel, past what lies beside it, over it and around it."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.pictures import trace
from workbook.pictures.opening import Pixels
from workbook.pictures.trace import HOW_TO_ADD, can_follow, evened, follow

needs_follower = pytest.mark.skipif(not can_follow(), reason="scikit-image is not installed")
WIDE, HIGH = 600, 360
FINER = 4
"""The pictures are drawn so many times larger and made smaller, so that their lines have soft edges."""
RED, BLUE = (200, 30, 30), (30, 30, 200)


def falling(x: FloatArray) -> FloatArray:
    """A discharge curve's shape, y down, in pixels: a slope and a knee at the end."""
    share = x / WIDE
    return 60.0 + 80.0 * share + 180.0 * share**9


def rising(x: FloatArray) -> FloatArray:
    """A line that crosses it."""
    return 200.0 - 0.3 * x


def drawn(
    *lines: tuple[object, tuple[int, int, int]], covered: tuple[int, int] | None = None
) -> Pixels:
    """A picture of lines 3 pixels wide on white, with a white box over what lies between two x."""
    image = Image.new("RGB", (WIDE * FINER, HIGH * FINER), "white")
    draw = ImageDraw.Draw(image)
    x = np.linspace(10.0, WIDE - 10.0, 2000)
    for shape, colour in lines:
        points = np.column_stack([x, shape(x)]) + 0.5  # type: ignore[operator]
        draw.line([tuple(p) for p in points * FINER], fill=colour, width=3 * FINER)
    if covered:
        draw.rectangle([covered[0] * FINER, 0, covered[1] * FINER, HIGH * FINER], fill="white")
    return np.asarray(image.resize((WIDE, HIGH), Image.Resampling.BOX))


def clicks_on(shape: object, *shares: float) -> list[tuple[float, float]]:
    """Clicks that miss the line by a pixel, now above and now below."""
    x = [10.0 + share * (WIDE - 20.0) for share in shares]
    return [(place, float(shape(place)) + (-1) ** n) for n, place in enumerate(x)]  # type: ignore[operator]


def off(pixels: FloatArray, shape: object) -> FloatArray:
    """How far points are from the line, across it, in pixels."""
    x, y = pixels.T
    slope = (shape(x + 0.5) - shape(x - 0.5)) / 1.0  # type: ignore[operator]
    return np.asarray(np.abs(y - shape(x)) / np.hypot(1.0, slope))  # type: ignore[operator]


@needs_follower
def test_a_line_is_followed_to_a_third_of_a_pixel() -> None:
    found = follow(drawn((falling, RED)), clicks_on(falling, 0.01, 0.5, 0.9, 0.99))
    assert found.seen > 0.98
    assert np.all(np.diff(found.pixels[:, 0]) > -0.5)
    assert float(np.quantile(off(found.pixels, falling), 0.95)) < 0.33
    assert np.ptp(found.pixels[:, 0]) > 0.97 * (WIDE - 20)


@needs_follower
@pytest.mark.parametrize("colour", [BLUE, RED], ids=["another colour", "the same colour"])
def test_a_line_that_crosses_is_not_gone_along(colour: tuple[int, int, int]) -> None:
    picture = drawn((rising, colour), (falling, RED))
    found = follow(picture, clicks_on(falling, 0.01, 0.3, 0.5, 0.8, 0.99))
    away = off(found.pixels, falling)
    assert float(away.max()) < 3.0  # where two lines of one colour touch: the width of a line
    assert float(np.quantile(away, 0.9)) < 0.5


@needs_follower
def test_a_gap_is_bridged_as_the_line_goes_on_and_is_counted_as_not_seen() -> None:
    whole = clicks_on(falling, 0.01, 0.4, 0.5, 0.9, 0.99)
    found = follow(drawn((falling, RED), covered=(265, 285)), whole)
    assert 0.9 < found.seen < 0.98  # 20 of 580 pixels are hidden
    assert float(np.diff(found.pixels[:, 0]).max()) < 4.0
    assert float(off(found.pixels, falling).max()) < 1.0


@needs_follower
def test_clicks_may_come_in_any_order() -> None:
    picture, clicks = drawn((falling, RED)), clicks_on(falling, 0.01, 0.5, 0.9, 0.99)
    one, other = follow(picture, clicks), follow(picture, clicks[::-1])
    assert np.array_equal(one.pixels, other.pixels)


def test_paper_that_a_lamp_darkens_is_made_even_and_the_line_stays() -> None:
    lamp = np.linspace(0.55, 1.0, WIDE)[None, :, None]
    shaded = (drawn((falling, RED)) * lamp).astype(np.uint8)
    even = evened(shaded)
    paper = even[300, 20:300].mean(axis=1)
    assert np.ptp(shaded[300, 20:300].mean(axis=1)) > 40
    assert np.ptp(paper) < 12
    assert even[round(float(falling(np.array(300.0)))), 300, 2] < 100


@needs_follower
@pytest.mark.parametrize(
    ("clicks", "expected"),
    [
        ([(5.0, 5.0)], "1 clicks; two or more"),
        ([(5.0, 5.0), (5000.0, 5.0)], "outside the picture"),
    ],
)
def test_clicks_that_cannot_be_followed_are_reported(
    clicks: list[tuple[float, float]], expected: str
) -> None:
    with pytest.raises(InputError, match=expected):
        follow(np.full((60, 90, 3), 255, np.uint8), clicks)


def test_without_a_follower_one_sentence_says_how_to_add_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(trace, "can_follow", lambda: False)
    with pytest.raises(InputError) as refused:
        follow(drawn((falling, RED)), clicks_on(falling, 0.1, 0.9))
    assert list(refused.value.lines) == [HOW_TO_ADD]
