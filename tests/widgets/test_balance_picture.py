"""Arrows of thrust are to scale with full throttle; blocks of mass with the whole."""

import re

import pytest

from workbook.widgets.balance_picture import ARROW_PX, BLOCK_PX, BalancePicture


def test_arrows_and_blocks_are_to_scale():
    picture = BalancePicture()
    picture.update(4, 500.0, 2000.0, [("craft", 1500.0), ("pack", 500.0)])
    heights = [float(h) for h in re.findall(r'<rect [^>]*height="([\d.]+)"', picture.svg.value)]
    assert heights == pytest.approx([ARROW_PX] * 4 + [BLOCK_PX * 0.75, BLOCK_PX * 0.25])
    tips = re.findall(r'<polygon points="[^ ]+ [^ ]+ [\d.]+,([\d.]+)"', picture.svg.value)
    assert [118.0 - float(tip) for tip in tips[:4]] == pytest.approx([ARROW_PX / 4] * 4)
    assert "pack 500 g" in picture.svg.value


def test_no_mass_at_all_is_drawn():
    picture = BalancePicture()
    picture.update(1, 0.0, 2000.0, [("craft", 0.0)])
    assert "Down: 0 g" in picture.finding_text
