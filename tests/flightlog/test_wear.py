"""What a book says of a pack's wear: trends with honest intervals, the retiring rule, what is unsafe."""

from __future__ import annotations

import datetime
import math

import numpy as np
import pytest
from scipy import stats

from workbook.battery.derating import cycles_to_retire
from workbook.flightlog.book import HEAD, Book, parse_book
from workbook.flightlog.wear import Life, Trend, life, trend

DAY = datetime.date(2026, 9, 1)


def book(*lines: str) -> Book:
    marked = [f"{line} [mark{n:04d}]" for n, line in enumerate(lines)]
    return parse_book("\n".join((HEAD, *marked)), "heron.txt")


def seen(*lines: str, day: datetime.date = DAY) -> Life:
    found = life(book(*lines), day)
    assert found.book.notices == ()
    return found


def measured(values: list[float], key: str = "resistance_mohm", **rule: float) -> Trend:
    found = trend(key, np.linspace(0.0, 150.0, len(values)), values, **(rule or {"share": 1.5}))
    assert found is not None
    return found


def test_the_line_and_its_interval_are_those_of_another_library() -> None:
    rng = np.random.default_rng(3)
    x = np.linspace(0.0, 200.0, 12)
    y = 40.0 + 0.05 * x + rng.normal(0.0, 1.0, 12)
    found = trend("resistance_mohm", x, y, share=1.5)
    fit = stats.linregress(x, y)  # scipy.stats.linregress
    half = float(stats.t.ppf(0.975, 10)) * fit.stderr
    assert found is not None
    assert found.per_100 == pytest.approx(100.0 * fit.slope)
    assert found.per_100_high == pytest.approx(100.0 * (fit.slope + half))
    assert found.first == pytest.approx(fit.intercept)
    at_zero = float(stats.t.ppf(0.975, 10)) * fit.intercept_stderr
    turned = trend("resistance_mohm", 200.0 - x[::-1], y[::-1], share=1.5)
    assert turned is not None
    assert turned.now == pytest.approx(fit.intercept)
    assert turned.now_high - turned.now == pytest.approx(at_zero)


@pytest.mark.parametrize(
    ("key", "per_cycle", "start", "noise", "share"),
    [("resistance_mohm", 0.05, 40.0, 1.0, 1.5), ("capacity_ah", -0.006, 12.0, 0.1, 0.8)],
)
def test_nineteen_intervals_in_twenty_hold_the_cycle_at_which_it_retires(
    key: str, per_cycle: float, start: float, noise: float, share: float
) -> None:
    """The truth is known here: share x start is reached at (share - 1) start / slope: 400 full cycles."""
    truth = (share - 1.0) * start / per_cycle
    assert truth == pytest.approx(400.0)
    rng, held, held_now = np.random.default_rng(11), 0, 0
    x = np.linspace(0.0, 120.0, 15)
    for _ in range(400):
        found = trend(key, x, start + per_cycle * x + rng.normal(0.0, noise, x.size), share=share)
        assert found is not None
        held += found.reached_low <= truth <= found.reached_high
        held_now += found.now_low <= start + per_cycle * 120.0 <= found.now_high
    assert 0.92 * 400 <= held <= 0.98 * 400
    assert 0.92 * 400 <= held_now <= 0.98 * 400


def test_without_noise_the_rule_is_reached_where_the_line_comes_to_it() -> None:
    found = measured([40.0, 42.5, 45.0, 47.5])  # 5 in 100 cycles: 20 more take 400
    assert (found.reached, found.reached_low, found.reached_high) == pytest.approx((400.0,) * 3)
    assert "at about 400 full cycles" in found.text()


def test_a_pack_that_does_not_wear_yet_is_not_promised_for_ever() -> None:
    found = measured([40.0, 40.3, 39.8, 40.1, 39.9])
    assert math.isinf(found.reached)
    assert math.isinf(found.reached_high)
    assert math.isfinite(found.reached_low)
    assert "No wear shows yet" in found.text()
    assert "not before" in found.text()


def test_scatter_with_a_slight_rise_leaves_the_end_open() -> None:
    found = measured([40.0, 41.5, 39.5, 41.0])
    assert math.isinf(found.reached_high)
    assert "to many more" in found.text()


def test_two_measurements_are_no_trend() -> None:
    assert trend("capacity_ah", [0, 50], [12.0, 11.8], share=0.8) is None
    assert trend("capacity_ah", [20, 20, 20], [12.0, 11.8, 11.9], share=0.8) is None


