"""A curve followed through a picture by its colour, from click to click, to a fraction of a pixel."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline
from scipy.ndimage import binary_closing, gaussian_filter1d, label, map_coordinates

from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.pictures.opening import Pixels

HOW_TO_ADD = (
    "Curves are not followed by this copy of the workbook: click point after point along the curve, or add the "
    "follower with pip install 'workbook[picture]'."
)
_NEAR_PX = 3
"""A click is taken to mean the strongest colour this near to it."""
_REACH_PX = 6.0
"""How far to each side of the path the line's middle is looked for."""
_MARGIN_PX = 6
"""How far beyond the box around two clicks the path between them may go: a discharge curve only falls, so that
between two clicks it stays in their box."""
_GAP_PX, _ISLAND_PX = 3, 60
"""Where a line is not seen for so long, something lies over it; and what is seen for less than the second between
two such gaps may be of a legend, and nothing is taken from it."""
_STRETCH_SEEN = 0.75
"""Where less of the way between two clicks is seen, nothing is taken from between them: a legend has lines too."""
_DARKER = 1.4
"""A line may stand out from the paper by so much more than where it was clicked."""
_STEPS_PX, _ALONG_PX = 4.0, 1.5
"""Width of the means along a path that even out its steps, and the noise of the picture."""
_ARM_PX = 10
_CORNER_DEG = 50.0
"""A line that turns by more from one arm to the next is no discharge curve, but a legend's frame."""
_SAME = 90.0
"""Distance of two colours (0 to 442, of red, green and blue) at which they are nothing like each other; half of
what lies between line and paper where that is less."""


@dataclass(frozen=True, eq=False)
class TracedCurve:
    """A curve in a picture.

    Attributes:
        pixels: its points, x and y, shape (n, 2), in order from left to right.
        seen: share of the way on which the curve's colour was seen; elsewhere something lies over it.
    """

    pixels: FloatArray
    seen: float


def can_follow() -> bool:
    """Whether there is a follower of curves.

    Example:
        >>> can_follow() in (True, False)
        True
    """
    try:
        import skimage.graph  # noqa: F401
    except ImportError:
        return False
    return True


