"""Candidates of a sweep one by one."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.conftest import NOTEBOOKS
from workbook.errors import InputError
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.sizing.candidates import (
    candidate,
    candidates,
    front_steps,
    minutes_per_100_g,
    rejected_by,
    row_of,
)
from workbook.sizing.size import size
from workbook.sizing.sweep import sweep


@pytest.fixture(scope="module")
def found():
    design = read_design(NOTEBOOKS / "designs" / "survey_six.toml").design
    return sweep(design, list(catalogue().values()), range(4, 9), range(1, 7))


def test_a_row_is_found_again_and_told_as_its_design_is_sized(found):
    row = row_of(found, ("Sedge 48E", 6, 3))
    one = candidate(found, row)
    answer = size(found.design_of(row))
    assert one.key == ("Sedge 48E", 6, 3)
    assert one.name == "Sedge 48E 6S3P"
    assert one.endurance_min == pytest.approx(float(answer.point.endurance_min))
    assert one.all_up_mass_g == pytest.approx(float(answer.point.all_up_mass_g))
    assert one.holds
    assert one.holds == answer.holds
    assert one.reason == ""
    # a rule that is kept or not has no margin, so it is not what binds
    margins = {limit.name: limit.margin_pct for limit in answer.limits}
    assert one.margin_pct == pytest.approx(min(margins.values()))
    assert margins[one.binds] == min(margins.values())


def test_what_is_not_there_is_not_found(found):
    assert row_of(found, ("Sedge 48E", 13, 3)) is None
    assert row_of(found, ("nobody", 6, 3)) is None
    assert row_of(found, ()) is None


def test_rejected_by_counts_as_the_sweep_does(found):
    for reason in found.rejections:
        rejected = rejected_by(found, reason.key)
        assert len(rejected) == reason.breaks
        assert all(not c.holds for c in candidates(rejected, 5))
        assert all(c.reason for c in candidates(rejected, 5))
    with pytest.raises(InputError, match="no such limit"):
        rejected_by(found, "colour")


def test_steps_along_the_front(found):
    front = found.front()
    steps = front_steps(front)
    listed = candidates(front)
    # by hand: the whole rise is the sum of each step's minutes
    rise = sum(
        s.result * (b.all_up_mass_g - a.all_up_mass_g) / 100
        for s, (a, b) in zip(steps, pairwise(listed), strict=True)
    )
    assert rise == pytest.approx(listed[-1].endurance_min - listed[0].endurance_min)
    assert minutes_per_100_g([100.0, 300.0, 350.0], [10.0, 12.0, 13.0]) == pytest.approx([1.0, 2.0])
    assert np.all(minutes_per_100_g([1.0, 2.0], [3.0, 3.0]) == 0.0)
