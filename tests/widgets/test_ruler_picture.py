"""Rulers: limits and dial stand at their C-rate, the same for a cell and its pack."""

import re

import pytest

from workbook.widgets.ruler_picture import LEFT, RIGHT, Ruler, RulerLimit, RulerPicture


def test_limits_and_dial_stand_to_scale():
    picture = RulerPicture("Rates", 1)
    limits = [RulerLimit("continuous", 3.0), RulerLimit("burst", 4.0)]
    picture.update([Ruler("discharge", 2.0, limits, 5.0)], 4.0, 2, "2 C.")
    thick = re.findall(
        r'<line x1="([\d.]+)" [^>]*stroke="#1f2430" stroke-width="2"', picture.svg.value
    )
    per_c = (RIGHT - LEFT) / 5.0
    assert [float(x) for x in thick] == pytest.approx(
        [LEFT + 3 * per_c, LEFT + 4 * per_c], abs=0.01
    )
    dial = re.search(r'<polygon points="([\d.]+),', picture.svg.value)
    assert float(dial[1]) == pytest.approx(LEFT + 2 * per_c, abs=0.01)
    assert "2P pack, A" in picture.svg.value


def test_a_dial_beyond_the_ruler_stands_at_its_end():
    picture = RulerPicture("Rates", 1)
    picture.update([Ruler("charge", 9.0, [RulerLimit("highest", 1.0)], 2.0)], 4.0, 1, "9 C.")
    assert f'<polygon points="{RIGHT:g},' in picture.svg.value
