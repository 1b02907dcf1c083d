"""What would do where a design does not hold: one answer to all of its limits together, found by the sweep.

A limit by itself may ask for what another forbids: a throttle cap keeps the burst current and takes the
thrust. So the cap is tried first, then more cells in parallel, other cells, and last another number in series.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

import numpy as np

from workbook.battery.cell import Cell
from workbook.numbers import Number
from workbook.quantities import INPUTS, RESULTS
from workbook.sizing.candidates import Candidate, Sweep
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.sizing.limits import limits, stop_keys, stops
from workbook.sizing.size import SizingResult, size
from workbook.sizing.sweep import sweep

FEWER_PARALLEL, MORE_PARALLEL = 2, 6
"""Cells in parallel that are tried: so many fewer, so many more."""

SERIES_EITHER_WAY = 3
"""Cells in series that are tried: so many more and fewer."""

CAPS_PCT = {"multirotor": (100.0, 90.0, 80.0, 70.0, 60.0, 50.0), "fixed wing": (100.0,)}
"""Throttle caps that are tried beside the design's own and the one its burst current asks for, by craft."""

CAPPED = {
    "burst_cell_current",
    "shared_burst_current",
    "launch_voltage",
    "controller_current",
    "motor_current",
    "motor_power",
    "connector_current",
    "power_module_current",
}
"""Limits that a throttle cap may mend; a wing is asked about caps only where one of them is broken."""

MOST_SIZED = 5
"""Candidates that are sized to see that all of it holds, lightest first, a mission too."""

CELLS_NAMED = 3
"""Cells that are named."""

MOST_RATING = 4.0
"""A cell is asked for up to so many times the burst current of the design's own."""


@dataclass(frozen=True)
class _Cap:
    """What the throttle cap that the burst current asks for does.

    Attributes:
        cap_pct: the cap, as it is set; NaN where none is known.
        capped: the design with it, sized without its mission.
        holds: whether the cap is all that it takes.
    """

    cap_pct: float
    capped: SizingResult | None
    holds: bool = False


def remedy(result: SizingResult, cells: Iterable[Cell]) -> str:
    """What would do where limits are broken, in one line; empty where none is.

    Args:
        result: of a single design.
        cells: other cells to try.

    Returns:
        What the burst current asks of the throttle and what that leaves, where it is asked, and the
        least change of the pack with which every limit holds, or that none of those tried does.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.cell_file import catalogue
        >>> from workbook.files.design_file import read_design
        >>> design = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> short = size(design.changed(parallel=2, wanted_min=20.0))
        >>> "would do" in remedy(short, catalogue().values())
        True
    """
    if _is_sound(result):
        return ""
    cap = _burst_cap(result)
    phrase = _cap_words(result, cap)
    if cap.holds:
        return f"{phrase}; with that cap every limit holds."
    ways, missed = _ways(result, list(cells))
    if ways:
        comma = "," if len(ways) > 1 else ""
        message = f"{', or '.join(ways)}{comma} would do."
        return f"{phrase}. Instead, {message}" if phrase else message[0].upper() + message[1:]
    series, parallel = _tried_counts(result.design)
    most = f" What stands in the way most often: {missed}." if missed else ""
    message = (
        f"None of the cells known here would do with {parallel[0]} to {parallel[-1]} in parallel and "
        f"{series[0]} to {series[-1]} in series.{most}"
    )
    return f"{phrase}. {message}" if phrase else message


def _counts_near(count: Number, fewer: int, more: int) -> range:
    """Numbers of cells near one."""
    return range(max(1, int(count) - fewer), int(count) + more + 1)


def _tried_counts(design: Design[Any]) -> tuple[list[int], list[int]]:
    """Numbers of cells in series and in parallel that are tried: those that its packs can share evenly."""
    pack, joining = design.pack, design.joining
    series = _counts_near(pack.series, SERIES_EITHER_WAY, SERIES_EITHER_WAY)
    parallel = _counts_near(pack.parallel, FEWER_PARALLEL, MORE_PARALLEL)
    whole = {"series": list(series), "parallel": list(parallel)}
    if joining.several:
        whole[joining.joined] = [n for n in whole[joining.joined] if n % joining.packs == 0]
    return whole["series"], whole["parallel"]


