"""The weight spiral's closed form against a search, published shares and the computed spiral."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from workbook.sizing.closed_spiral import (
    best_pack_mass_g,
    closed_spiral,
    gained_min,
    share_of_longest,
    spiral_steps,
)
from workbook.sizing.curves import spiral
from workbook.sizing.design import Design
from workbook.sizing.operating_point import operate


@pytest.mark.parametrize("exponent", [1.3, 1.5, 2.0])
def test_the_best_pack_is_where_a_search_finds_it(exponent: float) -> None:
    found = minimize_scalar(
        lambda pack: -pack / (1000.0 + pack) ** exponent, bounds=(1, 20_000), method="bounded"
    )
    assert float(best_pack_mass_g(1000.0, exponent)) == pytest.approx(found.x, rel=1e-4)


def test_doubling_the_pack() -> None:
    # by hand: 2 ((1 + r) / (1 + 2 r))^1.5 - 1 at r = 0.25, 0.5, 1: 52, 30, 9 %
    ratio = np.array([0.25, 0.5, 1.0])
    gain = share_of_longest(2 * ratio, 1.0) / share_of_longest(ratio, 1.0) - 1
    assert 100 * gain == pytest.approx([52, 30, 9], abs=0.6)


def test_half_the_all_up_mass_gives_92_per_cent() -> None:
    # by hand: (1 / 2^1.5) / (2 / 3^1.5) = 0.9186
    assert float(share_of_longest(800.0, 800.0)) == pytest.approx(0.9186, abs=1e-4)
    assert float(share_of_longest(1600.0, 800.0)) == pytest.approx(1.0)


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
    design = pure(six_rotor)
    point = operate(design)
    curve = spiral(design, 24)
    paper = closed_spiral(design, point, curve.parallel)
    assert paper.endurance_min == pytest.approx(curve.endurance_min, rel=2e-3)
    assert abs(curve.best_parallel - paper.best_parallel) <= 0.5


def test_paper_meets_the_design_at_its_own_point(six_rotor: Design) -> None:
    point = operate(six_rotor)
    paper = closed_spiral(six_rotor, point, np.array([3.0]))
    assert paper.endurance_min[0] == pytest.approx(float(point.endurance_min))
    # by hand: 2100 + 350 g without the pack
    assert paper.best_pack_g == 2 * 2450.0


def test_gains_add_up_and_steps_tell_the_same(six_rotor: Design) -> None:
    point, curve = operate(six_rotor), spiral(six_rotor, 8)
    gained = gained_min(curve)
    assert gained.sum() == pytest.approx(curve.endurance_min[-1])
    steps = {s.key: s.result for s in spiral_steps(six_rotor, point, curve,
                                                   closed_spiral(six_rotor, point, curve.parallel))}  # fmt: skip
    assert steps["gained_min"] == pytest.approx(gained[2])
    assert steps["endurance_min"] == pytest.approx(float(point.endurance_min))
