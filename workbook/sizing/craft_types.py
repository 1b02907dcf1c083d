"""Which type a design's craft is: the one place where types of craft are distinguished."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING, Any, overload

from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.sizing.craft_type import CraftType
from workbook.sizing.design import Allowances, Design
from workbook.sizing.operating_point import NO_ALLOWANCES

if TYPE_CHECKING:
    from workbook.sizing.hover_point import HoverPoint
    from workbook.sizing.wing_point import WingPoint


@cache
def _multirotor() -> CraftType[Any, Any]:
    from workbook.sizing.multirotor import MultirotorType

    return MultirotorType()


@cache
def _fixed_wing() -> CraftType[Any, Any]:
    from workbook.sizing.fixed_wing import FixedWingType

    return FixedWingType()


CRAFT_TYPES: dict[type, Callable[[], CraftType[Any, Any]]] = {
    Multirotor: _multirotor,
    FixedWing: _fixed_wing,
}
"""Of each record of a craft its type, loaded with the first such craft."""


def craft_type_of(design: Design[Any]) -> CraftType[Any, Any]:
    """The type of a design's craft.

    Example:
        >>> [of_craft().name for of_craft in CRAFT_TYPES.values()]
        ['multirotor', 'fixed wing']
    """
    return CRAFT_TYPES[type(design.craft)]()


@overload
def operate(design: Design[Multirotor], allowances: Allowances = ...) -> HoverPoint: ...
@overload
def operate(design: Design[FixedWing], allowances: Allowances = ...) -> WingPoint: ...
@overload
def operate(design: Design[Any], allowances: Allowances = ...) -> Any: ...
def operate(design: Design[Any], allowances: Allowances = NO_ALLOWANCES) -> Any:
    """The operating point of a design, or of arrays of designs, of any craft.

    Args:
        design: the design; any of its figures may be an array.
        allowances: factors on the plan's figures, neutral by default; arrays too.

    Returns:
        A `HoverPoint` of a multirotor, a `WingPoint` of a fixed wing. Figures that cannot be had are NaN.
    """
    return craft_type_of(design).operate(design, allowances)
