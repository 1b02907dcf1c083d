"""Whether a cell's figures can be, and whether they are likely."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.files.cell_check import check_cell
from workbook.files.cell_file import find_cell


@pytest.fixture
def bittern() -> Cell:
    return find_cell("Bittern")


@pytest.mark.parametrize(
    ("change", "key", "word"),
    [
        ({"burst_a": 7.0}, "burst_a", "below continuous_a"),
        ({"standard_charge_a": 4.0}, "max_charge_a", "below standard_charge_a"),
        ({"cutoff_v": 3.7}, "nominal_v", "below cutoff_v"),
        ({"nominal_v": 4.3}, "charge_v", "below nominal_v"),
        ({"rated_capacity_ah": 5.3}, "typical_capacity_ah", "below rated_capacity_ah"),
        ({"charge_v": 4.3}, "charge_v", "above 4.25 V"),
        ({"mass_g": 0.07}, "mass_g", "no 21700"),
        ({"mass_g": -70.0}, "mass_g", "above 0 g"),
        ({"mass_g": float("nan")}, "mass_g", "above 0 g"),
        ({"diameter_mm": 18.4}, "diameter_mm", "no 21700"),
        ({"cell_format": "26650"}, "cell_format", "'18650', '21700' or 'pouch'"),
        ({"kind": "mega"}, "kind", "not known"),
        ({"price": -1.0}, "price", "0 or more"),
        ({"resistance_mohm": 0.028}, "resistance_mohm", "in ohm"),
        ({"max_charge_temperature_c": -5.0}, "max_charge_temperature_c", "not above"),
        # 9.9 Ah x 3.6 V in 69.4 g is 514 Wh/kg: more than any cell holds
        ({"typical_capacity_ah": 9.9, "rated_capacity_ah": 9.9}, "typical_capacity_ah", "514"),
    ],
)
def test_what_cannot_be_is_refused(bittern, change, key, word):
    refusals = check_cell(replace(bittern, **change)).refusals
    assert any(p.where == key and word in p.what for p in refusals)


@pytest.mark.parametrize(
    ("change", "key", "word"),
    [
        ({"mass_g": 60.0}, "mass_g", "62 to 74 g"),
        ({"height_mm": 72.0}, "height_mm", "69.5 to 71 mm"),
        ({"typical_capacity_ah": 6.5, "curves": ()}, "typical_capacity_ah", "false label"),
        ({"continuous_a": 60.0, "burst_a": 60.0}, "continuous_a", "false label"),
        ({"max_charge_a": 12.0}, "continuous_a", "below max_charge_a"),
        ({"rated_capacity_ah": 4.0}, "typical_capacity_ah", "29 % above"),
        ({"resistance_mohm": 15.0}, "resistance_mohm", "the curves give about 30"),
        ({"nominal_v": 3.3}, "nominal_v", "within 6 %"),
        ({"typical_capacity_ah": 4.5, "rated_capacity_ah": 4.4}, "curve at 1 A", "ends at 5.17 Ah"),
        ({"min_charge_temperature_c": -10.0}, "min_charge_temperature_c", "plates"),
        # 2.5 Ah x 3.6 V in 69.4 g is 130 Wh/kg
        ({"typical_capacity_ah": 2.5, "curves": ()}, "typical_capacity_ah", "130 Wh/kg"),
    ],
)
def test_what_is_unlikely_is_used_with_a_caution(bittern, change, key, word):
    cautions = check_cell(replace(bittern, **change)).cautions
    assert any(p.where == key and word in p.what for p in cautions)


def test_a_3_9_ah_18650_is_doubted():
    cell = replace(find_cell("Reedling"), typical_capacity_ah=3.9, rated_capacity_ah=3.8, curves=())
    assert "suspect a false label" in str(check_cell(cell).cautions[0])


CURVE = find_cell("Bittern").curves[0]


@pytest.mark.parametrize(
    ("curves", "word"),
    [
        ([replace(CURVE, voltage_v=(4.2,) * 5 + (4.21,) * 12)], "point 6 is 4.21 V after 4.2 V"),
        ([replace(CURVE, voltage_v=CURVE.voltage_v[:-1])], "17 capacities but 16 voltages"),
        ([replace(CURVE, voltage_v=(float("nan"), *CURVE.voltage_v[1:]))], "point 1 is not a num"),
        ([replace(CURVE, capacity_ah=(0.0, 0.0, *CURVE.capacity_ah[2:]))], "must rise"),
        ([replace(CURVE, capacity_ah=(-0.1, *CURVE.capacity_ah[1:]))], "0 or more"),
        ([replace(CURVE, current_a=0.0)], "above 0 A"),
        ([CURVE, CURVE], "also the current of curve 1"),
        ([replace(CURVE, voltage_v=tuple(v + 0.2 for v in CURVE.voltage_v))], "above charge_v"),
        ([replace(CURVE, voltage_v=tuple(1000 * v for v in CURVE.voltage_v))], "runs from 4170 V"),
        ([replace(CURVE, capacity_ah=tuple(1000 * q for q in CURVE.capacity_ah))], "mAh and Ah"),
        ([DischargeCurve(1.0, (0.0, 5.0), (4.2, 2.5))], "at least 3"),
    ],
)
def test_curves_that_cannot_be(bittern, curves, word):
    assert word in "\n".join(map(str, check_cell(replace(bittern, curves=tuple(curves))).refusals))


def test_swapped_and_crossing_curves(bittern):
    a, b, c, d = bittern.curves
    swapped = (replace(a, current_a=8.5), b, c, replace(d, current_a=1.0))
    assert "labels swapped" in str(check_cell(replace(bittern, curves=swapped)).refusals[0])
    warm = [*d.voltage_v[:-4], *(v + 0.3 for v in d.voltage_v[-4:-1]), 2.5]
    crossing = (a, b, c, replace(d, voltage_v=tuple(np.minimum.accumulate(warm))))
    found = check_cell(replace(bittern, curves=crossing))
    assert found.refusals == ()
    assert "crosses the curve at 4 A" in "\n".join(map(str, found.cautions))


def colder(curve: DischargeCurve, by_v: float, temperature_c: float = 0.0) -> DischargeCurve:
    """The same curve so much lower, at another temperature."""
    volts = tuple(v - by_v for v in curve.voltage_v)
    return replace(curve, voltage_v=volts, temperature_c=temperature_c)


def test_curves_at_other_temperatures_pass_and_are_held_against_the_room_ones(bittern):
    sound = (*bittern.curves, colder(bittern.curves[1], 0.15))
    assert check_cell(replace(bittern, curves=sound)).refusals == ()
    swapped = (*bittern.curves, colder(bittern.curves[1], -0.02))
    problems = "\n".join(map(str, check_cell(replace(bittern, curves=swapped)).refusals))
    assert "temperatures swapped" in problems


@pytest.mark.parametrize(
    ("curves", "word"),
    [
        ([colder(CURVE, 0.1)], "no curve at room temperature"),
        ([CURVE, colder(CURVE, 0.1, 273.0)], "273 °C is no temperature of a discharge curve"),
        ([CURVE, colder(CURVE, 0.1), colder(CURVE, 0.1)], "1 A, 0 °C is also the current of curve"),
    ],
)
def test_temperatures_that_cannot_be(bittern, curves, word):
    assert word in "\n".join(map(str, check_cell(replace(bittern, curves=tuple(curves))).refusals))


def test_a_cold_curve_may_come_back_and_is_doubted(bittern):
    cold = colder(bittern.curves[1], 0.3)
    dip = (cold.voltage_v[0], cold.voltage_v[1] - 0.2, *cold.voltage_v[2:])
    found = check_cell(replace(bittern, curves=(*bittern.curves, replace(cold, voltage_v=dip))))
    assert found.refusals == ()
    assert "the cell warmed itself" in "\n".join(map(str, found.cautions))
