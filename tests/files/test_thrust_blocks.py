"""Which lines of a text are headings, figures and labels."""

from __future__ import annotations

import pytest

from workbook.errors import InputError
from workbook.files.thrust_table_file import ThrustTableFile, read_thrust_tables


def notices_of(file: ThrustTableFile) -> str:
    return "\n".join(str(notice) for notice in file.notices)


def test_blocks_under_their_own_lines() -> None:
    text = """Voltage: 14.8 V
12x4.5
Thrust (g),Current (A)
420,2.5
880,6.4
Prop: 10x4.5
Thrust (g),Current (A)
300,2.0
700,6.7
"""
    tables = read_thrust_tables(text).tables
    assert [(t.propeller, t.supply_v, t.row) for t in tables] == [
        ("12x4.5", 14.8, (4, 5)),
        ("10x4.5", 14.8, (8, 9)),
    ]


def test_tables_side_by_side_are_asked_apart() -> None:
    text = """12x4.5,,,,10x4.5,,
Thrust (g),Current (A),Voltage (V),,Thrust (g),Current (A),Voltage (V)
420,2.5,14.8,,300,2.0,14.8
880,6.4,14.8,,700,6.7,14.8
"""
    with pytest.raises(InputError) as refusal:
        read_thrust_tables(text)
    assert [str(problem) for problem in refusal.value.problems] == [
        "pasted text, row 2: 2 tables stand side by side under these headings; put them one below the "
        "other, each with its headings and its propeller."
    ]


def test_lined_up_columns_with_blanks() -> None:
    """Blank cells in text lined up with spaces: each figure belongs to the heading above it."""
    text = """Motor    Propeller   Throttle   Thrust (g)   Current (A)   Voltage (V)   Temperature (C)
heron    12x4.5      50 %       420          2.5           14.8
                     75 %       1 250        11.5          14.8          55
         10x4.5      50 %       300                        14.8
                     75 %       700          6.7           14.8          48
                     90 %       900          9.9           14.8          60
"""
    file = read_thrust_tables(text)
    assert [(t.motor, t.propeller, list(t.thrust_gf)) for t in file.tables] == [
        ("heron", "12x4.5", [420.0, 1250.0]),
        ("heron", "10x4.5", [700.0, 900.0]),
    ]
    assert "row 4: both current and power are blank; the row is left out." in notices_of(file)


def test_words_at_single_spaces() -> None:
    """Headings of several words, a motor's name of two, merged first columns."""
    text = """Item No. Prop Throttle Load Current (A) Input Power (W) Thrust (G) Motor Speed RPM Temperature
M22 900 12x4.5 50% 2.5 37 420 4100 38
75% 6.4 94.7 880 5900 45
"""
    with pytest.raises(InputError, match="voltage_v is 0"):
        read_thrust_tables(text, voltage_v=0)
    file = read_thrust_tables(text)
    (table,) = file.tables
    assert (table.motor, table.propeller) == ("M22 900", "12x4.5")
    assert list(table.thrust_gf) == [420.0, 880.0]
    assert list(table.speed_rpm) == [4100.0, 5900.0]
    assert "row 2: the row has 9 cells under 8 headings; its first words are joined." in notices_of(
        file
    )
    assert (
        "row 3: the row has 6 cells under 8 headings; its first columns are taken as"
        in notices_of(file)
    )
    with pytest.raises(InputError, match="row 3: the row has 4 cells under 8 headings; write - "):
        read_thrust_tables(text.replace("75% 6.4 94.7 880 5900 45", "94.7 880 5900 45"))


def test_second_column_of_the_same_heading() -> None:
    """The first is used, whatever the second holds, and that is said."""
    text = "Propeller,Current (A),Thrust (g),Current (A),Voltage (V)\n"
    text += "12x4.5,2.5,420,9,14.8\n12x4.5,6.4,880,9,14.8\n"
    file = read_thrust_tables(text)
    assert list(file.tables[0].current_a) == [2.5, 6.4]
    assert (
        'column 4, "Current (A)", is not used: current is read from "Current (A)".'
        in notices_of(file)
    )


def test_stated_and_measured_voltage() -> None:
    """A column of stated voltage names the table, the measured one gives its rows."""
    text = """Prop,Nominal voltage (V),Thrust (g),Current (A),Voltage (V)
12x4.5,14.8,420,2.5,15.9
12x4.5,14.8,880,6.4,15.6
"""
    file = read_thrust_tables(text)
    assert file.choose(voltage_v=14.8).supply_v == 14.8
    assert list(file.tables[0].voltage_v) == [15.9, 15.6]
    assert 'column "Nominal voltage (V)" is taken as the stated supply voltage.' in notices_of(file)
