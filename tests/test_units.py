"""Typed units against their definitions; what is shown in ounces and inches is what is shown in grams and
millimetres, within rounding and to the safe side."""

import json
import math
import re
import subprocess
import sys
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import workbook as wb
from tests.conftest import DESIGNS
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.club_file import ClubRules, read_club
from workbook.files.design_file import read_design
from workbook.parse import parse_number
from workbook.quantities import INPUTS, RESULTS
from workbook.sheet.text import result_report
from workbook.sizing.size import size
from workbook.units import (
    FILE_UNITS,
    SYSTEMS,
    axis_text,
    convert,
    filled,
    shown,
    shown_unit,
    sides_text,
    units,
    units_in_use,
    use_units,
    with_unit,
)
from workbook.widgets.charts import Line, LineChart
from workbook.widgets.controls import NumberControl

OUNCES = "oz, in"
# one of each unit in the other: international yard and pound (1959), ISO 80000-3; Fahrenheit's scale by definition
ONE = {
    "g": 1.0 / 28.349523125,
    "kg": 1.0 / 0.45359237,
    "gf": 1.0 / 28.349523125,
    "mm": 1.0 / 25.4,
    "m": 1.0 / 0.3048,
    "km": 1.0 / 1.609344,
    "m/s": 3600.0 / 1609.344,
    "m²": 1.0 / 0.3048**2,
    "cm³": 1.0 / 2.54**3,
    "kg/m³": 0.3048**3 / 0.45359237,
    "W/kg": 0.45359237,
    "Wh/km": 1.609344,
    "gf/W": 1.0 / 28.349523125,
    "g/W": 1.0 / 28.349523125,
    "gf/A": 1.0 / 28.349523125,
}
CHANGED = [q for q in {**INPUTS, **RESULTS}.values() if q.unit in (*ONE, "°C")]
FIGURES = st.floats(0.01, 1e5, allow_nan=False)


@pytest.mark.parametrize("unit", ONE)
def test_each_unit_is_what_its_definition_says(unit: str) -> None:
    with units(OUNCES):
        assert shown(1.0, unit) == pytest.approx(ONE[unit], rel=1e-9)
        assert shown_unit(unit).filed(shown(123.4, unit)) == pytest.approx(123.4, rel=1e-8)


def test_temperatures_begin_at_32_and_differences_do_not_change() -> None:
    with units(OUNCES):
        assert with_unit(-40.0, "°C", 0) == "-40 °F"  # where both scales meet
        assert with_unit(100.0, "°C", 0) == "212 °F"
        assert with_unit(20.0, "K", 0) == "20 K"


@pytest.mark.parametrize("quantity", CHANGED, ids=lambda q: q.key)
@given(value=FIGURES)
def test_a_quantity_shown_in_one_is_the_other_within_rounding_to_its_safe_side(
    quantity: object, value: float
) -> None:
    assert hasattr(quantity, "safe")
    true = value * ONE[quantity.unit] if quantity.unit in ONE else 1.8 * value + 32.0
    with units(OUNCES):
        printed, decimals = float(quantity.number(value)), shown_unit(quantity.unit).decimals
    step = 10.0 ** -(quantity.decimals + decimals)
    slack = 1e-8 * max(1.0, abs(true))
    assert abs(printed - true) <= step + slack
    assert quantity.safe != "up" or printed >= true - slack
    assert quantity.safe != "down" or printed <= true + slack


@given(demand=FIGURES, most=FIGURES)
def test_a_limit_that_holds_holds_of_the_printed_figures_too(demand: float, most: float) -> None:
    from workbook.sizing.limits import Limit

    limit = Limit("mass", "mass", demand, most, "g", "too heavy.", "take-off")
    with units(OUNCES):
        asked, there = map(float, limit.shown)
        assert limit.shown_unit == "oz"
    assert asked >= demand * ONE["g"] * (1.0 - 1e-9)
    assert there <= most * ONE["g"] * (1.0 + 1e-9)


def test_a_template_is_filled_in_both_and_a_range_keeps_one_unit() -> None:
    template = "{x:.0f} gf, of {low:.0f} to {high:.0f} gf; {v:g} V per cell; {n} gfx"
    figures = {"x": 812.0, "low": 100.0, "high": 2500.0, "v": 3.1, "n": 4}
    assert filled(template, **figures) == template.format(**figures)
    with units(OUNCES):
        # 812 / 28.3495 = 28.64; 100 / 28.3495 = 3.53; 2500 / 28.3495 = 88.18
        text = "28.6 ozf, of 3.5 ozf to 88.2 ozf; 3.1 V per cell; 4 gfx"
        assert filled(template, **figures) == text
        assert sides_text((25.4, 50.8), "mm", 0) == "1.00 x 2.00 in"
        assert axis_text("bay length, mm") == "bay length, in"


