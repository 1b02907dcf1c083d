"""A design opens nothing beyond its own folders unless the person who opens it says so."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from tests.conftest import NOTEBOOKS
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.cell_file import catalogue, find_cell, write_cell
from workbook.files.design_file import read_design
from workbook.files.reach import checked_path

SIX = (NOTEBOOKS / "designs" / "survey_six.toml").read_text("utf-8")
OUTSIDE = "outside the design's own folders"


@pytest.fixture
def design(club: Path) -> Path:
    """A design in the notebooks' folder, whose table a test may name otherwise."""
    return club / "designs" / "odd.toml"


def named(design: Path, table: str) -> Path:
    quoted = table.replace("\\", "\\\\")
    design.write_text(SIX.replace("../tables/survey_motor.csv", quoted), "utf-8")
    return design


@pytest.mark.parametrize(
    "table",
    [
        "../tables/survey_motor.csv",
        "./../tables/survey_motor.csv",
        "..\\tables\\survey_motor.csv",  # as a person on Windows writes it
    ],
)
def test_the_notebooks_own_folders_are_open(design: Path, table: str) -> None:
    assert read_design(named(design, table)).part.craft.thrust_table == table


@pytest.mark.parametrize(
    "table",
    [
        "/etc/passwd", "/dev/zero", "../../survey_motor.csv", "../tables/../../survey_motor.csv",
        "C:/tables/survey_motor.csv", "C:survey_motor.csv", "\\\\server\\share\\motor.csv", "..\\..\\motor.csv",
        "~/../../../motor.csv", "x/" * 2000 + "../" * 2100 + "motor.csv",
    ],
)  # fmt: skip
def test_what_leads_out_is_refused_before_it_is_opened(design: Path, table: str) -> None:
    with pytest.raises(InputError, match=OUTSIDE) as fault:
        read_design(named(design, table))
    assert "odd.toml, craft.thrust_table" in str(fault.value)


def test_the_person_may_allow_what_the_file_may_not(
    design: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    elsewhere = design.parents[1] / "away" / "far"
    elsewhere.mkdir(parents=True)
    shutil.copy(design.parents[1] / "tables" / "survey_motor.csv", elsewhere)
    away = elsewhere.parent / "design.toml"
    away.write_text(SIX.replace("../tables/survey", str(elsewhere / "survey")), "utf-8")
    assert main(["size", str(away)]) == 2
    assert OUTSIDE in capsys.readouterr().err
    assert main(["size", str(away), "--anywhere"]) == 0


@pytest.mark.skipif(os.name != "posix", reason="links of POSIX")
def test_a_link_that_leads_out_is_refused(
    design: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    far = tmp_path_factory.mktemp("far")
    shutil.copy(design.parents[1] / "tables" / "survey_motor.csv", far)
    (design.parents[1] / "tables" / "link.csv").symlink_to(far / "survey_motor.csv")
    (design.parents[1] / "folder").symlink_to(far)
    for table in ("../tables/link.csv", "../folder/survey_motor.csv"):
        with pytest.raises(InputError, match=OUTSIDE):
            read_design(named(design, table))


@pytest.mark.skipif(os.name != "posix", reason="links of POSIX")
def test_a_cell_that_is_a_link_out_of_its_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "cells").mkdir()
    write_cell(find_cell("Bittern"), tmp_path / "bittern.toml")
    (tmp_path / "cells" / "mine.toml").symlink_to(tmp_path / "bittern.toml")
    with pytest.raises(InputError, match="leads out of its folder"):
        catalogue(tmp_path / "cells")


def test_a_folder_of_cells_is_as_closed_as_a_table(design: Path) -> None:
    design.write_text(SIX.replace('cell = "Sedge"', 'cell = "Sedge"\ncell_folder = "/"'), "utf-8")
    with pytest.raises(InputError, match=r"pack.cell_folder.*outside"):
        read_design(design)


def test_a_design_that_lies_alone_has_its_own_folder_only(tmp_path: Path) -> None:
    (tmp_path / "inbox").mkdir()
    with pytest.raises(InputError, match=OUTSIDE):
        checked_path("../private.csv", tmp_path / "inbox", "a.toml")
    assert checked_path("motor.csv", tmp_path / "inbox", "a.toml").name == "motor.csv"
