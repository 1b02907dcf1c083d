"""The balance lead."""

import numpy as np
import pytest

from workbook.bench.balance import balance_lead, check_readings, pin_step
from workbook.errors import InputError


def test_pins_add_up():
    lead = balance_lead(6, arrival_cell_v=3.51)
    assert len(lead) == 7
    assert [p.pin for p in lead] == list(range(7))
    assert lead[0].full_v == 0.0
    assert lead[6].full_v == pytest.approx(25.2)
    assert lead[6].storage_v == pytest.approx(22.2)
    assert lead[3].arrival_v == pytest.approx(3 * 3.51)


def test_good_lead_is_safe_with_and_without_pin_0():
    assert check_readings([3.6, 7.21, 10.8, 14.4], 4).safe
    assert check_readings([0.0, 3.6, 7.21, 10.8, 14.4], 4).safe


@pytest.mark.parametrize("series", [3, 4, 6, 8])
def test_any_two_wires_swapped_is_found(series):
    good = 3.6 * np.arange(series + 1)
    for a in range(series + 1):
        for b in range(a + 1, series + 1):
            swapped = good.copy()
            swapped[[a, b]] = swapped[[b, a]]
            found = check_readings(swapped, series)
            assert not found.safe, (a, b)


def test_doubled_and_missing_wire():
    found = check_readings([3.6, 3.6, 10.8, 14.4], 4)
    assert "not joined" in found.findings[0]
    assert "two cells" in found.findings[1]


def test_one_low_group():
    found = check_readings([3.6, 7.2, 10.2, 13.8], 4)
    assert found.findings == ("Pin 2 to pin 3 reads 3.00 V; 3.60 V within 0.1 V is expected.",)


def test_bad_input():
    with pytest.raises(InputError, match="3 readings"):
        check_readings([1, 2, 3], 4)


def test_pins_add_and_are_those_of_the_lead() -> None:
    lead = balance_lead(6, arrival_cell_v=3.5)
    for pin in range(1, 7):
        assert pin_step(pin, 3.5).result == pytest.approx(lead[pin].arrival_v)