def evened(picture: Pixels) -> Pixels:
    """A picture with the same paper everywhere: what a lamp at one side darkens is made as light as the rest.

    Example:
        >>> shaded = np.broadcast_to(np.linspace(120, 240, 300), (200, 300))
        >>> even = evened(np.stack([shaded] * 3, axis=2).astype(np.uint8))
        >>> bool(np.ptp(even) < 20)
        True
    """
    high, wide = picture.shape[:2]
    side = max(20, max(high, wide) // 24)
    blocks = [
        [
            np.median(picture[y : y + side, x : x + side].reshape(-1, 3), axis=0)
            for x in range(0, wide, side)
        ]
        for y in range(0, high, side)
    ]
    paper = np.maximum(np.array(blocks), 40.0)
    places = np.meshgrid(
        (np.arange(high) + 0.5) / side - 0.5, (np.arange(wide) + 0.5) / side - 0.5, indexing="ij"
    )
    near = np.stack(
        [map_coordinates(paper[..., c], places, order=1, mode="nearest") for c in range(3)], axis=2
    )
    even = np.clip(picture * (np.median(paper, axis=(0, 1)) / near), 0, 255)
    return np.asarray(even.astype(np.uint8))


def follow(picture: Pixels, clicks: Sequence[tuple[float, float]]) -> TracedCurve:
    """Follow a curve through clicks on it.

    Between two clicks it is the path of least cost, where a pixel costs more the less it has the
    curve's colour; then the middle of the line is found across the path, weighed by colour. What lies
    over the curve is survived by a click just before and one just after it.

    Args:
        picture: rows of columns of red, green and blue.
        clicks: x and y in pixels, two or more, in any order.

    Raises:
        InputError: fewer than two clicks, one outside the picture, no line there, or no follower installed.

    Source: least-cost path by Dijkstra's method (Numer. Math. 1, 269, 1959), as scikit-image has it.

    Example:
        >>> picture = np.full((60, 100, 3), 255, np.uint8)
        >>> picture[30:33, :] = (200, 0, 0)
        >>> float(follow(picture, [(5, 29), (90, 33)]).pixels[:, 1].mean().round(1))
        31.0
    """
    high, wide = picture.shape[:2]
    if len(clicks) < 2:
        raise InputError(f"the curve has {len(clicks)} clicks; two or more are needed.")
    for x, y in clicks:
        if not (0 <= x < wide and 0 <= y < high):
            raise InputError(f"the point at {x:.0f}, {y:.0f} lies outside the picture.")
    if not can_follow():
        raise InputError(HOW_TO_ADD)
    clicks = _along(clicks)
    paper = _paper(picture)
    strongest = [_nearest(picture, click, paper, away=True) for click in clicks]
    ink = np.median([_core(picture, spot, paper) for spot in strongest], axis=0)
    anchors = [_nearest(picture, click, ink, away=False) for click in clicks]
    same = min(_SAME, 0.5 * float(np.linalg.norm(ink - paper)))
    parts = [_path(picture, ink, same, a, b) for a, b in itertools.pairwise(anchors)]
    path = np.concatenate(parts)
    middle, good = _centred(picture, path, paper, ink, same)
    for part in np.split(np.arange(len(path)), np.cumsum([len(part) for part in parts])[:-1]):
        cornered = _has_corner(middle[part], good[part])
        good[part] = False if cornered else _without_islands(good[part])
    if good.sum() < 2:
        raise InputError("no line is seen along these clicks; click on the line itself.")
    return TracedCurve(_bridged(middle[good]), float(good.mean()))


def _along(clicks: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Clicks in order along a curve that only falls, or only rises, from left to right."""
    x, y = np.array(clicks).T
    down = 1.0 if np.sum((x - x.mean()) * (y - y.mean())) >= 0 else -1.0
    return sorted(clicks, key=lambda click: click[0] + down * click[1])


def _paper(picture: Pixels) -> FloatArray:
    """The colour that most of the picture has."""
    coarse = picture[::3, ::3].reshape(-1, 3) >> 3
    codes = coarse @ np.array([1024, 32, 1])
    most = np.bincount(codes).argmax()
    return np.asarray(picture[::3, ::3].reshape(-1, 3)[codes == most].mean(axis=0))


def _nearest(
    picture: Pixels, click: tuple[float, float], colour: FloatArray, *, away: bool
) -> tuple[int, int]:
    """The pixel nearest to a click that is far from a colour, or near to it; of those close by."""
    x, y = round(click[0]), round(click[1])
    high, wide = picture.shape[:2]
    xs = np.arange(max(0, x - _NEAR_PX), min(wide, x + _NEAR_PX + 1))
    ys = np.arange(max(0, y - _NEAR_PX), min(high, y + _NEAR_PX + 1))
    apart = np.linalg.norm(picture[np.ix_(ys, xs)] - colour, axis=2)
    fits = apart > 0.6 * apart.max() if away else apart < apart.min() + 0.3 * _SAME
    far = np.hypot(xs[None] - click[0], ys[:, None] - click[1])
    row, column = np.unravel_index(int(np.where(fits, far, np.inf).argmin()), far.shape)
    return int(xs[column]), int(ys[row])


def _core(picture: Pixels, spot: tuple[int, int], paper: FloatArray) -> FloatArray:
    """The colour in the middle of a line of which a pixel is known, which may lie at its soft edge."""
    x, y = spot
    near = picture[max(0, y - 1) : y + 2, max(0, x - 1) : x + 2].reshape(-1, 3)
    return np.asarray(near[np.linalg.norm(near - paper, axis=1).argmax()])


def _path(
    picture: Pixels, ink: FloatArray, same: float, start: tuple[int, int], stop: tuple[int, int]
) -> FloatArray:
    """Pixels, x and y, of the path of least cost between two."""
    from skimage.graph import route_through_array

    high, wide = picture.shape[:2]
    left = max(0, min(start[0], stop[0]) - _MARGIN_PX)
    right = min(wide, max(start[0], stop[0]) + _MARGIN_PX + 1)
    top = max(0, min(start[1], stop[1]) - _MARGIN_PX)
    bottom = min(high, max(start[1], stop[1]) + _MARGIN_PX + 1)
    part = picture[top:bottom, left:right].astype(float)
    unlike = np.minimum(np.linalg.norm(part - ink, axis=2) / same, 1.0)
    ends = [(y - top, x - left) for x, y in (start, stop)]
    route, _ = route_through_array(0.03 + unlike**2, ends[0], ends[1], geometric=True)
    return np.array(route, dtype=float)[:, ::-1] + (left, top)


def _centred(
    picture: Pixels, path: FloatArray, paper: FloatArray, ink: FloatArray, same: float
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """The path moved to the middle of the line, across its direction; and where a line is seen."""
    way = _evenly(path)
    ahead = np.gradient(way, axis=0)
    ahead /= np.maximum(np.linalg.norm(ahead, axis=1, keepdims=True), 1e-9)
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    steps = np.linspace(-_REACH_PX, _REACH_PX, 49)
    points = way[:, None, :] + steps[None, :, None] * across[:, None, :]
    places = [points[..., 1], points[..., 0]]
    seen = np.stack(
        [
            map_coordinates(picture[..., c].astype(float), places, order=1, mode="nearest")
            for c in range(3)
        ],
        axis=-1,
    )
    seen = gaussian_filter1d(seen, _ALONG_PX, axis=0)
    toward = ink - paper
    share = np.clip((seen - paper) @ toward / (toward @ toward), 0.0, _DARKER)
    beside = np.linalg.norm(seen - paper - share[..., None] * toward, axis=2)
    share = np.minimum(share, 1.0)
    weight = share * np.exp(-((beside / (0.5 * same)) ** 2))
    weight = np.where(weight > 0.15, weight, 0.0) * _joined(weight > 0.15)
    total = weight.sum(axis=1)
    width = np.median(total[total > 0]) if (total > 0).any() else 0.0
    good = (total > 0.6 * width) & (total < 2.5 * width)
    offset = (weight @ steps) / np.where(good, total, np.inf)
    return way + offset[:, None] * across, good


def _evenly(path: FloatArray) -> FloatArray:
    """A path without the steps from pixel to pixel; its ends stay."""
    ends = min(4 * round(_STEPS_PX), len(path) - 1)
    longer = np.pad(path, ((ends, ends), (0, 0)), mode="reflect", reflect_type="odd")
    return np.asarray(gaussian_filter1d(longer, _STEPS_PX, axis=0)[ends : len(longer) - ends])


def _without_islands(good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is seen between two clicks, without short stretches of it between two gaps; or only the clicks."""
    if good.mean() < _STRETCH_SEEN:
        return np.zeros_like(good)
    closed = binary_closing(good, np.ones(_GAP_PX), border_value=1)
    runs, count = label(closed)
    out = good.copy()
    for n in range(1, count + 1):
        places = np.flatnonzero(runs == n)
        if places[0] > 0 and places[-1] < len(good) - 1 and len(places) < _ISLAND_PX:
            out[places] = False
    return out


def _has_corner(line: FloatArray, good: NDArray[np.bool_]) -> bool:
    """Whether what is seen between two clicks turns a corner."""
    points = line[good]
    if len(points) <= 2 * _ARM_PX:
        return False
    before, after = (
        points[_ARM_PX:-_ARM_PX] - points[: -2 * _ARM_PX],
        points[2 * _ARM_PX :] - points[_ARM_PX:-_ARM_PX],
    )
    lengths = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    straight = lengths < (2 * _ARM_PX) ** 2  # no gap in an arm
    turned = np.sum(before * after, axis=1) < np.cos(np.radians(_CORNER_DEG)) * lengths
    return bool(np.any(turned & straight))


def _bridged(points: FloatArray) -> FloatArray:
    """Points with a smooth way over each gap, which goes on as the line does on both sides of it.

    Source: cubic Hermite interpolation.
    """
    chords = np.diff(points, axis=0)
    far = np.linalg.norm(chords, axis=1)
    out, start = [], 0
    for n in np.flatnonzero(far > 3 * _GAP_PX):
        ahead = _direction(points[: n + 1][::-1], -chords[n]) * -far[n]
        behind = _direction(points[n + 1 :], chords[n]) * far[n]
        over = CubicHermiteSpline([0.0, 1.0], points[n : n + 2], [ahead, behind])
        out += [points[start : n + 1], over(np.arange(1, int(far[n])) / far[n])]
        start = int(n) + 1
    return np.concatenate([*out, points[start:]])


def _direction(away: FloatArray, chord: FloatArray) -> FloatArray:
    """Unit vector along which a line goes away from a gap; the gap's own where too little of it is seen."""
    half = round(0.7 * _ARM_PX)
    near = away[3 : 3 + 2 * half]
    if len(near) < 2 * half or np.linalg.norm(near[-1] - away[0]) > 4 * half:
        along = chord
    else:
        along = near[half:].mean(axis=0) - near[:half].mean(axis=0)
    return np.asarray(along / np.linalg.norm(along))


def _joined(inked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Of each row, the run of ink that lies at or nearest to the middle: another line beside it is not meant."""
    runs, _ = label(inked, structure=[[0, 0, 0], [1, 1, 1], [0, 0, 0]])
    off_middle = np.abs(np.arange(inked.shape[1]) - inked.shape[1] // 2)
    nearest = np.where(inked, off_middle, np.inf).argmin(axis=1)
    return np.asarray(inked & (runs == np.take_along_axis(runs, nearest[:, None], axis=1)))
