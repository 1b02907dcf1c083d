"""Fuse choice."""

import pytest

from workbook.bench import fuse
from workbook.errors import InputError


def test_fuse_stands_the_flight_and_the_voltage():
    choice = fuse.choose_fuse(30.0, 45.0, 16.8, awg=12)
    assert choice.chosen_a is not None
    assert choice.chosen_a >= 1.25 * 30.0
    assert 1.1 * choice.chosen_a >= 45.0
    assert choice.chosen_a <= 60.0
    assert choice.fuse.dc_v >= 16.8


def test_eight_cells_are_over_32_v():
    assert fuse.choose_fuse(30.0, 45.0, 33.6, awg=12).fuse.dc_v == 58.0


def test_over_every_listed_voltage():
    choice = fuse.choose_fuse(30.0, 45.0, 60.0, awg=12)
    assert choice.fuse is None
    assert "60 V" in choice.why


def test_thin_lead_is_said():
    choice = fuse.choose_fuse(30.0, 40.0, 16.8, awg=20)
    assert choice.chosen_a is None
    assert "too thin" in choice.why


def test_short_circuit_over_breaking_capacity_is_said():
    choice = fuse.choose_fuse(30.0, 45.0, 16.8, awg=12, short_circuit_a=1400.0)
    assert "1400 A" in choice.why


def test_bad_input():
    with pytest.raises(InputError, match="burst"):
        fuse.choose_fuse(30.0, 20.0, 16.8, awg=12)
