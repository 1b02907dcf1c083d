"""A design as one file answers as the design it was made of, wherever it is put, and opens nothing else."""

from __future__ import annotations

import builtins
import json
import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import DESIGNS
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.cell_file import find_cell, write_cell
from workbook.files.design_file import read_design, write_design
from workbook.files.packed import INSIDE_REMARK, packed_text
from workbook.sizing.size import size

SIX = DESIGNS / "survey_six.toml"


def packed(design: Path, folder: Path, change: Callable[[str], str] = str) -> Path:
    """A design as one file, alone in a folder."""
    path = folder / "alone" / "one.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(change(packed_text(read_design(design))), "utf-8")
    return path


def changed(old: str, new: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        assert old in text
        return text.replace(old, new, 1)

    return change


def refusal(path: Path) -> str:
    with pytest.raises(InputError) as fault:
        read_design(path)
    return str(fault.value)


@pytest.mark.parametrize("design", sorted(DESIGNS.glob("*.toml")), ids=lambda path: path.stem)
def test_it_answers_as_the_design_it_was_made_of(tmp_path: Path, design: Path) -> None:
    one, many = read_design(packed(design, tmp_path)), read_design(design)
    table = Path(str(many.part.craft.thrust_table)).name
    values = json.dumps(size(one.design, notices=one.notices).as_dict())
    own = tuple(notice for notice in many.notices if "by the rules of" not in notice.what)
    assert values.replace("one.toml, inside.table", table) == json.dumps(
        size(many.design, notices=own).as_dict()
    )
    assert len(one.tables().tables) == len(many.tables().tables)
    assert [cell.name for cell in one.cells] == [cell.name for cell in many.cells]


@pytest.mark.parametrize(
    ("pointed", "key"),
    [
        ('cell_folder = "inside"\n', "inside.cell: it is not used; write pack.cell_folder"),
        (
            'thrust_table = "inside"\n',
            "inside.table: it is not used; write craft.thrust_table",
        ),
    ],
)
def test_what_is_inside_and_not_named_is_reported(tmp_path: Path, pointed: str, key: str) -> None:
    table = 'thrust_table = "survey_motor.csv"\n'
    path = packed(SIX, tmp_path, changed(pointed, table if "table" in pointed else ""))
    shutil.copy(DESIGNS.parent / "tables" / "survey_motor.csv", path.parent)
    texts = [str(notice) for notice in read_design(path).notices]
    assert any(f"one.toml, {key}" in line for line in texts), texts


def test_it_opens_no_other_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, opened, real = packed(SIX, tmp_path), [], builtins.open
    read_design(path)  # the workbook's own files are known from here on

    def recorded_open(file: Any, *args: Any, **how: Any) -> Any:
        opened.append(os.fspath(file))
        return real(file, *args, **how)

    monkeypatch.setattr(builtins, "open", recorded_open)
    assert read_design(path).inputs == (path,)
    assert opened == [str(path)]


def test_it_keeps_the_comments_and_can_be_read_by_anybody(tmp_path: Path) -> None:
    lines = packed(SIX, tmp_path).read_text("utf-8").splitlines()
    assert "payload_g = 350.0              # the camera" in lines
    assert "survey motor 311 rpm/V,15x5,100,2583,19.82,22.1,437.9,6153,5.9" in lines
    assert 'thrust_table = "inside"' in lines
    assert 'cell_folder = "inside"' in lines


def test_packed_again_it_is_the_same(tmp_path: Path) -> None:
    one = packed(SIX, tmp_path)
    text = packed_text(read_design(one))
    assert text == one.read_text("utf-8")
    assert text.count(INSIDE_REMARK) == 1


def test_a_cell_and_a_table_of_ones_own_travel(club: Path) -> None:
    """The cell's curves in a file beside it, odd signs in the table: all of it is inside."""
    cells, design = club / "cells", club / "designs" / "own.toml"
    own = replace(find_cell("Sedge"), name='"Weir" \\ 2', mass_g=66.0)
    write_cell(own, cells / "weir.toml")
    table = club / "tables" / "odd.csv"
    made = (club / "tables" / "survey_motor.csv").read_text("utf-8")
    table.write_text(made.replace("15x5", '"15"" x 5 \\t"') + '"""\r\n', "utf-8")
    text = (club / "designs" / "survey_six.toml").read_text("utf-8")
    text = text.replace("survey_motor.csv", "odd.csv").replace('"15x5"', "'15\" x 5 \\t'")
    text = text.replace('cell = "Sedge"', 'cell = \'"Weir" \\ 2\'\ncell_folder = "../cells"')
    design.write_text(text, "utf-8")
    whole = read_design(design)
    one = packed(design, club)
    shutil.rmtree(cells)
    table.unlink()
    answer = read_design(one)
    assert answer.design == replace(whole.design, craft=answer.design.craft)
    assert (
        answer.design.craft.table.thrust_gf.tolist() == whole.design.craft.table.thrust_gf.tolist()
    )


def test_a_change_is_saved_packed(tmp_path: Path) -> None:
    file = read_design(packed(SIX, tmp_path))
    part = file.part.model_copy(update={"pack": file.part.pack.model_copy(update={"parallel": 4})})
    write_design(part, tmp_path / "four.toml", file.document)
    assert read_design(tmp_path / "four.toml").design.pack.parallel == 4


def test_a_cell_of_the_workbooks_name_with_other_figures_is_used_and_reported(
    tmp_path: Path,
) -> None:
    file = read_design(packed(SIX, tmp_path, changed("mass_g = 67.2", "mass_g = 60.0")))
    assert file.design.pack.cell.mass_g == 60.0
    text = "its Sedge is not the workbook's own of that name: mass_g 60 and 67.2."
    assert text in [notice.what for notice in file.notices]
    assert {cell.name: cell.mass_g for cell in file.cells}["Sedge"] == 60.0


def test_another_cell_of_the_workbooks_may_take_its_place(tmp_path: Path) -> None:
    file = read_design(packed(SIX, tmp_path, changed('cell = "Sedge"', 'cell = "Bittern"')))
    assert file.design.pack.cell == find_cell("Bittern")
    assert not [notice for notice in file.notices if "not the workbook's own" in notice.what]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("[inside]\n", "[inside]\nscript = 'x'\n", "inside.script is not a key of this file"),
        ('table = """', 'tabel = """', "no inside.table is there; put it in, or name a path"),
        ("mass_g = 67.2\n", "mass_g = -67.2\n", "one.toml, inside.cell, mass_g: "),
        ("mass_g = 67.2\n", 'curves_file = "../x.csv"\n', "one.toml, inside.cell, curves_file"),
        ('cell = "Sedge"', 'cell = "Sedgy"', "no cell is called 'Sedgy'; did you mean 'Sedge'"),
        (",250,0.82", ",250,-0.82", "one.toml, inside.table, row 21"),
        ("\n[inside.cell]\n", "\n[inside.cell]\nname = 3\n", "this is not TOML"),
        ("15x5,25,173", "15x5\\u001b[2J,25,173", "inside.table is "),
        ('"inside"\npropeller', '"../../x.csv"\npropeller', "outside the design's own folders"),
    ],
)
def test_what_is_inside_is_checked_as_a_file_is(
    tmp_path: Path, old: str, new: str, expected: str
) -> None:
    problems = refusal(packed(SIX, tmp_path, changed(old, new)))
    assert expected in problems
    assert "\x1b" not in problems


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        ("[inside]\ntable = 3\n[inside.cell]\n", "inside.table is 3; the text of a thrust table"),
        ("[inside]\ntable = ''\ncell = 3\n", "inside.cell is 3; a cell as a cell file states it"),
        ("[inside]\ntable = 'x'\n[inside.cell]\n", "format is missing"),
        ("[inside]\ntable = 'x'\n[inside.cell]\nx = " + "[" * 800 + "]" * 800, "too deeply"),
        (
            "[inside]\ntable = '''" + "x,y\n" * 90_000 + "'''\n[inside.cell]\n",
            "more than 4000 lines",
        ),
    ],
    ids=["table", "cell", "empty cell", "deep", "long"],
)
def test_what_cannot_be_inside_is_refused(tmp_path: Path, inside: str, expected: str) -> None:
    def change(text: str) -> str:
        return text[: text.index("[inside]")] + inside

    assert expected in refusal(packed(SIX, tmp_path, change))


