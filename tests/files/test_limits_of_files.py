"""What is larger than its kind ever is: refused in a moment, with little memory, before any work is done on it."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.files.budget_file import read_budget
from workbook.files.cell_file import catalogue, read_cell, write_cell
from workbook.files.cell_file import find_cell as shipped
from workbook.files.cell_log import parse_cell_log, read_cell_log
from workbook.files.club_file import read_club
from workbook.files.curve_file import read_curves
from workbook.files.design_file import read_design
from workbook.files.thrust_table_file import read_thrust_tables

BLOCK = "Propeller: {}x5\nThrust (g),Current (A),Voltage (V)\n100,1,10\n200,3,10\n"
MANY_TABLES = "".join(BLOCK.format(k) for k in range(40_000))
MANY_PROPELLERS = "Propeller,Thrust (g),Current (A),Voltage (V)\n" + "".join(
    f"prop {k},100,1,10\nprop {k},200,3,10\n" for k in range(600)
)
MANY_HEADINGS = "Thrust (g),Current (A),Voltage (V)\n" * 3000
ONE_LINE = "Thrust (g),Current (A)\n" + "\t" * 4_000_000
WIDE = ",".join(["Thrust (g)"] * 300_000) + "\n1,2,3\n"
LOG = "id;capacity mAh\n" + "".join(f"A{k};2987\n" for k in range(100_000))
POINTS = "A;mAh;V\n" + "".join(f"{k};0;4\n" for k in range(19_000))


@pytest.mark.parametrize(
    ("read", "text", "expected"),
    [
        (read_thrust_tables, MANY_TABLES, "more than 4000 lines"),
        (read_thrust_tables, MANY_PROPELLERS, "more than 500 tables"),
        (read_thrust_tables, MANY_HEADINGS, "more than 500 tables"),
        (read_thrust_tables, ONE_LINE, "the line has 4000000 characters"),
        (read_thrust_tables, WIDE, "the line has"),
        (parse_cell_log, LOG, "more than 3000 lines"),
        (read_curves, POINTS, "19000 curves; at most 60"),
    ],
    ids=["tables", "propellers", "headings", "one line", "columns", "log", "curves"],
)
def test_a_text_of_more_than_its_kind_has(
    read: Callable[[str], object], text: str, expected: str
) -> None:
    began = time.process_time()
    with pytest.raises(InputError, match=expected):
        read(text)
    assert time.process_time() - began < 1.0
    tracemalloc.start()
    with pytest.raises(InputError, match=expected):
        read(text)
    assert tracemalloc.get_traced_memory()[1] < 60_000_000
    tracemalloc.stop()


@pytest.mark.parametrize(
    ("read", "limit"),
    [
        (read_design, "500 kB"),
        (read_cell, "200 kB"),
        (read_budget, "200 kB"),
        (read_club, "100 kB"),
        (read_cell_log, "5.0 MB"),
        (read_curves, "5.0 MB"),
        (read_thrust_tables, "5.0 MB"),
    ],
)
def test_a_file_of_each_kind_has_a_limit(
    tmp_path: Path, read: Callable[[Path], object], limit: str
) -> None:
    path = tmp_path / "large.toml"
    with path.open("wb") as file:
        file.truncate(10_000_000_000)  # a hole: it takes no room
    with pytest.raises(InputError, match=f"10000.0 MB; at most {limit} is expected here"):
        read(path)


def test_a_folder_of_cells_has_a_limit(tmp_path: Path) -> None:
    write_cell(shipped("Bittern"), tmp_path / "a.toml")
    for number in range(300):
        (tmp_path / f"b{number}.toml").touch()
    with pytest.raises(InputError, match="more than 300 cell files"):
        catalogue(tmp_path)


def test_a_list_as_long_as_its_file_is_refused_in_a_moment(tmp_path: Path) -> None:
    """TOML is parsed before its keys are checked, so the size of the file has to hold it."""
    for text in ("x = [" + "1," * 240_000 + "]", "\n" * 499_000, "[a]\n" + "k = 1\n" * 80_000):
        path = tmp_path / "design.toml"
        path.write_text(text, "utf-8")
        began = time.process_time()
        with pytest.raises(InputError):
            read_design(path)
        assert time.process_time() - began < 2.0