def _is_sound(result: SizingResult) -> bool:
    """Whether no limit is broken and nothing says to stop; doubts and what is not checked left aside."""
    return not result.broken and not result.stops


def _sized(design: Design[Any]) -> SizingResult:
    """A design sized without its reference pack."""
    return size(replace(design, today=None))


def _burst_cap(result: SizingResult) -> _Cap:
    """The throttle cap that a broken burst current asks for, or the one that is set and takes the thrust."""
    broken = {limit.key for limit in result.broken}
    own = float(result.design.flight.throttle_cap_pct)
    asked_pct = float(result.point.throttle_cap_pct("burst"))
    cap_pct = (
        float(INPUTS["throttle_cap_pct"].number(asked_pct)) if np.isfinite(asked_pct) else np.nan
    )
    if "burst_cell_current" not in broken or not 0.0 < cap_pct < own:
        return _Cap(np.nan, None)
    capped = result.design.changed(throttle_cap_pct=cap_pct)
    steady = _sized(replace(capped, mission=()))
    holds = _is_sound(steady) and (not capped.mission or _is_sound(_sized(capped)))
    return _Cap(cap_pct, steady, holds)


def _cap_words(result: SizingResult, cap: _Cap) -> str:
    """What the burst current asks of the throttle, and what that leaves; empty where it asks nothing."""
    if cap.capped is None:
        return ""
    reserve, left = result.craft_type.reserve, float(cap.capped.point.reserve)
    words = reserve.label.partition(",")[0].removesuffix(" left at the end")
    asked = next((x.demand for x in cap.capped.broken if x.key == "thrust_to_weight"), None)
    wanted = "" if asked is None else f" ({float(asked):.2f} is asked for)"
    kept = (
        f"{reserve.text(left)} of {words}" if reserve.unit else f"a {words} of {reserve.text(left)}"
    )
    return (
        f"The burst current allows a throttle cap of {cap.cap_pct:.0f} % at most, which leaves "
        f"{kept}{wanted}"
    )


def _ways(result: SizingResult, cells: Sequence[Cell]) -> tuple[list[str], str]:
    """Changes that would do, the least first, and the limit that most packs tried break.

    More cells in parallel, a cell of a higher rating, other cells; another number in series only where
    none of these does.
    """
    design, own = result.design, result.design.pack.cell
    series, parallel = int(design.pack.series), int(design.pack.parallel)
    kinds = [own, *(cell for cell in cells if cell.name != own.name)]
    tried = _sweep(result, kinds, [series])
    found = tried.survivors()
    ways = []
    same_cell = _first(design, (one for one in found if one.cell == own.name), "parallel")
    if same_cell is not None:
        cap = _cap_of_candidate(design, same_cell)
        here = same_cell.parallel == parallel
        ways.append(
            cap.removeprefix(" with ").strip() if here else f"P = {same_cell.parallel}{cap}"
        )
    rating = "" if result.mission else _burst_rating(result)
    if rating:
        ways.append(rating)
    names = list(islice(_names(design, found), CELLS_NAMED))
    if names:
        ways.append(f"{_alternatives(names)} in place of {own.name}")
    other = None
    if same_cell is None and not names:
        other = _first(design, (one for one in found if one.cell != own.name), "pack_mass_g")
        if other is None:
            away = [count for count in _tried_counts(design)[0] if count != series]
            other = _first(design, _sweep(result, kinds, away).survivors(), "pack_mass_g")
    if other is not None:
        ways.append(
            f"{other.series}S{other.parallel}P of {other.cell}{_cap_of_candidate(design, other)} "
            f"({RESULTS['endurance_min'].text(other.endurance_min)}, a pack of "
            f"{RESULTS['pack_mass_g'].text(other.pack_mass_g)})"
        )
    return ways, _most_broken(tried, result)