@pytest.mark.parametrize("name", ["survey_six", "survey_wing", "survey_six_mission", "light_quad"])
def test_no_metric_figure_is_left_in_the_report_of_a_design(name: str) -> None:
    file = read_design(DESIGNS / f"{name}.toml")
    with units(OUNCES):
        answer = size(file.design, notices=file.notices)
        text = result_report(answer, whole=True)
    left = re.findall(r"\d[\d.]* (?:g|gf|mm|m|km|m/s|W/kg)\b(?!/)", text)
    assert left == []
    assert answer.as_dict()["verdict"] == size(file.design, notices=file.notices).verdict


def test_the_working_is_reckoned_in_the_files_units_and_told_in_both() -> None:
    file = read_design(DESIGNS / "survey_six.toml")
    with units(OUNCES):
        steps = {step.key: step for step in size(file.design).working}
        text = steps["all_up_mass_g"].shown
    grams, ounces = re.fullmatch(r"([\d.]+) g = ([\d.]+) oz", text).groups()
    assert float(ounces) == pytest.approx(float(grams) * ONE["g"], rel=1e-3)
    assert float(grams) >= float(steps["all_up_mass_g"].result)


def test_a_slider_shows_the_one_and_keeps_the_other() -> None:
    with units(OUNCES):
        payload = NumberControl.of("payload_g", 350.0)
        assert payload.value == 350.0
        assert payload.slider.description == "payload, oz"
        assert float(payload.box.value) == pytest.approx(12.346, abs=0.001)  # 350 / 28.3495
        payload.box.value = "16"
        assert payload.value == pytest.approx(453.59237)
        payload.box.value = "500 g"
        assert payload.value == pytest.approx(500.0)
        payload.slider.value = payload.slider.min + 4 * payload.slider.step
        assert payload.value == pytest.approx(payload.slider.value * 28.349523125, rel=1e-6)
        payload.box.value = "4000"
        assert "oz is needed" in payload.reply.text
    temperature = NumberControl.of("air_temperature_c", 20.0)
    assert temperature.slider.description == "air temperature, °C"


@pytest.mark.parametrize("quantity", [q for q in INPUTS.values() if q.step], ids=lambda q: q.key)
def test_every_slider_reaches_its_range_in_the_other_units(quantity: object) -> None:
    assert hasattr(quantity, "usual")
    low, high = quantity.usual
    with units(OUNCES):
        control = NumberControl.of(
            quantity.key, min(max(low, quantity.least), quantity.most) or high
        )
        control.slider.value = control.slider.max
        assert control.value <= quantity.most
        assert control.value >= high * (1.0 - 1e-6)
        control.slider.value = control.slider.min
        assert quantity.least <= control.value


def test_a_chart_shows_what_comes_in_the_files_units() -> None:
    with units(OUNCES):
        chart = LineChart("Mass", "thrust, gf", "all-up mass, g")
        chart.update([Line("a", [0.0, 283.49523125], [0.0, 2834.9523125])])
    assert chart._axis["y"].label == "all-up mass, oz"
    assert np.asarray(chart.lines[0].y)[-1] == pytest.approx(100.0)
    assert np.asarray(chart.lines[0].x)[-1] == pytest.approx(10.0)


def test_mass_typed_where_thrust_is_asked_is_its_weight_in_either() -> None:
    assert convert(500.0, "g", "gf") == pytest.approx(500.0)
    assert convert(500.0, "g", "ozf") == pytest.approx(500.0 / 28.349523125)
    assert convert(2.0, "lb", "gf") == pytest.approx(907.18474)


def test_json_stays_in_the_files_units(capsys: pytest.CaptureFixture[str]) -> None:
    design = str(DESIGNS / "survey_six.toml")
    main(["size", design, "--json"])
    plain = json.loads(capsys.readouterr().out)
    main(["size", design, "--json", "--units", OUNCES])
    assert json.loads(capsys.readouterr().out) == plain
    main(["size", design, "--units", OUNCES])
    assert " oz" in capsys.readouterr().out
    assert units_in_use() == FILE_UNITS


def test_the_club_sets_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert get_args(ClubRules.model_fields["units"].annotation) == SYSTEMS
    text = (DESIGNS.parent / "club.toml").read_text("utf-8")
    (tmp_path / "club.toml").write_text(
        text.replace('units = "g, mm"', 'units = "oz, in"'), "utf-8"
    )
    assert read_club(tmp_path / "club.toml").units == OUNCES
    monkeypatch.chdir(tmp_path)
    try:
        view = wb.open_page("sizing_bench", DESIGNS / "survey_six.toml")
        assert view.units_choice.value == OUNCES
        assert "oz" in view.figures.html.value
        payload = view.inputs["payload_g"].value
        view.inputs["payload_g"].value = payload + 28.349523125
        view.units_choice.value = FILE_UNITS
        assert view.inputs["payload_g"].value == pytest.approx(payload + 28.349523125)
        assert " oz" not in view.figures.html.value
    finally:
        use_units(FILE_UNITS)


def test_another_system_is_refused() -> None:
    with pytest.raises(wb.InputError, match=r'"g, mm" or "oz, in" is needed'):
        use_units("stone")
    assert math.isnan(shown(math.nan, "g"))


# as they are typed ------------------------------------------------------------------------------


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
