"""Typed units against their definitions."""

import subprocess
import sys

import pytest

from workbook.errors import InputError
from workbook.parse import parse_number
from workbook.units import convert


@pytest.mark.parametrize(
    ("typed", "unit", "right"),
    [
        # International Yard and Pound Agreement (1959): 1 lb = 453.59237 g, 1 yd = 914.4 mm
        ("4.6 lb", "g", 4.6 * 453.59237),
        ("3 oz", "g", 3.0 * 453.59237 / 16.0),
        ("9.5 in", "mm", 9.5 * 25.4),
        ('9.5"', "mm", 9.5 * 25.4),
        ("35 mph", "m/s", 35.0 * 1609.344 / 3600.0),
        ("2 ft2", "m²", 2.0 * 0.3048**2),
        ("12 dm²", "m²", 0.12),
        # nautical mile of 1852 m, Monaco (1929)
        ("10 kn", "m/s", 10.0 * 1852.0 / 3600.0),
        ("54 km/h", "m/s", 15.0),
        ("54 kmh", "m/s", 15.0),
        # NIST SP 811, B.8: t/°C = (t/°F - 32)/1.8
        ("50 °F", "°C", 10.0),
        ("3900 mAh", "Ah", 3.9),
        ("1,5 h", "min", 90.0),
        ("50 minutes", "min", 50.0),
        ("7 ampere", "A", 7.0),
        ("33.7 Watt", "W", 33.7),
        ("0.0157 ohm", "mΩ", 15.7),
        ("15.7 mohm", "mΩ", 15.7),
        ("2 kg", "gf", 2000.0),
        ("2 lb", "gf", 907.18474),
        # standard gravity 9.80665 m/s2, ISO 80000-3
        ("20 N", "gf", 20000.0 / 9.80665),
        ("37 %", "%", 37.0),
    ],
)
def test_a_number_may_be_typed_with_its_unit(typed, unit, right):
    assert parse_number(typed, unit) == pytest.approx(right, rel=1e-9)


@pytest.mark.parametrize(
    ("typed", "unit", "says"),
    [
        ("4.6 lb", "V", "has the unit lb; the unit here is V"),
        ("12 V", "A", "has the unit V; the unit here is A"),
        ("3 blub", "g", "is not a unit known here; the unit here is g"),
        ("3 __import__('os')", "g", "is not one number"),
        ("5 g", "", "a number without a unit"),
        ("3 " + "M" * 3000, "g", "is not a unit known here; the unit here is g"),
    ],
)
def test_a_unit_that_does_not_fit_is_refused(typed, unit, says):
    with pytest.raises(InputError, match=says) as refused:
        parse_number(typed, unit)
    assert len(str(refused.value)) < 300


def test_the_range_is_that_of_the_unit_asked_for():
    with pytest.raises(InputError, match="out of range; 0 to 1000 g"):
        parse_number("4.6 lb", "g", 0.0, 1000.0)


def test_there_and_back():
    for there, back in (("lb", "g"), ("in", "mm"), ("mph", "m/s"), ("degF", "degC")):
        assert convert(convert(12.5, there, back), back, there) == pytest.approx(12.5)


def test_the_library_of_units_is_not_loaded_for_the_unit_asked_for():
    code = (
        "import sys; from workbook.parse import parse_number;"
        "parse_number('3 V', 'V'); assert 'pint' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