def test_what_is_too_large_to_be_one_file_is_not_packed(club: Path) -> None:
    table = club / "tables" / "survey_motor.csv"
    line = "survey motor 311 rpm/V,13x4,25,134,0.45,22.2,10.0,1668,13.3" + " " * 150 + "\n"
    with table.open("a", encoding="utf-8") as file:
        file.writelines([line] * 3000)
    file_of = read_design(club / "designs" / "survey_six.toml")
    with pytest.raises(InputError, match="at most 500 kB is expected"):
        packed_text(file_of)


def test_at_the_prompt(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "six.toml"
    assert main(["pack", str(SIX), "-o", str(out)]) == 0
    assert main(["pack", str(SIX), "-o", str(out)]) == 2
    assert "a file is already here and was left as it is" in capsys.readouterr().err
    assert main(["pack", str(out), "-o", str(out), "--overwrite"]) == 2
    assert "this file is what is being worked from" in capsys.readouterr().err
    assert main(["size", str(out), "--short"]) == main(["size", str(SIX), "--short"])


@pytest.mark.parametrize("design", [SIX, DESIGNS / "survey_wing.toml"], ids=lambda p: p.stem)
def test_laid_out_again_it_answers_the_same(tmp_path: Path, design: Path) -> None:
    one, out = packed(design, tmp_path), tmp_path / "out"
    assert main(["unpack", str(one), str(out)]) == 0
    laid = read_design(out / "one.toml")
    assert (
        size(laid.design).as_dict()["limits"] == size(read_design(one).design).as_dict()["limits"]
    )
    assert sorted(path.name for path in out.iterdir()) == ["one.toml", "thrust.csv"]
    assert INSIDE_REMARK not in laid.text
    assert main(["unpack", str(one), str(out)]) == 2, "a folder that holds something is left"
    assert main(["unpack", str(design), str(tmp_path / "more")]) == 2, "nothing inside"


def test_a_cell_of_ones_own_is_laid_out_as_a_file(tmp_path: Path) -> None:
    named = changed('name = "Sedge"', 'name = "../../Weir"')
    one = packed(SIX, tmp_path, lambda t: named(t).replace('cell = "Sedge"', 'cell = "../../Weir"'))
    assert main(["unpack", str(one), str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "cells" / "weir.toml").exists()
    assert read_design(tmp_path / "out" / "one.toml").design.pack.cell.name == "../../Weir"


def test_a_cell_that_cannot_stand_beside_the_workbooks_is_not_laid_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = packed(SIX, tmp_path, changed("mass_g = 67.2", "mass_g = 60.0"))
    assert main(["unpack", str(one), str(tmp_path / "out")]) == 2
    assert "'Sedge' is also in the workbook's own cells" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
