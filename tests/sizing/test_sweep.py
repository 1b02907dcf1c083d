"""The sweep: each row is what sizing that design by itself says."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from tests.conftest import DESIGNS, power_law_table, straight_cell
from workbook.bench.bench_settings import Bay
from workbook.errors import InputError
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.sizing.candidates import Sweep
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Constraints, Design
from workbook.sizing.limits import Limit, flight_limits
from workbook.sizing.size import size
from workbook.sizing.sweep import sweep, time_limits

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
    axes = {"payload_g": [0.0, 350.0], "landing_v": [2.7, 3.1, 3.3]}
    return sweep(start, CELLS, SERIES, PARALLEL, tables=tables, axes=axes, screen=False)


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
            limit.key
            for limit, is_broken in zip(everything.limits, everything["broken"][row], strict=True)
            if is_broken
        }
        stops = {"takes_off", "descent", "landing_setting", "charge_voltage"}
        # flights are drawn of rows that hold otherwise
        late = {"endurance_half"} - broken if broken else set()
        assert broken - stops == {limit.key for limit in answer.broken} - late
        assert (not broken) == answer.holds
        assert bool(everything.candidate(row).reason) != answer.holds
        holding += answer.holds
    assert 100 <= holding < 190


def test_the_binding_limit_has_the_tightest_margin(everything: Sweep) -> None:
    for row in some(everything, 40, seed=2):
        answer = size(everything.design_of(row))
        key = everything.candidate(row).binds_key
        margins = {x.key: x.margin_pct for x in answer.limits if not x.unchecked}
        margins = {k: -np.inf if np.isnan(m) else m for k, m in margins.items()}
        half = margins.pop("endurance_half")  # drawn of rows that hold otherwise, to about 5 %
        margin = everything["margin_pct"][row]
        slack = 6.0 if key == "endurance_half" else 1e-9 * max(1.0, abs(margin))
        assert margin <= min(margins.values()) + slack
        # None for a reason to stop, which `size` has no limit for
        alone = {**margins, "endurance_half": half}.get(key)
        assert alone is None or margin == pytest.approx(alone, abs=slack)


PAYLOADS = {"payload_g": [0.0, 350.0, 700.0], "joint_mohm": [5.0, 20.0]}


@pytest.mark.parametrize(
    ("chunk", "how"),
    [(37, {}), (5, {}), (80, {"axes": PAYLOADS, "screen": False})],
)
def test_rows_do_not_depend_on_chunks_or_threads(
    start: Design, monkeypatch: pytest.MonkeyPatch, chunk: int, how: dict[str, Any]
) -> None:
    """Slices of three S with every P, and slices of a few P of one S; without a sieve, of packs of which some land
    before their reserve."""
    whole = sweep(start, CELLS, SERIES, PARALLEL, threads=1, **how)
    monkeypatch.setattr("workbook.sizing.sweep.CHUNK", chunk)
    parts = sweep(start, CELLS, SERIES, PARALLEL, threads=2, **how)
    for name, values in whole.columns.items():
        if values.dtype.kind == "f":
            np.testing.assert_allclose(values, parts[name], rtol=1e-12)
        else:
            np.testing.assert_array_equal(values, parts[name])
    assert whole.rejections == parts.rejections


def same(one: Sweep, other: Sweep) -> None:
    """The same rows, reasons and front, to the last bit."""
    for name, values in one.columns.items():
        np.testing.assert_array_equal(values, other[name])
    assert one.rejections == other.rejections
    assert one.worked == other.worked == one.asked
    assert one.pareto().frame().equals(other.pareto().frame())


@pytest.mark.parametrize("screen", [True, False])
def test_only_survivors_are_the_survivors_of_all_and_every_reason_is_counted(
    start: Design, screen: bool
) -> None:
    whole = sweep(start, CELLS, SERIES, PARALLEL, screen=screen)
    few = sweep(start, CELLS, SERIES, PARALLEL, screen=screen, only_survivors=True)
    assert 0 < len(few) < len(whole)
    same(whole.survivors(), few)


def test_more_are_tried_where_only_survivors_are_kept(start: Design) -> None:
    many = {"joint_mohm": np.linspace(4.0, 20.0, 300_000)}
    with pytest.raises(InputError, match=r"2400000 packs .* at most 2000000"):
        sweep(start, CELLS[:1], [4, 6], [1, 2, 3, 4], axes=many)
    with pytest.raises(InputError, match=r"at most 100000000"):
        sweep(start, CELLS[:1], range(1, 31), range(1, 31), axes=many, only_survivors=True)


@pytest.mark.long
def test_a_cluster_of_two_gives_the_same_candidates(
    start: Design, monkeypatch: pytest.MonkeyPatch
) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr("workbook.sizing.sweep.CHUNK", 128)
    local = {"n_workers": 2, "threads_per_worker": 1, "dashboard_address": None}
    with distributed.LocalCluster(**local) as cluster, distributed.Client(cluster) as client:
        for few in (False, True):
            here = sweep(start, CELLS, SERIES, PARALLEL, only_survivors=few)
            same(here, sweep(start, CELLS, SERIES, PARALLEL, only_survivors=few, client=client))
        asked: list[tuple[int, int]] = []
        part = sweep(
            start,
            CELLS,
            SERIES,
            PARALLEL,
            client=client,
            progress=lambda *at: bool(asked.append(at)),
        )
        assert part.worked == len(part) == asked[0][0] < part.asked


def test_setting_aside_early_changes_no_verdict(start: Design) -> None:
    asked = Constraints(Bay(160.0, 90.0, 75.0), 120.0, 2, 1800.0)
    slow = sweep(start, CELLS, SERIES, PARALLEL, constraints=asked, screen=False)
    quick = sweep(start, CELLS, SERIES, PARALLEL, constraints=asked)
    np.testing.assert_array_equal(slow.survives, quick.survives)
    kept = ~quick["screened"]
    assert 0 < kept.sum() < len(quick)
    np.testing.assert_allclose(slow["endurance_min"][kept], quick["endurance_min"][kept])
    assert np.isnan(quick["endurance_min"][~kept]).all()


def test_missed_times_set_aside_change_no_survivor_and_no_figure(start: Design) -> None:
    """57 600 candidates of three cells: the same survivors, Pareto front and figures of all that are
    sized; only which reason is counted for the others differs."""
    asked = start.changed(wanted_min=25.0)
    axes = {"payload_g": np.linspace(0.0, 400.0, 24), "joint_mohm": np.linspace(4.0, 20.0, 20)}
    few = range(3, 8), range(1, 9)
    quick = sweep(asked, CELLS[:3], *few, axes=axes)
    slow = sweep(asked, CELLS[:3], *few, axes=axes, screen=False)
    assert len(quick) == len(slow) == 57_600
    np.testing.assert_array_equal(quick.survives, slow.survives)
    assert 0 < quick.survives.sum() < 57_600
    sized = ~quick["screened"]
    for name in set(slow.columns) - {"screened"}:
        quickly, slowly = quick[name][sized], slow[name][sized]
        np.testing.assert_allclose(quickly, slowly, rtol=1e-10, err_msg=name)
    best, best_slowly = quick.pareto(), slow.pareto()
    for name, values in best_slowly.columns.items():
        np.testing.assert_allclose(best[name], values, rtol=1e-10, err_msg=name)
    late = [limit.key for limit in quick.limits].index("endurance")
    early = quick["screened"] & quick["broken"][:, late]
    assert early.sum() > 10_000
    assert slow["broken"][early][:, late].all()
    assert (slow["endurance_min"][early] < 25.0).all()
    assert sum(r.binds for r in quick.rejections) == sum(r.binds for r in slow.rejections)


def test_rejections_add_up(everything: Sweep) -> None:
    out = ~everything.survives
    assert sum(r.binds for r in everything.rejections) == out.sum()
    for rejection in everything.rejections:
        k = [limit.key for limit in everything.limits].index(rejection.key)
        assert rejection.breaks == everything["broken"][:, k].sum()
        assert rejection.binds == (out & (everything["binds"] == k)).sum()


def test_stopping_gives_what_was_worked(start: Design, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workbook.sizing.sweep.CHUNK", 32)
    told = []

    def progress(done: int, total: int) -> bool:
        told.append((done, total))
        return len(told) < 3

    part = sweep(start, CELLS, SERIES, PARALLEL, progress=progress)
    whole = sweep(start, CELLS, SERIES, PARALLEL)
    assert whole.complete
    assert not part.complete
    # slices of at most 32 that have every P of an S are of two S, by twelve P
    assert part.worked == len(part) == 3 * 2 * 12
    assert told[-1] == (72, part.asked)
    assert part.asked == whole.worked == len(CELLS) * len(SERIES) * len(PARALLEL)
    np.testing.assert_array_equal(part["pack_mass_g"], whole["pack_mass_g"][:72])


def test_cells_that_have_other_limits_are_swept_together(start: Design) -> None:
    """A cell without a size has no temperature limit and no known room; the order does not matter."""
    bare = dataclasses.replace(straight_cell(), name="Bare", diameter_mm=0.0, height_mm=0.0)
    for cells in ((bare, CELLS[0]), (CELLS[0], bare)):
        found = sweep(start, cells, (6,), (3,), screen=False)
        for row, cell in enumerate(cells):
            one = found.candidate(row)
            assert one.cell == cell.name
            assert one.holds == size(one.design).holds
        in_bay = Constraints(Bay(500.0, 500.0, 500.0))
        fitting = sweep(start, cells, (6,), (3,), constraints=in_bay, screen=False)
        assert [r.key for r in fitting.rejected_by("bay_size").rejections] == [
            r.key for r in fitting.rejections
        ]
        assert {c.cell for c in fitting.rejected_by("bay_volume")} == {"Bare"}


def test_more_limits_than_a_machine_word_has_bits(
    start: Design, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Seventy limits, of which the last one alone is broken: it is counted, and it is the reason."""
    many = tuple(
        Limit(f"limit_{k}", f"limit {k}", 2.0 if k == 69 else 0.5, 1.0, "", "too much.", "always")
        for k in range(70)
    )
    monkeypatch.setattr("workbook.sizing.sweep.ground_limits", lambda *_: many)
    found = sweep(start, CELLS[:2], (6,), (2, 3), screen=False)
    assert len(found.limits) > 70
    assert len(found.rejected_by("limit_69")) == len(found) == 4
    assert all("limit 69" in one.reason for one in found)
    assert not len(found.rejected_by("limit_68"))


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
        ({"axes": {"power_w": (1.0,)}}, "not a further figure"),
    ],
)
def test_what_cannot_be_swept_is_said(start: Design, changes: dict[str, object], said: str) -> None:
    asked: dict[str, object] = {"cells": CELLS, "series": (6,), "parallel": (3,), **changes}
    with pytest.raises(InputError, match=said):
        sweep(start, **asked)  # type: ignore[arg-type]


