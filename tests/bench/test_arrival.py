"""A delivery against its datasheet: signs found where they are, and none where cells are good."""

import numpy as np
import pytest
from scipy import stats

import workbook as wb
from workbook.bench.arrival import judge_arrival, two_loads
from workbook.bench.cell_inspection import MeasuredCells
from workbook.bench.sampling import most_bad, sampling_plan

CELL = wb.find_cell("Sedge")  # 67.2 g, 4.57 Ah rated, 4.66 typical, 25.0 mohm at half charge


def lot(rng, count=12, **changed):
    """Good cells as `invented_cells` has them, with the spread of one batch; changed figures in their place."""
    figures = {
        "mass_g": rng.normal(67.2, 0.2, count),
        "arrival_v": rng.normal(3.52, 0.004, count),
        "resistance_mohm": rng.normal(25.2, 0.4, count),
        "capacity_ah": rng.normal(4.65, 0.012, count),
    }
    return MeasuredCells(tuple(f"c{k}" for k in range(count)), **(figures | changed))


def test_good_deliveries_show_no_sign():
    """Of 200 good deliveries: the windows leave so much room that none may be called bad."""
    rng = np.random.default_rng(11)
    judged = [judge_arrival(lot(rng), CELL, batch=14) for _ in range(200)]
    assert all(one.signs == () for one in judged)
    assert (
        sum(one.holds for one in judged) >= 190
    )  # a single outlier in a small batch may be set aside


@pytest.mark.parametrize(
    ("key", "mean", "spread", "word"),
    [
        ("mass_g", 58.5, 0.4, "not the cells"),  # a light can: a tenth and more off
        ("capacity_ah", 3.9, 0.05, "used"),
        ("resistance_mohm", 41.0, 1.5, "used"),
        ("resistance_mohm", 15.0, 0.4, "1 kHz"),  # 60 % of direct current
        ("arrival_v", 4.08, 0.004, "charged these since"),
    ],
)
def test_each_sign_is_found_and_named(key, mean, spread, word):
    rng = np.random.default_rng(5)
    arrived = judge_arrival(lot(rng, **{key: rng.normal(mean, spread, 12)}), CELL)
    assert not arrived.holds
    assert any(word in sign for sign in arrived.signs)
    assert "Do not weld" in arrived.verdict


def test_mixed_lots_show_in_the_voltages_on_arrival():
    rng = np.random.default_rng(2)
    mixed = np.r_[rng.normal(3.46, 0.004, 6), rng.normal(3.62, 0.004, 6)]
    assert any("lots" in sign for sign in judge_arrival(lot(rng, arrival_v=mixed), CELL).signs)


@pytest.mark.parametrize(
    ("batch", "tested", "found"), [(60, 13, 0), (24, 10, 1), (200, 20, 3), (30, 30, 2)]
)
def test_the_most_that_may_be_bad_is_the_exact_limit(batch, tested, found):
    most = most_bad(batch, tested, found)
    # scipy's own: with so many bad a sample as good comes in 5 of 100 or more, with one more in fewer
    assert tested == batch or stats.hypergeom(batch, most, tested).cdf(found) >= 0.05
    untested_all_bad = batch - tested + found
    assert most == untested_all_bad or stats.hypergeom(batch, most + 1, tested).cdf(found) < 0.05


def test_the_curve_of_a_plan_is_the_hypergeometric_distribution():
    plan = sampling_plan(60, 0.2, tested=8)
    none = stats.hypergeom(60, 12, np.arange(61)).pmf(
        0
    )  # scipy's own; it takes the sample's size last
    assert plan.chances[8] == pytest.approx(1.0 - stats.hypergeom(60, 12, 8).pmf(0))
    assert plan.chances[0] == 0.0
    assert plan.chances[60] == 1.0
    assert len(plan.chances) == len(none)
    assert plan.needed == 12  # of 60 with 12 bad: C(48,12)/C(60,12) = 0.0498, with 11 it is 0.0649
    steps = plan.working()
    assert steps[0].result + steps[1].result == pytest.approx(100.0)


def test_two_loads_are_ohms_law_and_say_how_far_off():
    found = two_loads(1.0, 3.650, 9.0, 3.450, CELL, ac_mohm=15.0)
    assert found.resistance_mohm == pytest.approx(25.0)  # 200 mV / 8 A
    # 1.41 mV / 8 A = 0.177 mohm; 1 % of 25 = 0.25 mohm: the root of both squares is 0.306
    assert found.uncertainty_mohm == pytest.approx(0.306, abs=0.001)
    assert "60 % of it" in found.text
    loose = two_loads(0.2, 3.653, 0.5, 3.645, CELL)
    assert "heavier second load" in loose.text
    for swapped in ((9.0, 3.45, 1.0, 3.65), (1.0, 3.45, 9.0, 3.65)):
        with pytest.raises(wb.InputError, match=r"needed|swapped"):
            two_loads(*swapped, CELL)


def test_what_a_plan_counts_on_is_the_weakest_group_and_no_better_than_measured():
    rng = np.random.default_rng(8)
    cells = lot(rng, 20)
    arrived = judge_arrival(cells, CELL)
    dealt = arrived.deal(6, 3)
    plan = arrived.for_plan(dealt)
    assert plan.figures["cell_capacity_ah"] <= dealt.weakest_ah / 3
    assert plan.figures["cell_capacity_ah"] > dealt.weakest_ah / 3 - 0.01
    assert plan.figures["cell_resistance_mohm"] >= np.mean(
        cells.resistance_mohm[list(arrived.good)]
    )
    low = stats.t.interval(0.95, 19, cells.capacity_ah.mean(), stats.sem(cells.capacity_ah))[0]
    assert arrived.for_plan().figures["cell_capacity_ah"] <= low


def test_too_few_tested_is_stated_and_does_not_hold():
    rng = np.random.default_rng(8)
    arrived = judge_arrival(lot(rng, 5), CELL, batch=60)
    assert arrived.as_ordered
    assert not arrived.holds
    assert "12 of 60 must be tested" in arrived.verdict
    with pytest.raises(wb.InputError, match="batch"):
        judge_arrival(lot(rng, 5), CELL, batch=4)


def test_a_cell_that_is_not_what_was_ordered_is_never_called_used():
    """Good beside the others, outside the datasheet: the words and the data say the same."""
    arrived = judge_arrival(lot(np.random.default_rng(9)), wb.find_cell("Bulrush"))
    record = arrived.as_dict()
    assert not record["holds"]
    assert {one["verdict"] for one in record["cells"] if one["reasons"]} == {"set aside"}
    assert all((one["verdict"] == "use") == (not one["reasons"]) for one in record["cells"])
