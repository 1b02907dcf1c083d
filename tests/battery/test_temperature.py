"""Cold factors against measured rows and the form that they are said to have."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.temperature import capacity_at_temperature, resistance_at_temperature


def test_capacity_is_that_of_a_measured_cell() -> None:
    """A 5 Ah 21700 at 1 It to 2.5 V: 4.2849, 4.5162, 4.7825, 4.9120 Ah at 0, 10, 25, 45 C (open tests)."""
    measured = np.array([4.2849, 4.5162, 4.7825, 4.9120]) / 4.7825
    assert capacity_at_temperature([0.0, 10.0, 25.0, 45.0]) == pytest.approx(measured, abs=6e-4)


def test_capacity_stays_above_what_the_standard_asks() -> None:
    """IEC 61960-3: at least 30 % at 0.2 It and -20 C (from memory); and it never rises in the cold."""
    temperatures = np.linspace(-30.0, 60.0, 91)
    factors = capacity_at_temperature(temperatures)
    assert factors.min() > 0.3
    assert (np.diff(factors) >= 0).all()


def test_resistance_has_the_arrhenius_form() -> None:
    """ln R is straight over 1/T with slope E / 8.314 J/mol/K, E = 20 kJ/mol."""
    celsius = np.array([-20.0, 0.0, 25.0, 50.0])
    slope, at_zero = np.polyfit(
        1.0 / (celsius + 273.15), np.log(resistance_at_temperature(celsius)), 1
    )
    assert slope == pytest.approx(20000.0 / 8.314462618)
    assert at_zero == pytest.approx(-slope / 298.15)
