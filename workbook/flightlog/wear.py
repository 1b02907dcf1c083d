"""A pack's wear by its book: its trends, when it is to be retired, what a flight costs, what to watch."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from workbook.battery.cell import HARD_FLOOR_V, OVERCHARGE_V
from workbook.battery.derating import (
    RETIRE_CAPACITY,
    RETIRE_RESISTANCE,
    cycles_to_retire,
    resistance_at_temperature,
)
from workbook.bench.cell_inspection import ARRIVAL_REJECT_V
from workbook.bench.procedure import MONTH_LOSS_V, SPREAD_EMPTY_MV, SPREAD_FULL_MV
from workbook.flightlog.book import Book, Event
from workbook.flightlog.proof import FAILS
from workbook.notices import notice
from workbook.numbers import FloatArray, rounded
from workbook.quantities import NOTED

LEAST_POINTS = 3
"""Measurements for a trend: with two there is a line and no measure of how sure it is."""
SURE_PCT = 95.0
SOON_CYCLES = 30.0
"""Full cycles ahead of its retirement at which a pack is to be watched. Common practice, no source."""
DRIFT_TIMES = 3
"""Times running that the same group is lowest before there is a notice. Common practice, no source."""
FULL_DAYS = 2
"""Days within which a pack is brought to storage voltage. Common practice, no source."""
LOOK_DAYS = 31
OVERCHARGED_V, MOST_CHARGE, HOTTEST_C = 4.2 + OVERCHARGE_V, 1.15, 60.0
"""A cell's voltage at rest, its charge over the rated one, and its temperature, above which a pack is tested before it
is used again. Common practice, no source; 60 °C is the usual limit of a datasheet in discharge."""
CAPACITY = {"capacity_ah", "charge_ah"}
"""Either of them is the capacity in a test, which clears a pack that may have been damaged only if it also measured
the resistance: harm may show in one alone. Common practice, no source."""
ODD_TIMES, ODD_FROM = 4.0, 4
"""A flight of so many times the usual one is looked at, from so many flights on. Common practice, no source."""
DAYS_A_YEAR = 365.25


@dataclass(frozen=True)
class Trend:
    """A straight line through what was measured of one quantity, over full cycles.

    Attributes:
        key: of the quantity.
        cycles, values: the measurements.
        first: on the line, at the first measurement.
        now, now_low, now_high: on the line, at the last cycle, with its interval.
        per_100: change in 100 cycles, with `per_100_low` and `per_100_high`.
        limit: value at which the pack retires.
        reached: cycles at which the line comes there, with `reached_low` and `reached_high`; infinite where it
            does not.
    """

    key: str
    cycles: FloatArray
    values: FloatArray
    first: float
    now: float
    now_low: float
    now_high: float
    per_100: float
    per_100_low: float
    per_100_high: float
    limit: float
    reached: float
    reached_low: float
    reached_high: float

    @property
    def beyond(self) -> bool:
        """Whether the line has come to the limit."""
        falls = NOTED[self.key].better == "high"
        return self.now <= self.limit if falls else self.now >= self.limit

    def line_at(self, cycles: ArrayLike) -> FloatArray:
        """The line at some cycles."""
        x = np.asarray(cycles, float)
        return np.asarray(self.first + self.per_100 / 100.0 * (x - self.cycles[0]))

    def text(self) -> str:
        """In one or two sentences."""
        quantity = NOTED[self.key]
        unit, places = quantity.unit, max(quantity.decimals, 1)

        def span(low: float, high: float) -> str:
            return f"{low:.{places}f} to {high:.{places}f}"

        text = (
            f"{quantity.label}: {self.first:.{places}f} {unit} at first, now {self.now:.{places}f} {unit} "
            f"({span(self.now_low, self.now_high)}); in 100 full cycles {self.per_100:+.{places}f} {unit} "
            f"({span(self.per_100_low, self.per_100_high)}), from {self.values.size} measurements."
        )
        return f"{text} {self._reached_text()}"

    def _reached_text(self) -> str:
        quantity = NOTED[self.key]
        limit = f"{self.limit:.{max(quantity.decimals, 1)}f} {quantity.unit}"
        if self.beyond:
            return f"The retiring rule, {limit}, is reached."
        low, high = self.reached_low, self.reached_high
        if not math.isfinite(self.reached):
            least = f" not before {low:.0f} full cycles" if math.isfinite(low) else ""
            return f"No wear shows yet; the retiring rule, {limit}, is reached{least or ' later'}."
        latest = f"{high:.0f}" if math.isfinite(high) else "many more"
        return (
            f"It reaches the retiring rule, {limit}, at about {self.reached:.0f} full cycles "
            f"({low:.0f} to {latest})."
        )


def trend(
    key: str,
    cycles: ArrayLike,
    values: ArrayLike,
    *,
    share: float = 0.0,
    limit: float = 0.0,
    now: float | None = None,
) -> Trend | None:
    """The straight line through measurements, and where it comes to the retiring rule.

    Args:
        key: of the quantity.
        cycles: full cycles at each measurement, the fewest first.
        values: what was measured.
        share: the rule as a share of the line's first value; 0 where the rule is a figure.
        limit: the rule as a figure; 0 where it is a share.
        now: cycles up to now; the last measurement's where left out.

    Returns:
        The trend with intervals of 95 %, of the line's mean; None with fewer than three measurements, or all at
        the same cycle.

    Source: least squares, Student's t (Gosset 1908); where the line comes to the rule: Fieller, Journal of the
        Royal Statistical Society B 16 (1954), which holds exactly for normal errors.

    Example:
        >>> found = trend("resistance_mohm", [0, 50, 100, 150], [40.0, 42.6, 44.9, 47.5], share=1.5)
        >>> round(found.per_100, 1), round(found.reached), round(found.reached_high)
        (5.0, 404, 439)
    """
    from scipy.special import stdtrit

    x, y = np.asarray(cycles, float), np.asarray(values, float)
    if x.size < LEAST_POINTS or np.ptp(x) <= 0.0:
        return None
    count, mean_x, mean_y = x.size, float(x.mean()), float(y.mean())
    square = float(((x - mean_x) ** 2).sum())
    slope = float(((x - mean_x) * (y - mean_y)).sum() / square)
    residuals = y - mean_y - slope * (x - mean_x)
    sigma = math.sqrt(float((residuals**2).sum()) / (count - 2))
    width = float(stdtrit(count - 2, 0.5 + SURE_PCT / 200.0)) * sigma
    start = float(x[0])
    first = mean_y + slope * (start - mean_x)
    last = float(x[-1]) if now is None else max(now, float(x[-1]))
    at_now = mean_y + slope * (last - mean_x)
    half = width * math.sqrt(1.0 / count + (last - mean_x) ** 2 / square)
    half_slope = width / math.sqrt(square)
    rule = share * first + limit
    # at the rule: (1 - share) mean + slope u - limit = 0, u = x - mean_x - share (first x - mean_x)
    level = (1.0 - share) * mean_y - limit
    low, high = _crossing(slope, level, half_slope, width * abs(1.0 - share) / math.sqrt(count))
    moved = mean_x + share * (start - mean_x)
    wearing = slope * (rule - first) > 0.0
    reached = moved - level / slope if wearing else math.inf
    if not wearing and math.isfinite(high):
        low = high = math.inf  # surely the other way
    return Trend(
        key=key,
        cycles=x,
        values=y,
        first=first,
        now=at_now,
        now_low=at_now - half,
        now_high=at_now + half,
        per_100=100.0 * slope,
        per_100_low=100.0 * (slope - half_slope),
        per_100_high=100.0 * (slope + half_slope),
        limit=rule,
        reached=reached,
        reached_low=max(low + moved, start),
        reached_high=high + moved,
    )


def _crossing(
    slope: float, level: float, half_slope: float, half_level: float
) -> tuple[float, float]:
    """The least and the greatest u at which level + slope u may be 0 (Fieller); infinite where there is none."""
    a, b = slope**2 - half_slope**2, slope * level
    inside = half_level**2 * a + half_slope**2 * level**2
    if inside < 0.0:
        return -math.inf, math.inf
    root = math.sqrt(inside)
    if a > 0.0:
        return (-b - root) / a, (-b + root) / a
    if a == 0.0:
        return -math.inf, math.inf
    return (-b - root) / a, math.inf  # the greater one: a is below 0


RETIRING_RULES = {
    "resistance_mohm": {"share": RETIRE_RESISTANCE},
    "capacity_ah": {"share": RETIRE_CAPACITY},
    "spread_empty_mv": {"limit": SPREAD_EMPTY_MV},
    "spread_full_mv": {"limit": SPREAD_FULL_MV},
}
"""What is followed over the years, and at which share of its first value, or figure, the pack retires."""


@dataclass(frozen=True)
class Life:
    """The state of a pack in its life.

    Attributes:
        book: what it was read from.
        day: on which it is looked at.
        flights, minutes: flown so far.
        cycles: full cycles so far.
        years: since it was built, or since the first line.
        trends: of what was measured three times or more.
        cycles_left: until the first trend comes to its rule; by the usual wear where there is none yet.
        by_trend: whether that comes from a trend.
        cost: price over flights so far; whole_life_cost: over all flights until it retires; None without a price.
        stops: why it must not be charged or flown.
        watch: what to look at.
        taken: what was taken as read.
    """

    book: Book
    day: datetime.date
    flights: int
    minutes: float
    cycles: float
    years: float
    trends: tuple[Trend, ...]
    cycles_left: float
    by_trend: bool
    cost: float | None
    whole_life_cost: float | None
    stops: tuple[str, ...]
    watch: tuple[str, ...]
    taken: tuple[str, ...]

    @property
    def flights_left(self) -> float:
        """Until it retires, flown as so far; NaN before the first flight."""
        return (
            self.cycles_left * self.flights / self.cycles
            if self.flights and self.cycles
            else math.nan
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        keys = [f.name for f in fields(Trend) if f.name not in ("cycles", "values")]
        return {
            "book": self.book.name,
            "flights": self.flights,
            "minutes": self.minutes,
            "full_cycles": self.cycles,
            "years": self.years,
            "trends": [{key: getattr(one, key) for key in keys} for one in self.trends],
            "cycles_left": self.cycles_left,
            "flights_left": self.flights_left,
            "by_trend": self.by_trend,
            "cost_a_flight": self.cost,
            "cost_a_flight_then": self.whole_life_cost,
            "stops": list(self.stops),
            "watch": list(self.watch),
            "taken": list(self.taken),
            "notices": [str(notice) for notice in self.book.notices],
        }


def life(book: Book, day: datetime.date | None = None) -> Life:
    """The state of a pack in its life, by its book.

    Args:
        book: as read.
        day: to look at it from; today where left out.

    Source: retiring rule and usual wear: `workbook.battery.derating`, common practice, no source; resistance is
        brought to 25 C by the same module where a line states the temperature.

    Example:
        >>> from workbook.flightlog.book import parse_book
        >>> book = parse_book('''# The book of a pack
        ... 2026-05-01 built: rated capacity 12 Ah, price 180 [aaaaaaaa]
        ... 2026-05-03 flown: time 14 min, charge 6.1 Ah [bbbbbbbb]
        ... 2026-05-04 knocked; off the bench [cccccccc]''')
        >>> found = life(book, datetime.date(2026, 5, 4))
        >>> found.flights, round(found.cycles, 2), len(found.stops)
        (1, 0.51, 1)
    """
    day = day or datetime.date.today()
    taken: list[str] = []
    cycles = _cycles(book, taken)
    total = float(cycles[-1]) if cycles.size else 0.0
    flown = book.of("flown")
    years = (day - book.events[0].day).days / DAYS_A_YEAR if book.events else 0.0
    years = max(years, 0.0)
    trends = tuple(_trends(book, cycles, total, taken))
    wearing = [one for one in trends if one.key in ("resistance_mohm", "capacity_ah")]
    reached = [one.reached for one in wearing if math.isfinite(one.reached)]
    usual = float(cycles_to_retire(years))
    cycles_left = max((min(reached) if reached else usual) - total, 0.0)
    price = book.stated("price")
    flights = len(flown)
    flights_in_all = flights + (cycles_left * flights / total if total else 0.0)
    return Life(
        book=book,
        day=day,
        flights=flights,
        minutes=sum(event.figures.get("time_min", 0.0) for event in flown),
        cycles=total,
        years=years,
        trends=trends,
        cycles_left=cycles_left,
        by_trend=bool(reached),
        cost=price / flights if price is not None and flights else None,
        whole_life_cost=price / flights_in_all if price is not None and flights_in_all else None,
        stops=tuple(_stops(book, trends)),
        watch=tuple(_watch(book, trends, cycles_left, day)),
        taken=tuple(taken),
    )


def _cycles(book: Book, taken: list[str]) -> FloatArray:
    """Full cycles after each event.

    What is flown or tested is charged again: a line for that charge is not counted twice, the larger of the two is.
    """
    full_ah = book.stated("rated_ah") or book.stated("capacity_ah")
    if full_ah is None and book.of("flown", "charged"):
        taken.append(notice("wear", "no_capacity"))
    blank = [e for e in book.of("flown") if "charge_ah" not in e.figures]
    if blank and full_ah is not None:
        taken.append(notice("wear", "no_charge", count=len(blank)))
    done = since = 0.0
    after = []
    for event in book.events:
        charge_ah = event.figures.get("charge_ah")
        share = 1.0 if full_ah is None or charge_ah is None else charge_ah / full_ah
        if event.kind == "charged":
            done, since = done + max(share, since), 0.0
        elif event.kind == "flown" or (event.kind == "tested" and charge_ah is not None):
            since += share
        after.append(done + since)
    return np.asarray(after)


def _trends(book: Book, cycles: FloatArray, total: float, taken: list[str]) -> Iterator[Trend]:
    for key, rule in RETIRING_RULES.items():
        rows = [(c, e) for c, e in zip(cycles, book.events, strict=True) if key in e.figures]
        values = [event.figures[key] for _, event in rows]
        if key == "resistance_mohm" and len(rows) >= LEAST_POINTS:
            values = _at_25_c([event for _, event in rows], taken)
        found = trend(key, [c for c, _ in rows], values, now=total, **rule)
        if found is not None:
            yield found


def _at_25_c(events: list[Event], taken: list[str]) -> list[float]:
    """Resistance at 25 C where every line states its temperature, else as measured."""
    values = [event.figures["resistance_mohm"] for event in events]
    felt_c = [event.figures.get("temperature_c") for event in events]
    known_c = [celsius for celsius in felt_c if celsius is not None]
    if len(known_c) == len(values):
        taken.append(notice("wear", "at_25_c"))
        return list(np.asarray(values) / resistance_at_temperature(np.asarray(known_c)))
    taken.append(notice("wear", "any_temperature"))
    return values


def _rest_cell_v(event: Event, series: float | None) -> float:
    """Voltage at rest of the lowest group, or of a cell in the mean; NaN where neither is known."""
    volts = [event.figures.get("low_cell_v", math.nan)]
    if series is not None:
        volts.append(event.figures.get("rest_v", math.nan) / series)
    return float(np.fmin.reduce(volts))


def _harm(event: Event, book: Book) -> Iterator[tuple[str, str]]:
    """What at an event may have damaged a pack until a test shows that it has not: its kind, and in words."""
    series, rated_ah = book.stated("series"), book.stated("rated_ah")
    loaded_v, hot_c = event.figures.get("loaded_v"), event.figures.get("temperature_c", -math.inf)
    charge_ah, rest_v = event.figures.get("charge_ah", 0.0), _rest_cell_v(event, series)
    if event.kind == "knocked":
        yield (
            "knocked",
            notice(
                "wear", "knocked", event=event, words=f" ({event.words})" if event.words else ""
            ),
        )
    if rest_v > OVERCHARGED_V:
        cell_v = rounded(rest_v, 2, "up")
        yield "full", notice("wear", "too_full", event=event, cell_v=cell_v, most_v=OVERCHARGED_V)
    if rated_ah is not None and charge_ah > MOST_CHARGE * rated_ah:
        yield (
            "charge",
            notice("wear", "too_much", event=event, charge_ah=charge_ah, rated_ah=rated_ah),
        )
    if (
        event.kind == "flown"
        and loaded_v is not None
        and series is not None
        and loaded_v / series < HARD_FLOOR_V
    ):
        cell_v = rounded(loaded_v / series, 2, "down")
        yield "low", notice("wear", "too_low", event=event, cell_v=cell_v, floor_v=HARD_FLOOR_V)
    if hot_c > HOTTEST_C:
        yield (
            "hot",
            notice("wear", "too_hot", event=event, hot_c=rounded(hot_c, 0, "up"), most_c=HOTTEST_C),
        )


def _clears(event: Event) -> bool:
    """Whether an event is a test that measured enough to use a pack again that may have been damaged."""
    measured = "resistance_mohm" in event.figures and CAPACITY & event.figures.keys()
    return event.kind == "tested" and bool(measured) and not event.words.startswith(FAILS)


def _stops(book: Book, trends: tuple[Trend, ...]) -> Iterator[str]:
    """Why a pack must not be charged or flown; the unsafe first."""
    low = [(event, _rest_cell_v(event, book.stated("series"))) for event in book.events]
    low = [(event, low_v) for event, low_v in low if low_v < ARRIVAL_REJECT_V]
    if low:
        event, low_v = low[0]
        low_v = rounded(low_v, 2, "down")
        yield notice("wear", "stood_low", event=event, low_v=low_v, reject_v=ARRIVAL_REJECT_V)
    tests = book.of("tested")
    if tests and tests[-1].words.startswith(FAILS):
        yield notice("wear", "not_accepted", event=tests[-1])
    harm: dict[str, str] = {}
    for event in book.events:
        found = dict(_harm(event, book))
        if not found and _clears(event):
            harm.clear()
        harm |= found
    yield from harm.values()
    retired = book.of("retired")
    if retired:
        used = [e for e in book.of("flown", "charged") if e.day > retired[0].day]
        if used:
            yield notice("wear", "used_after", event=retired[0], used=used[0])
        else:
            yield notice("wear", "retired", event=retired[0])
    for one in trends:
        if one.beyond and one.key in ("resistance_mohm", "capacity_ah"):
            yield notice("wear", "worn", one=one, quantity=NOTED[one.key])


def _watch(
    book: Book, trends: tuple[Trend, ...], cycles_left: float, day: datetime.date
) -> Iterator[str]:
    """What to look at next."""
    if book.of("retired") or not book.events:
        return
    if 0.0 < cycles_left < SOON_CYCLES:
        yield notice("wear", "few_cycles", left=rounded(cycles_left, 0, "down"))
    if not cycles_left and not any(one.beyond for one in trends):
        yield notice("wear", "at_its_end")
    for one in trends:
        if one.key.startswith("spread") and one.beyond:
            yield notice("wear", "spread", one=one, quantity=NOTED[one.key])
    groups = [int(e.figures["low_group"]) for e in book.events if "low_group" in e.figures]
    if len(groups) >= DRIFT_TIMES and len(set(groups[-DRIFT_TIMES:])) == 1:
        yield notice("wear", "same_group", group=groups[-1], times=DRIFT_TIMES)
    yield from _odd_flights(book)
    yield from _storage(book, day)


def _odd_flights(book: Book) -> Iterator[str]:
    """Flights that are so much longer than the others that their line may be mistyped."""
    flown = [event for event in book.of("flown") if "time_min" in event.figures]
    times_min = [event.figures["time_min"] for event in flown]
    usual_min = float(np.median(times_min)) if len(flown) >= ODD_FROM else math.inf
    for event, time_min in zip(flown, times_min, strict=True):
        if time_min > ODD_TIMES * usual_min:
            yield notice("wear", "odd_flight", event=event, time_min=time_min, usual_min=usual_min)


def _storage(book: Book, day: datetime.date) -> Iterator[str]:
    last = book.of("charged", "flown", "tested", "stored")[-1:]
    days = (day - last[0].day).days if last else 0
    if last and last[0].kind != "stored" and days > FULL_DAYS:
        yield notice("wear", "not_stored", kind=last[0].kind.capitalize(), event=last[0])
    if last and last[0].kind == "stored" and days > LOOK_DAYS:
        yield notice("wear", "look_again", event=last[0])
    series = book.stated("series")
    stood = [e for e in book.events if e.kind in ("charged", "flown", "stored")][-2:]
    if series is None or len(stood) < 2 or any(e.kind != "stored" for e in stood):
        return
    first, second = stood
    if "rest_v" not in first.figures or "rest_v" not in second.figures:
        return
    months = max((second.day - first.day).days / (DAYS_A_YEAR / 12.0), 1.0)
    fell = (first.figures["rest_v"] - second.figures["rest_v"]) / series
    if fell > MONTH_LOSS_V * months:
        fell_mv, most_mv = 1000 * fell, 1000 * MONTH_LOSS_V
        yield notice("wear", "leaks", fell_mv=fell_mv, first=first, then=second, most_mv=most_mv)
