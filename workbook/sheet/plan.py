"""From an answer to the plan at the bench, and what the plan's own mass and resistance change."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from workbook.battery.pack import Pack
from workbook.bench.bench_settings import BenchSettings
from workbook.bench.cell_inspection import MeasuredCells
from workbook.bench.device_settings import Handling
from workbook.bench.flight_load import FlightLoad, part_currents
from workbook.bench.plan import BuildPlan, CellGroups, Together, group_cells, plan_bench
from workbook.craft.craft_types import Multirotor
from workbook.numbers import Number, rounded
from workbook.sizing.conditions import flown_state
from workbook.sizing.design import Allowances
from workbook.sizing.limits import LEAST_CLIMB_M_S, LEAST_THRUST_TO_WEIGHT
from workbook.sizing.notes import Note
from workbook.sizing.pair import Pair
from workbook.sizing.size import SizingResult, size
from workbook.units import with_unit

SAME_PCT = 5.0
"""A figure found within this of the stated one is called the same."""


def _highest(*currents: Number) -> float:
    """The highest of some currents; NaN ones are passed over, NaN when all are."""
    known = [float(a) for a in currents if np.isfinite(a)]
    return max(known, default=np.nan)


def flight_load(answer: SizingResult, *, of_one: bool = False) -> FlightLoad:
    """What the flight of an answer asks of its pack.

    Args:
        answer: of a single design, of any kind of craft.
        of_one: of two packs, what it asks of the one that carries more.
    """
    whole, point, flight = answer.design.pack, answer.point, answer.design.flight
    pack = answer.design.one_pack if of_one else whole
    pair = answer.pair if of_one else None
    share = 1.0 if pair is None else float(pair.share)
    tops = [state.full_throttle.cell_a for state in point.states]
    steady, full = [point.run.end_a], tops
    if pair is not None:
        steady, full = [pair.steady_a], [pair.full_power_a]
    parallel, cells = int(pack.parallel), int(pack.series) * int(pack.parallel)
    ceiling = point.end.continuous
    taken = flown_state(answer.design, point.power_w)
    phases = answer.mission.phases if answer.mission else ()
    long = [share * phase.cell_a for phase in phases if phase.duration_s > pack.cell.burst_s]
    every = [share * phase.cell_a for phase in phases]
    figures = {
        "steady_w": point.power_w * pack.cells / whole.cells,
        "mean_a": point.mean_current_a * pack.parallel / whole.parallel,
        "highest_a": parallel * _highest(*full, *steady, *every),
        "steady_a": parallel * _highest(*steady, *long),
        "climb_w": ceiling.cell_a * ceiling.cell_v * cells,
        "continuous_share_pct": flight.continuous_share_pct,
        "landing_v": flight.landing_v,
        "reserve_pct": flight.reserve_pct,
        "end_v": point.run.end_v,
        "used_ah": point.run.charge_ah * parallel,
        "minutes": point.endurance_min,
        "resistance_factor": taken.resistance_factor,
        "capacity_factor": taken.capacity_factor,
        "home_share": answer.way_home_share,
        "low_min": answer.flights.endurance_p05_min if answer.flights else np.nan,
    }
    return FlightLoad(**{name: float(value) for name, value in figures.items()})


def handling(answer: SizingResult) -> Handling | None:
    """What is left over steady flight under any setting; None without a flight.

    Args:
        answer: of a single design, of any kind of craft.
    """
    point, flight, pack = answer.point, answer.design.flight, answer.design.pack
    if not (np.isfinite(point.power_w) and np.isfinite(point.reserve)):
        return None
    mixed = isinstance(answer.design.craft, Multirotor)
    least = LEAST_THRUST_TO_WEIGHT if mixed else LEAST_CLIMB_M_S
    wanted = flight.thrust_reserve if mixed else (flight.climb_m_s or 0.0)

    def at_depth(depth_of_discharge: float) -> float:
        state = type(point.end).at_depth(point.load, np.asarray(depth_of_discharge), point.power_w)
        return float(state.reserve_within(pack.cell.burst_a))

    def within(pack_a: float) -> float:
        return min(float(s.reserve_within(pack_a / pack.parallel)) for s in point.states)

    def words(figure: float) -> str:
        if mixed:
            return f"a thrust to weight of {rounded(figure, 2, 'down'):.2f}"
        return f"{with_unit(figure, 'm/s', 1, 'down')} of climb"

    cap_pct = float(flight.throttle_cap_pct)
    return Handling(max(float(wanted), least), mixed, cap_pct, at_depth, within, words)


def plan_build(
    answer: SizingResult, settings: BenchSettings | None = None, cells: MeasuredCells | None = None
) -> BuildPlan:
    """Plan the making of the pack of an answer.

    Args:
        answer: of `size`, for a single design.
        settings: what is at the bench.
        cells: measured cells, to be dealt into groups.

    Returns:
        The plan (see `workbook.bench.plan.plan_bench`): of one of two packs, made for what it carries where they
        differ, with the voltages and settings of both together.

    Raises:
        InputError: settings that cannot be used, or too few good cells.

    Example:
        >>> from workbook.files.design_file import read_design
        >>> from workbook.data.notebooks import notebooks_source
        >>> design = read_design(notebooks_source() / "designs" / "survey_wing.toml").design
        >>> plan_build(size(design)).connector.chosen.class_a
        45.0
    """
    design = answer.design
    if answer.pair is None:
        plan = plan_bench(design.pack, flight_load(answer), settings, handling(answer))
    else:
        plan = plan_bench(
            design.one_pack,
            flight_load(answer, of_one=True),
            replace(settings or BenchSettings(), packs=design.joining.packs),
            handling(answer),
            _together(answer, answer.pair),
        )
    return plan if cells is None else replace(plan, groups=deal_cells(answer, cells))


def deal_cells(answer: SizingResult, cells: MeasuredCells) -> CellGroups:
    """Deal measured cells into the groups of the pack, or of both packs, of an answer.

    Args:
        answer: of `size`, for a single design.
        cells: as measured.

    Raises:
        InputError: too few good cells.
    """
    pack = answer.design.one_pack

    def minutes(weakest_ah: float) -> float:
        """Flight time when every group is as weak as the weakest."""
        share = weakest_ah / float(pack.capacity_ah)
        return float(
            size(
                replace(answer.design, today=None), Allowances(capacity_factor=share)
            ).point.endurance_min
        )

    every_group = replace(pack, series=pack.series * answer.design.joining.packs)
    return group_cells(every_group, cells, minutes)


def _together(answer: SizingResult, pair: Pair) -> Together:
    """Both packs as the craft sees them: what they carry together when one of them carries all it may."""
    pack, load = answer.design.pack, flight_load(answer)
    made_for = part_currents(pack, load)
    tops = _highest(*(state.full_throttle.cell_a for state in answer.point.states))
    steady = float(np.nan_to_num(pair.share, nan=1.0))
    full = float(np.nan_to_num(pair.full_power_a / tops, nan=steady))
    return Together(
        pack,
        load,
        replace(
            made_for,
            cells_continuous_a=made_for.cells_continuous_a / max(steady, 1.0),
            cells_burst_a=made_for.cells_burst_a / max(full, 1.0),
        ),
    )


WEAKER_TEXT = (
    "Every line of this plan counts on {weakest:.2f} Ah per cell, that of the weakest group of the measured cells: it is "
    "below the rated {rated:g} Ah. Find out why before these cells fly."
)


def on_measured(answer: SizingResult, plan: BuildPlan) -> SizingResult:
    """The answer on the charge that the plan may count on: the rated one, or that of the weakest measured
    group where that is less, so that verdict, times and voltages are all of the same cells.

    Args:
        answer: of `size`, on the rated charge.
        plan: its bench plan, with measured cells dealt into groups.

    Returns:
        The answer as it is, or sized anew with a note of the reason.
    """
    groups, pack = plan.groups, answer.design.pack
    if groups is None:
        return answer
    weakest_ah = groups.matching.weakest_cell_ah
    rated_ah = pack.cell.rated_capacity_ah
    if weakest_ah >= rated_ah:
        return answer
    cell = replace(pack.cell, rated_capacity_ah=weakest_ah)
    again = size(answer.design.changed(cell=cell))
    note = Note("cell", WEAKER_TEXT.format(weakest=rounded(weakest_ah, 2, "down"), rated=rated_ah))
    doubts = answer.doubts  # of what was stated, not of what was measured
    return replace(again, doubts=doubts, remarks=(note,))


def differences(answer: SizingResult, plan: BuildPlan) -> tuple[str, ...]:
    """Mass and joint resistance found against those stated, with what they do to endurance.

    Args:
        answer: of `size`.
        plan: its bench plan.

    Example:
        >>> from workbook.files.design_file import read_design
        >>> from workbook.data.notebooks import notebooks_source
        >>> design = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> answer = size(design)
        >>> for found in differences(answer, plan_build(answer)):
        ...     print(found)
        Joints: ...
        Pack mass: ...
    """
    if plan.layout is None or plan.wire.chosen is None:
        return ()
    pack = answer.design.pack
    one_g = float(plan.pack.cells) * plan.pack.cell.mass_g
    found = answer.design.joining.whole_of(
        replace(
            plan.pack,
            overhead_pct=0.0,
            extra_mass_g=plan.mass_g - one_g,
            joint_mohm=plan.joint_mohm,
        )
    )
    joints = replace(pack, joint_mohm=found.joint_mohm)
    masses = replace(pack, overhead_pct=0.0, extra_mass_g=found.extra_mass_g)
    joints_text = (
        f"Joints: {with_unit(joints.joint_mohm, 'mΩ', 1, 'up')} found (strips, welds, leads and connector), "
        f"{with_unit(pack.joint_mohm, 'mΩ', 1)} stated"
    )
    masses_text = (
        f"Pack mass: {with_unit(masses.mass_g, 'g', 0, 'up')} found (cells and parts, without strap, tape and solder), "
        f"{with_unit(pack.mass_g, 'g', 0)} stated"
    )
    put_in = "Put that into the design (pack.joint_mohm)."
    weigh = "Weigh the built pack and put that into the design."
    return (
        _difference(answer, joints, "joint_mohm", joints_text, put_in),
        _difference(answer, masses, "mass_g", masses_text, weigh),
    )


def _difference(answer: SizingResult, pack: Pack, key: str, figures: str, advice: str) -> str:
    """What a pack with another figure than the design's does to the answer.

    Args:
        answer: of the design.
        pack: with the figure as found.
        key: of that figure, an attribute of a pack.
        figures: the two in words.
        advice: what to do about it.
    """
    stated, found = (float(getattr(one, key)) for one in (answer.design.pack, pack))
    design: Any = replace(answer.design, pack=pack, today=None)
    resized = size(design)
    before, after = float(answer.point.endurance_min), float(resized.point.endurance_min)
    if abs(found - stated) <= SAME_PCT / 100.0 * stated:
        text = f"{figures}: the same within {SAME_PCT:g} %."
    elif not (np.isfinite(before) and np.isfinite(after)):
        text = f"{figures}. The endurance is not known."
    else:
        text = f"{figures}: endurance {before:.1f} min becomes {after:.1f} min. {advice}"
    newly = {limit.name for limit in resized.broken} - {limit.name for limit in answer.broken}
    if newly or (resized.stops and not answer.stops):
        reasons = ", ".join(sorted(newly)) or "it becomes unsafe"
        text += f" With it a limit breaks: {reasons}. Size it again before building."
    return text
