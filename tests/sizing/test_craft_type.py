"""What a craft type must give, held against every one of them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.sizing.multirotors import six
from tests.sizing.wings import wing
from workbook.quantities import RESULTS
from workbook.sizing.craft_type import CraftType
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Allowances, Design

EITHER = pytest.mark.parametrize("design", [six(), wing()])


def test_a_type_that_leaves_something_out_cannot_be_made() -> None:
    class Balloon(CraftType[Any, Any]):
        name = "balloon"

    with pytest.raises(TypeError, match="abstract"):
        Balloon()


@EITHER
def test_every_key_is_in_the_table_of_quantities(design: Design[Any]) -> None:
    craft_type = craft_type_of(design)
    assert set(craft_type.keys) | set(craft_type.state_keys) <= set(RESULTS)
    assert set(craft_type.large_keys) <= set(craft_type.keys)
    assert craft_type.reserve is RESULTS[craft_type.reserve_key]


@EITHER
def test_the_common_chain_is_shown_under_the_word_for_its_steady_flight(
    design: Design[Any],
) -> None:
    craft_type = craft_type_of(design)
    figures = craft_type.figures(design, craft_type.operate(design))
    for stem in ("power_w", "current_a", "current_end_a", "c_rate", "cell_current_end_a"):
        assert figures[f"{craft_type.steady}_{stem}"] > 0


@EITHER
def test_mass_and_power_before_the_discharge_are_those_of_the_operating_point(
    design: Design[Any],
) -> None:
    craft_type = craft_type_of(design)
    allowances = Allowances(mass_factor=1.05, power_factor=1.1, avionics_factor=1.2)
    load = craft_type.load(design, allowances)
    point = craft_type.operate(design, allowances)
    assert load.power_w == point.power_w > craft_type.load(design).power_w > 0
    assert load.all_up_mass_g == point.all_up_mass_g
