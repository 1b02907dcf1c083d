"""Stick curves agree with the ceilings and caps of the operating point."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.sizing.throttle_response import throttle_curves, throttle_response, throttle_steps


@pytest.fixture
def survey() -> Design:
    return read_design(DESIGNS / "survey_six.toml").design


def test_at_a_ceilings_throttle_the_cell_carries_the_limit(survey: Design) -> None:
    point = operate(survey)
    for name in ("full", "half", "end"):
        for which in ("continuous", "burst"):
            ceiling = getattr(getattr(point, name), which)
            curves = getattr(throttle_curves(point, np.array([float(ceiling.throttle_pct)])), name)
            # the drive's throttle goes by motor and propeller, the ceiling by the table's watts:
            # they differ by how well the table's rows fit the motor
            assert float(curves.cell_a[0]) == pytest.approx(float(ceiling.cell_a), rel=0.02)
            assert float(curves.thrust_gf[0]) == pytest.approx(float(ceiling.thrust_gf), rel=0.02)


def test_more_throttle_more_thrust_more_current_less_voltage(survey: Design) -> None:
    curves = throttle_curves(operate(survey), np.linspace(30, 100, 15))
    for state in (curves.full, curves.half, curves.end):
        assert (np.diff(state.thrust_gf) > 0).all()
        assert (np.diff(state.cell_a) > 0).all()
        assert (np.diff(state.cell_v) < 0).all()
    assert (curves.end.thrust_gf < curves.half.thrust_gf).all()
    assert (curves.half.thrust_gf < curves.full.thrust_gf).all()


def test_the_voltage_settles_on_the_cells_line(survey: Design) -> None:
    flight = throttle_response(survey, 60.0)
    full, here = flight.point.full, flight.here.full
    sag_v = float(here.cell_a[0]) * float(full.resistance_mohm) / 1000
    assert float(here.cell_v[0]) == pytest.approx(float(full.open_circuit_v) - sag_v, rel=1e-9)


def test_the_cap_holds_the_stick_and_a_cap_at_its_own_limit_keeps_it(survey: Design) -> None:
    flight = throttle_response(survey.changed(throttle_cap_pct=60.0), 90.0)
    assert flight.held_by_cap
    assert flight.throttle_pct == 60.0
    kept = throttle_response(survey.changed(throttle_cap_pct=flight.burst_cap_pct), 90.0)
    assert float(kept.point.full.full_throttle.cell_a) == pytest.approx(
        survey.pack.cell.burst_a, rel=0.02
    )


def test_what_is_known_of_another_stick_or_cap_changes_no_figure(survey: Design) -> None:
    known = throttle_response(survey, 50.0)
    for changed in ({}, {"throttle_cap_pct": 60.0}, {"thrust_reserve": 2.5}):
        design = survey.changed(**changed)
        found, fresh = throttle_response(design, 90.0, known), throttle_response(design, 90.0)
        assert found.throttle_pct == fresh.throttle_pct
        assert found.here.end.cell_a == pytest.approx(fresh.here.end.cell_a, rel=1e-12)
        assert found.curves.full.thrust_gf == pytest.approx(fresh.curves.full.thrust_gf, rel=1e-12)
        assert found.cautions() == fresh.cautions()
        assert found.burst_cap_pct == fresh.burst_cap_pct


def test_cautions_follow_the_cap(survey: Design) -> None:
    open_cap = " ".join(throttle_response(survey.changed(throttle_cap_pct=100.0), 50.0).cautions())
    assert "over its burst current" in open_cap
    tight = throttle_response(survey.changed(throttle_cap_pct=45.0), 50.0)
    assert "cannot hold itself up" in " ".join(tight.cautions())
    middle = " ".join(throttle_response(survey.changed(throttle_cap_pct=60.0), 50.0).cautions())
    assert "stop its own descent" in middle
    asked = throttle_response(survey.changed(throttle_cap_pct=60.0, thrust_reserve=4.0), 50.0)
    assert np.isnan(asked.lowest_hover_cell_v)
    assert "even on a full pack" in " ".join(asked.cautions())


def test_steps_end_in_the_figures(survey: Design) -> None:
    flight = throttle_response(survey, 50.0)
    steps = {s.key: s.result for s in throttle_steps(flight)}
    end = flight.point.end
    assert steps["ceiling_cell_v"] == float(end.continuous.cell_v)
    assert steps["continuous_thrust_gf"] == float(end.continuous.thrust_gf)
    # by hand: thrust to weight is motors x least thrust over mass
    least = min(float(end.full_throttle.thrust_gf), float(end.burst.thrust_gf))
    assert steps["thrust_to_weight_end"] == pytest.approx(
        6 * least / float(flight.point.all_up_mass_g)
    )


def test_what_cannot_be_computed_is_stated(survey: Design) -> None:
    with pytest.raises(InputError, match="outside the thrust table"):
        throttle_response(survey.changed(mass_without_pack_g=30_000.0), 50.0)
    from dataclasses import replace

    table = replace(
        survey.craft.table, throttle_pct=np.full_like(survey.craft.table.throttle_pct, np.nan)
    )
    with pytest.raises(InputError, match="no throttle column"):
        throttle_response(survey.changed(table=table, throttle_cap_pct=100.0), 50.0)
