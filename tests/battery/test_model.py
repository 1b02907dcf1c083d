"""Making a model from curves: what must come back, and what is refused or doubted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from tests.conftest import straight_cell
from workbook.battery.model import (
    PUBLISHED_SHAPE,
    DischargeCurve,
    MonotoneCubic,
    identify_curves,
)
from workbook.errors import InputError

U = (4.2, 4.0, 3.8, 3.7, 3.6, 3.4, 3.0)
R = 0.030


def known(current_a: float, charge, cutoff_v: float = 2.0, r=lambda q: R) -> DischargeCurve:
    """A curve of a cell with U through 4.2 V falling to 3.0 V over 6 Ah, cut at the cutoff."""
    charge = np.asarray(charge, dtype=float)
    volts = np.interp(charge, range(7), U) - current_a * np.array([r(q) for q in charge])
    keep = volts >= cutoff_v
    return DischargeCurve(current_a, tuple(charge[keep]), tuple(volts[keep]))


def test_unequal_points_give_back_voltage_and_resistance() -> None:
    """Points differ from curve to curve; each holds the bends, so nothing is lost between them."""
    a = known(1.0, sorted({*range(7), 0.2, 0.9, 1.4, 2.2, 3.7, 5.1}))
    b = known(5.0, sorted({*range(7), 0.6, 1.7, 2.9, 4.4, 5.8}))
    c = known(10.0, sorted({*range(7), 0.35, 3.3, 5.5}))
    model = identify_curves((c, a, b))
    # monotone reading is curved between points that lie on a bend: within 12 mV, 4 mohm
    assert model.open_circuit_at(model.depth_of_discharge) == pytest.approx(
        np.interp(model.depth_of_discharge * 6, range(7), U), abs=0.02
    )
    assert np.median(model.resistance_mohm) == pytest.approx(30.0, abs=0.3)
    assert (model.lowest_a, model.highest_a, model.capacity_ah) == (1.0, 10.0, 6.0)
    assert model.basis == "curves"
    assert model.caution == ""


def test_where_curves_end_nothing_jumps() -> None:
    """High curves end at the cutoff long before the low one; U and R stay smooth and right."""
    fine = np.linspace(0.0, 6.0, 61)

    def rise(q: float) -> float:
        return R * (1 + 0.1 * q)

    model = identify_curves(tuple(known(a, fine, 3.1, rise) for a in (0.5, 3.0, 8.0, 12.0)))
    assert model.capacity_ah > 5.5
    q = model.depth_of_discharge * model.capacity_ah
    assert model.open_circuit_v == pytest.approx(np.interp(q, range(7), U), abs=0.01)
    # with one curve left (beyond 5.4 Ah) the resistance is held, and 0.5 A makes little of that
    two_left = q < 5.3
    assert model.resistance_mohm[two_left] == pytest.approx(30 * (1 + 0.1 * q[two_left]), abs=0.5)
    assert np.abs(np.diff(model.resistance_mohm)).max() < 1.0


def test_a_bent_response_makes_no_step_where_a_curve_ends() -> None:
    """Here the points do not lie on one line, so dropping a curve would jump were it not carried on."""
    fine = np.linspace(0.0, 6.0, 121)
    slow, middle, fast = known(0.5, fine, 3.1), known(3.0, fine, 3.1), known(10.0, fine, 3.1)
    fast = replace(fast, voltage_v=tuple(v - 0.06 for v in fast.voltage_v))  # a bend of 60 mV
    model = identify_curves((slow, middle, fast))
    end = fast.capacity_ah[-1] / model.capacity_ah
    near = np.abs(model.depth_of_discharge[1:] - end) < 0.02
    assert np.abs(np.diff(model.resistance_mohm))[near].max() < 1.0


def test_curves_that_start_late_are_carried_back_to_full() -> None:
    fine = np.linspace(0.0, 6.0, 61)
    whole = identify_curves((known(1.0, fine), known(8.0, fine)))
    late = identify_curves((known(1.0, fine[3:]), known(8.0, fine[5:])))
    assert late.open_circuit_v == pytest.approx(whole.open_circuit_v, abs=0.005)
    assert late.resistance_mohm == pytest.approx(whole.resistance_mohm, abs=0.5)


def test_one_curve_takes_the_stated_resistance() -> None:
    cell = straight_cell(resistance_mohm=30.0)
    model = replace(cell, curves=cell.curves[1:2]).model
    assert model.basis == "one curve"
    assert "second curve" in model.caution
    assert model.resistance_mohm == pytest.approx(30.0)
    assert model.open_circuit_v == pytest.approx(4.2 - 1.2 * model.depth_of_discharge)
    assert model.residual_rms_mv == pytest.approx(0.0, abs=1e-6)


def test_no_curve_takes_the_published_shape() -> None:
    cell = replace(straight_cell(), curves=(), cutoff_v=2.5)
    model = cell.model
    assert model.basis == "stated resistance"
    assert "No discharge curve" in model.caution
    # the published rows, as they are, for a cell with the same window
    depth, open_circuit_v = np.loadtxt(PUBLISHED_SHAPE, delimiter=",", unpack=True)
    assert model.open_circuit_at(depth) == pytest.approx(open_circuit_v, abs=0.004)
    assert np.isnan(model.highest_a)
    assert "stated resistance" in model.trust(3.0)
    high = replace(cell, charge_v=4.35, cutoff_v=3.0).model
    assert high.open_circuit_v[[0, -1]] == pytest.approx([4.35, 3.0], abs=1e-3)
    assert (np.diff(high.open_circuit_v) < 0).all()


def test_curves_that_do_not_fit_together_are_left_out_from_the_top() -> None:
    fine = np.linspace(0.0, 6.0, 61)
    odd = known(10.0, fine)
    odd = replace(odd, voltage_v=tuple(v - 0.4 for v in odd.voltage_v))
    model = identify_curves((known(1.0, fine), known(4.0, fine), odd))
    assert model.highest_a == 4.0
    assert "left out" in model.caution
    assert model.resistance_mohm == pytest.approx(30.0, abs=0.2)


def test_curves_far_below_the_continuous_current_are_doubted() -> None:
    model = straight_cell(continuous_a=30.0).model
    assert model.caution.startswith("The datasheet curves end at 10 A")
    assert "reaches beyond" in model.trust(12.0)
    assert model.trust(10.0) == ""


LINE = DischargeCurve(1.0, (0.0, 1.0, 2.0), (4.1, 3.7, 3.0))


@pytest.mark.parametrize(
    ("curves", "words"),
    [
        ((LINE, replace(LINE, current_a=5.0)), "no less voltage"),
        ((LINE, replace(LINE, current_a=5.0, voltage_v=(4.15, 3.8, 3.1))), "swapped"),
        ((LINE, replace(LINE, current_a=5.0, capacity_ah=(3.0, 4.0, 5.0))), "share no range"),
    ],
)
def test_curves_that_do_not_go_together_are_refused(curves, words: str) -> None:
    with pytest.raises(InputError, match=words):
        identify_curves(curves)


def _ending(shares: dict[float, float]) -> tuple[DischargeCurve, ...]:
    """Curves of one shape, each of its share of 5 Ah, 30 mohm apart: a cell whose charge shrinks with rate."""
    depth = np.linspace(0.0, 1.0, 41)
    rest = 4.2 - 1.0 * depth - 0.7 * depth**12  # a knee at the end, 2.5 V
    return tuple(
        DischargeCurve(a, tuple(5.0 * share * depth), tuple(rest - 0.03 * a * (1.0 - depth**12)))
        for a, share in shares.items()
    )


def test_curves_that_end_far_apart_are_used_as_far_as_they_agree_and_reported():
    """Issue: they were refused with a false reason."""
    model = identify_curves(_ending({1.0: 1.0, 2.0: 0.9, 5.0: 0.8, 10.0: 0.75}))
    assert "were left out" in model.caution
    assert model.highest_a < 10.0


def test_monotone_cubic_is_scipys() -> None:
    """Against scipy.interpolate.PchipInterpolator: drawn points, flat and turning ones among them."""
    rng = np.random.default_rng(0)
    for count in (2, 3, 4, 9, 40):
        x = np.cumsum(rng.uniform(0.05, 2.0, count))
        y = rng.integers(-3, 4, count).astype(float)
        between = np.linspace(x[0] - 0.1, x[-1] + 0.1, 301)
        reference = PchipInterpolator(x, y)
        np.testing.assert_allclose(
            MonotoneCubic(x, y)(between), reference(between), rtol=1e-12, atol=1e-12
        )
        np.testing.assert_allclose(MonotoneCubic(x, y).slope, reference(x, 1), atol=1e-12)
