"""A sweep's candidates: one by one, by reason, on the front, the lightest."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.errors import InputError
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.sizing.candidates import Sweep, minutes_per_100_g, pareto, pareto_steps
from workbook.sizing.design import MissionPhase
from workbook.sizing.size import size
from workbook.sizing.sweep import sweep

CELLS = tuple(catalogue().values())


@pytest.fixture(scope="module")
def found() -> Sweep:
    design = read_design(DESIGNS / "survey_six.toml").design.changed(wanted_min=25.0)
    return sweep(replace(design, mission=()), CELLS, range(4, 9), range(1, 7))


def asked(found: Sweep, wanted_min: float, **parts: object) -> Sweep:
    """The sweep again for another flight time."""
    design = replace(found.design.changed(wanted_min=wanted_min), **parts)
    return sweep(design, CELLS, range(4, 9), range(1, 7))


def test_a_candidate_is_found_again_and_is_its_design_sized(found: Sweep) -> None:
    one = found.find("Sedge", 6, 3)
    assert one is not None
    answer = size(one.design)
    assert one.key == ("Sedge", 6, 3)
    assert one.name == "Sedge 6S3P"
    assert one.endurance_min == pytest.approx(float(answer.point.endurance_min))
    assert one.all_up_mass_g == pytest.approx(float(answer.point.all_up_mass_g))
    assert one.holds
    assert one.holds == answer.holds
    assert one.reason == ""
    # a rule that is kept or not has no margin, so it is not what binds
    margins = {limit.name: limit.margin_pct for limit in answer.limits}
    assert one.margin_pct == pytest.approx(min(margins.values()))
    assert margins[one.binds] == min(margins.values())
    assert {limit.key: limit.name for limit in answer.limits}[one.binds_key] == one.binds


def test_what_is_not_there_is_not_found(found: Sweep) -> None:
    assert found.find("Sedge", 13, 3) is None
    assert found.find("nobody", 6, 3) is None


def test_rejected_by_counts_as_the_sweep_does(found: Sweep) -> None:
    for reason in found.rejections:
        rejected = found.rejected_by(reason.key)
        assert len(rejected) == reason.breaks > 0
        assert all(not c.holds and c.reason for c in rejected.where(slice(5)))
    with pytest.raises(InputError, match="no such limit"):
        found.rejected_by("colour")


def test_steps_along_the_front(found: Sweep) -> None:
    listed = list(found.pareto())
    steps = pareto_steps(found.pareto())
    # by hand: the whole rise is the sum of each step's minutes
    rise = sum(
        s.result * (b.all_up_mass_g - a.all_up_mass_g) / 100
        for s, (a, b) in zip(steps, pairwise(listed), strict=True)
    )
    assert rise == pytest.approx(listed[-1].endurance_min - listed[0].endurance_min)
    assert {s.unit for s in steps} == {"min per 100 g"}
    assert minutes_per_100_g([100.0, 300.0, 350.0], [10.0, 12.0, 13.0]) == pytest.approx([1.0, 2.0])
    assert np.all(minutes_per_100_g([1.0, 2.0], [3.0, 3.0]) == 0.0)


def test_the_front_is_what_no_survivor_beats(found: Sweep) -> None:
    kept, best = found.survivors(), found.pareto()
    beaten = [
        any(
            o.all_up_mass_g <= one.all_up_mass_g
            and o.endurance_min >= one.endurance_min
            and (o.all_up_mass_g, o.endurance_min) != (one.all_up_mass_g, one.endurance_min)
            for o in kept
        )
        for one in kept
    ]
    assert len(best) == len(kept) - sum(beaten)
    assert (np.diff(best["all_up_mass_g"]) >= 0).all()
    assert (np.diff(best["endurance_min"]) >= 0).all()
    assert len(found.pareto("endurance_min", "all_up_mass_g", "price")) >= len(best)
    largest = found.pareto("margin_pct")  # all that share the largest margin
    assert set(largest["margin_pct"]) == {kept["margin_pct"].max()}


def test_the_lightest_pack_of_those_that_last(found: Sweep) -> None:
    quick = asked(found, 25.0)
    one = quick.lightest
    assert one is not None
    assert one.pack_mass_g == quick.survivors()["pack_mass_g"].min()
    answer = size(one.design)
    assert answer.holds
    assert answer.point.endurance_min >= 25.0
    assert one.text == quick.lightest_text
    assert f"{one.series}S{one.parallel}P of {one.cell}: {one.endurance_min:.1f} min" in one.text
    none = asked(found, 500.0)
    assert none.lightest is None
    assert "No candidate flies 500 min with every limit kept. The longest" in none.lightest_text


def test_the_lightest_pack_flies_the_mission_too(found: Sweep) -> None:
    short = asked(found, 25.0).lightest
    assert short is not None
    # longer than half of its flights last, though not than planned: half of them are to complete it
    hover = MissionPhase("hover", duration_s=0.85 * short.endurance_min * 60.0)
    longer = asked(found, 25.0, mission=(hover,)).lightest
    assert longer is not None
    assert longer.design.mission == (hover,)
    assert size(longer.design).holds
    assert longer.pack_mass_g > short.pack_mass_g
    never = asked(found, 25.0, mission=(MissionPhase("hover", duration_s=9000.0),))
    assert never.lightest is None
    assert "every limit and the mission kept" in never.lightest_text


def test_sorting_filtering_and_the_frame(found: Sweep) -> None:
    ranked = found.survivors().sorted_by("endurance_min", descending=True)
    assert (np.diff(ranked["endurance_min"]) <= 0).all()
    small = ranked.where(ranked["cells"] <= 24)
    frame = small.frame()
    assert len(frame) == len(small) > 0
    assert set(frame["cell"]) <= {cell.name for cell in CELLS}
    assert set(frame["binds"]) <= {limit.name for limit in found.limits}
    assert frame["survives"].all()
    with pytest.raises(InputError, match="no such column"):
        found.sorted_by("beauty")


def brute_force(costs: np.ndarray) -> np.ndarray:
    at_least = (costs[:, None, :] <= costs[None, :, :]).all(axis=2)
    better = (costs[:, None, :] < costs[None, :, :]).any(axis=2)
    return ~(at_least & better).any(axis=0)


@pytest.mark.parametrize("objectives", [1, 2, 3, 5])
@pytest.mark.parametrize("rounded", [False, True])
def test_the_front_is_that_of_the_definition(objectives: int, rounded: bool) -> None:
    """Against the definition itself, every pair compared; rounded figures make many equal."""
    rng = np.random.default_rng(objectives)
    costs = rng.normal(size=(400, objectives))
    if rounded:
        costs = np.round(costs * 2.0)
    np.testing.assert_array_equal(pareto(costs), brute_force(costs))


def test_the_front_leaves_out_what_cannot_be_told() -> None:
    costs = np.array([[1.0, 1.0], [np.nan, 0.0], [0.0, 2.0]])
    assert pareto(costs).tolist() == [True, False, True]
    assert pareto(np.empty((0, 2))).tolist() == []
    with pytest.raises(InputError):
        pareto(np.array([1.0, 2.0]))
