"""Another's cells beside one's own: new ones are taken, others told key by key, and nothing is written over."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.conftest import DESIGNS
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.cell_file import find_cell, read_cell, write_cell
from workbook.files.cell_merge import merge_cells
from workbook.files.design_file import read_design
from workbook.files.packed import packed_text

SEDGE = find_cell("Sedge")


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    write_cell(replace(SEDGE, name="Weir"), tmp_path / "mine" / "weir.toml")
    return tmp_path / "mine"


@pytest.fixture
def theirs(tmp_path: Path) -> Path:
    folder = tmp_path / "theirs"
    write_cell(replace(SEDGE, name="weir", mass_g=70.5, price=None), folder / "a.toml")
    write_cell(replace(SEDGE, name="Heron", note="said otherwise"), folder / "b.toml")
    write_cell(replace(SEDGE, note="said otherwise"), folder / "c.toml")
    write_cell(replace(find_cell("Bittern"), curves=()), folder / "d.toml")
    (folder / "e.toml").write_text("format = 3", "utf-8")
    (folder / "f.toml").symlink_to("/etc/passwd")
    return folder


def test_each_cell_is_new_the_same_or_a_conflict_by_key(mine: Path, theirs: Path) -> None:
    found = merge_cells(mine, theirs)
    assert [cell.name for cell in found.new] == ["Heron"]
    assert found.same == ("Sedge",)
    assert found.conflicts == {
        "weir": ("name Weir and weir", "mass_g 67.2 and 70.5", "price 4.3 and none"),
        "Bittern": ("curves (4 and 0) with other points",),
    }
    assert len(found.faults) == 2
    assert "leads out of its folder" in str(found.faults[1])
    assert [path.name for path in mine.iterdir()] == ["weir.toml"], "nothing is written unasked"


def test_what_is_new_is_taken_and_nothing_written_over(mine: Path, theirs: Path) -> None:
    before = (mine / "weir.toml").read_bytes()
    write_cell(replace(SEDGE, name="Grebe"), theirs / "g.toml")
    (mine / "grebe.toml").write_text((mine / "weir.toml").read_text("utf-8"), "utf-8")
    (mine / "weir.toml").unlink()
    found = merge_cells(mine, theirs, take=True)
    assert found.written == (mine / "heron.toml",)
    assert read_cell(mine / "heron.toml") == replace(SEDGE, name="Heron", note="said otherwise")
    assert (mine / "grebe.toml").read_bytes() == before
    assert "a file is already here and was left as it is" in str(found.faults[-1])
    assert merge_cells(mine, theirs).same == ("Heron", "Sedge")


def test_a_folder_of_ones_own_that_cannot_be_read_is_not_added_to(mine: Path, theirs: Path) -> None:
    """The cell in it may bear the name of one that would be taken."""
    (mine / "odd.toml").write_text("name = 'Heron'", "utf-8")
    with pytest.raises(InputError, match="format is missing"):
        merge_cells(mine, theirs, take=True)
    assert not (mine / "heron.toml").exists()


def test_the_cell_of_a_packed_design_can_be_taken(mine: Path, tmp_path: Path) -> None:
    one = tmp_path / "one.toml"
    text = packed_text(read_design(DESIGNS / "survey_six.toml"))
    one.write_text(text.replace('"Sedge"', '"../../Sedge <b>"'), "utf-8")
    found = merge_cells(mine, one, take=True)
    assert found.written == (mine / "sedge-b.toml",)
    assert merge_cells(tmp_path / "none yet", one, take=True).written


def test_at_the_prompt(mine: Path, theirs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalogue", str(mine), str(theirs), "--take"]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[:2] == ["taken: Heron", "same: Sedge"]
    text = "conflict: weir, here and there: name Weir and weir; mass_g 67.2 and 70.5; price 4.3 and none."
    assert f"{text} Yours stays as it is." in lines
    assert main(["catalogue", str(mine), str(mine)]) == 0
    assert main(["catalogue", str(mine), str(theirs / "gone")]) == 2
