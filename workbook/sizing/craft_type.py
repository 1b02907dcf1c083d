"""What sizing must know of a type of craft. `MultirotorType` and `FixedWingType` say it; nothing else asks which it is.

To add a type of craft, write its record in `workbook.craft`, its operating point, one class on `CraftType`,
and add it to `CRAFT_TYPES` in `workbook.sizing.craft_types`; its own limits go into `workbook/data/limits.toml`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from workbook.battery.discharge import PowerRun
from workbook.quantities import RESULTS, Quantity
from workbook.sizing.design import Allowances, Design
from workbook.sizing.figures import Figures
from workbook.sizing.operating_point import NO_ALLOWANCES, CraftLoad, OperatingPoint
from workbook.working import Step

if TYPE_CHECKING:
    from workbook.sizing.mission import MissionModel

CraftT = TypeVar("CraftT")
PointT = TypeVar("PointT", bound=OperatingPoint[Any, Any])


class CraftType(ABC, Generic[CraftT, PointT]):
    """One type of craft.

    Attributes:
        craft: the record of `workbook.craft` that it sizes.
        name: in words, as design file and JSON have it.
        steady: its steady flight in a word, the stem of its keys ("hover", "cruise").
        reserve_key: what is left at the end of the flight (`OperatingPoint.reserve`).
        keys, state_keys: results that are shown to a person, in order; of the flight, and of a state.
        large_keys: those few that come first on a screen.
        short_keys: the six of an answer in short.
        measured_in_flight: the figure that a test flight measures.
        test_airspeed: whether a test flight has an airspeed.
        likely: watts of the motors in a test flight over those of the bench or the plan, as met in practice;
            common practice, no source.
    """

    craft: ClassVar[type]
    name: ClassVar[str]
    steady: ClassVar[str]
    reserve_key: ClassVar[str]
    keys: ClassVar[tuple[str, ...]]
    state_keys: ClassVar[tuple[str, ...]]
    large_keys: ClassVar[tuple[str, ...]]
    short_keys: ClassVar[tuple[str, ...]]
    measured_in_flight: ClassVar[tuple[str, ...]]
    test_airspeed: ClassVar[bool]
    likely: ClassVar[tuple[float, float]]

    @abstractmethod
    def load(self, design: Design[Any], allowances: Allowances = NO_ALLOWANCES) -> CraftLoad[Any]:
        """Mass and power of a design, or of arrays of designs: the operating point before its discharge."""

    @abstractmethod
    def operate(
        self,
        design: Design[Any],
        allowances: Allowances = NO_ALLOWANCES,
        run: PowerRun | None = None,
    ) -> PointT:
        """The operating point of a design, or of arrays of designs.

        Args:
            design: the design.
            allowances: factors on the plan's figures.
            run: its steady flight where it is known already.
        """

    @abstractmethod
    def figures(self, design: Design[Any], point: PointT) -> Figures:
        """The figures of a single design by name."""

    @abstractmethod
    def state_figures(self, design: Design[Any], point: PointT, state: Any) -> Figures:
        """The figures of one state of the pack by name."""

    @abstractmethod
    def working(self, design: Design[Any], point: PointT) -> tuple[Step, ...]:
        """How each figure of a single design came about, in the order of a calculation by hand."""

    @abstractmethod
    def notes(self, design: Design[Any], point: PointT) -> tuple[str, ...]:
        """What else the builder should know."""

    @abstractmethod
    def mission_model(self, point: PointT) -> MissionModel[PointT]:
        """The craft on its pack as a mission flies it; of a single design."""

    @abstractmethod
    def test_flight_w(self, load: CraftLoad[Any], airspeed_m_s: float) -> float:
        """The pack's load in a steady test flight; NaN where the craft cannot fly so."""

    @abstractmethod
    def calibrated(
        self, load: CraftLoad[Any], airspeed_m_s: float, ratio: float
    ) -> dict[str, float]:
        """Keys of the craft that test flights set, the one that they measure first.

        Args:
            load: of the first of them.
            airspeed_m_s: of the first of them.
            ratio: watts of the motors over those of the bench or the plan.
        """

    def extra(self, design: Design[Any], point: PointT) -> dict[str, Any]:
        """What only this type of craft has, as plain values for JSON."""
        return {}

    @property
    def reserve(self) -> Quantity:
        """What is left at the end of the flight: thrust to weight, or climb."""
        return RESULTS[self.reserve_key]
