"""Two packs on one craft in its flight: what each meets when they differ, and what is left when one drops out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, reduce
from typing import Any

import numpy as np

from workbook.battery.discharge import constant_power
from workbook.battery.pack import Pack
from workbook.battery.thresholds import RETURN_SHARE
from workbook.battery.two_packs import (
    ONE_PACK,
    Joining,
    JoiningCurrents,
    PairFlight,
    fly_pair,
    joining_currents,
)
from workbook.notices import notice
from workbook.numbers import FloatArray, rounded
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Allowances, Design
from workbook.sizing.figures import plain
from workbook.sizing.operating_point import NO_ALLOWANCES, OperatingPoint
from workbook.units import with_unit

STATES = (0.0, 0.5, 1.0)
"""Of the flight's charge gone, at full, half and end."""

PACK_NAMES = ("A", "B")
"""What the two packs are called, on the screen, on their sheets and on their labels."""


@dataclass(frozen=True, eq=False)
class Pair:
    """Two packs of a design in its steady flight, of the design's shape.

    Attributes:
        design: of two packs.
        point: its operating point.
    """

    design: Design[Any]
    point: OperatingPoint[Any, Any]

    @property
    def joining(self) -> Joining:
        """How they are joined and how far they differ."""
        return self.design.joining

    @property
    def one(self) -> Pack:
        """One of them."""
        return self.design.one_pack

    @property
    def currents(self) -> JoiningCurrents:
        """What flows when they are joined in parallel."""
        return joining_currents(self.joining, self.design.pack)

    @cached_property
    def flight(self) -> PairFlight:
        """Both in parallel through steady flight, in every way in which they may differ."""
        load, power_w = self.point.load, self.point.power_w
        return fly_pair(
            self.joining,
            self.design.pack,
            power_w,
            self.point.run.end_depth_of_discharge,
            resistance_factor=load.allowances.resistance_factor,
            capacity_factor=load.capacity_factor(power_w),
            joint_factor=load.allowances.joint_factor,
        )

    @cached_property
    def steady_a(self) -> FloatArray:
        """Most that a cell of either carries in steady flight."""
        return self.flight.highest_a if self.joining.in_parallel else self.point.end.steady_a

    @cached_property
    def full_power_a(self) -> FloatArray:
        """Most that a cell of either carries at full power, of the states of the pack."""
        tops = [state.full_throttle.cell_a for state in self.point.states]
        if self.joining.in_parallel:
            tops = [self.flight.highest_a_at(k, a) for k, a in zip(STATES, tops, strict=True)]
        return np.asarray(reduce(np.maximum, tops))

    @property
    def share(self) -> FloatArray | float:
        """Most that either carries over its even share in steady flight."""
        return self.flight.highest_share if self.joining.in_parallel else 1.0

    @property
    def weaker_depth(self) -> FloatArray:
        """Depth of discharge of the emptier one at the end of the flight."""
        if self.joining.in_parallel:
            return self.flight.deepest
        less = 1.0 - self.joining.apart_capacity_pct / 200.0
        return np.asarray(self.point.run.end_depth_of_discharge / less)

    @property
    def weaker_v(self) -> FloatArray:
        """Cell voltage under load of the weaker of two in series, at the end of the flight."""
        state = self.point.end
        cell, more = self.design.pack.cell.model, self.joining.apart_resistance_pct / 200.0
        depth = np.minimum(self.weaker_depth, 1.0)
        own = cell.resistance_at(depth) * self.point.load.allowances.resistance_factor
        mohm = own * (1.0 + more) + self.point.load.joint_mohm
        return np.asarray(cell.open_circuit_at(depth) - state.steady_a * mohm / 1000.0)


@dataclass(frozen=True, eq=False)
class LeftAlone:
    """The other pack by itself, from an instant of the flight on.

    Attributes:
        when: the instant, in words.
        used_pct: of the charge, by then.
        minutes: of steady flight that are left within the maker's continuous current.
        cell_a: of a cell at once.
        reserve: thrust to weight or climb that is left at once.
    """

    when: str
    used_pct: float
    minutes: float
    cell_a: float
    reserve: float


