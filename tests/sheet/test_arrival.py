"""The form for cells that arrive: a row a cell, letters that can be read, nothing from elsewhere."""

import re

import pytest

import workbook as wb
from workbook.bench.sampling import cells_to_test
from workbook.sheet.arrival import arrival_form_html, write_arrival_form

CELL = wb.find_cell("Sedge")


@pytest.mark.parametrize("batch", [1, 24, 200])
def test_a_row_for_each_cell_and_the_sample_is_marked(batch):
    page = arrival_form_html(CELL, batch, date="2026-05-01")
    rows = page.partition('<tbody class="rows">')[2]
    assert rows.count("<tr") == batch
    assert rows.count("★") == cells_to_test(batch)
    assert "http" not in page
    assert "<script" not in page


def test_no_letter_is_smaller_than_9_pt():
    sizes = [float(size) for size in re.findall(r"([\d.]+)pt", arrival_form_html(CELL, 5))]
    assert min(sizes) >= 9.0


def test_the_loads_stay_within_the_cells_current():
    weak = wb.find_cell("Sedge")
    assert "9.1 A" in arrival_form_html(weak, 5)  # 2 x 4.57 Ah, below 12.5 A continuous
    assert "0.9 A" in arrival_form_html(weak, 5)  # 0.2 x 4.57 Ah


def test_it_is_not_written_over_and_odd_orders_are_refused(tmp_path):
    path = tmp_path / "form.html"
    write_arrival_form(CELL, 24, path)
    with pytest.raises(wb.InputError, match="already"):
        write_arrival_form(CELL, 24, path)
    with pytest.raises(wb.InputError, match="960"):
        write_arrival_form(CELL, 0, tmp_path / "none.html")
    with pytest.raises(wb.InputError, match="a4"):
        arrival_form_html(CELL, 5, "a3")
