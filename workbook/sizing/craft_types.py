"""Which type a design's craft is: the one place where types of craft are distinguished."""

from __future__ import annotations

from typing import Any, overload

from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.sizing.craft_type import CraftType
from workbook.sizing.design import Allowances, Design
from workbook.sizing.fixed_wing import FixedWingType
from workbook.sizing.hover_point import HoverPoint
from workbook.sizing.multirotor import MultirotorType
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.sizing.wing_point import WingPoint

CRAFT_TYPES: tuple[CraftType[Any, Any], ...] = (MultirotorType(), FixedWingType())
"""Every type of craft."""


def craft_type_of(design: Design[Any]) -> CraftType[Any, Any]:
    """The type of a design's craft.

    Example:
        >>> [kind.name for kind in CRAFT_TYPES]
        ['multirotor', 'fixed wing']
    """
    return next(found for found in CRAFT_TYPES if isinstance(design.craft, found.craft))


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