def test_a_charge_after_a_flight_is_not_counted_twice() -> None:
    found = seen(
        "2026-05-01 built: rated capacity 12 Ah",
        "2026-05-02 flown: charge 6 Ah",
        "2026-05-02 charged: charge 6.12 Ah",
        "2026-05-03 charged: charge 3 Ah",
        "2026-05-04 flown: charge 6 Ah",
    )
    assert found.cycles == pytest.approx((6.12 + 3.0 + 6.0) / 12.0)
    assert found.flights == 2


def test_without_a_charge_or_a_capacity_a_flight_is_a_full_cycle_with_a_notice() -> None:
    found = seen("2026-05-02 flown: charge 6 Ah", "2026-05-03 flown: time 12 min")
    assert found.cycles == 2.0
    assert "every flight or charge is counted as a full cycle" in found.taken[0]
    found = seen("2026-05-02 flown: time 9 min", "2026-05-03 tested: capacity 12 Ah")
    assert found.cycles == 1.0
    assert "1 flights without a charge" in found.taken[0]


def test_resistance_in_the_cold_is_brought_to_room_temperature() -> None:
    """45 mohm at 0 C is 45 / 2.09 = 21.5 at 25 C (the law's own example in `derating`)."""
    found = seen(
        "2026-05-01 built: rated capacity 12 Ah",
        *(
            f"2026-05-0{n} flown: charge 6 Ah, resistance {r} mΩ, temperature {t} °C"
            for n, r, t in ((2, 21.5, 25), (3, 45.0, 0), (4, 21.6, 25))
        ),
    )
    assert found.trends[0].values == pytest.approx([21.5, 21.5, 21.6], abs=0.05)
    assert "brought to 25 °C" in found.taken[0]


def test_where_one_line_states_no_temperature_none_is_corrected_with_a_notice() -> None:
    found = seen(
        "2026-05-01 built: rated capacity 12 Ah",
        "2026-05-02 flown: charge 6 Ah, resistance 40 mΩ, temperature 40 °C",
        "2026-05-03 flown: charge 6 Ah, resistance 41 mΩ",
        "2026-05-04 flown: charge 6 Ah, resistance 42 mΩ, temperature 40 °C",
    )
    assert found.trends[0].values.tolist() == [40.0, 41.0, 42.0]
    assert "not every line states a temperature" in found.taken[0]


def test_before_there_is_a_trend_the_usual_wear_is_named_as_such() -> None:
    found = seen("2026-09-01 built: rated capacity 12 Ah", "2026-09-01 flown: charge 6 Ah")
    assert found.cycles_left == pytest.approx(float(cycles_to_retire(0.0)) - 0.5)
    assert not found.by_trend


def test_the_price_of_a_flight() -> None:
    found = seen(
        "2026-09-01 built: rated capacity 12 Ah, price 200", *["2026-09-01 flown: charge 6 Ah"] * 4
    )
    assert found.cost == 50.0
    assert found.whole_life_cost == pytest.approx(
        200.0 / 800.0
    )  # 400 full cycles of two flights each


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (
            ["2026-08-30 knocked; off the roof"],
            "UNSAFE until looked at: knocked on 2026-08-30 (off",
        ),
        (
            ["2026-08-30 knocked", "2026-08-31 tested: resistance 70 mΩ; FAILS: resistance."],
            "UNSAFE until looked at",
        ),
        (["2026-08-30 tested: mass 900 g; FAILS: mass: 900 g."], "Not accepted: the test of"),
        (
            ["2026-08-30 stored: lowest cell 2.31 V"],
            "UNSAFE: on 2026-08-30 a group was at 2.31 V",
        ),
        (  # 26.5 V / 6 = 4.417 V
            ["2026-08-30 stored: voltage at rest 26.5 V"],
            "UNSAFE until tested: on 2026-08-30 it was at 4.42 V per cell",
        ),
        (  # 14.9 V / 6 = 2.483 V
            ["2026-08-30 stored: voltage at rest 14.9 V"],
            "UNSAFE: on 2026-08-30 a group was at 2.48 V",
        ),
        (  # 16.5 V / 6 = 2.75 V
            ["2026-08-30 flown: time 9 min, voltage under load 16.5 V"],
            "UNSAFE until tested: on 2026-08-30 it was flown down to 2.75 V per cell",
        ),
        (
            ["2026-08-30 charged: charge 30 Ah"],
            "UNSAFE until tested: on 2026-08-30 30 Ah went into a pack of 12 Ah",
        ),
        (
            ["2026-08-30 flown: time 9 min, temperature 70.3 °C"],  # rounded to the safe side
            "UNSAFE until tested: on 2026-08-30 its hottest cell came to 71 °C, above 60 °C",
        ),
        (
            [
                "2026-08-30 charged: charge 30 Ah",
                "2026-08-31 tested: resistance 41 mΩ, capacity 11.8 Ah, temperature 64 °C",
            ],
            "30 Ah went into a pack",
        ),
        (
            ["2026-08-30 charged: charge 30 Ah", "2026-08-31 tested: resistance 41 mΩ"],
            "measure capacity and resistance before it is used again",
        ),
        (["2026-08-30 retired", "2026-08-31 flown: time 9 min"], "flown after that, on 2026-08-31"),
        (
            [f"2026-0{n}-01 tested: resistance {40 + 8 * n} mΩ, charge 10 Ah" for n in range(1, 6)],
            "Retire it: resistance has come to",
        ),
    ],
)
def test_what_is_unsafe_is_reported_first(lines: list[str], expected: str) -> None:
    built = "2026-01-01 built: rated capacity 12 Ah, cells in series 6"
    assert expected in " ".join(seen(built, *lines).stops)


