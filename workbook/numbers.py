"""Number types and the few constants that everything shares."""

from __future__ import annotations

import copy
import dataclasses
import math
from collections.abc import Callable, Mapping
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from workbook.errors import Problem

FloatArray: TypeAlias = NDArray[np.float64]
Number: TypeAlias = float | FloatArray
"""A figure or an array of figures: everything in the computation takes either."""

STANDARD_GRAVITY_M_S2 = 9.80665
"""Source: ISO 80000-3; 3rd CGPM (1901)."""

JUST_ABOVE_0, FINITE = 5e-324, 1.7976931348623157e308
"""The least number above 0 and the largest below infinity, as ends of a range that leaves those out."""


Side: TypeAlias = Literal["down", "up", "nearest"]
"""Which way a printed figure is rounded, so that who relies on it errs on the safe side."""

SAME_FIGURE = 1e-9
"""A figure so near to a printed one, as a share of it, is that figure: arithmetic leaves no more."""


MOST_DECIMALS = 300
"""Decimals beyond which there is nothing to round: a power of ten still fits a float."""


def rounded(value: float, decimals: int, side: Side = "nearest") -> float:
    """A figure with so many decimals, rounded to one side; what is not finite stays.

    Args:
        value: a single figure.
        decimals: after the point, 0 or more.
        side: "down" for what there is (a time, a cap), "up" for what it takes (a mass, a voltage to
            land at), "nearest" where neither side is safer.

    Example:
        >>> rounded(68.97, 0, "down"), rounded(3.101, 2, "up"), rounded(4 * 3.6, 1, "down")
        (68.0, 3.11, 14.4)
    """
    if not math.isfinite(value) or decimals > MOST_DECIMALS:
        return float(value)
    if side == "nearest":
        return float(round(float(value), decimals)) + 0.0
    steps = float(value) * 10.0**decimals
    spare = SAME_FIGURE * max(1.0, abs(steps))
    whole = math.floor(steps + spare) if side == "down" else math.ceil(steps - spare)
    return whole / 10.0**decimals


def flat(*figures: Number) -> tuple[tuple[int, ...], FloatArray]:
    """Figures that go together, each as one row of numbers, and the shape that they have in common.

    Example:
        >>> flat(5.0, [[1.0], [2.0]])
        ((2, 1), array([[5., 5.],
               [1., 2.]]))
    """
    shape = np.broadcast_shapes(*map(np.shape, figures))
    rows = np.empty((len(figures), *shape))
    for row, figure in enumerate(figures):
        rows[row] = figure
    return shape, rows.reshape(len(figures), -1)


def held_once(figures: FloatArray) -> FloatArray:
    """Figures of which those that are all alike along an axis are held once along it, but along the first.

    What is worked out of them is then worked out once for all that share it.

    Example:
        >>> held_once(np.array([[1.0, 1.0], [2.0, 2.0]])).tolist(), held_once(np.zeros(2)).tolist()
        ([[1.0], [2.0]], [0.0, 0.0])
    """
    for axis in range(1, figures.ndim):
        one = figures.take([0], axis=axis)
        if (figures == one).all():
            figures = one
    return figures


def in_digits(
    value: float, digits: int = 4, side: Side = "nearest", beside: float | None = None
) -> str:
    """A figure in so many digits, whole where it has more before its point; a dash where there is none.

    Args:
        value: a single figure.
        digits: that count, 1 or more.
        side: as in `rounded`.
        beside: a greater figure that it is read against, which then has so many digits, and it as many decimals.

    Example:
        >>> (
        ...     in_digits(3.10049),
        ...     in_digits(3.1001, 4, "up"),
        ...     in_digits(10849.7, 4, "down"),
        ...     in_digits(-0.0),
        ...     in_digits(0.04586, 4, "up", beside=45.0),
        ... )
        ('3.1', '3.101', '10849', '0', '0.05')
    """
    if not math.isfinite(value):
        return "-"
    if value == 0:
        return "0"
    counted = max(abs(value), abs(beside or 0.0))
    after = max(0, digits - 1 - math.floor(math.log10(counted)))
    return np.format_float_positional(rounded(value, after, side) + 0.0, trim="-")


Ranges: TypeAlias = Mapping[str, tuple[Number | None, float, float, str]]
"""By name: a figure, None where it is left out, its lowest and highest value, and the range in words."""