MANY = 6_000


@pytest.mark.parametrize(
    ("name", "keys"),
    [("survey_six", ["endurance"]), ("survey_wing", ["range", "endurance"])],
)
@pytest.mark.parametrize("pack_c", [25.0, -5.0])
def test_a_time_missed_is_told_before_the_candidate_is_sized(
    name: str, keys: list[str], pack_c: float
) -> None:
    """Random packs, payloads and joints; cold cells, of higher resistance and less charge, too."""
    rng = np.random.default_rng(3)
    designs = read_design(DESIGNS / f"{name}.toml").design.changed(
        series=rng.integers(3, 9, MANY).astype(float),
        parallel=rng.integers(1, 9, MANY).astype(float),
        payload_g=rng.uniform(0.0, 600.0, MANY),
        joint_mohm=rng.uniform(2.0, 25.0, MANY),
        pack_temperature_c=pack_c,
    )
    found = time_limits(designs)
    assert [limit.key for limit in found] == keys
    point = craft_type_of(designs).operate(designs)
    exact = {limit.key: limit for limit in flight_limits(designs, point)}
    known = np.isfinite(point.power_w)
    for limit in found:
        assert 0 < np.count_nonzero(limit.broken) < MANY
        np.testing.assert_array_equal(limit.broken[known], exact[limit.key].broken[known])
        assert not limit.broken[~known].any()
