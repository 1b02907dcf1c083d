"""The current's way out of a pack: shares, limits and sums, held against laws and tables."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.bench.current_path import (
    AIR_C,
    current_path,
    heat_against_current,
    layers_steps,
    lead_steps,
    path_layers,
    path_steps,
    piece_steps,
    place_of,
)
from workbook.bench.layout import example_pack
from workbook.bench.strip import Strip
from workbook.bench.wire import choose_wire
from workbook.errors import InputError


def path(**changes: object):
    given = {"current_a": 24.0, "burst_a": 50.0, "lead_mm": 150.0, "awg": 12}
    return current_path(example_pack(6, 3), **(given | changes))


@pytest.mark.parametrize(("series", "parallel"), [(4, 2), (6, 3), (5, 4), (3, 1)])
def test_a_step_shares_and_a_tab_carries_all(series: int, parallel: int) -> None:
    found = current_path(example_pack(series, parallel), 20.0, 30.0, 100.0, 10)
    net = found.network
    for junction in range(1, series):
        through = sum(
            float(a)
            for k, a in zip(net.links, net.current_a, strict=True)
            if k.kind == "series" and k.junction == junction
        )
        assert through == pytest.approx(20.0)  # Kirchhoff's current law
    assert found.reading("take-off").current_a == pytest.approx(20.0)
    assert found.reading("series").share_pct >= 100.0 / parallel - 1e-6


def test_a_tab_on_each_cell_shares_what_one_tab_carries() -> None:
    one, each = path(tabs="one"), path(tabs="each")
    assert one.reading("take-off").current_a == pytest.approx(24.0)
    assert each.reading("take-off").current_a < 0.5 * 24.0


def test_a_parallel_link_carries_the_imbalance() -> None:
    even, uneven = path(), path(weak_cell_pct=100.0)
    assert even.reading("parallel").current_a < 1.0
    assert uneven.reading("parallel").current_a > even.reading("parallel").current_a + 0.5
    # the weak cell gives less than its mates, and all three together the pack current
    weak = np.argmin(uneven.network.cell_current_a)
    group = [c.number for c in uneven.layout.cells if c.group == uneven.layout.cells[weak].group]
    assert uneven.layout.cells[weak].group == 3
    assert float(uneven.network.cell_current_a[group].sum()) == pytest.approx(24.0)


def test_joints_are_strips_leads_and_connector() -> None:
    found = path()
    contact = found.connector.chosen.contact_mohm
    parts = found.network.joint_mohm + found.lead.resistance_mohm + contact
    assert found.joint_mohm == pytest.approx(parts)
    assert found.drop_v == pytest.approx(24.0 * parts / 1000.0)  # Ohm
    assert found.loss_w == pytest.approx(24.0**2 * parts / 1000.0)  # Joule
    steps = {s.key: s.result for s in path_steps(found)}
    assert steps["path_loss_w"] == pytest.approx(found.loss_w)
    assert steps["lead_drop_mv"] == pytest.approx(found.lead.drop_mv)


def test_lead_resistance_is_that_of_the_electrical_code() -> None:
    # NFPA 70, chapter 9, table 8: 12 AWG stranded, uncoated copper, 75 C: 1.98 ohm per 1000 ft
    row = next(r for r in choose_wire(10.0, 10.0, 500.0).rows if r.awg == 12)
    step = lead_steps(row, 10.0, 500.0)[1]
    per_m = step.result / 1.0 / (1 + 0.00393 * (row.temperature_c - 20)) * (1 + 0.00393 * 55)
    assert per_m == pytest.approx(1.98 / 0.3048, rel=0.02)


def test_piece_of_strip_by_hand() -> None:
    # nickel as sold 0.096 ohm mm2/m: 20 mm of 0.15 x 8 mm is 0.096 x 0.020 / 1.2 = 1.6 mohm
    steps = piece_steps(Strip(), 20.0, 1, 10.0, 20.0)
    assert [s.result for s in steps] == pytest.approx([1.2, 6.0, 1.6, 16.0])


@pytest.mark.parametrize(("amps", "layers"), [(6.0, 1), (6.05, 1), (6.2, 2), (24.0, 4), (24.5, 5)])
def test_layers_are_rounded_up_and_a_hundredth_is_let_pass(amps: float, layers: int) -> None:
    assert layers_steps(Strip(), amps)[-1].result == layers


def test_limits_are_seen_where_they_break() -> None:
    thin = path()
    assert not thin.holds
    assert not thin.reading("take-off").holds
    thick = path(strip=Strip(thickness_mm=0.2), series_layers=2, end_layers=4, awg=10, burst_a=30.0)
    assert thick.holds
    assert set(path_layers(thick)) == {1, 2, 4}
    hot = path(strip=Strip("plated steel"))
    assert hot.reading("series").allowed_a < thin.reading("series").allowed_a


def test_strips_along_an_end_group_count_with_the_tab() -> None:
    found = path()
    kinds = {(k.kind, k.junction, place_of(k, 6)) for k in found.network.links}
    assert ("parallel", 0, "take-off") in kinds
    assert ("parallel", 3, "parallel") in kinds


def test_heat_against_current_meets_the_lead_that_is_shown() -> None:
    found = path()
    heat = heat_against_current([10, 12], np.array([12.0, 24.0]), AIR_C)
    assert heat.shape == (2, 2)
    assert heat[1, 1] == pytest.approx(found.lead.temperature_c)
    assert heat[0, 1] < heat[1, 1]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"awg": 13}, "awg is 13"),
        ({"weak_cell_pct": -1.0}, "weak_cell_pct"),
        ({"burst_a": 10.0}, "burst_a"),
        ({"strip": Strip(width_mm=15.0)}, "strip_width_mm"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict, told: str) -> None:
    with pytest.raises(InputError, match=told):
        path(**changes)
