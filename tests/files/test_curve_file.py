"""Points of discharge curves from a CSV file."""

from __future__ import annotations

import pytest

from workbook.battery.cell import DischargeCurve
from workbook.errors import InputError
from workbook.files.curve_file import read_curves

POINTS = {1.0: [(0.0, 4.18), (2.5, 3.69), (5.0, 2.5)], 5.0: [(0.0, 4.1), (2.5, 3.58), (4.95, 2.5)]}


@pytest.mark.parametrize(
    "text",
    [
        "current_a,capacity_ah,voltage_v\n1,0,4.18\n1,2.5,3.69\n1,5,2.5\n5,0,4.1\n5,2.5,3.58\n5,4.95,2.5\n",
        "Current (A);Capacity (mAh);Voltage (V)\n1;0;4,18\n1;2500;3,69\n1;5000;2,5\n"
        "5;0;4,1\n5;2500;3,58\n5;4950;2,5\n",
        'A,mAh,V\n"5","2500","3,58"\n5,0,"4,1"\n5,4950,"2,5"\n1,5000,"2,5"\n1,0,"4,18"\n1,2500,"3,69"\n',
        "mAh at 1 A\tV at 1 A\tmAh at 5 A\tV at 5 A\n0\t4,18\t0\t4,10\n2500\t3,69\t2500\t3,58\n"
        "5000\t2,5\t4950\t2,5\n",
        "# read off page 4\n\nAh 0.2C,V 0.2C,Ah 1C,V 1C\n0,4.18,0,4.1\n2.5,3.69,2.5,3.58\n5,2.5,,\n,,4.95,2.5\n",
        "\ufeffA;Ah;V\r\n1;0;4.18\r\n1;2.5;3.69\r\n1;5;2.5\r\n\r\n5;0;4.1\r\n5;2.5;3.58\r\n5;4.95;2.5\r\n",
    ],
)
def test_points_read_off_a_page(tmp_path, text):
    expected = tuple(
        DischargeCurve(a, tuple(q for q, _ in p), tuple(v for _, v in p)) for a, p in POINTS.items()
    )
    assert read_curves(text, rated_capacity_ah=5.0) == expected
    path = tmp_path / "points.csv"
    path.write_text(text, encoding="utf-8", newline="")
    assert read_curves(path, rated_capacity_ah=5.0) == expected


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("A;Ah;V\n1;0;4,18\n1;x;3,6\n", "row 3, column 'Ah': 'x' is not a number"),
        ("A;Ah;V\n1;0;nan\n", "row 2, column 'V': 'nan' is not a number"),
        ("A;Ah;V\n1;0\n", "row 2, column 'V': '' is not a number"),
        ("A;Ah;V\n", "at least one row below"),
        ("\n\n", "is empty"),
        ("x;y\n1;2\n", "current (A), capacity (Ah or mAh) and voltage (V)"),
        ("mAh;V;mAh;V\n0;4;0;4\n", "states no current"),
        ("mAh 1C;V 1C;mAh 2C;V 2C\n0;4;0;4\n", "states no current"),
        ("mAh 1 A;mAh 2 A;V\n0;4;0\n", "a voltage column is needed after 'mAh 1 A'"),
    ],
)
def test_points_that_cannot_be_read(text, word):
    with pytest.raises(InputError) as fault:
        read_curves(text)
    assert word in str(fault.value)


def test_curves_at_several_temperatures_in_the_long_form() -> None:
    """A fourth column, empty where it is room temperature; the same current may come twice."""
    text = "A;Ah;V;°C\n1;0;4,1;\n1;1;3,6;25\n1;2;3,0;\n1;0;4,0;-10\n1;1;3,4;-10\n1;1,5;3,0;-10\n"
    warm, cold = read_curves(text)
    assert (warm.temperature_c, cold.temperature_c) == (25.0, -10.0)
    assert cold.capacity_ah == (0.0, 1.0, 1.5)


def test_curves_at_several_temperatures_in_the_wide_form() -> None:
    heading = "mAh at 5 A, 0 °C;V at 5 A, 0 °C;mAh at 5 A;V\n"
    warm, cold = read_curves(heading + "0;4.1;0;4.2\n1000;3.6;1000;3.7\n2000;3;2000;3.1\n")
    assert (warm.temperature_c, cold.temperature_c) == (25.0, 0.0)
    assert (warm.voltage_v[0], cold.voltage_v[0]) == (4.2, 4.1)


def test_a_temperature_that_is_no_number_is_reported() -> None:
    with pytest.raises(InputError, match="'cold' is not a number"):
        read_curves("A;Ah;V;°C\n1;0;4.1;cold\n1;1;3.6;0\n1;2;3.0;0\n")
