"""A multirotor design that several tests share. Invented."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.conftest import six_rotors
from workbook.craft.craft_types import Multirotor
from workbook.sizing.design import Design

RATED = {
    "max_all_up_mass_g": 9000.0,
    "controller_max_v": 40.0,
    "controller_max_a": 90.0,
    "connector_max_a": 400.0,
    "power_module_max_a": 400.0,
    "power_module_max_v": 60.0,
    "regulator_max_v": 60.0,
    "regulator_min_v": 5.0,
}
"""Ratings of the other parts, none of them near."""
SOUND = {**RATED, "parallel": 6, "throttle_cap_pct": 52.0, "landing_v": 3.2, "thrust_reserve": 1.3}
"""Figures with which it holds."""


def six(**changes: Any) -> Design[Multirotor]:
    """Six rotors on 6S3P of a straight cell; figures changed by name."""
    # the table goes on to 12 times the weight, so that every thrust asked for lies in it
    return replace(six_rotors(**changes), sure=("table",))
