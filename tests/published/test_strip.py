"""Strip against published resistivities and figures worked from them."""

import pytest

from workbook.bench.strip import MATERIALS, Strip, resistivity_ohm_m


@pytest.mark.parametrize(
    ("width_mm", "thickness_mm", "pure_mohm", "sold_mohm", "copper_mohm"),
    # R = rho L / A over 20 mm by hand: nickel 6.93e-8 (CRC Handbook, 293 K), nickel as sold 9.6e-8,
    # copper 1.7241e-8 ohm m (IEC 60028)
    [
        (8.0, 0.15, 1.1550, 1.6000, 0.2873),
        (8.0, 0.20, 0.8663, 1.2000, 0.2155),
        (10.0, 0.30, 0.4620, 0.6400, 0.1149),
    ],
)
def test_twenty_millimetres_of_strip(width_mm, thickness_mm, pure_mohm, sold_mohm, copper_mohm):
    for material, expected in (
        ("pure nickel", pure_mohm),
        ("nickel 200", sold_mohm),
        ("copper", copper_mohm),
    ):
        got = Strip(material, width_mm, thickness_mm).resistance_mohm(20.0)
        assert got == pytest.approx(expected, rel=1e-4, abs=5.1e-5)  # printed to four places


def test_drop_and_heat_of_one_piece():
    # 10 A over 20 mm of nickel as sold, 0.15 x 8 mm: 16.0 mV, 0.160 W
    mohm = float(Strip("nickel 200", 8.0, 0.15).resistance_mohm(20.0))
    assert 10.0 * mohm == pytest.approx(16.0, rel=1e-4)
    assert 100.0 * mohm / 1000 == pytest.approx(0.160, rel=1e-4)


@pytest.mark.parametrize(
    ("ohm_cmil_per_ft", "fahrenheit"),
    # alloy maker's data sheet for N02200, electrical resistivity table: 58 at 70 F, 76 at 200 F
    [(58.0, 70.0), (76.0, 200.0)],
)
def test_nickel_as_sold_against_the_alloy_makers_table(ohm_cmil_per_ft, fahrenheit):
    # 1 circular mil = 5.067075e-10 m2, 1 ft = 0.3048 m
    published = ohm_cmil_per_ft * 5.067075e-10 / 0.3048
    celsius = (fahrenheit - 32.0) / 1.8
    assert resistivity_ohm_m("nickel 200", celsius) == pytest.approx(published, rel=0.012)


def test_pure_nickel_against_a_resistance_alloy_makers_sheet():
    # sheet for 99.9 % nickel: 7e-8 at 20 C and 11e-8 ohm m at 100 C, each +-10 %
    assert resistivity_ohm_m("pure nickel", 20.0) == pytest.approx(7e-8, rel=0.10)
    assert resistivity_ohm_m("pure nickel", 100.0) == pytest.approx(11e-8, rel=0.10)


def test_copper_strip_is_copper_wire():
    # the same section of copper as wire must give the same resistance: one fact in two places
    from workbook.bench import wire

    assert MATERIALS["copper"].ohm_m * 1e6 == wire.COPPER_OHM_MM2_PER_M
    assert MATERIALS["copper"].per_k == wire.COPPER_PER_K
    section = float(wire.area_mm2(12))
    strip = Strip("copper", 10.0, section / 10.0)
    got = strip.resistance_mohm(500.0, 1, 60.0)
    assert got == pytest.approx(wire.resistance_mohm(12, 500.0, 60.0, stranded=False))
