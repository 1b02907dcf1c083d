"""Transport: flags, words, refusals."""

import numpy as np
import pytest

from workbook.bench.transport import passenger_class, transport
from workbook.errors import InputError


def test_nominal_voltage_that_flips_the_answer_is_flagged():
    # 4S2P of 3.45 Ah: 99.36 Wh at 3.6 V, 102.12 Wh at 3.7 V
    got = transport(4, 2, 3.45, 3.6)
    assert "102.1 Wh" in got.nominal_note
    assert transport(4, 1, 5.0).nominal_note == ""


def test_untested_pack_is_always_said():
    for pack in (transport(3, 1, 3.0), transport(6, 2, 4.5)):
        assert "38.3" in " ".join(pack.cautions)
        assert "Check the current rules and your operator" in pack.edition


def test_cargo_words():
    assert "within" in transport(4, 2, 3.0).cargo_note  # 10.8 Wh a cell, 86.4 Wh
    assert "over" in transport(6, 1, 5.0).cargo_note  # 108 Wh


def test_arrays():
    energy = np.linspace(0, 200, 1_000_000).reshape(1000, 1000)
    got = passenger_class(energy)
    assert got.shape == energy.shape
    np.testing.assert_array_equal(got == 2, energy > 160.0)


def test_bad_input():
    for bad in ((0, 1, 3.0, 3.6), (4, 1, -3.0, 3.6), (4, 1, 3.0, 36.0)):
        with pytest.raises(InputError, match="are needed"):
            transport(*bad)