def one_left(
    design: Design[Any],
    point: OperatingPoint[Any, Any],
    home_share: float = RETURN_SHARE,
    allowances: Allowances = NO_ALLOWANCES,
) -> tuple[LeftAlone, ...]:
    """What the other of two packs in parallel does by itself when one drops out.

    Args:
        design: a single design of two packs in parallel.
        point: its operating point.
        home_share: of the charge, what the way home takes.
        allowances: as put into the point.

    Returns:
        At half of the flight, and where the way home is due.

    Source: the operating point of the craft with all of its mass on half of its cells; a constant-power run
        from the depth reached, down to the hard floor of cell voltage, the cutoff, or where the maker's
        continuous current is reached.
    """
    whole, one = design.pack, design.one_pack
    carried = replace(one, extra_mass_g=one.extra_mass_g + whole.mass_g - one.mass_g)
    alone = replace(design, pack=carried, joining=ONE_PACK, mission=(), today=None)
    alone_point = craft_type_of(design).operate(alone, allowances)
    end = float(point.run.end_depth_of_discharge)
    due = max(end - home_share, 0.0)
    instants = {"halfway": 0.5 * end, "when the way home is due": due}
    return tuple(_alone_from(when, depth, alone_point) for when, depth in instants.items())


def _alone_from(when: str, depth: float, alone: OperatingPoint[Any, Any]) -> LeftAlone:
    load, cell = alone.load, alone.load.pack.cell
    run = constant_power(
        cell.model,
        alone.cell_power_w,
        max(cell.floor_v, float(alone.cell_power_w) / cell.continuous_a),
        1.0,
        extra_mohm=load.joint_mohm,
        resistance_factor=load.allowances.resistance_factor,
        capacity_factor=load.capacity_factor(alone.power_w),
        start_depth_of_discharge=depth,
    )
    state = type(alone.end).at_depth(load, np.asarray(depth), alone.power_w)
    return LeftAlone(
        when,
        100.0 * depth,
        float(run.time_s) / 60.0,
        float(run.start_a),
        float(state.reserve_within(cell.burst_a)),
    )


def pair_of(point: OperatingPoint[Any, Any]) -> Pair | None:
    """The two packs of a design in its flight; None with one pack."""
    return _pair(point) if point.load.design.joining.several else None


@lru_cache(maxsize=4)
def _pair(point: OperatingPoint[Any, Any]) -> Pair:
    """The same for every limit that looks at it, so that it is flown once."""
    return Pair(point.load.design, point)


def pack_name(pack: Pack) -> str:
    """One pack in short.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> pack_name(Pack(find_cell("Bittern"), 6, 2))
        '6S2P'
    """
    return f"{pack.series:g}S{pack.parallel:g}P"


def packs_name(design: Design[Any]) -> str:
    """All cells in short, and how they are divided where there are two packs.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> packs_name(six), packs_name(six.changed(parallel=4, packs=2))
        ('6S3P', '6S4P as two 6S2P in parallel')
    """
    whole, joining = pack_name(design.pack), design.joining
    if not joining.several:
        return whole
    return f"{whole} as two {pack_name(design.one_pack)} in {joining.joined}"


def pair_texts(pair: Pair, home_share: float, allowances: Allowances = NO_ALLOWANCES) -> list[str]:
    """What a builder should know of two packs on one craft, in sentences.

    Args:
        pair: of a single design.
        home_share: of the charge, what the way home takes.
        allowances: as put into the point.
    """
    one, joining = pair.one, pair.joining
    if joining.over(pair.design.pack):
        return []  # no two equal packs: a limit says so
    first = notice(
        "pair",
        "two",
        names=PACK_NAMES,
        joining=joining,
        name=pack_name(one),
        mass=with_unit(float(one.mass_g), "g", 0, "up"),
        energy_wh=rounded(float(one.energy_wh), 1, "up"),
    )
    if not float(pair.point.run.time_s) > 0.0:
        return [first, joining_text(pair)]
    if joining.joined == "series":
        return [first, _series_text(pair), notice("pair", "all_lost")]
    left = _left_text(pair, home_share, allowances)
    return [first, _sharing_text(pair), joining_text(pair), left]


def _sharing_text(pair: Pair) -> str:
    share, steady, full = (float(x) for x in (pair.share, pair.steady_a, pair.full_power_a))
    if not np.isfinite(steady):
        return notice("pair", "share_unknown")
    at_full = ""
    if np.isfinite(full):
        at_full = notice("pair", "at_full", full_a=rounded(full, 1, "up"))
    return notice(
        "pair",
        "sharing",
        joining=pair.joining,
        share=rounded(share, 2, "up"),
        steady_a=rounded(steady, 1, "up"),
        at_full=at_full,
        empty_pct=rounded(100.0 * float(pair.weaker_depth), 0, "up"),
    )


