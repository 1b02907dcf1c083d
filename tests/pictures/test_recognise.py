"""Words of a picture: where they stand, how sure they are, and what is said where no reader is installed."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from tests.pictures.drawn import encoded
from workbook.errors import InputError
from workbook.pictures import recognise
from workbook.pictures.opening import open_picture
from workbook.pictures.recognise import HIGHEST_CONFIDENCE, HOW_TO_ADD, Word, can_read, read_words


def test_a_word_knows_its_middle_and_its_height_however_it_is_turned() -> None:
    straight = np.array([[10.0, 20.0], [50.0, 20.0], [50.0, 32.0], [10.0, 32.0]])
    word = Word("12.5", 0.9, straight)
    assert word.centre.tolist() == [30.0, 26.0]
    assert word.height == 12.0
    c, s = np.cos(0.3), np.sin(0.3)
    turned = Word("12.5", 0.9, straight @ np.array([[c, s], [-s, c]]))
    assert turned.height == pytest.approx(12.0)


def test_without_a_reader_one_sentence_says_how_to_add_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recognise, "_reader", lambda: None)
    picture = open_picture(encoded(Image.new("RGB", (200, 100), "white")), "empty")
    assert not can_read()
    with pytest.raises(InputError, match="type the figures in") as refused:
        read_words(picture)
    assert list(refused.value.lines) == [HOW_TO_ADD]


@pytest.mark.skipif(not can_read(), reason="the reader of text is not installed")
def test_figures_are_read_where_they_stand_and_never_for_certain() -> None:
    image = Image.new("RGB", (420, 160), "white")
    draw = ImageDraw.Draw(image)
    font = ImageFont.load_default(28)
    places = {"4.82": (40, 30), "715": (280, 30), "6.13": (40, 100), "902": (280, 100)}
    for text, corners in places.items():
        draw.text(corners, text, fill="black", font=font)
    words = read_words(open_picture(encoded(image), "drawn"))
    assert sorted(word.text for word in words) == sorted(places)
    for word in words:
        x, y = places[word.text]
        assert x - 10 <= word.corners[:, 0].min() <= x + 10
        assert y - 10 <= word.corners[:, 1].min() <= y + 15
        assert 0.5 < word.confidence <= HIGHEST_CONFIDENCE
