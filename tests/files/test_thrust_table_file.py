"""Thrust tables as makers print them: every spelling reads to one known table.

The known table is written by hand: power is voltage x current and efficiency thrust / power, each
rounded as printed (880 gf / 94.7 W = 9.29 -> 9.3 g/W), so every expected figure stands in the text.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workbook.craft.rotor import figure_of_merit
from workbook.errors import InputError
from workbook.files.thrust_table_file import (
    ThrustTableFile,
    read_thrust_tables,
    thrust_table_from_rows,
)

TABLES = Path(__file__).parents[2] / "notebooks" / "tables"

THROTTLE = [40.0, 60.0, 80.0, 100.0]
THRUST = [420.0, 880.0, 1250.0, 1620.0]
CURRENT = [2.5, 6.4, 11.5, 17.5]
VOLTAGE = [14.8] * 4
POWER = [37.0, 94.7, 170.2, 259.0]
SPEED = [4100.0, 5900.0, 7200.0, 8300.0]

PLAIN = """Propeller,Throttle (%),Thrust (g),Current (A),Voltage (V),Power (W),RPM,Efficiency (g/W)
12x4.5,40,420,2.5,14.8,37.0,4100,11.4
12x4.5,60,880,6.4,14.8,94.7,5900,9.3
12x4.5,80,1250,11.5,14.8,170.2,7200,7.3
12x4.5,100,1620,17.5,14.8,259.0,8300,6.3
"""


def heading(old: str, new: str) -> str:
    """The plain table with one heading spelt otherwise."""
    assert old in PLAIN
    return PLAIN.replace(old, new)


def column(old: str, new: str, cells: list[str]) -> str:
    """The plain table with one column spelt otherwise, heading and cells."""
    lines = [line.split(",") for line in PLAIN.splitlines()]
    index = lines[0].index(old)
    lines[0][index] = new
    for line, cell in zip(lines[1:], cells, strict=True):
        line[index] = f'"{cell}"' if "," in cell else cell
    return "\n".join(",".join(line) for line in lines)


def european(separator: str = ";") -> str:
    """Semicolons and decimal commas."""
    return PLAIN.replace(",", separator).replace(".", ",")


def european_points() -> str:
    """Semicolons, decimal commas, points for thousands."""
    text = european()
    for number in ("1250", "1620", "4100", "5900", "7200", "8300"):
        text = text.replace(number, f"{number[0]}.{number[1:]}")
    return text


def aligned() -> str:
    """Columns lined up with spaces, as pasted from a page."""
    rows = [line.split(",") for line in PLAIN.splitlines()]
    widths = [max(len(row[k]) for row in rows) + 3 for k in range(len(rows[0]))]
    return "\n".join(
        "".join(cell.rjust(w) for cell, w in zip(row, widths, strict=True)) for row in rows
    )


def merged() -> str:
    """Propeller and voltage in merged cells: only the first row has them."""
    lines = PLAIN.splitlines()
    rest = [line.replace("12x4.5", "").replace("14.8", "") for line in lines[2:]]
    return "\n".join([*lines[:2], *rest])


def full_width() -> str:
    """Full-width digits, percent signs and brackets."""
    wide = str.maketrans("0123456789%()", "０１２３４５６７８９％（）")
    return column("Throttle (%)", "Throttle", ["40%", "60%", "80%", "100%"]).translate(wide)


def stacked_rows() -> str:
    """Heading repeated in the middle, as at a page break, with a blank row."""
    lines = PLAIN.splitlines()
    return "\n".join([*lines[:3], "", lines[0], *lines[3:]])


SPELLINGS: dict[str, str | bytes] = {
    "plain": PLAIN,
    "semicolon and decimal comma": european(),
    "tab": PLAIN.replace(",", "\t"),
    "tab and decimal comma": european("\t"),
    "bars": "\n".join(f"| {line.replace(',', ' | ')} |" for line in PLAIN.splitlines()),
    "bars with a rule": "|".join(PLAIN.splitlines()[0].split(","))
    + "\n|---|---|\n"
    + "\n".join("|".join(line.split(",")) for line in PLAIN.splitlines()[1:]),
    "aligned with spaces": aligned(),
    "single spaces": PLAIN.replace(",", " "),
    "quoted": "\n".join(
        ",".join(f'"{cell}"' for cell in line.split(",")) for line in PLAIN.splitlines()
    ),
    "UTF-8 with mark": b"\xef\xbb\xbf" + PLAIN.encode(),
    "UTF-16": PLAIN.encode("utf-16"),
    "windows-1252": ("Prüfstand\n" + PLAIN).encode("cp1252"),
    "return line ends": PLAIN.replace("\n", "\r"),
    "DOS line ends": PLAIN.replace("\n", "\r\n"),
    "trailing separators": PLAIN.replace("\n", ",,,\n"),
    "blank rows": PLAIN.replace("\n", "\n\n"),
    "title and notes above": "Motor test\nair temperature 20 degC, still\n\n" + PLAIN,
    "footnote below": PLAIN + "Note: surface 60 degC after 10 min at 100 % throttle\n",
    "notes with a hash": "# bench run\n" + PLAIN + "# end\n",
    "heading repeated": stacked_rows(),
    "merged cells": merged(),
    "full-width signs": full_width(),
    "units in a second row": PLAIN.replace(" (%)", "")
    .replace(" (g),", ",")
    .replace(" (A)", "")
    .replace(" (V)", "")
    .replace(" (W)", "")
    .replace(" (g/W)\n", "\n,%,g,A,V,W,r/min,g/W\n"),
    "bracketed units in a second row": PLAIN.replace(" (%)", "")
    .replace(" (g),", ",")
    .replace(" (A)", "")
    .replace(" (g/W)\n", "\n,(%),(gf),[A],,,,\n"),
    "Thrust(G)": heading("Thrust (g)", "Thrust(G)"),
    "Pull (g)": heading("Thrust (g)", "Pull (g)"),
    "Thrust [gf]": heading("Thrust (g)", "Thrust [gf]"),
    "thrust_gf": heading("Thrust (g)", "thrust_gf"),
    "Thrust/g": heading("Thrust (g)", "Thrust/g"),
    "STATIC THRUST - g": heading("Thrust (g)", "STATIC THRUST - g"),
    "Thrust in grams": heading("Thrust (g)", "Thrust in grams"),
    "Thrust without unit": heading("Thrust (g)", "Thrust"),
    "Thrust (static) (g)": heading("Thrust (g)", "Thrust (static) (g)"),
    "Thrust over two lines": heading("Thrust (g)", '"Thrust\n(g)"'),
    "Schub": heading("Thrust (g)", "Schub (g)"),
    "thrust in kgf": column("Thrust (g)", "Thrust (kgf)", ["0.42", "0.88", "1.25", "1.62"]),
    "thrust in kg, three places": column("Thrust (g)", "Thrust (kg)", ["0.420", "0.880", "1.250", "1.620"]),
    "thrust in kg, comma": column("Thrust (g)", "Thrust (kg)", ["0,420", "0,880", "1,250", "1,620"]),
    "unit in the cells": column("Thrust (g)", "Thrust", ["420g", "880 g", "1250g", "1620 g"]),
    "kgf in the cells": column("Thrust (g)", "Thrust", ["0.42kgf", "0.88kgf", "1.25kgf", "1.62kgf"]),
    "thousands comma": column("Thrust (g)", "Thrust (g)", ["420", "880", "1,250", "1,620"]),
    "thousands point": column("Thrust (g)", "Thrust (g)", ["420", "880", "1.250", "1.620"]),
    "thousands space": column("Thrust (g)", "Thrust (g)", ["420", "880", "1 250", "1 620"]),
    "thousands apostrophe": column("Thrust (g)", "Thrust (g)", ["420", "880", "1'250", "1’620"]),
    "thousands no-break space": column("Thrust (g)", "Thrust (g)", ["420", "880", "1\xa0250", "1\u202f620"]),
    "thousands comma and decimals": column("Thrust (g)", "Thrust (g)", ["420.0", "880.0", "1,250.0", "1,620.0"]),
    "speed, thousands comma": column("RPM", "RPM", ["4,100", "5,900", "7,200", "8,300"]),
    "speed, thousands point": column("RPM", "RPM", ["4.100", "5.900", "7.200", "8.300"]),
    "Europe with points": european_points(),
    "throttle of 0 to 1": column("Throttle (%)", "Throttle", ["0.4", "0.6", "0.8", "1"]),
    "throttle with percent signs": column("Throttle (%)", "Throttle", ["40%", "60 %", "80%", "100%"]),
    "throttle in us": column("Throttle (%)", "ESC signal (µs)", ["1400", "1600", "1800", "2000"]),
    "throttle in us, unit unsaid": column("Throttle (%)", "Throttle", ["1400", "1600", "1800", "2000"]),
    "Amps": heading("Current (A)", "Amps"),
    "A": heading("Current (A)", "A"),
    "Load current, A": heading("Current (A)", '"Load current, A"'),
    "current in mA": column("Current (A)", "Current (mA)", ["2500", "6400", "11500", "17500"]),
    "Volts": heading("Voltage (V)", "Volts"),
    "voltage in cells": column("Voltage (V)", "Voltage (V)", ["14.8V", "14.8 V", "14.8V", "14.8"]),
    "voltage as cells in series": column("Voltage (V)", "Voltage", ["4S", "4S", "4 S", "4S"]),
    "Input power (W)": heading("Power (W)", "Input power (W)"),
    "Watts": heading("Power (W)", "Watts"),
    "power in kW": column("Power (W)", "Power (kW)", ["0.0370", "0.0947", "0.1702", "0.2590"]),
    "Speed (r/min)": heading("RPM", "Speed (r/min)"),
    "Motor speed (rpm)": heading("RPM", "Motor speed (rpm)"),
    "efficiency in kgf/W": column("Efficiency (g/W)", "Overall efficiency (kgf/W)", ["0.0114", "0.0093", "0.0073", "0.0063"]),
    "Eff. (G/W)": heading("Efficiency (g/W)", "Eff. (G/W)"),
    "g/W": heading("Efficiency (g/W)", "g/W"),
    "power blank": column("Power (W)", "Power (W)", ["-", "N/A", "#DIV/0!", ""]),
    "efficiency blank": column("Efficiency (g/W)", "Efficiency (g/W)", ["—", "/", "", "n.a."]),
    "vibration beside thrust": column("RPM", "RPM", ["4100", "5900", "7200", "8300"]).replace(
        "Propeller,", "Vibration (g),Propeller,"
    ).replace("\n12x", "\n0.3,12x"),
    "torque and temperature": PLAIN.replace("Propeller,", "Torque (N*m),Temp (℃),Propeller,").replace(
        "\n12x", "\n0.11,41,12x"
    ),
    "zero row": PLAIN.replace("\n12x4.5,40", "\n12x4.5,0,0,0.0,14.8,0,0,-\n12x4.5,40"),
    "propeller on a line": "Propeller: 12x4.5\n" + PLAIN.replace("12x4.5,", "").replace("Propeller,", ""),
    "propeller and voltage in a title": "Bench run 12x4.5 @ 14.8 V\n" + PLAIN.replace("12x4.5,", "")
    .replace("Propeller,", "").replace("Voltage (V),", "").replace("14.8,", ""),
}  # fmt: skip


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_every_spelling_reads_to_the_same_table(spelling: str) -> None:
    """Expected figures: the hand-written table above."""
    file = read_thrust_tables(SPELLINGS[spelling])
    assert len(file.tables) == 1
    table = file.tables[0]
    np.testing.assert_allclose(table.thrust_gf, THRUST)
    np.testing.assert_allclose(table.current_a, CURRENT)
    np.testing.assert_allclose(table.voltage_v, VOLTAGE)
    if spelling == "power blank":  # filled in as voltage x current, before the maker's rounding
        np.testing.assert_allclose(table.power_w, np.multiply(VOLTAGE, CURRENT))
    else:
        np.testing.assert_allclose(table.power_w, POWER)
    np.testing.assert_allclose(table.throttle_pct, THROTTLE)
    np.testing.assert_allclose(table.speed_rpm, SPEED)
    assert table.propeller.replace(",", ".") == "12x4.5"
    assert not [n for n in file.notices if "not voltage x current" in n.what or "falls" in n.what]


@pytest.mark.parametrize(
    ("unit", "gf"),
    # gram-force in one unit: 1 N = 1000 / 9.80665 (ISO 80000-3); 1 lb = 453.59237 g, 1 oz = 1/16 lb
    # (1959 yard and pound agreement)
    [("N", 101.9716213), ("lbf", 453.59237), ("oz", 28.349523125), ("kg", 1000.0), ("ozf", 28.349523125)],
)  # fmt: skip
def test_thrust_units(unit: str, gf: float) -> None:
    cells = [f"{thrust / gf:.7f}" for thrust in THRUST]
    table = read_thrust_tables(column("Thrust (g)", f"Thrust ({unit})", cells)).tables[0]
    np.testing.assert_allclose(table.thrust_gf, THRUST, rtol=1e-6)


@pytest.mark.parametrize(
    ("unit", "factor"),
    # turns per minute in one unit: 1 rev/s = 60; 1 rad/s = 60 / (2 pi) = 9.5493
    [("rps", 60.0), ("Hz", 60.0), ("rad/s", 9.549297), ("krpm", 1000.0)],
)
def test_speed_units(unit: str, factor: float) -> None:
    cells = [f"{speed / factor:.6f}" for speed in SPEED]
    table = read_thrust_tables(column("RPM", f"Speed ({unit})", cells)).tables[0]
    np.testing.assert_allclose(table.speed_rpm, SPEED, rtol=1e-6)


def notices_of(file: ThrustTableFile) -> str:
    return "\n".join(str(notice) for notice in file.notices)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (SPELLINGS["Thrust without unit"], 'column "Thrust": no unit is stated for thrust; taken in g.'),
        (
            SPELLINGS["thousands comma"],
            'pasted text, row 4, column "Thrust (g)": "1,250" is read as 1250 (the comma is a thousands '
            "mark): power, voltage x current and g/W agree only so.",
        ),
        (SPELLINGS["speed, thousands point"], "\"4.100\" is read as 4100 (the point is a thousands mark): the other reading is out of any table's range."),
        (SPELLINGS["thrust in kg, comma"], '"1,250" is read as 1.25 (the comma is a decimal mark): as the other cells of the column show.'),
        (SPELLINGS["thousands comma and decimals"], ""),
        (SPELLINGS["throttle of 0 to 1"], "throttle of 0 to 1 is taken as 0 to 100 %."),
        (SPELLINGS["throttle in us"], "throttle in us is taken as 1000 us = 0 % and 2000 us = 100 %."),
        (column("Throttle (%)", "Throttle", ["40", "60", "80", "100"]), "no unit is stated for throttle; taken in %."),
        (SPELLINGS["power blank"], "pasted text, rows 2 to 5: power is filled in as voltage x current."),
        (column("Current (A)", "Current (A)", ["", "", "", "-"]), "rows 2 to 5: current is filled in as power over voltage."),
        (column("Voltage (V)", "Voltage (V)", ["-", "-", "-", "-"]), "rows 2 to 5: voltage is filled in as power over current."),
        (SPELLINGS["voltage as cells in series"], "row 1: cells in series are taken at 3.7 V each."),
        (SPELLINGS["merged cells"], 'column "Voltage (V)": voltage stands in few rows and is filled down to rows 3 to 5.'),
        (SPELLINGS["propeller on a line"], "row 1: propeller 12x4.5 is taken from this line for the rows below it."),
        (SPELLINGS["propeller and voltage in a title"], "rows 3 to 6: voltage is taken as the stated 14.8 V."),
        (SPELLINGS["vibration beside thrust"], 'row 1: column "Vibration (g)": not used.'),
        (SPELLINGS["torque and temperature"], 'columns "Torque (N*m)", "Temp (°C)": not used.'),
        (PLAIN.replace("RPM", "Mood"), 'column "Mood": not known and not used.'),
        (SPELLINGS["zero row"], "row 2: thrust is 0; the row is left out."),
        (column("Thrust (g)", "Thrust (g)", ["", "880", "1250", "1620"]), "row 2: thrust is blank; the row is left out."),
        (PLAIN.replace("60,880,6.4,14.8,94.7", "60,880,-,14.8,-"), "row 3: both current and power are blank; the row is left out."),
        (PLAIN.replace("60,880,6.4,14.8,94.7", "60,880,0,14.8,94.7"), "row 3: voltage, current or power is 0 beside a thrust; the row is left out."),
        (PLAIN.replace("94.7", "104.7"), 'row 3, column "Power (W)": power is not voltage x current; most in row 3: 104.7 W against 14.8 V x 6.4 A = 94.72 W. Power is used as printed.'),
        (PLAIN.replace(",9.3\n", ",8.3\n"), 'row 3, column "Efficiency (g/W)": efficiency is not thrust over power; most in row 3: 8.3 g/W against 880 gf / 94.7 W = 9.293 g/W. It is not used further.'),
        (PLAIN.replace("60,880,6.4,14.8,94.7", "60,880,12.4,14.8,183.5"), 'row 4, column "Power (W)": power falls while thrust rises; check for a slip of the pen.'),
        (PLAIN.replace("60,880,6.4,14.8,94.7", "60,880,12.4,14.8,-"), 'row 4, column "Current (A)": current falls while thrust rises; check for a slip of the pen.'),
        (PLAIN.replace("100,1620", "100,1210"), "row 5: thrust is below the highest (1250 gf in row 4) at more throttle or power (sag or heat can do this); left out."),
        (PLAIN + PLAIN.splitlines()[2] + "\n", "rows 3, 6: thrust of 880 gf stands in 2 rows; the row is repeated; one is kept."),
        (PLAIN + PLAIN.splitlines()[2].replace("6.4", "6.5"), "rows 3, 6: thrust of 880 gf stands in 2 rows; the mean is used."),
        (PLAIN.replace("12x4.5", "carbon two-blade"), 'no diameter can be read from the propeller\'s name "carbon two-blade"; the check against an ideal propeller was not made.'),
        (SPELLINGS["windows-1252"], "not UTF-8; read as Western European text (windows-1252)."),
        (PLAIN.replace("Thrust (g)", "Thrust (g),Thrust (oz)").replace(",2.5,", ",14.8,2.5,").replace(",6.4,", ",31,6.4,").replace(",11.5,", ",44.1,11.5,").replace(",17.5,", ",57.1,17.5,"), 'row 1: column 4, "Thrust (oz)", is not used: thrust is read from "Thrust (g)".'),
        (PLAIN + "Weight,,85 g\n", 'row 6: read as a note, not as a row: "Weight 85 g".'),
        ("Thrust (g),Current (A),Voltage (V)\n1,2,14.8\n2,4,14.8\n", "0.0338 g/W is far from any motor's (3 to 13 g/W is usual); check the units."),
        ("Propeller 12x4.5\n" + "Thrust (g),Current (A),Voltage (V)\n420,2.5,14.8\n880,6.4,14.8\n420,2.0,11.1\n", "fewer than 2 usable rows for one propeller and voltage; at least 2 are needed, so they are left out."),
    ],
)  # fmt: skip
def test_every_doubt_is_reported(text: str | bytes, sentence: str) -> None:
    notices = notices_of(read_thrust_tables(text))
    assert sentence in notices
    assert bool(sentence) == bool(notices)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "pasted text: the file is empty; a table is needed."),
        (b" \n ", "the file is empty"),
        (b"\x00\x01\x02table", "pasted text is a binary file; a table as text (CSV) is needed."),
        (b"PK\x03\x04rest", "it looks like a spreadsheet workbook or zip archive; save the sheet as CSV."),
        (b"%PDF-1.7", "it looks like a PDF; the page from_pictures reads a table in it, or copy the text out and paste it."),
        ("推力".encode("gb18030") + PLAIN.encode(), "is in an unknown encoding; save it as UTF-8."),
        (b"\xff\xfea", "is not whole UTF-16 text; save it as UTF-8."),
        ("x" * 5_000_001, "pasted text: 5.0 MB; at most 5.0 MB is expected here"),
        ("just words\nand more", "there is no thrust column beside one of current, power, voltage or throttle"),
        (heading("Thrust (g)", "Vibration (g)"), "there is no thrust column"),
        (heading("Thrust (g)", "Torque (N*m)"), 'headings seen: "Propeller", "Throttle (%)", "Torque (N*m)"'),
        (heading("Thrust (g)", "Thrust (N*m)"), "there is no thrust column"),
        (PLAIN.replace(",880,", ",88O,"), 'row 3, column "Thrust (g)": thrust is "88O"; a number is needed (a letter O or l may stand for 0 or 1).'),
        (PLAIN.replace(",6.4,", ",10-Dec,"), 'row 3, column "Current (A)": current is "10-Dec"; a number is needed (a spreadsheet may have made a date of it).'),
        (PLAIN.replace(",6.4,", ",much,"), 'current is "much"; a number is needed.'),
        (PLAIN.replace(",6.4,", ",nan,"), 'current is "nan"; a number is needed.'),
        (PLAIN.replace(",6.4,", ",inf,"), 'current is "inf"; a number is needed.'),
        (PLAIN.replace(",6.4,", ",1e999,"), 'current is "1e999"; a number is needed.'),
        (PLAIN.replace(",6.4,", ",6.4 kg,"), 'current is "6.4 kg"; a number is needed.'),
        (PLAIN.replace(",880,", ",-880,"), 'row 3, column "Thrust (g)": thrust is -880; it cannot be below 0.'),
        (PLAIN.replace(",6.4,", ",−6.4,"), 'row 3, column "Current (A)": current is -6.4; it cannot be below 0.'),
        (PLAIN.replace(",6.4,", ",6400,"), "current is 6400 A; no more than 1000 can be right: check the unit."),
        (PLAIN.replace(",60,", ",250,"), 'row 3, column "Throttle (%)": throttle is 250; 0 to 100 %, 0 to 1 or 1000 to 2000 us is needed.'),
        (PLAIN.replace("94.7", "94,7"), "row 3: the row has 9 cells under 8 headings; a decimal comma in a comma-separated file must stand in quotes."),
        ("Thrust (g),Current (A)\n420,2.5\n880,6.4\n", 'rows 2, 3: voltage is missing; add a voltage column, a line such as "Voltage: 14.8 V", both current and power, or give voltage_v.'),
        ("Thrust (g),Power (W)\n1.250,1.250\n1.620,1.620\n", 'thrust "1.250" may be 1250 or 1.25, and no other figure tells which; write it without a thousands mark.'),
        ("\n".join(PLAIN.splitlines()[:2]), "row 2: fewer than 2 usable rows for one propeller and voltage; at least 2 are needed"),
        (PLAIN.splitlines()[0], "fewer than 2 usable rows; at least 2 are needed."),
        (PLAIN.replace(",880,", ",3880,"), 'row 3, column "Thrust (g)": 3880 gf from 94.7 W is more than an ideal propeller of 12 in can give (figure of merit 5.86; 1 at most); check the units and the propeller.'),
        (column("RPM", "Motor efficiency (%)", ["70", "80", "120", "80"]), 'row 4, column "Motor efficiency (%)": motor efficiency is 120 %; no more than 100 % is possible.'),
        (PLAIN.replace("Current (A)", "x").replace("Power (W)", "Current (A)").replace("x,", "Power (W),", 1), 'columns "Current (A)" and "Power (W)" look swapped: the figures fit only the other way round. Correct the headings.'),
        (PLAIN.replace("Current (A),Voltage (V)", "Voltage (V),Current (A)"), 'columns "Voltage (V)" and "Current (A)" look swapped'),
        (column("Thrust (g)", "Thrust", ["4.12", "8.63", "12.26", "15.89"]), "no unit is stated for thrust, and gram-force would give 0.0816 g/W; write the unit into the heading."),
        ("Thrust (g),Current (A),Power (W)\n300,5,20\n400,5,40\n500,5,60\n", "row 2: fewer than 2 usable rows for one propeller and voltage"),
        (PLAIN + "\n" + PLAIN.replace("37.0", "36.0"), "two blocks of rows cover the same thrust, and no line or column tells what differs"),
    ],
)  # fmt: skip
def test_every_refusal_says_what_and_where(text: str | bytes, sentence: str) -> None:
    with pytest.raises(InputError) as refusal:
        read_thrust_tables(text)
    assert sentence in str(refusal.value)


def test_all_problems_come_at_once() -> None:
    text = PLAIN.replace(",880,", ",88O,").replace(",17.5,", ",-17.5,")
    with pytest.raises(InputError) as refusal:
        read_thrust_tables(text)
    assert [p.where.split(",")[1] for p in refusal.value.problems] == [" row 3", " row 5"]


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "maker.csv"
    path.write_text(PLAIN)
    assert read_thrust_tables(path).tables[0].source == "maker.csv"
    with pytest.raises(InputError, match=r"none\.csv: there is no file here"):
        read_thrust_tables(tmp_path / "none.csv")
    with pytest.raises(InputError, match="this is a folder"):
        read_thrust_tables(tmp_path)
    with pytest.raises(InputError, match="no file name can have"):
        read_thrust_tables(tmp_path / "a\0b")
    with path.open("wb") as file:
        file.truncate(6_000_000)
    with pytest.raises(InputError, match=r"maker\.csv: 6\.0 MB"):
        read_thrust_tables(path)


def test_given_voltage_is_used_and_reported() -> None:
    text = "Propeller,Thrust (g),Current (A)\n12x4.5,420,2.5\n12x4.5,880,6.4\n"
    file = read_thrust_tables(text, voltage_v=14.8)
    np.testing.assert_allclose(file.tables[0].power_w, [37.0, 94.72])  # 14.8 V x 2.5 A, x 6.4 A
    assert "voltage is taken as the 14.8 V given." in notices_of(file)
    with pytest.raises(InputError, match="voltage_v is -3"):
        read_thrust_tables(text, voltage_v=-3)


SEVERAL = """Motor,Prop,Voltage (V),Thrust (g),Current (A)
heron 900,10x4.5,14.8,300,2.0
,,,700,6.7
,12x4.5,,420,2.5
,,,880,6.4

