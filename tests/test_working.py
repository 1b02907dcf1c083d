"""A step of working takes words and unit from the table of quantities."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.quantities import RESULTS
from workbook.working import step


def test_words_and_unit_are_those_of_the_figure() -> None:
    made = step("endurance_min", "energy / power", "90 Wh / 180 W", np.float64(30.0), "arithmetic")
    assert made.label == RESULTS["endurance_min"].label
    assert (made.unit, type(made.result)) == ("min", float)
    assert made.text() == "endurance = energy / power = 90 Wh / 180 W = 30 min  [arithmetic]"


def test_a_figure_that_nobody_lists_needs_words() -> None:
    with pytest.raises(KeyError):
        step("moon_m", "", "", 1.0, "")
    assert step("moon_m", "", "", 1.0, "", label="way to the moon").unit == "m"
