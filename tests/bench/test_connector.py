"""Connector class and the spark."""

import pytest

from workbook.bench import connector
from workbook.errors import InputError


@pytest.mark.parametrize(
    ("current", "burst", "awg", "want"),
    [
        (20, 30, None, 30.0),  # burst decides
        (40, 42, None, 60.0),  # 1.25 x 40 = 50 A
        (20, 30, 12, 60.0),  # the lead decides
        (90, 118, 8, 120.0),
    ],
)
def test_choice(current, burst, awg, want):
    assert connector.choose_connector(current, burst, 4, awg).chosen.class_a == want


def test_none_large_enough():
    choice = connector.choose_connector(130, 150, 6)
    assert choice.chosen is None
    assert "Do not pair" in choice.why


def test_spark():
    assert "precharge" not in connector.choose_connector(20, 30, 6).why
    assert "precharge" in connector.choose_connector(20, 30, 8).why


def test_inrush_by_hand():
    # 25.2 V, 1000 uF, 25.2 mohm: 1000 A; half of C V^2 = 0.31752 J
    bare = connector.inrush(25.2, 1000.0, 25.2)
    assert bare.peak_a == pytest.approx(1000.0)
    assert bare.energy_j == pytest.approx(0.31752)
    # within 1 % after 4.605 time constants
    assert bare.settle_s == pytest.approx(4.60517 * 25.2e-3 * 1e-3, rel=1e-5)


def test_bad_input():
    with pytest.raises(InputError):
        connector.choose_connector(30, 20, 4)
