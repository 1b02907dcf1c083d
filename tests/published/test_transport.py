"""Transport classes against the published passenger table."""

import numpy as np
import pytest

from workbook.bench.transport import passenger_class


@pytest.mark.parametrize(
    ("energy_wh", "want"),
    # IATA passenger sheet (2018) and a summary of the 67th edition (2026): "must not exceed 100 Wh",
    # "above 100 Wh but not above 160 Wh" two spares with approval
    [(99.99, 0), (100.0, 0), (100.01, 1), (160.0, 1), (160.01, 2), (2.7, 0), (500.0, 2)],
)
def test_limits_are_inclusive(energy_wh, want):
    assert passenger_class(energy_wh) == want


def test_a_float_on_the_limit_is_within():
    # 100 Wh and 160 Wh made of factors that do not multiply exactly
    for parts in np.linspace(0.1, 9.9, 99):
        assert passenger_class(parts * (100.0 / parts)) == 0
        assert passenger_class(sum([160.0 / parts / 10] * 10) * parts) == 1
