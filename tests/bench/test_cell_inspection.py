"""Inspection of bought cells."""

import numpy as np
import pytest

from workbook.bench.cell_inspection import (
    MeasuredCells,
    check_joining,
    inspect_cells,
    joining_current_a,
    joining_step,
    modified_z,
)
from workbook.errors import InputError


def batch(cells=20, **changes):
    rng = np.random.default_rng(3)
    figures = {
        "capacity_ah": rng.normal(3.0, 0.01, cells),
        "resistance_mohm": rng.normal(25.0, 0.4, cells),
        "arrival_v": rng.normal(3.52, 0.005, cells),
        "rest_first_v": np.full(cells, 4.180),
        "rest_last_v": np.full(cells, 4.176) - rng.uniform(0, 0.002, cells),
        "mass_g": rng.normal(46.0, 0.1, cells),
    }
    for key, (place, value) in changes.items():
        figures[key][place] = value
    return MeasuredCells(tuple(f"c{i + 1}" for i in range(cells)), **figures)


def test_a_good_batch_passes_whole():
    report = inspect_cells(batch())
    assert [c.verdict for c in report.cells] == ["use"] * 20
    assert report.usable == tuple(range(20))
    assert report.not_measured == ()


@pytest.mark.parametrize(
    ("key", "value", "verdict", "word"),
    [
        ("arrival_v", 2.31, "reject", "2.31 V"),
        ("arrival_v", 2.9, "set aside", "stored"),
        ("rest_last_v", 4.150, "reject", "30 mV a week"),
        ("capacity_ah", 2.85, "set aside", "% below the batch"),
        ("resistance_mohm", 29.0, "set aside", "above"),
        ("mass_g", 43.0, "set aside", "label"),
    ],
)
def test_each_planted_fault_is_found_alone(key, value, verdict, word):
    report = inspect_cells(batch(**{key: (7, value)}))
    odd = [c for c in report.cells if c.verdict != "use"]
    assert [c.name for c in odd] == ["c8"]
    assert odd[0].verdict == verdict
    assert word in odd[0].reasons[0]
    assert 7 not in report.usable


def test_self_discharge_is_for_a_week():
    cells = MeasuredCells(("a",), rest_first_v=[4.18], rest_last_v=[4.16], rest_days=14)
    np.testing.assert_allclose(cells.self_discharge_mv_per_week, [10.0])  # 20 mV in two weeks


def test_a_wild_batch_does_not_excuse_its_worst():
    spread = np.linspace(2.6, 3.4, 21)  # robust z of the ends is below 3.5
    report = inspect_cells(MeasuredCells(tuple("abcdefghijklmnopqrstu"), capacity_ah=spread))
    assert np.abs(modified_z(spread)).max() < 3.5
    assert report.cells[0].verdict == report.cells[-1].verdict == "set aside"


def test_a_tight_batch_is_not_thinned():
    mah = np.full(20, 3000.0)
    mah[:9] += 1
    mah[3] = 3012  # far in robust z, 0.4 % in fact
    cells = MeasuredCells(tuple(map(str, range(20))), capacity_ah=mah / 1000)
    assert len(inspect_cells(cells).usable) == 20


def test_missing_figures_are_stated():
    report = inspect_cells(MeasuredCells(("a", "b"), capacity_ah=[3.0, np.nan]))
    assert "capacity was not measured on 1 of 2 cells, so it is not judged there." in (
        report.not_measured
    )
    assert any(line.startswith("mass was not measured on any cell") for line in report.not_measured)


def test_label_capacity():
    report = inspect_cells(batch(), rated_capacity_ah=3.5)
    assert "label" in report.not_measured[0]


def test_modified_z_with_no_spread():
    np.testing.assert_array_equal(modified_z(np.full(4, 2.0)), 0.0)
    # a constant batch with one stranger: mean absolute deviation stands in
    assert modified_z(np.array([10.0] * 7 + [100.0]))[-1] > 3.5
    assert np.isnan(modified_z(np.array([np.nan]))).all()


def test_joining():
    # 100 mV over 25 + 25 mohm is 2 A (Ohm's law)
    assert joining_current_a(0.1, 25.0) == pytest.approx(2.0)
    assert check_joining([3.600, 3.610], 25.0).ready
    found = check_joining([3.60, 3.70, 3.65], [20.0, 30.0, 25.0])
    assert not found.ready
    assert found.current_a == pytest.approx(2.0)
    with pytest.raises(InputError):
        check_joining([3.6, np.nan], 25.0)


def test_only_keeps_order():
    some = batch().only([3, 1])
    assert some.name == ("c4", "c2")
    assert some.capacity_ah[1] == batch().capacity_ah[1]


def test_joining_by_ohms_law() -> None:
    assert joining_step(0.1, 25.0).result == pytest.approx(0.1 / 0.050)


def test_a_batch_below_its_rating_is_stated_and_one_that_may_hold_it_is_not() -> None:
    def notes(capacities: list[float]) -> str:
        names = tuple(str(k) for k in range(len(capacities)))
        cells = MeasuredCells(names, capacity_ah=np.array(capacities))
        return " ".join(inspect_cells(cells, rated_capacity_ah=3.5).notes)

    assert "below the rated 3.5 Ah" in notes([3.30, 3.34, 3.28, 3.31, 3.32])
    assert "below the rated" not in notes([3.48, 3.53, 3.46, 3.51, 3.49])
    assert "below the rated" not in notes([3.1])
