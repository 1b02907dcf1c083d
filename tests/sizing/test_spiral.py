"""The weight spiral's closed form against a search, published shares and the computed spiral."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from tests.sizing.wings import wing
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.sizing.spiral import IdealEndurance, spiral
from workbook.sizing.wing_point import wing_point


@pytest.mark.parametrize("exponent", [1.3, 1.5, 2.0])
def test_the_best_pack_is_where_a_search_finds_it(exponent: float) -> None:
    found = minimize_scalar(
        lambda pack: -pack / (1000.0 + pack) ** exponent, bounds=(1, 20_000), method="bounded"
    )
    assert IdealEndurance(1000.0, exponent).best_pack_g == pytest.approx(found.x, rel=1e-4)


def test_doubling_the_pack() -> None:
    # by hand: 2 ((1 + r) / (1 + 2 r))^1.5 - 1 at r = 0.25, 0.5, 1: 52, 30, 9 %
    ratio = np.array([0.25, 0.5, 1.0])
    share = IdealEndurance(1.0).share_of_longest
    gain = share(2 * ratio) / share(ratio) - 1
    assert 100 * gain == pytest.approx([52, 30, 9], abs=0.6)


def test_half_the_all_up_mass_gives_92_per_cent() -> None:
    # by hand: (1 / 2^1.5) / (2 / 3^1.5) = 0.9186
    assert float(IdealEndurance(800.0).share_of_longest(800.0)) == pytest.approx(0.9186, abs=1e-4)
    assert float(IdealEndurance(800.0).share_of_longest(1600.0)) == pytest.approx(1.0)


def pure(design: Design) -> Design:
    """The design with all that the paper leaves out taken away: avionics, leads, sag."""
    model = replace(
        design.pack.cell.model, resistance_mohm=design.pack.cell.model.resistance_mohm * 1e-6
    )
    cell = replace(design.pack.cell)
    cell.__dict__["model"] = model
    return design.changed(avionics_w=0.0, extra_mass_g=0.0, joint_mohm=0.0, cell=cell)


def test_paper_and_computation_agree_where_nothing_is_left_out(six_rotor: Design) -> None:
    # the fixture's table has power as thrust^1.5, so the two curves are one
    curve = spiral(pure(six_rotor), 24)
    assert curve.ideal_min == pytest.approx(curve.endurance_min, rel=2e-3)
    assert abs(curve.best_parallel - curve.ideal_parallel) <= 0.5


def test_paper_meets_the_longest_flight_and_stays_where_it_is_as_p_moves(six_rotor: Design) -> None:
    curve = spiral(six_rotor)
    at_best = operate(six_rotor.changed(parallel=int(curve.best_parallel)))
    assert curve.ideal_min[int(curve.best_parallel) - 1] == pytest.approx(at_best.endurance_min)
    assert spiral(six_rotor.changed(parallel=7)).ideal_min == pytest.approx(curve.ideal_min)
    # by hand: 2100 + 350 g without the pack, 18 cells of 70 g with 10 % and leads of 75 g
    assert curve.ideal.best_pack_g == 2 * 2450.0
    assert curve.pack_over_rest == pytest.approx((18 * 70 * 1.1 + 75) / 2450)


def test_gains_add_up_and_steps_tell_the_same(six_rotor: Design) -> None:
    point, curve = operate(six_rotor), spiral(six_rotor, 8)
    gained = curve.gained_min
    assert gained.sum() == pytest.approx(curve.endurance_min[-1])
    steps = {s.key: s.result for s in curve.working()}
    assert steps["share_of_longest"] == pytest.approx(
        curve.ideal.share_of_longest(six_rotor.pack.mass_g)
    )
    assert steps["pack_mass_g"] == pytest.approx(six_rotor.pack.mass_g)
    assert steps["gained_min"] == pytest.approx(gained[2])
    assert steps["endurance_min"] == pytest.approx(float(point.endurance_min))


def test_a_spiral_holds_the_single_answers(six_rotor: Design) -> None:
    curve = spiral(six_rotor, 6)
    assert curve.here_min == pytest.approx(float(operate(six_rotor).endurance_min))
    assert curve.here_min == curve.endurance_min[2]
    alone, among = operate(six_rotor), curve.point
    for name, figure in vars(alone.run).items():
        assert getattr(among.run, name) == pytest.approx(figure, rel=1e-12), name
    assert float(among.reserve) == pytest.approx(float(alone.reserve), rel=1e-12)
    assert (np.diff(curve.all_up_mass_g) > 0).all()
    assert curve.best_parallel == 6.0
    # 47 kg without the pack: above the top of the thrust table, whatever the pack
    assert np.isnan(spiral(six_rotor.changed(mass_without_pack_g=48_000.0), 6).best_parallel)


def test_a_wing_has_a_spiral_too() -> None:
    design = wing()
    curve = spiral(design, 6)
    alone = float(wing_point(design).endurance_min)
    assert curve.here_min == pytest.approx(alone, rel=1e-9)
