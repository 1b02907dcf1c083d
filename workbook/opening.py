"""Opening the notebooks: laying them out where needed, then JupyterLab on the start page."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import sys
from dataclasses import dataclass
from pathlib import Path

from workbook.console import say
from workbook.data.notebooks import CHECKOUT_NOTEBOOKS, START_PAGE, notebooks_source, of_its_owner
from workbook.errors import InputError, Problem
from workbook.files.writing import write_bytes, write_text

RECORD = Path(".workbook", "laid-out.json")
DEFAULT_FOLDER = Path("pack-workbook")


@dataclass(frozen=True)
class LaidOut:
    """What laying out did: files written, and files left because the learner had changed them."""

    written: tuple[str, ...]
    kept: tuple[str, ...]


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def lay_out(source: Path, folder: Path) -> LaidOut:
    """Copy the notebooks and their tables into a folder, overwriting nothing that was changed there.

    A file is replaced only when it is still as an earlier version of the workbook laid it out.

    Raises:
        InputError: the folder is a file, or cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(Problem("this is a file; a folder is needed.", str(folder)))
    record = folder / RECORD
    try:
        known = json.loads(record.read_text("utf-8")) if record.exists() else {}
    except ValueError:
        known = {}
    if not isinstance(known, dict):
        known = {}
    written, kept = [], []
    for path in sorted(source.rglob("*")):
        place = path.relative_to(source)
        if path.is_dir() or of_its_owner(place):
            continue
        name = place.as_posix()
        target, new = folder / name, _digest(path)
        if target.exists():
            present = _digest(target)
            if present == new:
                known[name] = new
                continue
            if known.get(name) != present:
                kept.append(name)
                continue
        write_bytes(target, path.read_bytes(), overwrite=True)
        known[name] = new
        written.append(name)
    write_text(record, json.dumps(known, indent=1, sort_keys=True), overwrite=True)
    return LaidOut(tuple(written), tuple(kept))


def open_workbook(folder: Path | None, *, browser: bool = True) -> int:
    """Start JupyterLab on the start page, in a checkout's notebooks or in a laid-out folder.

    Args:
        folder: where to lay the notebooks out; without it the checkout's own are opened, or
            `pack-workbook` in this folder when the workbook was installed.
        browser: open a browser; without it JupyterLab prints the address.
    """
    source = notebooks_source()
    if folder is None:
        folder = source if source == CHECKOUT_NOTEBOOKS else DEFAULT_FOLDER
    if folder.resolve() != source.resolve():
        done = lay_out(source, folder)
        say(f"{len(done.written)} files laid out in {folder}.")
        for name in done.kept:
            say(f"Left as you changed it: {folder / name}")
    command = [
        f"--ServerApp.root_dir={folder.resolve()}",
        f"--LabApp.default_url=/lab/tree/{START_PAGE}",
        "--ServerApp.answer_yes=True",
        "--LanguageServerManager.autodetect=False",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    if not browser:
        command.append("--no-browser")
    return _serve(command)


def _serve(options: list[str]) -> int:
    """Run JupyterLab until a signal ends it and its kernels.

    What lies in a shared folder is data: neither the server nor a kernel imports a module from there.
    """

    def end(_number: int, _frame: object) -> None:
        signal.raise_signal(signal.SIGTERM)

    signal.signal(signal.SIGINT, end)
    hangup = getattr(signal, "SIGHUP", None)
    if hangup and signal.getsignal(hangup) != signal.SIG_IGN:
        signal.signal(hangup, end)
    os.environ["PYTHONSAFEPATH"] = "1"
    os.chdir(sys.prefix)
    from jupyterlab.labapp import LabApp

    LabApp.launch_instance(options)
    return 0
