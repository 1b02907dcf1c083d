"""Fuse choice."""

import pytest

from workbook.bench import fuse, wire
from workbook.errors import InputError


def test_a_fuse_stands_its_current_and_opens_before_its_wire_is_too_hot():
    choice = fuse.choose_fuse(16.0, 16.8, awg=12)
    assert choice.chosen_a is not None
    assert choice.chosen_a >= 1.25 * 16.0
    # the wire at the fuse's rating for good, in air of 35 C: no hotter than the 80 C of its choice
    assert wire.temperature_c(12, choice.chosen_a, 35.0, loaded_wires=2) <= 80.0
    assert choice.fuse.dc_v >= 16.8


def test_the_least_rating_is_a_quarter_over_the_current():
    # by hand: 1.25 x 9 A is 11.25 A, and 15 A is the next that is sold; 1.25 x 8 A is 10 A, which is sold
    assert fuse.choose_fuse(9.0, 16.8, awg=12).chosen_a == 15.0
    assert fuse.choose_fuse(8.0, 16.8, awg=12).chosen_a == 10.0


def test_what_a_wire_may_carry_brings_it_to_its_limit():
    for awg in wire.GAUGES_AWG:
        amps = wire.allowed_a(awg)
        assert wire.temperature_c(awg, amps, 35.0, loaded_wires=2) == pytest.approx(80.0)


def test_a_lead_stands_what_its_fuse_lets_through_for_minutes():
    # ISO 8820-3 (from memory): a blade fuse opens at 1.35 times its rating, within half an hour
    for awg in wire.GAUGES_AWG:
        hottest_c = wire.temperature_c(awg, 1.35 * wire.allowed_a(awg), 35.0, loaded_wires=2)
        assert hottest_c < wire.SILICONE_C - 50.0


def test_eight_cells_are_over_32_v():
    assert fuse.choose_fuse(16.0, 33.6, awg=12).fuse.dc_v == 58.0


def test_over_every_listed_voltage():
    choice = fuse.choose_fuse(16.0, 60.0, awg=12)
    assert choice.fuse is None
    assert "60 V" in choice.why


def test_thin_lead_is_stated():
    choice = fuse.choose_fuse(30.0, 16.8, awg=20)
    assert choice.chosen_a is None
    assert "too thin" in choice.why


def test_short_circuit_over_breaking_capacity_is_stated():
    choice = fuse.choose_fuse(16.0, 16.8, awg=12, short_circuit_a=1400.0)
    assert "1400 A" in choice.why


def test_the_charge_lead_has_a_fuse_and_a_wire_of_its_own():
    # 8 A: at least 10 A of fuse, and a wire that may carry them
    choice = fuse.charge_lead_fuse(8.0, 25.2)
    assert choice.chosen_a == 10.0
    assert wire.allowed_a(choice.awg) >= 10.0
    thinner = wire.GAUGES_AWG[wire.GAUGES_AWG.index(choice.awg) + 1 :]
    assert all(wire.allowed_a(awg) < 10.0 for awg in thinner)


def test_a_shorted_cell_among_many():
    # by hand: seven cells side by side, 25/7 mohm, into one of 25 mohm: 4.2 V / 28.57 mohm = 147 A
    assert "147 A" in fuse.cell_fuse_words(8, 4.2, 25.0)
    assert fuse.cell_fuse_words(3, 4.2, 25.0) == ""


def test_bad_input():
    with pytest.raises(InputError, match="current_a: 0 is not possible; above 0 is needed"):
        fuse.choose_fuse(0.0, 16.8, awg=12)
    with pytest.raises(InputError, match="awg: -1 is not possible; 8 to 22 is needed"):
        fuse.choose_fuse(11.0, 16.8, awg=-1)
    with pytest.raises(InputError, match="short_circuit_a: nan is not possible"):
        fuse.choose_fuse(11.0, 16.8, awg=12, short_circuit_a=float("nan"))