Motor,Prop,Voltage (V),Thrust (g),Current (A)
,,11.1,300,2.3
,,,600,5.6
"""


def test_several_tables_in_one_file() -> None:
    file = read_thrust_tables(SEVERAL)
    assert [(t.motor, t.propeller, t.supply_v, t.row) for t in file.tables] == [
        ("heron 900", "10x4.5", 14.8, (2, 3)),
        ("heron 900", "12x4.5", 14.8, (4, 5)),
        ("heron 900", "12x4.5", 11.1, (8, 9)),
    ]
    assert file.choose(propeller='10 x 4.5"').row == (2, 3)
    assert file.choose("12X4,5", 11.1).row == (8, 9)
    assert file.choose(voltage_v=11.0, motor="HERON").row == (8, 9)


@pytest.mark.parametrize(
    ("choice", "sentence"),
    [
        ({}, "3 tables are in the file; name motor, propeller or voltage"),
        ({"propeller": "12x4.5"}, "2 tables match propeller 12x4.5"),
        ({"voltage_v": 22.2}, "no table for 22.2 V; the file holds: heron 900, 10x4.5, 14.8 V, 300 to 700 gf; heron"),
        ({"motor": "stork", "voltage_v": 11.1}, "no table for motor stork, 11.1 V; the file holds"),
    ],
)  # fmt: skip
def test_choice_that_is_absent_or_ambiguous(choice: dict[str, object], sentence: str) -> None:
    with pytest.raises(InputError) as refusal:
        read_thrust_tables(SEVERAL).choose(**choice)  # type: ignore[arg-type]
    assert sentence in str(refusal.value)


def test_typed_rows() -> None:
    same = {"Motor": "heron", "propeller": "12x4.5", "voltage_v": 14.8}
    rows = [
        {"Throttle (%)": "40", "Thrust (g)": "420", "Current (A)": "2,5", **same},
        {"Throttle (%)": "60", "Thrust (g)": 880, "Current (A)": "6,4", **same},
        {"Throttle (%)": "", "Thrust (g)": None, "Current (A)": ""},
    ]
    table = thrust_table_from_rows(rows)
    np.testing.assert_allclose(table.power_w, [37.0, 94.72])  # 14.8 V x 2.5 A, x 6.4 A
    assert (table.motor, table.propeller, table.row) == ("heron", "12x4.5", (1, 2))


def test_typed_grid_is_the_same_as_the_file() -> None:
    frame = pd.DataFrame(
        {"thrust_gf": THRUST, "current_a": CURRENT, "voltage_v": VOLTAGE, "power_w": POWER, "speed_rpm": SPEED}
    )  # fmt: skip
    frame.loc[4] = np.nan
    typed, read = thrust_table_from_rows(frame), read_thrust_tables(PLAIN).tables[0]
    for column_name in ("thrust_gf", "current_a", "voltage_v", "power_w", "speed_rpm"):
        np.testing.assert_allclose(getattr(typed, column_name), getattr(read, column_name))


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([], "typed rows: there is no thrust column"),
        ([{"current_a": 2}], 'headings seen: "current_a"'),
        ([{"thrust_gf": "much", "current_a": 2, "voltage_v": 11}] * 2, 'typed rows, row 1, column "thrust_gf": thrust is "much"'),
        ([{"thrust_gf": 420, "current_a": 2.5}, {"thrust_gf": 880, "current_a": 6}], "voltage is missing"),
        ([{"thrust_gf": 420, "current_a": 2.5, "voltage_v": float("inf")}] * 2, 'voltage is "inf"'),
        ([5, 6], "each row must name its figures, as thrust_gf and current_a."),
    ],
)  # fmt: skip
def test_typed_rows_refused(rows: list[dict[str, object]], sentence: str) -> None:
    with pytest.raises(InputError) as refusal:
        thrust_table_from_rows(rows)
    assert sentence in str(refusal.value)


@pytest.mark.parametrize(
    ("name", "diameters", "supplies", "reach_gf"),
    [
        ("survey_motor.csv", {"14x4.8": 14, "15x5": 15}, {22.2}, (200, 1900)),
        ("light_motor.csv", {"10x4,5": 10}, {14.79, 11.09}, (200, 1000)),
        ("wing_motor.csv", {"11x5.5": 11}, {14.79}, (200, 1700)),
    ],
)
def test_demo_tables(
    name: str, diameters: dict[str, int], supplies: set[float], reach_gf: tuple[float, float]
) -> None:
    """Read clean, invented and said so, and as good as real propellers: a figure of merit of the
    propeller of 0.3 to 0.7 (139 propellers of the UIUC Propeller Database, volume 1) is lowered by
    motor and controller, so 0.25 to 0.65 with electrical power."""
    file = read_thrust_tables(TABLES / name)
    assert not [n for n in file.notices if "taken from this line" not in n.what]
    assert {t.propeller for t in file.tables} == set(diameters)
    assert {t.supply_v for t in file.tables} == supplies
    assert "invented" in (TABLES / name).read_text("utf-8")
    for table in file.tables:
        assert "invented for the wetland bird census club" in (TABLES / name).read_text()
        assert table.thrust_gf[0] <= reach_gf[0]
        assert table.top_thrust_gf >= reach_gf[1]
        assert (np.diff(table.power_w) > 0).all()
        assert (np.diff(table.current_a) > 0).all()
        merit = figure_of_merit(table.thrust_gf, table.power_w, diameters[table.propeller] * 0.0254)
        assert (merit > 0.25).all()
        assert (merit < 0.65).all()
    for table in (t for t in file.tables if t.has_speed):
        # thrust as speed squared, coefficients rising a little
        slope = np.polyfit(np.log(table.speed_rpm), np.log(table.thrust_gf), 1)[0]
        assert 1.7 < slope < 2.3