def range_problems(given: Ranges, *, nan_passes: bool = False) -> list[Problem]:
    """A sentence for each figure with a value outside its range.

    Args:
        given: figures and their ranges.
        nan_passes: whether "unknown" is let through.

    Example:
        >>> bounds = (0.0, 1.0, "0 to 1")
        >>> [str(p) for p in range_problems({"share": (1.5, *bounds), "rest": (0.5, *bounds)})]
        ['share: 1.5 is not possible; 0 to 1 is needed.']
    """
    problems = []
    for name, (figure, low, high, right) in given.items():
        values = np.asarray([] if figure is None else figure, dtype=float)
        bad = (values < low) | (values > high)
        if not nan_passes:
            bad |= np.isnan(values)
        if bad.any():
            problems.append(
                Problem(f"{values[bad].flat[0]:g} is not possible; {right} is needed.", name)
            )
    return problems


PLAIN = frozenset({float, int, bool, str, type(None)})
"""Types of what is a plain figure or word already."""


def plain(value: Any) -> Any:
    """What the computation answers for one design, its arrays of one figure as plain numbers.

    Records in records and figures in tuples or dicts are made plain too; an array of many figures stays.

    Args:
        value: a record, a figure, or a tuple or dict of such.

    Returns:
        The same where nothing had to be changed, else a copy. Of any type for a type checker: the
        fields of a record are declared for figures and arrays alike.

    Example:
        >>> plain(np.asarray(3.5)), plain((np.float64(1.0), np.array([1.0, 2.0])))
        (3.5, (1.0, array([1., 2.])))
    """
    if type(value) in PLAIN:  # as most figures of a record are
        return value
    if isinstance(value, np.generic) or (isinstance(value, np.ndarray) and value.ndim == 0):
        return value.item()
    if type(value) is tuple:
        made = tuple(plain(part) for part in value)
        return value if all(a is b for a, b in zip(made, value, strict=True)) else made
    if type(value) is dict:
        return {key: plain(part) for key, part in value.items()}
    if not dataclasses.is_dataclass(value) or isinstance(value, type):
        return value
    changed = {
        field.name: made
        for field in dataclasses.fields(value)
        if (made := plain(getattr(value, field.name))) is not getattr(value, field.name)
    }
    if not changed:
        return value
    other = copy.copy(value)
    for name, part in changed.items():
        object.__setattr__(other, name, part)
    return other


def by_row(value: Any, count: int) -> Callable[[int], Any]:
    """Takes one of many designs, or what was worked out of them, from arrays of shape (count, 1).

    What a record has worked out and kept is taken along; whatever has another shape is the same for all.

    Args:
        value: a record, a figure, or a tuple of such.
        count: how many there are.

    Returns:
        From a row, 0 to count - 1, the same with single figures.

    Example:
        >>> take = by_row((np.array([[1.0], [2.0]]), np.array([7.0, 8.0])), 2)
        >>> take(1)
        (np.float64(2.0), array([7., 8.]))
    """
    takers: dict[int, _Taker | None] = {}
    whole = _taker(value, count, takers)
    return lambda row: value if whole is None else whole(row, {})


_Taker: TypeAlias = Callable[[int, dict[int, Any]], Any]
"""From a row and what was taken of it already."""


def _taker(value: Any, count: int, known: dict[int, _Taker | None]) -> _Taker | None:
    """How one row of a value is taken; None where it is the same in every row."""
    if isinstance(value, np.ndarray):
        return (lambda row, _: value[row, 0]) if value.shape == (count, 1) else None
    record = dataclasses.is_dataclass(value) and not isinstance(value, type)
    if type(value) is not tuple and not record:
        return None
    if id(value) in known:
        return known[id(value)]
    named = dict(enumerate(value)) if type(value) is tuple else vars(value)
    found = {name: _taker(part, count, known) for name, part in named.items()}
    parts = {name: take for name, take in found.items() if take is not None}

    def take(row: int, taken: dict[int, Any]) -> Any:
        if id(value) not in taken:
            rest = {name: part(row, taken) for name, part in parts.items()}
            if type(value) is tuple:
                taken[id(value)] = tuple(({**named, **rest}).values())
            else:
                taken[id(value)] = other = copy.copy(value)
                vars(other).update(rest)
        return taken[id(value)]

    known[id(value)] = take if parts else None
    return known[id(value)]
