"""What the operating points of any craft share: the states, the derived figures."""

from __future__ import annotations

import pytest

from tests.sizing.multirotors import six
from tests.sizing.wings import wing
from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design

EITHER = pytest.mark.parametrize("design", [six(), wing()])


@EITHER
def test_the_pack_settles_on_the_cells_line_at_full_throttle(
    design: Design[Multirotor] | Design[FixedWing],
) -> None:
    """V = U - I R, and cell voltage falls from state to state."""
    point = operate(design)
    for state in point.states:
        top = state.full_throttle
        sag = float(top.cell_a) * float(state.resistance_mohm) / 1000
        assert float(top.cell_v) == pytest.approx(float(state.open_circuit_v) - sag, rel=1e-9)
    steady = [float(state.steady_v) for state in point.states]
    assert steady == sorted(steady, reverse=True)


@EITHER
def test_no_limit_of_current_is_passed_and_the_cutoff_is_kept(
    design: Design[Multirotor] | Design[FixedWing],
) -> None:
    for state in operate(design.changed(continuous_share_pct=60.0)).states:
        assert state.continuous.cell_a <= 0.6 * 15.0 * (1 + 1e-9)
        assert state.burst.cell_a <= 25.0 * (1 + 1e-9)
        assert state.burst.cell_v >= 2.5 * (1 - 1e-9)


@EITHER
def test_derived_figures_by_hand(design: Design[Multirotor] | Design[FixedWing]) -> None:
    point, pack = operate(design), design.pack
    craft = design.craft
    by_scale = craft.mass_without_pack_g + craft.payload_g + pack.mass_g
    assert float(point.all_up_mass_g) == pytest.approx(by_scale)
    assert float(point.power_w) == pytest.approx(float(point.motors_w) + craft.avionics_w)
    hours = float(point.run.time_s) / 3600
    amps = float(point.run.charge_ah) * pack.parallel / hours
    assert float(point.mean_current_a) == pytest.approx(amps)
    assert float(point.c_rate) == pytest.approx(amps / pack.capacity_ah)
    assert float(point.peak_cell_a) == pytest.approx(
        max(float(point.full.full_throttle.cell_a), float(point.end.steady_a))
    )
    watts = float(point.full.full_throttle.cell_a * point.full.full_throttle.cell_v) * pack.cells
    volts = float(point.full.full_throttle.cell_v) * pack.series
    assert float(point.full.motor_a) == pytest.approx(
        (watts - craft.avionics_w) / volts / float(point.load.motors)
    )
