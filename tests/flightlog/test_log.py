"""The record of a log."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.flightlog.log import FlightLog, LogFinding

LOG = FlightLog(
    "made",
    np.arange(0.0, 10.0, 0.5),
    np.full(20, 24.0),
    np.arange(20.0),
    temperature_c=np.full(20, 21.0),
    cells_v=np.full((6, 20), 4.0),
    notes=("A note.",),
    findings=(LogFinding("gap", "A gap.", 0, "", 0.0, 1.0),),
)


def test_power_length_and_step() -> None:
    assert len(LOG) == 20
    assert LOG.power_w[3] == 72.0  # 24 V x 3 A
    assert (LOG.duration_s, LOG.step_s) == (9.5, 0.5)
    assert LOG.sentences == ("A note.", "A gap.")


def test_a_part_of_it_has_every_column_and_both_ends() -> None:
    part = LOG.between(2.0, 3.0)
    np.testing.assert_array_equal(part.time_s, [2.0, 2.5, 3.0])
    np.testing.assert_array_equal(part.current_a, [4.0, 5.0, 6.0])
    assert part.cells_v is not None
    assert part.cells_v.shape == (6, 3)
    assert part.temperature_c is not None
    assert part.height_m is None
    assert part.sentences == LOG.sentences


@pytest.mark.parametrize("key", ["voltage_v", "speed_m_s"])
def test_a_column_by_its_key(key: str) -> None:
    assert LOG.known(key) is getattr(LOG, key)
