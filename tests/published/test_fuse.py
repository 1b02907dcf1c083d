"""Melting of copper against published equations and worked examples."""

import pytest

from workbook.bench import wire

# Onderdonk, 25 C start, 1, 5 and 10 s, and Preece, in ampere: worked from the equations as printed
# in Brooks and Adam, In Search for Preece and Onderdonk (2015).
ROWS = {
    10: (1519.0, 679.3, 480.3, 333.2),
    12: (955.3, 427.2, 302.1, 235.3),
    14: (600.8, 268.7, 190.0, 166.2),
    16: (377.8, 169.0, 119.5, 117.4),
    18: (237.6, 106.3, 75.1, 82.9),
    20: (149.4, 66.8, 47.3, 58.5),
    22: (94.0, 42.0, 29.7, 41.3),
    30: (14.7, 6.6, 4.6, 10.3),
}


@pytest.mark.parametrize("awg", ROWS)
def test_table(awg):
    one, five, ten, preece = ROWS[awg]
    area = wire.area_mm2(awg)
    # printed to 0.1 A
    assert wire.onderdonk_a(area, 1.0) == pytest.approx(one, abs=0.06)
    assert wire.onderdonk_a(area, 5.0) == pytest.approx(five, abs=0.06)
    assert wire.onderdonk_a(area, 10.0) == pytest.approx(ten, abs=0.06)
    assert wire.preece_a(wire.diameter_mm(awg)) == pytest.approx(preece, abs=0.06)


def test_worked_example_with_its_slip():
    # A worked example in a physics forum (post 2503480): 2581 circular mils, 5 s, 25 C, printed as
    # 178 A; it subtracts the air temperature. With 234 + 25 the equation gives 168.86 A.
    area = 2581 / wire.CIRCULAR_MILS_PER_MM2
    assert wire.onderdonk_a(area, 5.0, 25.0) == pytest.approx(168.86, abs=0.05)


def test_preece_worked_example():
    # same post: d = 0.0524 in, 123 A
    assert wire.preece_a(0.0524 * 25.4) == pytest.approx(123, abs=0.5)
