"""Dealing measured cells into series groups so that the weakest group is as strong as it can be.

A series pack is empty when its weakest group is empty. What is sought, in this order: the largest
charge in the weakest group; the smallest spread between groups; equal resistance inside each group,
so that its cells share the current.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from time import monotonic

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workbook.bench.cell_inspection import MeasuredCells
from workbook.errors import Problem, refuse
from workbook.numbers import FloatArray
from workbook.working import Step, step

IntArray = NDArray[np.intp]

EXACT_CELLS = 16
"""Up to this many cells the search is finished by an exact solver, for a few seconds at most."""
_TINY_AH = 1e-9
_SECONDS = 5.0
"""Longest search; a few hundred cells take well under one."""
_DEALS = 200
"""Shuffles behind what cells give as they come."""


@dataclass(frozen=True)
class Dealt:
    """What one way of dealing the same good cells gives.

    Attributes:
        way: in words.
        weakest_ah: charge of the weakest group.
        gain_min: minutes that matching flies longer than this way; 0 for matching.
        gain_ah: charge that matching adds to it.
    """

    way: str
    weakest_ah: float
    gain_min: float
    gain_ah: float


@dataclass(frozen=True)
class Matching:
    """Cells dealt into groups.

    Attributes:
        groups: index of each cell, one row a group (S rows, P columns), each row ascending.
        left_out: index of the cells not used, ascending.
        group_ah: charge of each group, S figures.
        exact: whether weakest and spread are proven best (by the bound or by an exact solver).
    """

    groups: IntArray
    left_out: IntArray
    group_ah: FloatArray
    exact: bool

    @property
    def weakest_ah(self) -> float:
        """Charge of the weakest group: the pack's."""
        return float(self.group_ah.min())

    @property
    def spread_ah(self) -> float:
        """Strongest group less weakest."""
        return float(np.ptp(self.group_ah))

    @property
    def weakest_cell_ah(self) -> float:
        """Share of one cell in the weakest group: what a plan may count on of each."""
        return float(self.weakest_ah / self.groups.shape[1])


def weakest_bound_ah(capacity_ah: ArrayLike, series: int, parallel: int) -> float:
    """The most that the weakest group can hold, whatever the dealing.

    The least of three: the mean group of the S x P best cells (rounded down to the measuring step
    when every figure is a whole number of 0.1 mAh); the smallest of those cells with the P - 1 best
    (it sits in some group); for one cell a group, the S-th best.

    Source: the smallest of S sums is at most their mean.

    Example:
        >>> float(weakest_bound_ah([3.0, 2.9, 2.8, 2.7], 2, 2))
        5.7
    """
    best = np.sort(np.asarray(capacity_ah, float))[::-1][: series * parallel]
    mean = float(best.sum()) / series
    step = _measuring_step_ah(best)
    if step > 0.0:
        mean = np.floor(mean / step + 1e-6) * step
    smallest = float(best[-1] + best[: parallel - 1].sum())
    return float(min(mean, smallest))


def _measuring_step_ah(capacity_ah: FloatArray) -> float:
    """Largest step of which every figure is a multiple, 0.1 mAh or more; 0 when there is none."""
    tenths = np.round(capacity_ah * 1e4)
    if not np.allclose(capacity_ah * 1e4, tenths, rtol=0.0, atol=1e-6):
        return 0.0
    return float(np.gcd.reduce(tenths.astype(np.int64))) / 1e4


def _proven_best(deal: _Deal, bound_ah: float) -> bool:
    """Whether no dealing can beat this one: at the bound, and the sums as even as can be."""
    low, spread = deal.score()
    if low < bound_ah - _TINY_AH:
        return False
    step = _measuring_step_ah(deal.capacity) if np.all(deal.group >= 0) else 0.0
    return -spread <= step + _TINY_AH  # with every cell used the total is fixed


def sorted_deal(capacity_ah: ArrayLike, series: int, parallel: int) -> IntArray:
    """Sort by capacity, deal the best S x P cells round the groups like cards.

    Source: common practice, no source.

    Example:
        >>> sorted_deal([3.0, 2.9, 2.8, 2.7], 2, 2)
        array([[0, 2],
               [1, 3]])
    """
    order = np.argsort(-np.asarray(capacity_ah, float), kind="stable")[: series * parallel]
    return order.reshape(parallel, series).T


