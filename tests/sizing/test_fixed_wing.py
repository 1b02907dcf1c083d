"""A fixed wing as sizing knows it: keys, working, notes."""

from __future__ import annotations

import pytest

from tests.conftest import power_law_table
from tests.sizing.wings import wing
from workbook.quantities import results
from workbook.sizing.fixed_wing import FixedWingType
from workbook.sizing.size import size


def test_json_has_the_common_keys_and_cruise_in_place_of_hover() -> None:
    found = size(wing()).as_dict()
    assert found["craft"] == "fixed wing"
    for key in (
        "all_up_mass_g", "endurance_min", "range_km", "pack_mass_g", "pack_energy_wh",
        "pack_continuous_a", "cruise_power_w", "cruise_current_a", "cruise_c_rate", "stall_m_s",
        "best_endurance_m_s", "best_range_m_s", "launch_cell_current_a", "landing_cell_v",
    ):  # fmt: skip
        assert isinstance(found[key], float), key
    assert not any(key.startswith("hover_") for key in found)
    assert found["range_km"] == pytest.approx(found["cruise_m_s"] * found["endurance_min"] * 0.06)


def test_every_step_of_the_working_gives_the_figure_it_names() -> None:
    result = size(wing())
    figures = result.figures()
    for step in result.working:
        assert step.result == pytest.approx(figures[step.key], rel=1e-9), step.key


def test_every_figure_that_is_shown_is_given() -> None:
    """Keys are lists: what they name must be in the figures and in the table of quantities."""
    result = size(wing())
    figures, state = result.figures(), result.state_figures()["end"]
    assert {q.key for q in results(FixedWingType.keys)} <= set(figures)
    assert {q.key for q in results(FixedWingType.state_keys)} <= set(state)
    assert set(FixedWingType.large_keys) <= set(figures)


def test_notes_say_what_the_launch_rests_on() -> None:
    by_mass, by_table = wing(), wing(table=power_law_table(voltage_v=14.8, highest_gf=2000.0))
    assert any("a rule of thumb" in note.text for note in size(by_mass).notes)
    assert any("static thrust table" in note.text for note in size(by_table).notes)
