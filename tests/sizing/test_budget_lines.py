"""Lines of a budget: how they are drawn, what they act on, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

from tests.sizing.lines import line
from workbook.errors import InputError
from workbook.sizing.budget import MOST_DRAWS, budget
from workbook.sizing.budget_lines import (
    SEED,
    SOBOL_CSV,
    STANDARD_LINES,
    BudgetLine,
    Effect,
    apply,
    check_lines,
    draw_lines,
    settle,
    values_of,
)
from workbook.sizing.design import Design


def test_draws_keep_to_the_distribution() -> None:
    lines = (
        line(key="t", low=0.0, expected=3.0, high=6.0),
        line(key="u", low=-1.0, expected=0.0, high=1.0, distribution="uniform"),
        line(key="n", low=-1.0, expected=0.0, high=1.0, distribution="normal"),
        line(key="f", low=2.0, expected=2.0, high=2.0),
    )
    t, u, n, f = draw_lines(lines, 8192, 1)
    assert t.min() >= 0.0
    assert t.max() <= 6.0
    assert np.abs(u).max() <= 1.0
    # a triangle of half width w has variance w^2 / 6, an even spread of half width w has w^2 / 3
    assert np.var(t) == pytest.approx(9.0 / 6.0, rel=5e-3)
    assert np.var(u) == pytest.approx(1.0 / 3.0, rel=5e-3)
    # low and high are the 5 % and 95 % points: 1 / 1.6449 is the standard deviation
    assert np.std(n) == pytest.approx(1.0 / 1.6449, rel=5e-3)
    assert np.all(f == 2.0)


def test_lines_on_a_design_figure_add_or_share(six_rotor: Design) -> None:
    lines = (
        line(key="a", applies_to=(Effect("reserve_pct", 1.0, "plus"),)),
        line(key="b", applies_to=(Effect("payload_g", 2.0), Effect("power_factor", -0.5))),
    )
    applied = apply(six_rotor, lines, np.array([3.0, 10.0]))
    assert applied.design.flight.reserve_pct == pytest.approx(13.0)
    assert applied.design.craft.payload_g == pytest.approx(350.0 * 1.2)
    assert applied.allowances.power_factor == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"low": 6.0}, "do not fall"),
        ({"high": float("nan")}, "numbers"),
        ({"distribution": "normal"}, "in the middle"),
        ({"distribution": "round"}, "triangular, uniform or normal"),
        ({"applies_to": ()}, "applies to nothing"),
        ({"applies_to": (Effect("wind_factor"),)}, "not a figure"),
        ({"applies_to": (Effect("power_factor", 1.0, "plus"),)}, "how must be share"),
        ({"applies_to": (Effect("capacity_factor", -10.0),)}, "takes all"),
        ({"applies_to": (Effect("wanted_min"),)}, "not a figure"),
    ],
)
def test_lines_that_cannot_be_used(
    changes: dict[str, object], sentence: str, six_rotor: Design
) -> None:
    with pytest.raises(InputError, match=sentence):
        check_lines((line(**changes),), six_rotor)


def test_no_draw_leaves_nothing_of_a_figure(six_rotor: Design) -> None:
    """A measurement that is 100 % off, 95 times in 100: two in a hundred draws would be below zero."""
    ends = 100.0 * 1.645 / 1.960  # the 95 % point of a normal over its 97.5 % point
    wide = BudgetLine("w", "wide", -ends, 0.0, ends, "normal", (Effect("resistance_factor"),))
    drawn = draw_lines([wide], 1024, 1)
    applied = apply(six_rotor, [wide], drawn)
    factor = np.asarray(applied.allowances.resistance_factor)
    assert factor.min() == 0.05
    assert budget(six_rotor, [wide], draws=256).lasting_pct(1.0) > 50.0


def test_a_settled_line_has_nothing_open() -> None:
    known = settle(STANDARD_LINES, "wind")
    assert [line.key for line in known if line.fixed] == ["wind"]
    assert known[2].expected == STANDARD_LINES[2].expected
    assert settle(STANDARD_LINES, "wind", 0.0)[2].high == 0.0
    assert (known[2].ppf(np.array([0.1, 0.9])) == known[2].expected).all()
    with pytest.raises(InputError, match="no line has this key"):
        settle(STANDARD_LINES, "moon")


def test_the_kept_sequence_is_what_scipy_draws() -> None:
    """Where a standard line was added, `python -m tests.sizing.sobol` makes it again."""
    count, bits = len(STANDARD_LINES), int(np.ceil(np.log2(MOST_DRAWS)))
    assert np.loadtxt(SOBOL_CSV, delimiter=",").shape == (1 + bits, count)
    engine = qmc.Sobol(count, scramble=True, rng=np.random.default_rng(SEED))
    shares = engine.random_base2(14).T
    np.testing.assert_array_equal(
        draw_lines(STANDARD_LINES, 10_000, SEED), values_of(STANDARD_LINES, shares[:, :10_000])
    )


def test_other_seeds_and_other_lines_are_drawn_by_scipy() -> None:
    kept, other = (draw_lines(STANDARD_LINES, 64, seed) for seed in (SEED, SEED + 1))
    assert not np.array_equal(kept, other)
    few = draw_lines(STANDARD_LINES[:3], 64, SEED)
    engine = qmc.Sobol(3, scramble=True, rng=np.random.default_rng(SEED))
    np.testing.assert_array_equal(few, values_of(STANDARD_LINES[:3], engine.random_base2(6).T))