def random_weakest_ah(
    capacity_ah: ArrayLike, series: int, parallel: int, deals: int = _DEALS
) -> float:
    """Weakest group when cells go in as they come: mean over many shuffles.

    Example:
        Of the three ways to pair these, the weakest pair holds 5.5, 5.6 or 5.7 Ah:

        >>> float(random_weakest_ah([3.0, 2.9, 2.8, 2.7], 2, 2, deals=3000))
        5.6
    """
    capacity = np.asarray(capacity_ah, float)
    rng = np.random.default_rng(0)
    shuffled = rng.permuted(np.broadcast_to(capacity, (deals, capacity.size)), axis=1)
    groups = shuffled[:, : series * parallel].reshape(deals, series, parallel)
    return float(groups.sum(axis=2).min(axis=1).mean())


class _Deal:
    """A dealing under improvement: which group each cell is in (-1: left out), and the sums."""

    def __init__(self, capacity: FloatArray, group: IntArray, series: int) -> None:
        self.capacity = capacity
        self.group = group.copy()
        self.series = series
        self.sums = np.bincount(group[group >= 0], capacity[group >= 0], series)

    def copy(self) -> _Deal:
        return _Deal(self.capacity, self.group, self.series)

    def score(self) -> tuple[float, float]:
        """Weakest group, then the spread with its sign turned: larger is better."""
        low = float(self.sums.min())
        return low, low - float(self.sums.max())

    def swap(self, i: int, j: int) -> None:
        a, b = int(self.group[i]), int(self.group[j])
        self.group[i], self.group[j] = b, a
        change = self.capacity[j] - self.capacity[i]
        if a >= 0:
            self.sums[a] += change
        if b >= 0:
            self.sums[b] -= change

    def improve_from(self, a: int, sign: float) -> bool:
        """Best swap that raises (sign +1) the weakest group `a`, or lowers the strongest (-1).

        The swap is taken when group `a` moves the right way and the other group does not become
        worse than `a` was: that strictly betters the sorted list of sums, so it ends.
        """
        mine = np.flatnonzero(self.group == a)
        others = np.flatnonzero(self.group != a)
        if not others.size:  # one group of all there is
            return False
        gain = sign * (self.capacity[others][None, :] - self.capacity[mine][:, None])
        where = self.group[others]
        outside = where < 0
        gap = np.where(outside, np.inf, sign * (self.sums[where] - self.sums[a]))[None, :]
        # after the swap `a` is better by gain and the other worse by gain: the poorer of the two
        poorer = np.where(outside[None, :], gain, np.minimum(gain, gap - gain))
        best = int(np.argmax(poorer))
        row, column = divmod(best, others.size)
        if poorer[row, column] <= _TINY_AH:
            return False
        self.swap(int(mine[row]), int(others[column]))
        return True

    def improve(self, deadline: float) -> None:
        """Swap until neither the weakest can be raised nor the strongest lowered by one swap."""
        while monotonic() < deadline:
            if self.improve_from(int(np.argmin(self.sums)), 1.0):
                continue
            before = self.score()
            strongest = int(np.argmax(self.sums))
            kept = self.group.copy(), self.sums.copy()
            if not self.improve_from(strongest, -1.0):
                return
            if self.score()[0] < before[0] - _TINY_AH:  # a left-out cell may not cost the weakest
                self.group, self.sums = kept
                return


def _largest_first(capacity: FloatArray, series: int, parallel: int) -> IntArray:
    """Largest cell first into the group with the least charge that still has room."""
    group = np.full(capacity.size, -1, np.intp)
    sums = np.zeros(series)
    room = np.full(series, parallel)
    for cell in np.argsort(-capacity, kind="stable")[: series * parallel]:
        g = int(np.argmin(np.where(room > 0, sums, np.inf)))
        group[cell] = g
        sums[g] += capacity[cell]
        room[g] -= 1
    return group


def _snake(capacity: FloatArray, series: int, parallel: int) -> IntArray:
    """Sorted cells dealt forth and back."""
    order = np.argsort(-capacity, kind="stable")[: series * parallel].reshape(parallel, series)
    order[1::2] = order[1::2, ::-1]
    group = np.full(capacity.size, -1, np.intp)
    group[order] = np.arange(series)
    return group