def _sweep(result: SizingResult, cells: Sequence[Cell], series: Sequence[int]) -> Sweep:
    """Packs that are near, each with the design's own throttle cap and with others; so few are quicker on one core."""
    design, kind = result.design, result.craft_type.name
    own = float(design.flight.throttle_cap_pct)
    table = design.craft.table
    helps = kind == "multirotor" or not CAPPED.isdisjoint(limit.key for limit in result.broken)
    capped = helps and table is not None and table.has_throttle
    asked_pct = float(result.point.throttle_cap_pct("burst")) if capped else np.nan
    by_burst = {float(np.floor(asked_pct))} if asked_pct >= 1.0 else set()
    caps = sorted({own, *by_burst, *CAPS_PCT[kind]}, reverse=True)
    _, within = _tried_counts(design)
    axes = {"throttle_cap_pct": caps} if capped else {}
    return sweep(replace(design, today=None), cells, series, within, axes=axes, threads=1)


def _alternatives(names: Sequence[str]) -> str:
    """Names of which one will do."""
    *others, last = names
    return f"{', '.join(others)} or {last}" if others else last


def _most_broken(tried: Sweep, result: SizingResult) -> str:
    """The limit that the packs tried break most often, of those that the design breaks; empty where none is."""
    own = {limit.key for limit in result.broken} | set(stop_keys(result.design, result.point))
    counts = {
        limit.name: int(tried.columns["broken"][:, k].sum())
        for k, limit in enumerate(tried.limits)
        if limit.key in own
    }
    worst = max(counts, key=lambda name: counts[name], default="")
    return worst if counts.get(worst) else ""


def _ordered(
    design: Design[Any], found: Iterable[Candidate], by: str, key: str
) -> tuple[Candidate, ...]:
    """Candidates by a figure, the least changed cap first; of those of one key only the first."""
    own = float(design.flight.throttle_cap_pct)
    firsts: dict[Any, Candidate] = {}
    for one in sorted(
        found, key=lambda one: (getattr(one, by), _cap_pct(one) != own, -_cap_pct(one))
    ):
        firsts.setdefault(getattr(one, key), one)
    return tuple(firsts.values())


def _first(design: Design[Any], found: Iterable[Candidate], by: str) -> Candidate | None:
    """The first of some candidates, ordered by a figure, with which all of it holds when it is sized."""
    tried = _ordered(design, found, by, "key")[:MOST_SIZED]
    return next((one for one in tried if _is_sound(_sized(one.design))), None)


def _names(design: Design[Any], found: Iterable[Candidate]) -> Iterator[str]:
    """Other cells that would do in the same number, lightest pack first."""
    parallel, own = int(design.pack.parallel), design.pack.cell.name
    same = (one for one in found if one.parallel == parallel and one.cell != own)
    for one in _ordered(design, same, "pack_mass_g", "cell"):
        if _is_sound(_sized(one.design)):
            yield f"{one.cell}{_cap_of_candidate(design, one)}"


def _cap_pct(one: Candidate) -> float:
    return float(one.design.flight.throttle_cap_pct)


def _cap_of_candidate(design: Design[Any], one: Candidate) -> str:
    """The throttle cap that goes with a candidate, in words; empty where it is the design's own."""
    cap = _cap_pct(one)
    if cap == float(design.flight.throttle_cap_pct):
        return ""
    return " without a throttle cap" if cap >= 100.0 else f" with a throttle cap of {cap:.0f} %"


def _burst_rating(result: SizingResult) -> str:
    """The least burst rating with which the same cell would do, in words; empty where none does."""
    own = result.design.pack.cell
    low, high = int(own.burst_a), int(np.ceil(MOST_RATING * own.burst_a))

    def holds(burst_a: int) -> bool:
        cell = replace(own, burst_a=float(burst_a))
        design = result.design.changed(cell=cell)
        asked_pct = float(operate(design).throttle_cap_pct("burst"))
        if np.isfinite(asked_pct):
            own_cap = float(design.flight.throttle_cap_pct)
            design = design.changed(throttle_cap_pct=min(own_cap, np.floor(asked_pct)))
        point = operate(design)
        broken = any(x.broken for x in limits(design, point, result.flights))
        return not broken and not stops(design, point)

    if not holds(high):
        return ""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return f"a cell of {high} A burst"
