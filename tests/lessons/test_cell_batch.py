"""A log of measured cells: what is built in, what is left out and why, and what matching gains."""

from __future__ import annotations

import pytest

from tests.conftest import NOTEBOOKS
from tests.lessons.conftest import plain
from workbook.bench.cell_inspection import inspect_cells
from workbook.files.cell_log import read_cell_log
from workbook.lessons.cell_batch import CellBatch
from workbook.lessons.learner import current_design
from workbook.widgets.controls import ChosenFile


@pytest.fixture
def batch(folder) -> CellBatch:
    return CellBatch(current_design())


def test_good_batch_uses_all_and_says_what_matching_gains(batch) -> None:
    assert "cells in the log 24" in plain(batch.figures.html.value)
    groups = batch.live.result.groups
    assert groups.left_out == ()
    assert len(groups.spare) == 24 - 18
    used = [name for row in groups.names for name in row]
    assert len(set(used)) == 18
    # working: the sum of each group's capacities as they stand in the file
    log = read_cell_log(NOTEBOOKS / "cell_logs" / "good_batch.csv").cells
    sums = [sum(log.capacity_ah[log.name.index(n)] for n in row) for row in groups.names]
    assert f"= {min(sums):.4g} Ah" in plain(batch.working_panel.html.value)
    assert f"{min(sums):.3f} Ah" in plain(batch.figures.html.value)
    assert batch.live.result.ways[2].gain_min > batch.live.result.ways[1].gain_min >= 0.0


PLANTED = {
    "B04": "2.31 V",
    "B08": "31 mV a week",
    "B12": "4.283 Ah",
    "B16": "33.1 mohm",
    "B20": "60.4 g",
    "B23": "2.86 V",
}
"""The faults that stand in `cell_logs/doubtful_batch.csv`."""


def test_every_planted_fault_is_found_with_its_figure(batch) -> None:
    batch.choice.value = "doubtful_batch.csv"
    left = dict(batch.live.result.groups.left_out)
    assert set(left) == set(PLANTED)
    for name, figure in PLANTED.items():
        assert figure in left[name]
        assert figure in plain(batch.left_out.html.value)
    assert "mass was not measured on 1 of 26 cells" in plain(batch.notes.html.value)


def test_a_log_of_ones_own_and_what_is_wrong_with_it(batch) -> None:
    text = "id,capacity mAh\n" + "".join(f"c{k},{4700 + k}\n" for k in range(20))
    batch.own.value = ChosenFile("mine.csv", text.encode())
    assert batch.live.problems == ()
    assert "cells in the log 20" in plain(batch.figures.html.value)
    batch.own.value = ChosenFile("short.csv", b"id,capacity mAh\na,4800\nb,4810\n")
    assert "6 groups of 3 need 18" in batch.live.problems[0]
    batch.own.value = ChosenFile("bad.csv", b"id,capacity mAh\na,much\n")
    assert "bad.csv, row 2" in batch.live.problems[0]


def test_demo_logs_say_that_they_are_invented() -> None:
    for path in (NOTEBOOKS / "cell_logs").glob("*.csv"):
        assert path.read_text("utf-8").startswith("# Invented for this workbook")
        assert inspect_cells(read_cell_log(path).cells).usable
