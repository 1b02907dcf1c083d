"""A page as a file to print: HTML for any browser, or the PDF that Chromium makes of it."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Unpack

from workbook.errors import InputError, shortened, visible
from workbook.files.writing import Saving, check_writable, write_bytes, write_text

BROWSERS = ("chromium", "chromium-browser")
LONGEST_S = 120.0
"""For one file: the whole course takes some ten seconds."""


def chromium() -> str:
    """The path of the browser that prints: WORKBOOK_CHROMIUM, else the one on the search path.

    Raises:
        InputError: there is none.
    """
    found = os.environ.get("WORKBOOK_CHROMIUM") or next(
        filter(None, map(shutil.which, BROWSERS)), None
    )
    if not found:
        raise InputError(
            "a PDF is printed by Chromium, which is not found here: install it, or set WORKBOOK_CHROMIUM to its "
            "path; or give the file a name in .html, and print it from any browser."
        )
    return found


def pdf_of(html: str) -> bytes:
    """A page printed on the paper that it asks for.

    Args:
        html: a page that needs nothing else.

    Raises:
        InputError: no Chromium, or it does not print.
    """
    with tempfile.TemporaryDirectory(prefix="workbook-print-") as folder:
        page, printed = Path(folder, "page.html"), Path(folder, "page.pdf")
        page.write_text(html, encoding="utf-8")
        command = [chromium(), "--headless", "--disable-gpu", "--disable-background-networking"]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.append("--no-sandbox")
        command += [f"--user-data-dir={folder}/profile", "--no-pdf-header-footer"]
        command += [f"--print-to-pdf={printed}", page.as_uri()]
        try:
            done = subprocess.run(command, capture_output=True, timeout=LONGEST_S, check=False)
            reason = done.stderr.decode(errors="replace").strip().rpartition("\n")[2]
        except (OSError, subprocess.TimeoutExpired) as fault:
            reason = str(fault)
        if not printed.exists():
            message = f"Chromium did not print the PDF ({shortened(visible(reason)) or 'no reason given'});"
            raise InputError(
                f"{message} give the file a name in .html, and print it from a browser."
            )
        return printed.read_bytes()


def check_ending(path: Path, endings: tuple[str, ...] = (".html", ".htm")) -> None:
    """Refuse a name with an ending that a page cannot have.

    Args:
        path: the file that is to be written.
        endings: those that it may have.

    Raises:
        InputError: it has none of them.

    Example:
        >>> check_ending(Path("sheet.doc"))
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: sheet.doc: a page cannot have this ending; a name in .html or .htm is needed.
    """
    if path.suffix.lower() not in endings:
        *others, last = endings
        raise InputError(
            f"a page cannot have this ending; a name in {', '.join(others)} or {last} is needed.",
            str(path),
        )


def write_page(path: Path, html: str, **saving: Unpack[Saving]) -> None:
    """Write a page that is to be printed, as a PDF where the file's name ends so.

    Args:
        path: the file, named .html or .pdf.
        html: the page.
        saving: how it may be written; see `workbook.files.writing.Saving`.

    Raises:
        InputError: it cannot be written or printed, and nothing was written.
    """
    check_writable(path, overwrite=saving.get("overwrite", False), inputs=saving.get("inputs", ()))
    check_ending(path, (".html", ".htm", ".pdf"))
    if path.suffix.lower() != ".pdf":
        write_text(path, html, **saving)
    else:
        write_bytes(path, pdf_of(html), **saving)
