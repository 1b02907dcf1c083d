"""The demo logs: as their script writes them, marked as invented, their planted faults found, their truth met."""

from __future__ import annotations

import datetime

import pytest

from tests.conftest import DESIGNS, NOTEBOOKS
from tests.flightlog.demo_logs import (
    BOOK_GROWTH,
    BOOK_MOHM,
    FILES,
    SIX_COLD,
    SIX_LEGS,
    SIX_WARM,
    Truth,
)
from workbook.battery.derating import capacity_at_temperature
from workbook.files.design_file import read_design
from workbook.flightlog.book import read_book
from workbook.flightlog.overlay import Overlay, lay_over
from workbook.flightlog.phases import find_phases
from workbook.flightlog.proof import bench_figures
from workbook.flightlog.reading import read_log
from workbook.flightlog.wear import life
from workbook.numbers import plain

LOGS = NOTEBOOKS / "logs"


@pytest.mark.parametrize("name", FILES)
def test_a_demo_is_what_its_script_writes_and_says_that_it_is_invented(name: str) -> None:
    text = (LOGS / name).read_text("utf-8")
    assert text == FILES[name]()
    assert "# Invented: " in text


def test_there_is_no_demo_without_a_script() -> None:
    assert {path.name for path in LOGS.iterdir()} == set(FILES)


def test_the_faults_that_were_put_in_are_found() -> None:
    text = " ".join(read_log(LOGS / "six_warm.csv").sentences)
    assert "voltage" in text
    assert "12:30" in text  # row 1500 at two a second
    assert "10:10 to 10:18" in text  # 611 to 618 s are missing
    text = " ".join(read_log(LOGS / "six_cold.csv").sentences)
    assert "Every figure stood still from 15:00 to 15:24" in text  # rows 900 to 924, one a second


def laid(name: str, truth: Truth) -> Overlay:
    design = plain(read_design(DESIGNS / "survey_six.toml").design)
    log = read_log(LOGS / name)
    return lay_over(design, log, find_phases(log), truth.steady_w, truth.resistance_factor)


BOTH = sum(s * p for name, s, p, *_ in SIX_LEGS if name in ("cruise", "hover")) / sum(
    s for name, s, *_ in SIX_LEGS if name in ("cruise", "hover")
)
"""Mean power of hover and cruise over that of the hover: a log without speed cannot tell them apart."""


def test_the_truth_of_the_mild_day_meets_its_trace() -> None:
    found = laid("six_warm.csv", SIX_WARM)
    assert found.steady_w == pytest.approx(SIX_WARM.steady_w, rel=0.01)
    assert found.meets, found.text()


def test_the_cold_morning_reads_0_6_ampere_too_much_and_its_charge_is_short() -> None:
    found = laid("six_cold.csv", SIX_COLD)
    offset_w = 0.6 * float(found.flown_v.mean())
    assert found.steady_w - offset_w == pytest.approx(SIX_COLD.steady_w * BOTH, rel=0.012)
    assert max(map(abs, found.off_mv)) < 30.0
    assert float(capacity_at_temperature(4.0)) < 0.95


def test_the_proof_discharge_names_its_weakest_group() -> None:
    found, remarks = bench_figures(read_log(LOGS / "six_proof.csv"))
    assert remarks == ()
    assert found["low_group"] == 5  # off by -11 mV, growing to 3.4 times that: 37 mV below the plan
    assert found["spread_empty_mv"] == pytest.approx(17.0 * 3.2, rel=0.1)  # 6 and -11 mV


def test_the_book_shows_the_wear_that_was_put_in() -> None:
    book = read_book(LOGS / "six_book.txt")
    assert book.notices == ()
    found = life(book, book.events[-1].day + datetime.timedelta(days=1))
    assert found.stops == found.watch == ()
    trend = next(one for one in found.trends if one.key == "resistance_mohm")
    truth = 100.0 * BOOK_MOHM * BOOK_GROWTH
    assert trend.per_100_low <= truth <= trend.per_100_high
    assert trend.reached_low <= 0.5 / BOOK_GROWTH <= trend.reached_high