def _rebalance_pair(deal: _Deal, a: int, b: int, rng: np.random.Generator) -> None:
    """Deal the cells of two groups anew between them: the best of many random halvings."""
    mine = np.flatnonzero((deal.group == a) | (deal.group == b))
    parallel = mine.size // 2
    trial = rng.permuted(np.broadcast_to(mine, (64, mine.size)), axis=1)
    half = deal.capacity[trial[:, :parallel]].sum(axis=1)
    best = trial[int(np.argmin(np.abs(2.0 * half - deal.sums[a] - deal.sums[b])))]
    deal.group[best[:parallel]], deal.group[best[parallel:]] = a, b
    deal.sums[a] = deal.capacity[best[:parallel]].sum()
    deal.sums[b] = deal.capacity[best[parallel:]].sum()


def _search(capacity: FloatArray, series: int, parallel: int, bound: float) -> _Deal:
    """Start from two good deals; swap; shake and swap again until the bound, time or patience."""
    deadline = monotonic() + _SECONDS
    rng = np.random.default_rng(0)
    candidates = []
    for start in (_largest_first, _snake):
        deal = _Deal(capacity, start(capacity, series, parallel), series)
        deal.improve(deadline)
        candidates.append(deal)
    best = max(candidates, key=_Deal.score)
    if series == 1 or parallel == 1:
        return best
    stale = 0
    while stale < 40 + 4 * series and monotonic() < deadline:
        if _proven_best(best, bound):
            break
        deal = best.copy()
        weakest = int(np.argmin(deal.sums))
        strongest = int(np.argmax(deal.sums))
        others = rng.permutation(series)[: min(series, 1 + int(rng.integers(3)))]
        for other in others:
            for extreme in (weakest, strongest):
                if other != extreme:
                    _rebalance_pair(deal, extreme, int(other), rng)
        deal.improve(deadline)
        before, after = best.score(), deal.score()
        if after[0] > before[0] + _TINY_AH or (
            after[0] >= before[0] - _TINY_AH and after[1] > before[1] + _TINY_AH
        ):
            best, stale = deal, 0
        else:
            stale += 1
    return best


