"""Shares of the spread, and a line that is settled."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sizing.budget import budget
from workbook.sizing.budget_lines import STANDARD_LINES, BudgetLine, Effect, settle
from workbook.sizing.design import Design
from workbook.sizing.sensitivity import variance_shares


def even(key: str, half_width: float, middle: float = 0.0) -> BudgetLine:
    return BudgetLine(
        key,
        key,
        middle - half_width,
        middle,
        middle + half_width,
        "uniform",
        (Effect("power_factor"),),
    )


def test_shares_of_a_sum_are_its_variances() -> None:
    """y = 3a + 2b + c of even spreads of one width: shares 9/14, 4/14, 1/14, nothing together."""
    lines = tuple(even(k, 1.0) for k in "abc")
    found = variance_shares(
        lambda x: {"y": 3 * x[0] + 2 * x[1] + x[2], "b": x[1]}, lines, draws=4096
    )
    assert [s.line.key for s in found["y"].shares] == ["a", "b", "c"]
    for share, part in zip(found["y"].shares, (9 / 14, 4 / 14, 1 / 14), strict=True):
        assert share.first_order == pytest.approx(part, abs=0.005)
        assert share.total == pytest.approx(part, abs=0.005)
    assert found["b"].share("b").total == pytest.approx(1.0, abs=0.005)
    assert found["b"].share("a").total == pytest.approx(0.0, abs=0.005)
    assert found["y"].standard_deviation == pytest.approx(np.sqrt(14 / 3), rel=0.01)


def test_a_line_with_nothing_open_has_no_share(six_rotor: Design) -> None:
    lines = settle(STANDARD_LINES, "wind")
    found = budget(six_rotor, lines, draws=8).sensitivity(256)["endurance_min"]
    assert found.share("wind").total == 0.0
    assert found.share("thrust_table").total > 0.1
    assert sum(s.total for s in found.shares) == pytest.approx(1.0, abs=0.15)
    still = [line.settled() for line in STANDARD_LINES]
    assert all(
        s.total == 0
        for s in budget(six_rotor, still, draws=8).sensitivity()["endurance_min"].shares
    )


def test_the_same_seed_gives_the_same_shares(six_rotor: Design) -> None:
    one, again = (budget(six_rotor, draws=8).sensitivity(128) for _ in range(2))
    assert one == again


def test_settling_a_line_takes_its_share_of_the_variance(six_rotor: Design) -> None:
    """Without a line the variance falls by its total share, where lines hardly work on each other."""
    before = budget(six_rotor, draws=8192)
    share = before.sensitivity(4096)["endurance_min"].share("wind")
    after = budget(six_rotor, settle(STANDARD_LINES, "wind"), draws=8192)
    was, now = (np.var(b.samples["endurance_min"]) for b in (before, after))
    assert 1 - now / was == pytest.approx(share.total, abs=0.03)
    one, other = (b.reading("endurance_min") for b in (before, after))
    assert other.spread / one.spread == pytest.approx(np.sqrt(1 - share.total), abs=0.04)
    assert other.plan == one.plan
    better = budget(six_rotor, settle(STANDARD_LINES, "wind", 0.0)).reading("endurance_min")
    assert better.expected > one.expected


def test_a_wing_has_shares_too() -> None:
    wing = read_design(DESIGNS / "survey_wing.toml").design
    found = budget(wing, draws=8).sensitivity(128)
    assert "climb_end_m_s" in found
    assert found["endurance_min"].shares[0].total > 0.2


def test_what_cannot_be_shared_out_is_stated(six_rotor: Design) -> None:
    with pytest.raises(InputError, match="power of 2"):
        budget(six_rotor, draws=8).sensitivity(1000)
    heavy = six_rotor.changed(mass_without_pack_g=46_500.0)
    with pytest.raises(InputError, match=r"(is undefined for|does not fly)"):
        budget(heavy, draws=8).sensitivity(256)