def test_a_full_pack_flown_to_its_landing_and_charged_again_may_fly() -> None:
    """At the edge of each rule: 25.5 V / 6 = 4.25 V, 16.8 V / 6 = 2.8 V, 1.15 x 12 Ah = 13.8 Ah, 60 °C."""
    found = seen(
        "2026-01-01 built: rated capacity 12 Ah, cells in series 6",
        "2026-08-29 stored: voltage at rest 25.5 V",
        "2026-08-30 flown: time 9 min, voltage under load 16.8 V, temperature 60 °C",
        "2026-08-30 charged: charge 13.79 Ah",
    )
    assert found.stops == ()


@pytest.mark.parametrize(
    "harm", ["knocked", "charged: charge 30 Ah", "flown: time 9 min, temperature 71 °C"]
)
def test_a_pack_that_was_tested_after_it_was_harmed_may_fly(harm: str) -> None:
    built = "2026-01-01 built: rated capacity 12 Ah"
    test = "2026-08-31 tested: resistance 41 mΩ, charge 11.8 Ah; sound"
    assert seen(built, f"2026-08-30 {harm}", test).stops == ()


def test_a_flight_many_times_as_long_as_the_others_is_doubted() -> None:
    """15 h typed for 15 min; four times the median of 14.5 min is 58 min."""
    flown = [f"2026-08-1{n} flown: time {minutes} min" for n, minutes in enumerate((14, 15, 14))]
    kept = "2026-08-14 stored: voltage at rest 22.2 V"
    assert not any(
        "mistyped" in line for line in seen(*flown, "2026-08-13 flown: time 58 min", kept).watch
    )
    (odd,) = (
        line
        for line in seen(*flown, "2026-08-13 flown: time 900 min", kept).watch
        if "mistyped" in line
    )
    assert odd.startswith("Flown for 900 min on 2026-08-13, where 14 min is usual")


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (["2026-08-20 flown: time 9 min"], "Flown on 2026-08-20, and no storage check since"),
        (["2026-07-01 stored: voltage at rest 22.2 V"], "Last checked in storage on 2026-07-01"),
        (
            [
                "2026-08-01 built: cells in series 6",
                "2026-08-02 stored: voltage at rest 22.2 V",
                "2026-08-30 stored: voltage at rest 21.9 V",
            ],
            "it fell by 50 mV per cell",  # (22.2 - 21.9) / 6
        ),
        (["2026-08-30 flown: lowest group 4"] * 3, "Group 4 was lowest the last 3 times"),
        (
            [f"2026-08-2{n} flown: spread nearly empty {70 + 8 * n} mV" for n in range(1, 4)],
            "spread nearly empty: 94 mV, above 80 mV",
        ),
        (
            ["2026-08-30 built: rated capacity 1 Ah", "2026-08-31 charged: charge 380 Ah"],
            "full cycles are left: plan the next pack now",  # 400 by the usual wear, less two days
        ),
        (
            ["2026-08-30 built: rated capacity 1 Ah", "2026-08-31 charged: charge 420 Ah"],
            "at its end: measure capacity and resistance",
        ),
    ],
)
def test_what_to_watch(lines: list[str], expected: str) -> None:
    assert expected in " ".join(seen(*lines).watch)


def test_an_empty_book_is_a_book() -> None:
    found = life(parse_book(HEAD), DAY)
    assert (found.flights, found.cycles, found.stops, found.watch) == (0, 0.0, (), ())
    assert math.isnan(found.flights_left)
    charged = seen("2026-05-01 charged: charge 6 Ah")  # a cycle, and no flight
    assert math.isnan(charged.flights_left)
    assert found.as_dict()["flights"] == 0
