"""Strip networks against hand derivations and an independent solution; limits, cut list, welds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.bench.arranged import any_layout, example_pack
from workbook.bench.arrange import Grid
from workbook.bench.layout import Fittings, lay_out, layouts
from workbook.bench.strip import Strip
from workbook.bench.strip_plan import plan_strips, solve_strips


def block(series, parallel, **fittings):
    """P rows of S cells, groups in columns."""
    grid = Grid("square", False, 1, series, parallel, 1, series)
    return lay_out(example_pack(series, parallel), grid, None, Fittings(**fittings))


def by_place(net):
    return {
        (k.kind, k.junction, k.from_cell): float(a)
        for k, a in zip(net.links, net.current_a, strict=True)
    }


@pytest.mark.parametrize("cell_mohm", [1.0, 8.0, 25.0])
def test_two_by_two_solved_by_hand(cell_mohm):
    # Cells 0 and 1 are group 1 (minus tab on 0), 2 and 3 group 2 (plus tab on 3). Turning the circuit
    # round maps 0 to 3 and 1 to 2, so cells 0 and 3 carry x of the current, 1 and 2 the rest, and
    # both series links half. Kirchhoff's voltage law round cells 0 and 1 with the parallel links p:
    #   x R + p (x - 1/2) = (1 - x)(R + p)  ->  x = (R + 3p/2) / (2R + 2p)
    # and along minus tab, cell 0, series, parallel of group 2's plus, plus tab t:
    #   total = 2t + R + s/2 + p (1 - x)
    layout = block(2, 2)
    weld = 0.25
    net = solve_strips(layout, 10.0, cell_mohm=cell_mohm, weld_mohm=weld)
    p = s = float(Strip().resistance_mohm(layout.pitch_mm))
    t = float(Strip().resistance_mohm(layout.diameter_mm / 2 + layout.fittings.tab_mm))
    r = cell_mohm + 2 * weld
    x = (r + 1.5 * p) / (2 * r + 2 * p)
    total = 2 * t + r + s / 2 + p * (1 - x)
    tabs = {k.from_cell for k in net.links if k.kind == "tab"}
    assert tabs == {0, 3}
    assert net.cell_current_a == pytest.approx([10 * x, 10 * (1 - x), 10 * (1 - x), 10 * x])
    assert net.joint_mohm == pytest.approx(total - cell_mohm)  # the cells alone: 2 R / 2 = R
    amps = by_place(net)
    assert amps[("series", 1, 0)] == pytest.approx(5.0)
    assert amps[("series", 1, 1)] == pytest.approx(5.0)
    assert abs(amps[("parallel", 1, 0)]) == pytest.approx(10 * (x - 0.5))
    assert abs(amps[("parallel", 0, 0)]) == pytest.approx(10 * (1 - x))


def test_one_string_is_a_sum():
    # 5S1P in a row: 4 series links and 2 tabs, one after the other
    layout = block(5, 1)
    net = solve_strips(layout, 12.0, layers=2, weld_mohm=0.1, temperature_c=60.0)
    mm = 4 * layout.pitch_mm + 2 * (layout.diameter_mm / 2 + layout.fittings.tab_mm)
    by_hand = float(Strip().resistance_mohm(mm, 2, 60.0)) + 5 * 2 * 0.1
    assert net.joint_mohm == pytest.approx(by_hand)
    assert np.abs(net.current_a) == pytest.approx(12.0)


def test_even_paths_share_and_parallel_links_rest():
    # a tab on every end cell and straight rows: the rows are equal, so nothing crosses between them
    layout = block(3, 4, tabs="each")
    net = solve_strips(layout, 40.0)
    for k, a in zip(net.links, net.current_a, strict=True):
        assert abs(a) == pytest.approx(0.0 if k.kind == "parallel" else 10.0, abs=1e-9)
    assert net.cell_current_a == pytest.approx(np.full(len(net.cell_current_a), 10.0))


def test_parallel_link_carries_only_the_imbalance():
    # 1S2P, tab on each cell at both ends, cells of 20 and 30 mohm: nearly 60 : 40 of the current
    layout = block(1, 2, tabs="each")
    net = solve_strips(layout, 10.0, cell_mohm=[20.0, 30.0], weld_mohm=0.0)
    # by hand: tabs t, links p, both ends alike; cell 0 carries a, each link b from cell 0 to cell 1
    t = float(Strip().resistance_mohm(layout.diameter_mm / 2 + layout.fittings.tab_mm))
    p = float(Strip().resistance_mohm(layout.pitch_mm))
    # round both cells and both links: 20 a - 30 (10 - a) + 2 p b = 0
    # round one link and its two tabs: p b = t (a - b) - t ((10 - a) + b)
    a, b = np.linalg.solve([[50.0, 2 * p], [2 * t, -(p + 2 * t)]], [300.0, 10 * t])
    assert net.cell_current_a == pytest.approx([a, 10 - a])
    links = [abs(v) for k, v in zip(net.links, net.current_a, strict=True) if k.kind == "parallel"]
    assert links == pytest.approx([abs(b)] * 2)


@given(any_layout(), st.integers(0, 2**31))
def test_kirchhoff_holds_at_every_cell_end(layout, seed):
    count = len(layout.cells)
    ohm = np.random.default_rng(seed).uniform(10, 60, count)
    current = np.array([0.0, 7.0, 35.0])
    net = solve_strips(layout, current, cell_mohm=ohm)
    out = np.zeros((3, count, 2))  # leaving each cell's minus and plus end through links
    tab = np.zeros((3, 2))
    for n, k in enumerate(net.links):
        pole = int(k.junction == layout.cells[k.from_cell].group)
        out[:, k.from_cell, pole] += net.current_a[:, n]
        if k.to_cell is None:
            tab[:, pole] += net.current_a[:, n]
        else:
            out[:, k.to_cell, pole if k.kind == "parallel" else 0] -= net.current_a[:, n]
    assert out[..., 1] == pytest.approx(net.cell_current_a, abs=1e-6)
    assert out[..., 0] == pytest.approx(-net.cell_current_a, abs=1e-6)
    assert tab[:, 1] == pytest.approx(current, abs=1e-6)
    assert tab[:, 0] == pytest.approx(-current, abs=1e-6)
    for group in range(1, layout.series + 1):  # each group carries the whole current
        mine = [c.number for c in layout.cells if c.group == group]
        assert net.cell_current_a[:, mine].sum(axis=1) == pytest.approx(current, abs=1e-6)
    # energy: joints and cells as one resistance make the heat of cells, two welds each, and strips
    length_mm = np.array([k.length_mm for k in net.links])
    strips_w = (net.current_a**2 * Strip().resistance_mohm(length_mm) / 1000).sum(axis=1)
    heat_w = (net.cell_current_a**2 * (ohm + 0.2) / 1000).sum(axis=1) + strips_w
    group = np.array([c.group for c in layout.cells]) - 1
    whole_mohm = net.joint_mohm + np.sum(1 / np.bincount(group, 1 / ohm))
    assert heat_w == pytest.approx(current**2 * whole_mohm / 1000, rel=1e-6)
    # and what each piece loses is its current times its resistance
    assert net.drop_mv == pytest.approx(
        net.current_a * Strip().resistance_mohm(length_mm), abs=1e-6
    )


@given(any_layout())
def test_currents_make_the_least_heat(layout):
    # Thomson's theorem (Thomson and Tait, 1867): among all currents that obey the current law, the
    # true ones in a network of equal sources make the least heat. Solved as a constrained least
    # squares problem in the currents alone, by its optimality system: no potentials, no scipy.sparse.
    links, count = layout.links, len(layout.cells)
    if count > 30:
        return
    net = solve_strips(layout, 10.0, cell_mohm=15.0, weld_mohm=0.0)
    law = np.zeros((2 * count + 2, len(links) + count))
    for n, k in enumerate(links):
        pole = int(k.junction == layout.cells[k.from_cell].group)
        law[2 * k.from_cell + pole, n] += 1
        if k.to_cell is None:
            law[2 * count + pole, n] -= 1
        else:
            law[2 * k.to_cell + (pole if k.kind == "parallel" else 0), n] -= 1
    for c in range(count):
        law[2 * c, len(links) + c] += 1
        law[2 * c + 1, len(links) + c] -= 1
    inject = np.zeros(2 * count + 2)
    inject[-2:] = (10.0, -10.0)
    heat = np.diag(np.append(Strip().resistance_mohm(np.array([k.length_mm for k in links])),
                             np.full(count, 15.0)))  # fmt: skip
    size = len(law)
    system = np.block([[heat, law.T], [law, np.zeros((size, size))]])
    right = np.concatenate([np.zeros(len(heat)), inject])
    amps = np.linalg.lstsq(system, right, rcond=None)[0][: len(heat)]
    assert net.current_a == pytest.approx(amps[: len(links)], abs=1e-6)
    assert net.cell_current_a == pytest.approx(amps[len(links) :], abs=1e-6)
    # and the joint resistance is the total less S R / P
    total = (np.diag(heat) * amps**2).sum() / 100.0
    assert net.joint_mohm == pytest.approx(total - 15.0 * layout.series / layout.parallel, rel=1e-6)


def test_joint_resistance_feeds_the_pack():
    layout = block(6, 3)
    cold = solve_strips(layout, 30.0, temperature_c=20.0)
    warm = solve_strips(layout, 30.0, temperature_c=60.0)
    thick = solve_strips(layout, 30.0, layers=2)
    assert thick.joint_mohm < cold.joint_mohm < warm.joint_mohm


def test_plan_keeps_its_limits_and_counts_its_pieces():
    layout = block(6, 3, tabs="each")
    plan = plan_strips(layout, 30.0)
    assert plan.ok
    for place in plan.places:
        assert place.current_a <= 1.01 * place.allowed_a
        assert place.hottest_c <= 80.0
        fewer = place.allowed_a * (place.layers - 1) / place.layers
        assert place.current_a > 1.01 * fewer  # one layer fewer would break the rule
    by_kind = {p.kind: p for p in plan.pieces}
    # by hand: 5 steps of 3 rows, two layers of 8 x 0.15 mm for 10 A each
    assert by_kind["series"].count == 5 * 3 * 2
    assert by_kind["series"].length_mm == pytest.approx(21.4 + 8.0)
    # one straight piece along the three cells of a group, on both ends of six groups
    assert by_kind["parallel"].count == 12
    assert by_kind["parallel"].cell_ends == 3
    assert by_kind["parallel"].length_mm == pytest.approx(2 * 21.4 + 8.0)
    assert by_kind["tab"].count == 2 * 3 * 2
    # half a diameter to the can's edge, the tab, and one overhang past the weld
    assert by_kind["tab"].length_mm == pytest.approx(10.6 + 12.0 + 4.0)
    ends = 5 * 3 * 2 * 2 + 12 * 3 + 2 * 3 * 2
    assert plan.welds == 4 * ends
    assert plan.mass_g == pytest.approx(plan.strip_mm * 1.2 * 8.9e-3)
    assert plan.joint_mohm == plan.network.joint_mohm


def test_one_tab_for_all_is_called_out():
    plan = plan_strips(block(4, 4), 40.0)
    assert not plan.ok
    assert "tab on each end cell" in plan.why
    take_off = [p for p in plan.places if p.kind == "tab"]
    assert all(p.current_a == pytest.approx(40.0) for p in take_off)
    hopeless = plan_strips(block(4, 4), 400.0)
    assert not hopeless.ok
    assert "Do not build it" in hopeless.why


def test_every_layout_can_be_planned():
    for series, parallel in ((1, 1), (3, 5), (6, 2)):
        for layout in layouts(example_pack(series, parallel), most=30):
            plan = plan_strips(layout, 5.0 * parallel)
            cut = sum(p.length_mm * p.count for p in plan.pieces)
            stack = {(p.kind, p.junction): p.layers for p in plan.places}
            welded = sum(k.length_mm * stack[(k.kind, k.junction)] for k in plan.network.links)
            assert cut > welded  # every piece reaches past its last welds
