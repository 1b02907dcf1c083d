"""Wire against published tables."""

import numpy as np
import pytest
from scipy.optimize import brentq

from workbook.bench import wire

# Ohm per 1000 ft, solid copper, 20 C, and circular mils: "Common Wire Gauges", HyperPhysics,
# quoting Floyd, Electric Circuit Fundamentals, 2nd edition.
FLOYD = {
    10: (0.9989, 10381),
    12: (1.588, 6529),
    14: (2.525, 4106.8),
    16: (4.016, 2582.9),
    18: (6.385, 1624.3),
    20: (10.15, 1021.5),
    22: (16.14, 642.4),
    24: (25.67, 404.01),
}
# Ohm per 1000 ft at 75 C, uncoated copper, direct current, solid and 7-strand: NFPA 70, chapter 9,
# table 8 (seen in a public reproduction).
TABLE_8 = {
    10: (1.21, 1.24),
    12: (1.93, 1.98),
    14: (3.07, 3.14),
    16: (4.89, 4.99),
    18: (7.77, 7.95),
}
# Ampere, one insulated conductor in free air, 30 C air, 90 C conductor: NFPA 70 general table for
# single conductors (seen in a public comparison of ampacity tables).
FREE_AIR_90_C = {18: 18, 16: 24, 14: 35, 12: 40, 10: 55, 8: 80}
# Ampere, 105 C conductor, 50 C air: table after MIL-W-5088B in an electronic load manual.
FREE_AIR_105_C = {20: 8.33, 18: 15.4, 14: 31.2, 12: 40.0, 10: 55.0, 8: 75.0}
FOOT_MM = 304.8


def current_at_temperature_a(awg, max_temperature_c, air_c, **more):
    """Steady current that brings a long lead to a temperature."""
    return brentq(
        lambda amps: wire.temperature_c(awg, amps, air_c, **more) - max_temperature_c, 0.1, 120.0
    )


@pytest.mark.parametrize("awg", FLOYD)
def test_solid_resistance_at_20_c(awg):
    ohm, mils = FLOYD[awg]
    got = wire.resistance_mohm(awg, 1000 * FOOT_MM, stranded=False) / 1000
    assert got == pytest.approx(ohm, rel=1e-3)
    area_mils = wire.area_mm2(awg) / (np.pi / 4 * 0.0254**2)
    assert area_mils == pytest.approx(mils, rel=2e-4)


@pytest.mark.parametrize("awg", TABLE_8)
def test_resistance_at_75_c(awg):
    solid, stranded = TABLE_8[awg]
    got = wire.resistance_mohm(awg, 1000 * FOOT_MM, 75.0, stranded=False) / 1000
    assert got == pytest.approx(solid, rel=4e-3)  # the table carries three digits
    got = wire.resistance_mohm(awg, 1000 * FOOT_MM, 75.0) / 1000
    assert got == pytest.approx(stranded, rel=1e-2)


def test_gauge_ratio():
    # ASTM B258: successive diameters are in the ratio 92^(1/39) = 1.1229322
    assert wire.diameter_mm(11) / wire.diameter_mm(12) == pytest.approx(1.1229322, rel=1e-7)
    assert wire.diameter_mm(36) == pytest.approx(0.127)  # 0.005 in by definition
    assert wire.diameter_mm(-3) == pytest.approx(11.684)  # 4/0 is 0.46 in by definition


@pytest.mark.parametrize("awg", FREE_AIR_90_C)
def test_free_air_current_90_c(awg):
    # The codes round and group; a single film coefficient stands in for all sizes: 20 % is asked.
    got = current_at_temperature_a(awg, 90.0, 30.0)
    assert got == pytest.approx(FREE_AIR_90_C[awg], rel=0.2)


@pytest.mark.parametrize("awg", [18, 14, 12, 10, 8])
def test_free_air_current_105_c(awg):
    got = current_at_temperature_a(awg, 105.0, 50.0)
    assert got == pytest.approx(FREE_AIR_105_C[awg], rel=0.15)


@pytest.mark.parametrize(
    ("rated_c", "air_c", "factor"),
    # Correction on a 40 C base, NFPA 70 table 310.15(B)(2)(b), seen on a cable maker's page
    [(90, 20, 1.18), (90, 60, 0.77), (150, 70, 0.85), (200, 100, 0.79), (200, 140, 0.61)],
)
def test_hotter_air_takes_current_as_the_code_says(rated_c, air_c, factor):
    base = current_at_temperature_a(12, rated_c, 40.0)
    got = current_at_temperature_a(12, rated_c, air_c) / base
    assert got == pytest.approx(factor, abs=0.01)


def test_thin_wire_is_held_more_cautiously_by_the_table():
    # the table's 20 AWG row, 8.33 A, is below what the heat alone allows: known, and said in the
    # docstring; the heat balance is to stay within 25 % above it
    got = current_at_temperature_a(20, 105.0, 50.0)
    assert FREE_AIR_105_C[20] < got < 1.25 * FREE_AIR_105_C[20]


def test_bundle_of_two():
    # 94 % of the free-air current, table after MIL-W-5088B
    alone = current_at_temperature_a(12, 105.0, 50.0)
    assert current_at_temperature_a(12, 105.0, 50.0, loaded_wires=2) == pytest.approx(0.94 * alone)