def joining_text(pair: Pair) -> str:
    """When two packs may be joined, in a sentence or two."""
    if pair.joining.joined == "series":
        return notice("pair", "join_in_series")
    found = pair.currents
    most_v = rounded(float(found.most_v), 1, "down")
    return notice(
        "pair",
        "join_in_parallel",
        joining=pair.joining,
        apart_v=rounded(float(found.apart_v), 2, "down"),
        apart_a=rounded(float(found.apart_a), 1, "up"),
        most_v=most_v,
        most_cell_v=rounded(most_v / float(pair.one.series), 3, "down"),
        most_a=rounded(float(found.most_a), 1, "down"),
    )


def _series_text(pair: Pair) -> str:
    if not np.isfinite(pair.weaker_v):
        return joining_text(pair)
    empty_pct = rounded(100.0 * float(pair.weaker_depth), 0, "up")
    weaker_v = rounded(float(pair.weaker_v), 2, "down")
    ends = notice("pair", "weaker", joining=pair.joining, empty_pct=empty_pct, weaker_v=weaker_v)
    return f"{joining_text(pair)} {ends}"


def _left_text(pair: Pair, home_share: float, allowances: Allowances) -> str:
    """What is left when one of two packs in parallel drops out."""
    design, point, cell = pair.design, pair.point, pair.design.pack.cell
    left = one_left(design, point, home_share, allowances)
    hover = craft_type_of(design).steady == "hover"
    for one in left:
        if not one.cell_a <= cell.burst_a:
            if np.isfinite(one.cell_a):
                cell_a = rounded(one.cell_a, 1, "up")
                return notice("pair", "too_much", cell_a=cell_a, cell=cell)
            return notice("pair", "no_power")
    weak = [x for x in left if hover and x.reserve < 1.0]
    if weak:
        return notice("pair", "too_weak", reserve=rounded(weak[0].reserve, 2, "down"))
    most = max(x.cell_a for x in left)
    figures = {"connector": _connector_words(pair, most), "cell": cell}
    if most > cell.continuous_a:
        return notice("pair", "seconds", **figures, cell_a=rounded(most, 1, "up"))
    spans = ", ".join(
        f"{x.when} ({x.used_pct:.0f} % used) for {rounded(x.minutes, 1, 'down'):.1f} min"
        for x in left
    )
    home_min = float(point.endurance_min) * home_share / float(point.run.end_depth_of_discharge)
    reaches = left[-1].minutes >= home_min
    end = "it reaches home" if reaches else "it does not reach home: land where it is"
    home_min = rounded(home_min, 1, "up")
    return notice("pair", "carries", **figures, spans=spans, home_min=home_min, end=end)


def _connector_words(pair: Pair, cell_a: float) -> str:
    """What a connector would carry by itself, where that is more than it may; empty else."""
    most, asked = pair.design.craft.connector_max_a, cell_a * float(pair.one.parallel)
    if most is None or asked <= most:
        return ""
    return notice("pair", "connector", asked_a=rounded(asked, 1, "up"), most_a=most)


def pair_dict(pair: Pair, home_share: float, allowances: Allowances) -> dict[str, Any]:
    """Two packs as plain values, for JSON."""
    one, joining, found = pair.one, pair.joining, pair.currents
    values: dict[str, Any] = {
        "packs": joining.packs,
        "joined": joining.joined,
        "series": int(one.series),
        "parallel": int(one.parallel),
        **plain(
            {
                "mass_g": one.mass_g,
                "energy_wh": one.energy_wh,
                "steady_cell_a": pair.steady_a,
                "full_power_cell_a": pair.full_power_a,
                "highest_share": pair.share,
                "weaker_depth_pct": 100.0 * pair.weaker_depth,
            }
        ),
    }
    if joining.in_parallel:
        values |= plain(vars(found))
        flies = float(pair.point.run.time_s) > 0.0
        left = one_left(pair.design, pair.point, home_share, allowances) if flies else ()
        values["one_left"] = [plain(vars(x)) for x in left]
    return values
