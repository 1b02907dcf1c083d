"""Reading the log of measured cells."""

import numpy as np
import pytest

from workbook.errors import InputError
from workbook.files.cell_log import parse_cell_log, read_cell_log

# Invented figures.
PLAIN = """# invented cells
id,capacity mAh,resistance mohm,arrival V,rest V day 0,rest V day 7,mass g
A1,2987,24.6,3.521,4.181,4.176,46.1
A2,3004,25.1,3.519,4.180,4.175,46.0
"""


def test_plain(tmp_path):
    path = tmp_path / "cells.csv"
    path.write_text(PLAIN, encoding="utf-8")
    log = read_cell_log(path)
    cells = log.cells
    assert cells.name == ("A1", "A2")
    np.testing.assert_allclose(cells.capacity_ah, [2.987, 3.004])
    np.testing.assert_allclose(cells.resistance_mohm, [24.6, 25.1])
    np.testing.assert_allclose(cells.arrival_v, [3.521, 3.519])
    np.testing.assert_allclose(cells.self_discharge_mv_per_week, [5.0, 5.0])
    np.testing.assert_allclose(cells.mass_g, [46.1, 46.0])
    assert log.notes == ()


@pytest.mark.parametrize(
    ("header", "value", "field", "want"),
    [
        ("Capacity (mAh)", "2987", "capacity_ah", 2.987),
        ("capacity_mah", "2987", "capacity_ah", 2.987),
        ("capacity_ah", "2.987", "capacity_ah", 2.987),
        ("Cap [Ah]", "2.987", "capacity_ah", 2.987),
        ("capacity", "2987", "capacity_ah", 2.987),
        ("capacity", "2.987", "capacity_ah", 2.987),
        ("IR (mΩ)", "24.6", "resistance_mohm", 24.6),
        ("IR / mΩ", "24.6", "resistance_mohm", 24.6),
        ("Internal resistance, m ohm", "24.6", "resistance_mohm", 24.6),
        ("resistance ohm", "0.0246", "resistance_mohm", 24.6),
        ("Voltage on arrival [V]", "3.52", "arrival_v", 3.52),
        ("arrival mV", "3520", "arrival_v", 3.52),
        ("Weight g", "46.1", "mass_g", 46.1),
    ],
)
def test_header_spellings(header, value, field, want):
    log = parse_cell_log(f'id;"{header}"\nA1;{value}\n')
    np.testing.assert_allclose(getattr(log.cells, field), [want])


@pytest.mark.parametrize(
    ("first", "last", "days"),
    [
        ("rest V day 0", "rest V day 7", 7),
        ("rest_day0_v", "rest_day14_v", 14),
        ("OCV day 1 (V)", "OCV day 8 (V)", 7),
        ("V day 0", "V day 10", 10),
        ("rest 0 d V", "rest 7 days V", 7),
    ],
)
def test_rest_days(first, last, days):
    log = parse_cell_log(f"id,{first},{last}\nA1,4.18,4.17\n")
    assert log.cells.rest_days == days
    np.testing.assert_allclose(log.cells.self_discharge_mv_per_week, [10 * 7 / days])


def test_decimal_comma_with_semicolons_and_tabs():
    for mark in ";\t":
        log = parse_cell_log(f"id{mark}capacity Ah{mark}arrival V\nA1{mark}2,987{mark}3,52\n")
        np.testing.assert_allclose(log.cells.capacity_ah, [2.987])
        np.testing.assert_allclose(log.cells.arrival_v, [3.52])


def test_blanks_are_not_measured():
    log = parse_cell_log("id,capacity mAh,mass g\nA1,,46\nA2,3000,-\n")
    np.testing.assert_array_equal(np.isnan(log.cells.capacity_ah), [True, False])
    np.testing.assert_array_equal(np.isnan(log.cells.mass_g), [False, True])


def test_notes():
    log = parse_cell_log("colour,capacity\nred,2987\n")
    assert log.notes == (
        'Column "colour" is not used.',
        'Column "capacity" has no unit; by its figures it is read in mAh.',
        "There is no id column; cells are numbered in the order of the rows.",
    )


def test_every_bad_cell_is_named_by_row_and_column():
    with pytest.raises(InputError) as error:
        parse_cell_log(
            "# remark\nid,capacity mAh,arrival V\nA1,29x7,3.5\nA1,2.987,3.5\n,3000,35\n", "my.csv"
        )
    assert [p.where for p in error.value.problems] == [
        'my.csv, row 3, column "capacity mAh"',
        'my.csv, row 4, column "capacity mAh"',
        'my.csv, row 5, column "arrival V"',
        'my.csv, row 4, column "id"',
        'my.csv, row 5, column "id"',
    ]
    sentences = [p.what for p in error.value.problems]
    assert sentences[0] == '"29x7" is not a figure.'
    assert "read as 0.002987 Ah" in sentences[1]
    assert "also on row 3" in sentences[3]


def test_thousands_comma_is_refused_not_guessed():
    with pytest.raises(InputError, match="thousands or decimals"):
        parse_cell_log('id,capacity mAh\nA1,"2,987"\n')


def test_decimal_comma_between_commas_is_explained():
    with pytest.raises(InputError, match=r"row 2.*semicolons"):
        parse_cell_log("id,capacity Ah\nA1,2,987\n")


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "header row"),
        ("id,capacity mAh\n", "header row"),
        ("id,colour\nA1,red\n", "no column is known"),
        ("id,capacity mAh,cap Ah\nA1,3000,3\n", "both give the capacity"),
        ("id,resistance\nA1,20\nA2,0.02\n", "unit"),
    ],
)
def test_refusals(text, word):
    with pytest.raises(InputError, match=word):
        parse_cell_log(text)


def test_missing_file(tmp_path):
    with pytest.raises(InputError, match="no file"):
        read_cell_log(tmp_path / "none.csv")


def test_windows_lines_and_mark():
    log = parse_cell_log("\ufeffid,capacity mAh\r\nA1,3000\r\n\r\nA2,3001\r\n")
    np.testing.assert_allclose(log.cells.capacity_ah, [3.0, 3.001])


def test_a_thousand_cells():
    rows = "\n".join(f"c{i},{3000 + i % 7}" for i in range(1000))
    assert parse_cell_log(f"id,capacity mAh\n{rows}\n").cells.capacity_ah.size == 1000
