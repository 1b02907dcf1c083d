"""The learner's own design: which is opened, what is kept, and that a good file survives."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.files.cell_file import find_cell, write_cell
from workbook.files.writing import FileChangedError
from workbook.lessons import learner
from workbook.lessons.learner import (
    SeenDesign,
    cell_choice,
    cells,
    current_design,
    keep,
    learners_design,
)


def test_demo_first_then_ones_own_with_its_comments(folder):
    assert not learners_design().own
    assert "the demo" in learners_design().notice
    assert "next lesson" in keep(payload_g=400.0, series=5)
    found = learners_design()
    assert found.own
    assert "your own" in found.notice
    assert found.file.design.craft.payload_g == 400.0
    assert found.file.design.pack.series == 5
    assert found.file.design.craft.mass_without_pack_g == 2100.0  # as in the demo file
    assert "# the camera" in (folder / "designs" / "mine.toml").read_text("utf-8")
    keep(payload_g=100.0)
    assert current_design().pack.series == 5
    assert current_design().name.count("mine") == 1


def test_without_the_notebooks_folder_the_shipped_demo_is_opened(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert learners_design().file.part.name == "Census six-rotor, long survey"


def test_a_figure_that_cannot_be_leaves_the_good_file(folder):
    keep(payload_g=400.0)
    good = (folder / "designs" / "mine.toml").read_bytes()
    with pytest.raises(InputError, match="payload_g"):
        keep(payload_g=-5.0)
    with pytest.raises(InputError, match="No such"):
        keep(cell="No such")
    with pytest.raises(TypeError, match="no section"):
        keep(colour="red")
    assert (folder / "designs" / "mine.toml").read_bytes() == good


def test_two_pages_keep_each_others_figures_and_ask_about_one_that_both_set(folder):
    one, two = (SeenDesign(learners_design().file.part) for _ in range(2))
    keep(seen=one, payload_g=400.0)
    keep(seen=two, series=5)
    assert current_design().craft.payload_g == 400.0
    with pytest.raises(FileChangedError, match="payload_g is 400"):
        keep(seen=two, payload_g=90.0, series=5)
    assert current_design().craft.payload_g == 400.0
    keep(seen=two, payload_g=90.0, series=5)
    assert current_design().craft.payload_g == 90.0
    keep(seen=two, payload_g=95.0)  # its own change is none to ask about


KEEPER = """
import sys
from workbook.lessons.learner import keep
print("ready", flush=True)
sys.stdin.readline()
for number in range(1, 11):
    keep(**{sys.argv[1]: float(number)})
"""


def test_two_processes_at_once_keep_each_others_figures(folder):
    keys = ("payload_g", "avionics_w")
    keepers = [
        subprocess.Popen(
            [sys.executable, "-c", KEEPER, key],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])},
        )
        for key in keys
    ]
    for keeper in keepers:
        assert keeper.stdout.readline() == "ready\n"
    for keeper in keepers:
        keeper.communicate("go\n")
    craft = current_design().craft
    assert [getattr(craft, key) for key in keys] == [10.0, 10.0]


def test_a_failed_write_leaves_the_good_file(folder, monkeypatch):
    keep(payload_g=400.0)
    good = (folder / "designs" / "mine.toml").read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(InputError, match="cannot be written"):
        keep(payload_g=300.0)
    assert (folder / "designs" / "mine.toml").read_bytes() == good
    assert sorted(p.name for p in (folder / "designs").iterdir() if p.name.startswith(".")) == []


def test_a_file_that_cannot_be_used_is_reported_and_never_overwritten(folder):
    mine = folder / "designs" / "mine.toml"
    mine.write_text("name = ", "utf-8")
    found = learners_design()
    assert not found.own
    assert "Your own cannot be used" in found.notice
    assert "mine.toml" in found.notice
    with pytest.raises(InputError, match="left as it is"):
        keep(payload_g=1.0)
    assert mine.read_text("utf-8") == "name = "


def test_a_cell_of_ones_own_is_carried_with_its_folder(folder):
    (folder / "cells").mkdir()
    write_cell(replace(find_cell("Bittern"), name="Mine 50"), folder / "cells" / "mine.toml")
    assert "Mine 50" in cells()
    keep(cell="Mine 50")
    assert current_design().pack.cell.name == "Mine 50"


def test_a_bad_cell_of_ones_own_is_reported(folder):
    (folder / "cells").mkdir()
    (folder / "cells" / "bad.toml").write_text("format = 1", "utf-8")
    assert "Bittern" in cells()
    assert "bad.toml" in learner.own_cells_notice()


def test_the_choice_of_cells_starts_at_the_designs_own_cell_even_where_no_file_has_it(folder):
    own = replace(find_cell("Bittern"), name="One of a kind")
    choice = cell_choice(current_design().changed(cell=own))
    assert choice.value is own
    assert len(choice.options) == len(cells()) + 1
