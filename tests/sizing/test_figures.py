"""Figures and working that any craft has: the pack by arithmetic, checked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.sizing.multirotors import six
from workbook.sizing.figures import common_figures, mass_step, pack_steps, plain, run_steps
from workbook.sizing.hover_point import hover_point


def test_the_pack_by_hand() -> None:
    """6S3P of 5 Ah, 3.6 V, 70 g cells with 10 % overhead and 75 g of leads."""
    steps = {step.key: step.result for step in pack_steps(six())}
    assert steps["pack_nominal_v"] == pytest.approx(21.6)
    assert steps["pack_full_v"] == pytest.approx(25.2)
    assert steps["pack_capacity_ah"] == pytest.approx(15.0)
    assert steps["pack_energy_wh"] == pytest.approx(324.0)
    assert steps["pack_continuous_a"] == pytest.approx(45.0)
    assert steps["pack_burst_a"] == pytest.approx(75.0)
    assert steps["pack_mass_g"] == pytest.approx(18 * 70 * 1.1 + 75)


def test_steps_and_figures_are_one() -> None:
    design = six()
    point = hover_point(design)
    figures = common_figures(design, point)
    steps = (*pack_steps(design), mass_step(design, point), *run_steps(design, point, "hover"))
    both = [step for step in steps if step.key in figures]
    assert len(both) > 8
    for step in both:
        assert step.result == pytest.approx(float(figures[step.key]), rel=1e-12), step.key


def test_the_end_is_named_by_what_comes_first() -> None:
    for change, ends in (({"landing_v": 3.6}, "landing voltage"), ({"landing_v": 2.5}, "reserve")):
        design = six(**change)
        assert common_figures(design, hover_point(design))["ends_by"] == ends


def test_what_is_no_figure_is_none() -> None:
    assert plain({"a": np.nan, "b": np.inf, "c": np.float64(1.5), "d": "x"}) == {
        "a": None,
        "b": None,
        "c": 1.5,
        "d": "x",
    }
