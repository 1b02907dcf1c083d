"""A multirotor as sizing knows it: keys, working, notes."""

from __future__ import annotations

import pytest

from tests.conftest import DESIGNS
from tests.sizing.multirotors import six
from workbook.files.design_file import read_design
from workbook.quantities import results
from workbook.sizing.multirotor import MultirotorType
from workbook.sizing.size import size


def test_every_figure_that_is_shown_is_given() -> None:
    """Keys are lists: what they name must be in the figures and in the table of quantities."""
    result = size(six())
    figures, state = result.figures(), result.state_figures()["end"]
    assert {q.key for q in results(MultirotorType.keys)} <= set(figures)
    assert {q.key for q in results(MultirotorType.state_keys)} <= set(state)
    assert set(MultirotorType.large_keys) <= set(figures)


def test_every_step_of_the_working_gives_the_figure_it_names() -> None:
    """But for the thrust ceilings: their working is that of the end of the flight, where they are least."""
    result = size(read_design(DESIGNS / "survey_six.toml").design)
    figures = result.figures()
    assert len(result.working) > 15
    for step in result.working:
        assert step.result == pytest.approx(figures[step.key], rel=1e-9), step.key


def test_outside_the_thrust_table_the_working_stops_at_the_thrust() -> None:
    result = size(six(payload_g=60_000.0))
    assert result.working[-1].key == "hover_thrust_per_motor_gf"
    assert result.as_dict()["motor_out"] is None
