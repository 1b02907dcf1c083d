"""What the inputs of a design come to beside each other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.conftest import straight_cell
from tests.sizing.multirotors import six
from workbook.sizing.craft_types import operate
from workbook.sizing.design import MissionPhase
from workbook.sizing.plausibility import CellInputs, Inputs, PhaseInputs, TableInputs


def test_a_cell_by_hand():
    # 3.6 V x 5 Ah = 18 Wh in 70 g and 21.2 x 70.2 mm (24.78 ml); 30 mohm
    cell = CellInputs(straight_cell())
    assert cell.wh_per_kg == pytest.approx(257.1, abs=0.1)
    assert cell.wh_per_l == pytest.approx(726.4, abs=0.5)
    assert cell.round_mohm_ah == pytest.approx(150.0)


def test_a_pouch_has_no_figures_of_a_round_cell():
    pouch = CellInputs(replace(straight_cell(), cell_format="pouch", diameter_mm=0.0))
    assert str(pouch.wh_per_l) == str(pouch.round_mohm_ah) == "nan"


def test_the_best_row_against_an_ideal_propeller():
    # 20 to 8000 gf with 110 W at 1000 gf as thrust^1.5: every row alike. 15 in: 0.1140 m2;
    # ideal at 9.80665 N: sqrt(9.80665 / (2 x 1.225 x 0.1140)) = 5.926 m/s, 58.1 W
    table = replace(six().craft.table, propeller="15x5")
    assert TableInputs(table).best_merit == pytest.approx(58.1 / 110.0, abs=0.002)
    # without a name: 8000 gf on 1.2 g/cm2 is 6667 cm2, 0.9213 m across
    unnamed = replace(table, propeller="")
    assert TableInputs(unnamed).largest_m == pytest.approx(0.9213, abs=1e-4)


def test_watts_that_are_not_volts_times_amperes():
    table = six().craft.table
    assert TableInputs(table).power_gap_pct == pytest.approx(0.0, abs=1e-9)
    # 20 % more current: |P - 1.2 P| / P
    assert TableInputs(
        replace(table, current_a=1.2 * table.current_a)
    ).power_gap_pct == pytest.approx(20.0)


def test_a_design_by_hand():
    design = six()
    inputs = Inputs(design, operate(design))
    # 18 cells x 70 g; x 0.1 + 75 g beside them
    assert inputs.cells_g == pytest.approx(1260.0)
    assert inputs.beside_cells_g == pytest.approx(201.0)
    assert inputs.reference is None
    assert inputs.wing is None


def test_a_phase_is_flown_or_rests():
    rest = PhaseInputs(MissionPhase("rest", duration_s=60.0), 1000.0)
    assert (rest.rest_s, rest.powered_s, rest.launch_s) == (60.0, None, None)
