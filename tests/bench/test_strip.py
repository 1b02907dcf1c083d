"""One strip: heat against an independent solution, rules, working."""

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from workbook.bench.strip import MATERIALS, Strip, layers_steps, piece_steps, resistivity_ohm_m
from workbook.errors import InputError


@pytest.mark.parametrize("amps", [3.0, 10.0, 25.0, 45.0])
@pytest.mark.parametrize("layers", [1, 2])
def test_hottest_point_against_a_boundary_value_solver(amps, layers):
    strip, length, cell_c, air_c, film = Strip("nickel 200", 8.0, 0.15), 0.030, 50.0, 35.0, 10.0
    metal = MATERIALS["nickel 200"]
    area = 8e-3 * 0.15e-3 * layers

    def slope(x, y):  # x in centimetres, so that both rows are of one size
        made = amps**2 * metal.ohm_m * (1 + metal.per_k * (y[0] - 20.0)) / area
        lost = film * 8e-3 * (y[0] - air_c)
        return np.vstack([y[1], -1e-4 * (made - lost) / (metal.w_per_m_k * area)])

    x = np.linspace(0.0, 100 * length, 101)
    start = np.vstack([np.full_like(x, cell_c), np.zeros_like(x)])
    found = solve_bvp(
        slope, lambda a, b: np.array([a[0] - cell_c, b[0] - cell_c]), x, start, tol=1e-6
    )
    assert found.success
    got = strip.hottest_c(amps, 1000 * length, layers, cell_c, air_c, film)
    assert got == pytest.approx(max(found.sol(50 * length)[0], cell_c), abs=2e-3)


def test_hottest_point_limits():
    # short piece, no loss from its face: q L^2 / (8 k), the textbook bar with held ends
    strip = Strip("copper", 10.0, 0.2)
    per_m3 = 20.0**2 * resistivity_ohm_m("copper", 50.0) / (2e-6) ** 2
    by_hand = 50.0 + per_m3 * 0.02**2 / (8 * 400.0)
    assert strip.hottest_c(20.0, 20.0, film_w_per_m2_k=1e-9) == pytest.approx(by_hand, abs=0.01)
    # a long piece that no end cools: balance of the face alone, h w (T - air) = I^2 rho(T) / A
    long_c = Strip().hottest_c(4.0, 3000.0)
    made = 16.0 * resistivity_ohm_m("nickel 200", long_c) / 1.2e-6
    assert made == pytest.approx(10.0 * 8e-3 * (long_c - 35.0))
    assert Strip().hottest_c(30.0, 3000.0) == np.inf
    many = Strip().hottest_c(np.array([[1.0], [20.0]]), 20.0, np.array([1.0, 2.0, 4.0]))
    assert many.shape == (2, 3)
    assert np.all(np.diff(many[1]) < 0)


def test_rule_sits_in_the_ranges_builders_keep_to():
    # common practice, no source: 0.15 x 8 mm 5 to 7 A, 0.2 x 8 mm 7 to 10 A, 0.2 x 10 mm 10 to 12 A
    for width, thickness, low, high in ((8, 0.15, 5, 7), (8, 0.2, 7, 10), (10, 0.2, 10, 12)):
        assert low <= Strip("nickel 200", width, thickness).allowed_a <= high
    # the same heat in copper of the same section
    nickel, copper = Strip(), Strip("copper")
    current_a = copper.allowed_a
    assert current_a**2 * copper.resistance_mohm(1.0) == pytest.approx(
        36.0 * nickel.resistance_mohm(1.0)
    )


def test_piece_of_strip_by_hand():
    # nickel as sold 0.096 ohm mm2/m: 20 mm of 0.15 x 8 mm is 0.096 x 0.020 / 1.2 = 1.6 mohm
    steps = piece_steps(Strip(), 20.0, 1, 10.0, 20.0)
    assert [s.result for s in steps] == pytest.approx([1.2, 6.0, 1.6, 16.0])


@pytest.mark.parametrize(("amps", "layers"), [(6.0, 1), (6.05, 1), (6.2, 2), (24.0, 4), (24.5, 5)])
def test_layers_are_rounded_up_and_a_hundredth_is_let_pass(amps, layers):
    assert layers_steps(Strip(), amps)[-1].result == layers


def test_a_meter_tells_nickel_from_steel_as_the_words_say():
    # 2 A through a millimetre of 0.15 x 8 mm
    nickel, steel = (2 * Strip(m).resistance_mohm(1.0) for m in ("nickel 200", "plated steel"))
    assert f"{nickel:.2f} mV a millimetre" in Strip.nickel_or_steel[3]
    assert steel >= 1.5 * nickel


@pytest.mark.parametrize(
    ("given", "sentence"),
    [({"material": "tin"}, "strip material is tin"), ({"width_mm": 0.0}, "width_mm: 0 is not")],
)
def test_what_is_no_strip_is_refused(given: dict, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        Strip(**given)
