"""Each craft finds its type, and nothing is asked of one type that another does not answer."""

from __future__ import annotations

from tests.sizing.multirotors import six
from tests.sizing.wings import wing
from workbook.sizing.craft_types import CRAFT_TYPES, craft_type_of, operate
from workbook.sizing.hover_point import HoverPoint
from workbook.sizing.wing_point import WingPoint


def test_a_craft_finds_its_type() -> None:
    assert craft_type_of(six()).name == "multirotor"
    assert craft_type_of(wing()).name == "fixed wing"


def test_one_call_gives_the_operating_point_of_either() -> None:
    hover, cruise = operate(six()), operate(wing())
    assert isinstance(hover, HoverPoint)
    assert isinstance(cruise, WingPoint)


def test_names_and_steady_flights_are_distinguished() -> None:
    types = [of_craft() for of_craft in CRAFT_TYPES.values()]
    assert [one.craft for one in types] == list(CRAFT_TYPES)
    for attribute in ("name", "steady", "reserve_key"):
        assert len({getattr(one, attribute) for one in types}) == len(types)
