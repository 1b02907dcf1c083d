"""The current's way out of a pack: shares, limits and sums, held against laws and tables."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.arranged import example_pack
from workbook.bench.current_path import current_path, path_steps, place_of
from workbook.bench.strip import Strip
from workbook.errors import InputError


def path(**changes: object):
    given = {"current_a": 24.0, "burst_a": 50.0, "lead_mm": 150.0, "awg": 12}
    return current_path(example_pack(6, 3), **(given | changes))


@pytest.mark.parametrize(("series", "parallel"), [(4, 2), (6, 3), (5, 4), (3, 1)])
def test_a_step_shares_and_a_tab_carries_all(series: int, parallel: int) -> None:
    found = current_path(example_pack(series, parallel), 20.0, 30.0, 100.0, 10)
    net = found.strips.network
    for junction in range(1, series):
        through = sum(
            float(a)
            for k, a in zip(net.links, net.current_a, strict=True)
            if k.kind == "series" and k.junction == junction
        )
        assert through == pytest.approx(20.0)  # Kirchhoff's current law
    assert found.reading("tab").current_a == pytest.approx(20.0)
    assert found.reading("series").current_a >= 20.0 / parallel - 1e-6


def test_a_tab_on_each_cell_shares_what_one_tab_carries() -> None:
    one, each = path(tabs="one"), path(tabs="each")
    assert one.reading("tab").current_a == pytest.approx(24.0)
    assert each.reading("tab").current_a < 0.5 * 24.0


def test_a_parallel_link_carries_the_imbalance() -> None:
    even, uneven = path(), path(weak_cell_pct=100.0)
    assert even.reading("parallel").current_a < 1.0
    assert uneven.reading("parallel").current_a > even.reading("parallel").current_a + 0.5
    # the weak cell gives less than its mates, and all three together the pack current
    weak = np.argmin(uneven.strips.network.cell_current_a)
    group = [c.number for c in uneven.layout.cells if c.group == uneven.layout.cells[weak].group]
    assert uneven.layout.cells[weak].group == 3
    assert float(uneven.strips.network.cell_current_a[group].sum()) == pytest.approx(24.0)


def test_joints_are_strips_leads_and_connector() -> None:
    found = path()
    contact = found.connector.chosen.contact_mohm
    parts = found.strips.network.joint_mohm + found.wire.chosen.resistance_mohm + contact
    assert found.joint_mohm == pytest.approx(parts)
    assert found.drop_v == pytest.approx(24.0 * parts / 1000.0)  # Ohm
    assert found.loss_w == pytest.approx(24.0**2 * parts / 1000.0)  # Joule
    steps = {s.key: s.result for s in path_steps(found)}
    assert steps["path_loss_w"] == pytest.approx(found.loss_w)
    assert steps["lead_drop_mv"] == pytest.approx(found.wire.chosen.drop_mv)


def test_limits_are_seen_where_they_break() -> None:
    thin = path()
    assert not all(r.holds for r in thin.readings)
    assert not thin.reading("tab").holds
    thick = path(strip=Strip(thickness_mm=0.2), series_layers=2, end_layers=4, awg=10, burst_a=30.0)
    assert all(r.holds for r in thick.readings)
    assert thick.wire.chosen.fits
    assert thick.connector.chosen
    assert {r.layers for r in thick.readings} == {1, 2, 4}
    hot = path(strip=Strip("plated steel"))
    assert hot.reading("series").allowed_a < thin.reading("series").allowed_a


def test_strips_along_an_end_group_count_with_the_tab() -> None:
    found = path()
    kinds = {(k.kind, k.junction, place_of(k, 6)) for k in found.strips.network.links}
    assert ("parallel", 0, "tab") in kinds
    assert ("parallel", 3, "parallel") in kinds


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"awg": 13}, "awg is 13"),
        ({"weak_cell_pct": -1.0}, "weak_cell_pct"),
        ({"burst_a": 10.0}, "burst_a"),
        ({"strip": Strip(width_mm=15.0)}, "strip_width_mm"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        path(**changes)