def _solve_exactly(capacity: FloatArray, series: int, parallel: int) -> IntArray | None:
    """The best dealing by integer programming: first the weakest group, then the spread.

    x[i, g] is 1 when cell i is in group g. None when the solver ran out of time.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import block_array, csr_array, eye_array, kron

    n = capacity.size
    milliamp_hours = capacity * 1000.0
    one_home = kron(eye_array(n), np.ones((1, series)))
    full_groups = kron(np.ones((1, n)), eye_array(series))
    sums = kron(milliamp_hours[None, :], eye_array(series))
    blank = csr_array((n, 2))
    low = csr_array(np.tile([-1.0, 0.0], (series, 1)))
    high = csr_array(np.tile([0.0, -1.0], (series, 1)))
    rows = block_array(
        [[one_home, blank], [full_groups, csr_array((series, 2))], [sums, low], [sums, high]],
        format="csr",
    )
    lower = np.r_[
        np.zeros(n), np.full(series, parallel), np.zeros(series), np.full(series, -np.inf)
    ]
    upper = np.r_[np.ones(n), np.full(series, parallel), np.full(series, np.inf), np.zeros(series)]
    most = float(np.sort(milliamp_hours)[::-1][:parallel].sum())
    integrality = np.r_[np.ones(n * series), 0, 0]
    least = 0.0
    solution = None
    deadline = monotonic() + _SECONDS
    for cost in ((-1.0, 0.0), (0.0, 1.0)):  # raise the weakest; then, holding it, lower the top
        remaining_s = deadline - monotonic()
        if remaining_s <= 0.0:
            return None
        result = milp(
            np.r_[np.zeros(n * series), cost],
            constraints=LinearConstraint(rows, lower, upper),
            integrality=integrality,
            bounds=Bounds(
                np.r_[np.zeros(n * series), least, 0.0], np.r_[np.ones(n * series), most, most]
            ),
            options={"mip_rel_gap": 0.0, "time_limit": remaining_s},
        )
        if result.status != 0:
            return None
        solution = result.x[:-2].reshape(n, series) > 0.5
        least = float((milliamp_hours @ solution).min()) - 1e-3
    assert solution is not None
    return np.where(solution.any(axis=1), solution.argmax(axis=1), -1).astype(np.intp)


def _rounds(series: int) -> list[tuple[IntArray, IntArray]]:
    """Every pair of groups once, in rounds that use each group at most once (a tournament)."""
    seats = list(range(series + series % 2))
    half = len(seats) // 2
    rounds = []
    for _ in range(len(seats) - 1):
        pairs = [(a, b) for a, b in zip(seats[:half], seats[: half - 1 : -1], strict=True)]
        kept = np.array([p for p in pairs if max(p) < series], np.intp).reshape(-1, 2)
        rounds.append((kept[:, 0], kept[:, 1]))
        seats = [seats[0], seats[-1], *seats[1:-1]]
    return rounds


def _even_resistance(deal: _Deal, resistance: FloatArray) -> None:
    """Swap cells to bring like resistances together, keeping weakest and spread.

    The sum of squares inside groups falls by what the sum of (group total)^2 rises (P is one for
    all), so for a swap of i in a with j in b, e = R_j - R_i, the gain is 2 e (R_a - R_b + e).
    """
    deadline = monotonic() + _SECONDS
    low, high = deal.sums.min() - _TINY_AH, deal.sums.max() + _TINY_AH
    members = np.array([np.flatnonzero(deal.group == g) for g in range(deal.series)], np.intp)
    totals = resistance[members].sum(axis=1)
    threshold = 1e-9 * float(np.square(resistance[members]).sum())
    rounds = _rounds(deal.series)
    quiet = 0
    while rounds and quiet < len(rounds) and monotonic() < deadline:
        a, b = rounds[0]
        rounds = [*rounds[1:], rounds[0]]
        ours, theirs = members[a][:, :, None], members[b][:, None, :]
        change = deal.capacity[theirs] - deal.capacity[ours]
        e = resistance[theirs] - resistance[ours]
        sum_a = deal.sums[a][:, None, None] + change
        sum_b = deal.sums[b][:, None, None] - change
        gain = 2.0 * e * ((totals[a] - totals[b])[:, None, None] + e)
        gain[(np.minimum(sum_a, sum_b) < low) | (np.maximum(sum_a, sum_b) > high)] = -np.inf
        flat = gain.reshape(a.size, -1)
        best = flat.argmax(axis=1)
        quiet += 1
        for k in np.flatnonzero(flat[np.arange(a.size), best] > threshold):
            i, j = divmod(int(best[k]), members.shape[1])
            mine, other = int(members[a[k], i]), int(members[b[k], j])
            totals[a[k]] += e[k, i, j]
            totals[b[k]] -= e[k, i, j]
            members[a[k], i], members[b[k], j] = other, mine
            deal.swap(mine, other)
            quiet = 0


def _check_cells(
    capacity: FloatArray, series: int, parallel: int, resistance: FloatArray | None
) -> None:
    """Refuse what cannot be dealt, all in one error."""
    wrong: list[Problem] = []
    for name, count in (("series", series), ("parallel", parallel)):
        if not (float(count).is_integer() and count >= 1):
            wrong.append(Problem(f"{name} is {count:g}; a whole number from 1 is needed."))
    if not wrong and capacity.size < series * parallel:
        wrong.append(
            Problem(
                f"{capacity.size} cells are measured; {series} groups of {parallel} need "
                f"{series * parallel}."
            )
        )
    for name, unit, values in (("capacity", "Ah", capacity), ("resistance", "mΩ", resistance)):
        if values is None:
            continue
        for i in np.flatnonzero(~(np.isfinite(values) & (values > 0.0))):
            wrong.append(
                Problem(
                    f"{name} is {values[i]:g} {unit}; a figure above 0 is needed.", f"cell {i + 1}"
                )
            )
    if resistance is not None and resistance.size != capacity.size:
        wrong.append(
            Problem(f"{resistance.size} resistances for {capacity.size} cells; one each is needed.")
        )
    refuse(wrong)


def match(
    capacity_ah: ArrayLike,
    series: int,
    parallel: int,
    resistance_mohm: ArrayLike | None = None,
) -> Matching:
    """Deal measured cells into S groups of P, and say which to leave out.

    Args:
        capacity_ah: measured capacity of each cell, Ah, at least S x P of them.
        series: S, groups.
        parallel: P, cells in each group.
        resistance_mohm: measured resistance of each cell, one method for all; may be left out.

    Raises:
        InputError: too few cells, or a capacity or resistance that is not a number above zero.

    Source: number partitioning with equal counts. Start: largest first into the poorest group with
        room (Graham, SIAM J. Appl. Math. 17, 1969) and dealing forth and back; then pair swaps;
        small cases are finished exactly (scipy.optimize.milp).

    Example:
        Twelve cells as 4 groups of 3; the best spread, 2 mAh, is known from trying all 15400 ways.

        >>> mah = [3012, 2987, 2954, 3031, 2998, 2969, 3005, 2941, 3020, 2976, 2990, 3008]
        >>> matched = match(np.array(mah) / 1000, series=4, parallel=3)
        >>> round(matched.weakest_ah, 3), round(matched.spread_ah, 3), matched.exact
        (8.972, 0.002, True)
    """
    capacity = np.array(capacity_ah, float).ravel()
    resistance = None if resistance_mohm is None else np.array(resistance_mohm, float).ravel()
    _check_cells(capacity, series, parallel, resistance)
    series, parallel = int(series), int(parallel)

    bound = weakest_bound_ah(capacity, series, parallel)
    deal = _search(capacity, series, parallel, bound)
    exact = _proven_best(deal, bound)
    if not exact and capacity.size <= EXACT_CELLS:
        solved = _solve_exactly(capacity, series, parallel)
        if solved is not None:
            deal, exact = _Deal(capacity, solved, series), True
    if resistance is not None and series > 1:
        _even_resistance(deal, resistance)

    groups = np.array([np.flatnonzero(deal.group == g) for g in range(series)], np.intp)
    return Matching(groups, np.flatnonzero(deal.group < 0), capacity[groups].sum(axis=1), exact)


def deal_usable(
    cells: MeasuredCells, usable: Sequence[int], series: int, parallel: int
) -> Matching | None:
    """Deal those of some measured cells that have a capacity; None where they are too few.

    Args:
        cells: as measured; the groups hold places among them.
        usable: places of those that may be built in.
        series, parallel: of the pack.

    Example:
        >>> cells = MeasuredCells(tuple("abcde"), capacity_ah=[4.64, 4.63, 4.66, 4.65, 4.20])
        >>> sorted(deal_usable(cells, range(4), 2, 2).groups.tolist())
        [[0, 3], [1, 2]]
        >>> deal_usable(cells, range(4), 3, 2)  # too few
    """
    use = np.array([i for i in usable if np.isfinite(cells.capacity_ah[i])], np.intp)
    if use.size < series * parallel:
        return None
    mohm = cells.resistance_mohm[use]
    known = mohm if np.isfinite(mohm).all() else None
    dealt = match(cells.capacity_ah[use], series, parallel, known)
    return replace(dealt, groups=use[dealt.groups], left_out=use[dealt.left_out])


def three_ways(
    capacity_ah: ArrayLike, matched: Matching, minutes: Callable[[float], float]
) -> tuple[Dealt, ...]:
    """Matched groups beside sorted dealing and beside cells as they come.

    Args:
        capacity_ah: of the good cells, all that could be dealt.
        matched: their groups.
        minutes: minutes of flight from the charge of the weakest group.
    """
    capacity = np.asarray(capacity_ah, float)
    series, parallel = matched.groups.shape
    matched_ah, matched_min = matched.weakest_ah, minutes(matched.weakest_ah)
    dealt = capacity[sorted_deal(capacity, series, parallel)].sum(axis=1)
    others = {
        "sorted, dealt round": dealt.min().item(),
        "as they come": random_weakest_ah(capacity, series, parallel),
    }
    return (
        Dealt("matched", matched_ah, 0.0, 0.0),
        *(Dealt(way, ah, matched_min - minutes(ah), matched_ah - ah) for way, ah in others.items()),
    )


def weakest_steps(groups_ah: Sequence[Sequence[float]]) -> tuple[Step, ...]:
    """Working of a pack's charge from its cells: each group a sum, the pack its weakest group.

    Args:
        groups_ah: charge of each cell, one row a group.

    Example:
        >>> [round(s.result, 2) for s in weakest_steps([(4.7, 4.8), (4.6, 4.8)])]
        [9.5, 9.4, 9.4]
    """
    sums = [sum(row) for row in groups_ah]
    steps = [
        step(
            "group_number_ah",
            total,
            number=number,
            cells=" + ".join(f"{ah:.4g}" for ah in row),
        )
        for number, (row, total) in enumerate(zip(groups_ah, sums, strict=True), 1)
    ]
    weakest = step(
        "weakest_ah",
        min(sums),
        groups=", ".join(f"{total:.4g}" for total in sums),
    )
    return (*steps, weakest)
