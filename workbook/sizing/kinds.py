"""Which module sizes which kind of craft: the one place where kinds are told apart."""

from __future__ import annotations

from typing import Any, Protocol

from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.sizing import fixed_wing, multirotor
from workbook.sizing.design import Allowances, Design
from workbook.sizing.figures import Row, Told
from workbook.sizing.limit import Limit
from workbook.sizing.mission import Flier
from workbook.working import Step


class Kind(Protocol):
    """What a module knows of its kind of craft."""

    NAME: str
    ROWS: tuple[Row, ...]
    STATE_ROWS: tuple[Row, ...]

    def operate(self, design: Design[Any], allowances: Allowances = ...) -> Any:
        """The operating point of a design, or of arrays of designs."""

    def limits(self, design: Design[Any], point: Any) -> tuple[Limit, ...]:
        """Every limit that the design states."""

    def stops(self, design: Design[Any], point: Any) -> tuple[str, ...]:
        """Reasons, in words, not to build or fly a single design as it stands."""

    def notes(self, design: Design[Any], point: Any) -> tuple[str, ...]:
        """What else the builder should know."""

    def working(self, design: Design[Any], point: Any) -> tuple[Step, ...]:
        """How each figure came about."""

    def figures(self, design: Design[Any], point: Any) -> Told:
        """The figures of a single design by name."""

    def state_figures(self, design: Design[Any], point: Any, state: Any) -> Told:
        """The figures of one state of the pack by name."""

    def extra(self, design: Design[Any], point: Any) -> dict[str, Any]:
        """What only this kind of craft has, as plain values for JSON."""

    def flier(self, design: Design[Any], point: Any, allowances: Allowances) -> Flier:
        """The craft with its pack as a mission flies it; single designs."""


_KINDS: dict[type, Kind] = {Multirotor: multirotor, FixedWing: fixed_wing}


def kind_of(design: Design[Any]) -> Kind:
    """The module that sizes a design's craft."""
    return _KINDS[type(design.craft)]
