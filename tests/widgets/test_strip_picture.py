"""The strips: every piece of both faces, as thick as its current."""

import re

import pytest

from workbook.bench.current_path import current_path
from workbook.bench.layout import example_pack
from workbook.widgets.strip_picture import StripPicture


def test_every_piece_is_drawn_once_and_the_thickest_carries_most():
    path = current_path(example_pack(3, 2), 20.0, 30.0, 100.0, 12)
    picture = StripPicture()
    picture.update(path.layout, path.strips.network, "Three groups of two.")
    drawn = re.findall(
        r'data-current-a="([\d.e-]+)"><line [^>]*stroke-width="([\d.]+)"', picture.svg.value
    )
    assert len(drawn) == len(path.strips.network.links)
    amps = sorted(abs(float(a)) for a in path.strips.network.current_a)
    assert sorted(float(a) for a, _ in drawn) == pytest.approx(amps, rel=1e-3, abs=1e-3)
    by_current = sorted((float(a), float(width)) for a, width in drawn)
    assert by_current[-1][1] == max(width for _, width in by_current) == pytest.approx(13.5)
    assert picture.svg.value.count("<circle") == 2 * 2 * 6  # a can and a joint, on either face
