"""Cells of a thrust table as figures: supply voltages, and what "1.250" means."""

from __future__ import annotations

import math

import pytest

from workbook.errors import InputError
from workbook.files.thrust_rows import supply_voltage
from workbook.files.thrust_table_file import read_thrust_tables


@pytest.mark.parametrize(
    ("text", "volts"),
    # a cell in series stands for 3.7 V
    [("22.2 V", 22.2), ("14,8", 14.8), ("4S", 14.8), ("6 S lithium", 22.2), ("none", math.nan)],
)
def test_supply_voltage(text: str, volts: float) -> None:
    assert supply_voltage(text)[0] == pytest.approx(volts, nan_ok=True)


@pytest.mark.parametrize(
    ("rows", "thrust_gf", "why"),
    [
        # 11.5 A x 14.8 V = 170 W: 7.3 g/W, or 0.007 g/W
        (["1.250;11.5;14.8", "1.620;17.5;14.8"], [1250.0, 1620.0], "agree only so"),
        (["420;2;14", "1.250;11;14"], [420.0, 1250.0], "agree only so"),
    ],
)
def test_power_settles_what_a_mark_means(rows: list[str], thrust_gf: list[float], why: str) -> None:
    file = read_thrust_tables("\n".join(["Thrust (g);Current (A);Voltage (V)", *rows]))
    assert file.tables[0].thrust_gf.tolist() == thrust_gf
    assert why in "".join(notice.what for notice in file.notices)


def test_the_size_of_the_other_cells_settles_it_without_power() -> None:
    text = "Throttle (%);Thrust (g);RPM\n40;420;4100\n60;1.250;7200\n"
    with pytest.raises(InputError) as fault:
        read_thrust_tables(text)
    assert "may be" not in str(fault.value)


def test_both_readings_possible_is_asked() -> None:
    text = "Thrust (g);Power (W)\n1.250;1.250\n1.620;1.620\n"
    with pytest.raises(InputError, match="write it without a thousands mark"):
        read_thrust_tables(text)


def test_stand_with_full_battery_keeps_the_stated_voltage() -> None:
    """A battery-fed stand labelled 4S: rows sag from 16.4 to 15.6 V and stay one table."""
    text = """Battery: 4S, propeller: 12x4.5
Thrust (g),Voltage (V),Current (A)
420,16.4,2.3
880,16.1,6.0
1250,15.8,10.8
1620,15.6,16.6
"""
    (table,) = read_thrust_tables(text).tables
    assert table.supply_v == 14.8  # 4 x 3.7 V
    assert list(table.voltage_v) == [16.4, 16.1, 15.8, 15.6]
    assert table.propeller == "12x4.5"
