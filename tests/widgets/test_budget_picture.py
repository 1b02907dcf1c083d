"""The budget's picture is to scale."""

from __future__ import annotations

import re

import pytest

from workbook.widgets.budget_picture import BudgetPicture, Piece


def test_bars_of_the_picture_are_to_scale():
    picture = BudgetPicture()
    picture.update(40.0, 30.0, [Piece(36.0, 30.0), Piece(32.0, 20.0)], "min", "told")
    boxes = [
        (float(x), float(w), fill)
        for x, w, fill in re.findall(
            r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="10" rx="0" fill="(#\w+)"',
            picture.svg.value,
        )
    ]
    solid = [b for b in boxes if b[2] == "#2b37af"][:2]
    worst = [b for b in boxes if b[2] == "#7e1f0a"][:2]
    # 40 min of axis over 570 - 10 - 110 px: 11.25 px a minute
    assert [w for _, w, _ in solid] == pytest.approx([4 * 11.25] * 2, abs=0.2)
    assert [w for _, w, _ in worst] == pytest.approx([112.5] * 2, abs=0.2)
    assert solid[1][0] == pytest.approx(10 + 32 * 11.25, abs=0.2)
    assert "asked 30" in picture.svg.value
    assert ">4.0 and 10.0<" in picture.svg.value
