"""The sweep: each row is what sizing that design by itself says."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np
import pytest

from tests.conftest import DESIGNS, power_law_table, straight_cell
from workbook.bench.transport import passenger_class
from workbook.errors import InputError
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.sizing.bounds import Bay, Bounds, bound_limits
from workbook.sizing.design import Design, MissionPhase
from workbook.sizing.front import front
from workbook.sizing.size import size
from workbook.sizing.sweep import Sweep, lightest_pack, sweep, threshold_map

CELLS = tuple(catalogue().values())
SERIES, PARALLEL = range(2, 10), range(1, 13)


@pytest.fixture(scope="module")
def start() -> Design:
    design = read_design(DESIGNS / "survey_six.toml").design.changed(wanted_min=15.0)
    return dataclasses.replace(design, mission=())


@pytest.fixture(scope="module")
def everything(start: Design) -> Sweep:
    other = dataclasses.replace(power_law_table(highest_gf=2500.0), propeller="15x5")
    tables = (start.craft.table, other)
    return sweep(
        start, CELLS, SERIES, PARALLEL,
        tables=tables, axes={"payload_g": [0.0, 350.0], "landing_v": [2.7, 3.1, 3.3]}, screen=False,
    )  # fmt: skip


def some(found: Sweep, count: int, seed: int = 1) -> Iterator[int]:
    return iter(np.random.default_rng(seed).choice(len(found), count, replace=False).tolist())


def test_every_row_is_its_design_sized_by_itself(everything: Sweep) -> None:
    """200 candidates, half of them survivors, all figures to 1e-9, and the verdict; against `size`."""
    rng = np.random.default_rng(1)
    holding = 0
    for row in np.concatenate(
        [
            rng.choice(np.flatnonzero(everything.survives), 100, replace=False),
            rng.choice(len(everything), 100, replace=False),
        ]
    ).tolist():
        answer = size(everything.design_of(row))
        point = answer.point
        for name, alone in (
            ("endurance_min", point.endurance_min),
            ("power_w", point.power_w),
            ("all_up_mass_g", point.all_up_mass_g),
            ("landing_cell_v", point.run.end_v),
            ("end_cell_a", point.run.end_a),
            ("thrust_to_weight_end", point.end.thrust_to_weight),
            ("energy_wh", answer.design.pack.energy_wh),
            ("pack_mass_g", answer.design.pack.mass_g),
        ):
            np.testing.assert_allclose(everything[name][row], alone, rtol=1e-9, err_msg=name)
        broken = {
            key for k, (key, _, _) in enumerate(everything.limits)
            if int(everything["broken"][row]) >> k & 1
        }  # fmt: skip
        stops = {"takes_off", "descent", "landing_setting", "charge_voltage"}
        assert broken - stops == {limit.key for limit in answer.broken}
        assert (not broken) == answer.holds
        assert bool(everything.reason(row)) != answer.holds
        holding += answer.holds
    assert 100 <= holding < 190


def test_the_binding_limit_has_the_tightest_margin(everything: Sweep) -> None:
    for row in some(everything, 40, seed=2):
        answer = size(everything.design_of(row))
        key = everything.limits[int(everything["binds"][row])][0]
        margins = {limit.key: limit.margin_pct for limit in answer.limits}
        margins = {k: -np.inf if np.isnan(m) else m for k, m in margins.items()}
        assert everything["margin_pct"][row] <= min(margins.values()) + 1e-9
        if key in margins:
            assert everything["margin_pct"][row] == pytest.approx(margins[key], rel=1e-9)


def test_rows_do_not_depend_on_chunks_or_threads(start: Design) -> None:
    whole = sweep(start, CELLS, SERIES, PARALLEL, threads=1)
    parts = sweep(start, CELLS, SERIES, PARALLEL, threads=2, chunk=37)
    for name, values in whole.columns.items():
        if values.dtype.kind == "f":
            np.testing.assert_allclose(values, parts[name], rtol=1e-12)
        else:
            np.testing.assert_array_equal(values, parts[name])
    assert whole.rejections == parts.rejections


def test_setting_aside_early_changes_no_verdict(start: Design) -> None:
    bounds = Bounds(Bay(160.0, 90.0, 75.0), 120.0, 2, 1800.0)
    slow = sweep(start, CELLS, SERIES, PARALLEL, bounds=bounds, screen=False)
    quick = sweep(start, CELLS, SERIES, PARALLEL, bounds=bounds)
    np.testing.assert_array_equal(slow.survives, quick.survives)
    kept = ~quick["screened"]
    assert 0 < kept.sum() < len(quick)
    np.testing.assert_allclose(slow["endurance_min"][kept], quick["endurance_min"][kept])
    assert np.isnan(quick["endurance_min"][~kept]).all()
    few = sweep(start, CELLS, SERIES, PARALLEL, bounds=bounds, keep_rejected=False)
    assert len(few) == quick.survives.sum()
    assert few.rejections == quick.rejections
    assert few.worked == quick.worked == few.asked


def test_rejections_add_up(everything: Sweep) -> None:
    out = ~everything.survives
    assert sum(r.binds for r in everything.rejections) == out.sum()
    for rejection in everything.rejections:
        k = [key for key, _, _ in everything.limits].index(rejection.key)
        assert rejection.breaks == (everything["broken"] >> k & 1).sum()
        assert rejection.binds == (out & (everything["binds"] == k)).sum()


def test_bounds_bind_when_they_should(start: Design) -> None:
    """Each bound by arithmetic: volume over the hexagonal packing, prices, watt-hours, mass."""
    pack = start.pack  # 18 cells of 21.2 x 70.1 mm, 68.5 g, 4.40 each
    volume_cm3 = 18 * np.pi / 4 * 21.2**2 * 70.1 / 1000 / 0.9068997
    side = float(np.sqrt(volume_cm3 * 1000 / 70.1))
    for bounds, key, holds in (
        (Bounds(Bay(70.1, side * 1.001, side * 1.001)), "bay_volume", True),
        (Bounds(Bay(70.1, side * 0.999, side * 0.999)), "bay_volume", False),
        (Bounds(Bay(70.0, 500.0, 60.0)), "bay_size", True),
        (Bounds(Bay(69.0, 69.0, 69.0)), "bay_size", False),
        (Bounds(Bay(500.0, 500.0, 21.0)), "bay_size", False),
        (Bounds(max_price=79.3), "price", True),
        (Bounds(max_price=79.1), "price", False),
        (Bounds(transport=0), "transport", False),
        (Bounds(max_pack_mass_g=float(pack.mass_g) - 1), "pack_mass", False),
    ):
        limit = next(x for x in bound_limits(start, bounds) if x.key == key)
        assert bool(limit.broken) != holds, (key, bounds)
    assert passenger_class(np.array([100.0, 100.1, 160.0, 160.1])).tolist() == [0, 1, 1, 2]
    with pytest.raises(InputError, match="above 0 mm"):
        Bay(0.0, 10.0, 10.0)
    with pytest.raises(InputError, match="transport"):
        Bounds(transport=3)


def test_a_cell_without_a_price_does_not_pass_a_money_bound(start: Design) -> None:
    found = sweep(start, (straight_cell(),), (6,), (3,), bounds=Bounds(max_price=1e6), screen=False)
    assert [r.key for r in found.rejections if r.binds] == ["price"]


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
    np.testing.assert_array_equal(front(costs), brute_force(costs))


def test_the_front_leaves_out_what_cannot_be_told() -> None:
    costs = np.array([[1.0, 1.0], [np.nan, 0.0], [0.0, 2.0]])
    assert front(costs).tolist() == [True, False, True]
    assert front(np.empty((0, 2))).tolist() == []
    with pytest.raises(InputError):
        front(np.array([1.0, 2.0]))


def test_the_sweeps_front_and_lightest_pack(everything: Sweep) -> None:
    kept = everything.survivors()
    costs = np.column_stack([-kept["endurance_min"], kept["all_up_mass_g"]])
    best = everything.front()
    assert len(best) == brute_force(costs).sum()
    assert (np.diff(best["all_up_mass_g"]) >= 0).all()
    assert (np.diff(best["endurance_min"]) >= 0).all()
    three = everything.front("endurance_min", "all_up_mass_g", "price")
    assert len(three) >= len(best)
    for wanted in (16.0, 25.0, 1000.0):
        row = everything.lightest(wanted)
        good = kept.where(kept["endurance_min"] >= wanted)
        if row is None:
            assert not len(good)
        else:
            assert everything["pack_mass_g"][row] == good["pack_mass_g"].min()


def test_the_lightest_pack_is_told_in_words(start: Design) -> None:
    found = lightest_pack(start, 25.0, CELLS, SERIES, PARALLEL)
    assert found.design is not None
    answer = size(found.design)
    assert answer.holds
    assert answer.point.endurance_min >= 25.0
    assert found.design.pack.cell.name in found.text
    hover = MissionPhase("hover", duration_s=26.5 * 60.0)  # longer than the lightest one lasts
    longer = lightest_pack(
        dataclasses.replace(start, mission=(hover,)), 25.0, CELLS, SERIES, PARALLEL
    )
    assert longer.design is not None
    assert longer.design.mission == (hover,)
    assert size(longer.design).holds
    assert longer.design.pack.mass_g > found.design.pack.mass_g
    none = lightest_pack(start, 500.0, CELLS, SERIES, PARALLEL)
    assert none.design is None
    assert "No candidate flies 500 min" in none.text
    with pytest.raises(InputError, match="above 0 min"):
        lightest_pack(start, 0.0, CELLS, SERIES, PARALLEL)


def test_stopping_gives_what_was_worked(start: Design) -> None:
    told = []

    def progress(done: int, total: int) -> bool:
        told.append((done, total))
        return len(told) < 3

    part = sweep(start, CELLS, SERIES, PARALLEL, progress=progress, chunk=32)
    whole = sweep(start, CELLS, SERIES, PARALLEL, chunk=32)
    assert whole.complete
    assert not part.complete
    assert part.worked == len(part) == 96
    assert told[-1] == (96, part.asked)
    assert part.asked == whole.worked == len(CELLS) * len(SERIES) * len(PARALLEL)
    np.testing.assert_array_equal(part["pack_mass_g"], whole["pack_mass_g"][:96])


def test_sorting_filtering_and_the_frame(everything: Sweep) -> None:
    ranked = everything.survivors().sorted_by("endurance_min", descending=True)
    assert (np.diff(ranked["endurance_min"]) <= 0).all()
    small = ranked.where(ranked["cells"] <= 18)
    frame = small.frame()
    assert len(frame) == len(small) > 0
    assert set(frame["cell"]) <= {cell.name for cell in CELLS}
    assert frame["survives"].all()
    with pytest.raises(InputError, match="no such column"):
        everything.sorted_by("beauty")


def test_the_threshold_map_is_the_designs_one_by_one(start: Design) -> None:
    found = threshold_map(start, range(4, 8), range(2, 5))
    for k, s in enumerate(found.series):
        for j, p in enumerate(found.parallel):
            answer = size(start.changed(series=int(s), parallel=int(p)))
            assert found.holds[k, j] == answer.holds
            assert found.endurance_min[k, j] == pytest.approx(
                float(answer.point.endurance_min), rel=1e-9, nan_ok=True
            )
    assert found.binding(7, 2) in found.names
    with pytest.raises(InputError, match="not on the map"):
        found.binding(20, 2)


def test_a_wing_is_swept_too() -> None:
    wing = dataclasses.replace(read_design(DESIGNS / "survey_wing.toml").design, mission=())
    found = sweep(wing, CELLS, range(3, 6), range(1, 7), screen=False)
    for row in some(found, 40):
        answer = size(found.design_of(row))
        np.testing.assert_allclose(
            found["endurance_min"][row], answer.point.endurance_min, rtol=1e-9
        )
        assert bool(found.survives[row]) == answer.holds
    assert "climb_end_m_s" in found.columns


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"cells": ()}, "no cell"),
        ({"series": (0, 3)}, "1 or more"),
        ({"parallel": (1.5,)}, "whole numbers"),
        ({"parallel": ()}, "whole numbers"),
        ({"axes": {"beauty": (1.0,)}}, "no such figure"),
        ({"axes": {"payload_g": ()}}, "one or more values"),
        ({"axes": {"series": (1.0,)}}, "not a further figure"),
    ],
)
def test_what_cannot_be_swept_is_said(start: Design, changes: dict[str, object], said: str) -> None:
    asked: dict[str, object] = {"cells": CELLS, "series": (6,), "parallel": (3,), **changes}
    with pytest.raises(InputError, match=said):
        sweep(start, **asked)  # type: ignore[arg-type]
