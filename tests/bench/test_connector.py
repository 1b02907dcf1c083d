"""Connector class and the spark."""

import pytest

from workbook.bench import connector


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
