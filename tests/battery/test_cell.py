"""A cell's datasheet read: at one charge, at one's own current, and beside its model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.battery.cell import with_temperatures
from workbook.battery.derating import resistance_at_temperature
from workbook.battery.model import CellModel, DischargeCurve
from workbook.errors import InputError
from workbook.files.cell_file import find_cell


def test_reading_and_own_curve_of_a_straight_cell():
    # U = 4.2 - 1.2 z, 30 mohm, 5 Ah: at 2.5 Ah 3.6 V at rest; at 10 A 3.3 V. Down to 3.1 V at 10 A:
    # 4.2 - 1.2 z - 0.3 = 3.1, z = 2/3, 3.333 Ah; mean (3.9 + 3.1) / 2 = 3.5 V, 11.667 Wh.
    cell = straight_cell()
    reading = cell.read_at(2.5)
    assert reading.resistance_mohm == pytest.approx(30.0)
    assert reading.rest_v == pytest.approx(3.6)
    assert reading.voltage_v == pytest.approx([3.57, 3.45, 3.3])
    curve = cell.curve_at(10.0, 3.1)
    assert float(curve.run.charge_ah) == pytest.approx(10 / 3)
    assert curve.mean_v == pytest.approx(3.5)
    assert float(curve.run.energy_wh) == pytest.approx(35 / 3)
    assert curve.voltage_v[-1] == pytest.approx(3.1)


def test_a_charge_that_too_few_curves_reach_is_shown():
    with pytest.raises(InputError, match="two are needed"):
        find_cell("Sandpiper").read_at(3.0)


def test_report_gives_each_curve_with_its_residuals() -> None:
    report = straight_cell().fit_report()
    assert [c.current_a for c in report.curves] == [1.0, 5.0, 10.0]
    for curve in report.curves:
        assert curve.voltage_v - curve.residual_mv / 1000 == pytest.approx(curve.model_v)
        assert curve.rms_mv <= curve.worst_mv < 0.01  # V = U - I R exactly
    assert report.held_out_rms_mv < 0.01


def test_a_plan_counts_on_the_rated_charge() -> None:
    """Issue: plans that counted on the curves' typical charge were 2 to 5 % long."""
    typical = straight_cell(capacity_ah=5.0)  # curves end at 5.0 Ah
    cell = replace(typical, rated_capacity_ah=4.8)
    assert cell.datasheet_model.capacity_ah == 5.0
    assert cell.model.capacity_ah == pytest.approx(4.8)
    # by hand: at equal depth nothing else differs
    assert np.array_equal(cell.model.resistance_mohm, cell.datasheet_model.resistance_mohm)
    # curves that stop early keep their distance: 4.0 Ah x 4.8 / 5.0
    early = replace(cell, curves=straight_cell(capacity_ah=4.0).curves, typical_capacity_ah=5.0)
    assert early.model.capacity_ah == pytest.approx(4.0 * 4.8 / 5.0)
    # a cell rated above what its curves give is not made better than they are
    assert replace(early, rated_capacity_ah=5.0).model.capacity_ah == 4.0


def test_without_curves_the_rated_charge_counts_too() -> None:
    cell = replace(straight_cell(capacity_ah=5.0), rated_capacity_ah=4.8, curves=())
    assert cell.model.capacity_ah == pytest.approx(4.8)


DEPTH = np.linspace(0.0, 1.0, 201)
MODEL = CellModel(DEPTH, 4.2 - 1.2 * DEPTH, np.full(201, 30.0), 5.0, "curves")


def known(amps: float, temperature_c: float, of_resistance: float, of_charge: float):
    """A curve of U = 4.2 - 1.2 z behind 30 mohm x a factor, z over 5 Ah x another."""
    z = np.linspace(0.0, 1.0, 15)
    volts = 4.2 - 1.2 * z - amps * 0.030 * of_resistance
    return DischargeCurve(amps, tuple(5.0 * of_charge * z), tuple(volts), temperature_c)


def test_without_curves_elsewhere_nothing_changes() -> None:
    assert with_temperatures(MODEL, [known(1.0, 23.0, 1.0, 1.0)]) is MODEL


def test_known_factors_are_found_again() -> None:
    curves = [
        known(1.0, 25.0, 1.0, 1.0),
        known(1.0, 0.0, 1.8, 0.95),
        known(5.0, 0.0, 1.8, 0.90),
        known(1.0, -20.0, 4.0, 0.80),
        known(5.0, -20.0, 4.0, 0.60),
        known(5.0, 45.0, 0.7, 1.01),
    ]
    law = with_temperatures(MODEL, curves).temperature
    assert law is not None
    assert law.temperature_c.tolist() == [-20.0, 0.0, 25.0, 45.0]
    assert law.resistance_factor == pytest.approx([4.0, 1.8, 1.0, 0.7], rel=5e-3)
    assert law.capacity_factor[:2] == pytest.approx(
        np.array([[0.80, 0.60], [0.95, 0.90]]), abs=0.01
    )
    assert law.miss_mv.max() < 2.0


