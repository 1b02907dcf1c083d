"""A page that was sent is read back as the design in it, whatever else stands there."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import DESIGNS
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.design_file import DesignFile, read_design, write_design
from workbook.files.packed import packed_text
from workbook.files.sent_page import DESIGN_BEGIN, DESIGN_END, LARGEST_BYTES, design_in
from workbook.sizing.size import size

SIX = DESIGNS / "survey_six.toml"


def sent(folder: Path, text: str, before: str = "<h1>six</h1>") -> Path:
    path = folder / "six.html"
    path.write_text(
        f"<!DOCTYPE html>{before}{DESIGN_BEGIN}{escape(text)}{DESIGN_END}<p>after", "utf-8"
    )
    return path


def answer(file: DesignFile) -> dict[str, Any]:
    """All that sizing says but its notes, which name the table's file."""
    return {**size(file.design, notices=file.notices).as_dict(), "notes": []}


def test_a_page_is_read_as_its_design_alone_in_a_folder(tmp_path: Path) -> None:
    back = read_design(sent(tmp_path, packed_text(read_design(SIX))))
    assert answer(back) == answer(read_design(SIX))
    assert back.inputs == (tmp_path / "six.html",)


def test_a_page_is_laid_out_as_a_design_file(tmp_path: Path) -> None:
    page = sent(tmp_path, packed_text(read_design(SIX)))
    assert main(["unpack", str(page), str(tmp_path / "out")]) == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["six.toml", "thrust.csv"]


@pytest.mark.parametrize("text", ['a = "</pre> & <script>"', "", "name = '&amp;'\n\n"])
def test_whatever_text_goes_in_comes_out(text: str) -> None:
    assert design_in(f"<p>{DESIGN_BEGIN}{escape(text)}{DESIGN_END}", "page") == text


@pytest.mark.parametrize("page", ["<p>nothing", f"{DESIGN_BEGIN}cut off", f"</pre>{DESIGN_BEGIN}"])
def test_a_page_without_a_whole_design_is_refused(page: str) -> None:
    with pytest.raises(InputError, match=r"x\.html: no design stands in this page"):
        design_in(page, "x.html")


def test_a_page_over_its_size_is_not_read(tmp_path: Path) -> None:
    path = sent(tmp_path, "x = 1", before=" " * LARGEST_BYTES)
    with pytest.raises(InputError, match=r"at most 2\.0 MB is expected"):
        read_design(path)


def test_a_design_over_its_size_in_a_page_is_not_read(tmp_path: Path) -> None:
    path = sent(tmp_path, f"{SIX.read_text('utf-8')}\n#{'x' * 600_000}")
    with pytest.raises(InputError, match=r"six\.html: .*at most 500 kB is expected"):
        read_design(path)


def test_what_leads_out_of_the_folder_is_refused_from_a_page_too(tmp_path: Path) -> None:
    text = SIX.read_text("utf-8").replace("../tables/survey_motor.csv", "../../../secret.csv")
    with pytest.raises(InputError, match="thrust_table"):
        read_design(sent(tmp_path, text))


def test_nothing_is_written_into_a_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = sent(tmp_path, packed_text(read_design(SIX)))
    before = path.read_bytes()
    assert main(["flight", str(path), "--undo"]) == 2
    assert "this is a page; give the design a file of its own" in capsys.readouterr().err
    with pytest.raises(InputError, match="this is a page"):
        write_design(read_design(path).part, path, overwrite=True)
    assert path.read_bytes() == before


def test_packing_a_page_makes_a_design_file_of_it(tmp_path: Path) -> None:
    path, out = sent(tmp_path, packed_text(read_design(SIX))), tmp_path / "own.toml"
    assert main(["pack", str(path), "-o", str(out)]) == 0
    assert answer(read_design(out)) == answer(read_design(SIX))
