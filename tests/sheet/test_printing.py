"""A page to print: HTML as it is, a PDF from whatever browser there is, and a sentence where none prints."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.sheet.printing import write_page


def browser(folder: Path, script: str) -> str:
    """A stand-in for Chromium."""
    path = folder / "chromium"
    path.write_text(f"#!/bin/sh\n{script}\n", "utf-8")
    path.chmod(0o755)
    return str(path)


def test_a_pdf_is_what_the_browser_prints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    script = 'for a; do case "$a" in --print-to-pdf=*) printf "%%PDF-1" > "${a#*=}";; esac; done'
    monkeypatch.setenv("WORKBOOK_CHROMIUM", browser(tmp_path, script))
    write_page(tmp_path / "page.PDF", "<p>2 cells</p>")
    assert (tmp_path / "page.PDF").read_bytes() == b"%PDF-1"


@pytest.mark.parametrize(
    ("script", "expected"),
    [("echo no room >&2; exit 1", "(no room)"), ("exit 0", "(no reason given)")],
)
def test_what_is_not_printed_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, expected: str
) -> None:
    monkeypatch.setenv("WORKBOOK_CHROMIUM", browser(tmp_path, script))
    with pytest.raises(InputError) as fault:
        write_page(tmp_path / "page.pdf", "<p>2 cells</p>")
    assert f"Chromium did not print the PDF {expected}; give the file a name in .html" in str(
        fault.value
    )
    assert not (tmp_path / "page.pdf").exists()


def test_a_file_that_is_there_stays_and_nothing_is_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WORKBOOK_CHROMIUM", "/no/such/browser")
    (tmp_path / "page.pdf").write_text("mine", "utf-8")
    with pytest.raises(InputError, match="a file is already here"):
        write_page(tmp_path / "page.pdf", "<p>2 cells</p>")


def test_any_other_name_is_the_page_itself(tmp_path: Path) -> None:
    write_page(tmp_path / "page.html", "<p>2 cells</p>")
    assert (tmp_path / "page.html").read_text("utf-8") == "<p>2 cells</p>"


@pytest.mark.parametrize("name", ["sheet.doc", "sheet", "sheet.txt"])
def test_a_name_that_is_no_page_s_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match=r"a name in \.html, \.htm or \.pdf is needed"):
        write_page(tmp_path / name, "<p>2 cells</p>")
    assert not (tmp_path / name).exists()