def test_between_the_curves_resistance_has_the_arrhenius_form_and_charge_runs_straight() -> None:
    """Factors of 20 kJ/mol at 0 C: at 10 C they are again those of 20 kJ/mol; charge lies on the line."""
    cold = known(5.0, 0.0, float(resistance_at_temperature(0.0)), 0.90)
    model = with_temperatures(MODEL, [cold])
    between = np.array([5.0, 10.0, 20.0])
    expected = resistance_at_temperature(between)
    assert model.resistance_factor_at(between) == pytest.approx(expected, rel=5e-3)
    # 1 at 25 C, 0.90 at 0 C
    line = 0.90 + 0.10 * between / 25.0
    assert model.capacity_factor_at(between, 5.0) == pytest.approx(line, abs=5e-3)


def test_beyond_the_curves_it_never_reads_better_than_the_usual_law() -> None:
    """A cell that hardly minds 0 C is not taken to shrug off -20 C."""
    model = with_temperatures(MODEL, [known(5.0, 0.0, 1.1, 1.0)])
    usual = resistance_at_temperature(-20.0) / resistance_at_temperature(0.0)
    assert model.resistance_factor_at(-20.0) == pytest.approx(1.1 * usual, rel=5e-3)
    # 0.0048 of the charge for each kelvin, the measured cell's
    assert model.capacity_factor_at(-20.0) == pytest.approx(1.0 - 20 * 0.0048, abs=5e-3)
    warm = np.array([25.0, 40.0, 60.0])
    assert (np.diff(model.resistance_factor_at(warm)) <= 0).all()
    assert (model.capacity_factor_at(warm) <= 1.0 + 1e-9).all()


def test_more_current_never_gives_more_charge() -> None:
    odd = [known(1.0, 0.0, 2.0, 0.85), known(5.0, 0.0, 2.0, 0.95)]
    law = with_temperatures(MODEL, odd).temperature
    assert law is not None
    assert (np.diff(law.capacity_at(0.0, np.array([1.0, 3.0, 5.0, 9.0]))) <= 0).all()


def test_arrays_of_temperature_and_current_answer_as_single_ones() -> None:
    curves = [known(1.0, 0.0, 1.8, 0.95), known(5.0, 0.0, 1.8, 0.7), known(5.0, -20.0, 4.0, 0.5)]
    model = with_temperatures(MODEL, curves)
    at_c, amps = np.meshgrid([-30.0, -20.0, -7.0, 0.0, 12.0, 25.0, 50.0], [0.5, 1.0, 4.0, 9.0])
    together = model.capacity_factor_at(at_c, amps)
    for place in np.ndindex(at_c.shape):
        alone = model.capacity_factor_at(float(at_c[place]), float(amps[place]))
        assert together[place] == pytest.approx(float(alone), rel=1e-12)
    assert ((together > 0.0) & (together <= 1.0 + 1e-9)).all()


@pytest.mark.parametrize(
    ("temperature_c", "amps", "sentence"),
    [
        (0.0, 4.0, ""),
        (-12.0, 4.0, "curves end at 0 °C"),
        (0.0, 8.0, "curves at 0 °C end at 5 A"),
        (12.0, 4.0, ""),
    ],
)
def test_where_the_curves_do_not_reach_it_says_so(temperature_c, amps, sentence) -> None:
    law = with_temperatures(MODEL, [known(5.0, 0.0, 1.8, 0.95)]).temperature
    assert law is not None
    text = law.doubt(temperature_c, amps)
    assert sentence in text
    assert bool(text) == bool(sentence)


def test_a_curve_that_goes_with_no_factor_is_reported_as_missed() -> None:
    z = np.linspace(0.0, 1.0, 15)
    flat = DischargeCurve(5.0, tuple(4.0 * z), tuple(3.6 - 0.01 * z - 0.9 * (z > 0.95)), 0.0)
    law = with_temperatures(MODEL, [flat]).temperature
    assert law is not None
    assert "from what the model can give" in law.doubt(0.0, 4.0)


def test_the_model_gives_a_cold_curve_back() -> None:
    cold = known(5.0, 0.0, 1.8, 0.9)
    assert with_temperatures(MODEL, [cold]).fit(cold).rms_mv < 2.0
    assert cold.name == "5 A, 0 °C"
    assert known(5.0, 23.0, 1.0, 1.0).name == "5 A"
