"""Opening the notebooks: laying them out where needed, then the server on the start page."""

from __future__ import annotations

import json
import os
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from workbook.console import print_line
from workbook.data.notebooks import CHECKOUT_NOTEBOOKS, START_PAGE, notebooks_source, of_its_owner
from workbook.errors import InputError
from workbook.files.reading import LARGEST_BYTES, digest, read_bytes, read_text
from workbook.files.records import parse_json
from workbook.files.writing import locked, write_bytes, write_text

RECORD = Path(".workbook", "laid-out.json")
PAGES, LAB = "/voila/render", "/lab/tree"
SETTINGS = Path(__file__).with_name("pages") / "server_config.py"
TEMPLATES = Path(__file__).with_name("pages") / "templates"
LARGEST_RECORD_BYTES = 1_000_000
DATA_ENDINGS = (".toml", ".csv", ".txt")
"""Endings of what is no page."""
DEFAULT_FOLDER = Path("pack-workbook")


@dataclass(frozen=True)
class LaidOut:
    """What laying out did: files written, and files left because the learner had changed them."""

    written: tuple[str, ...]
    kept: tuple[str, ...]


def lay_out(source: Path, folder: Path, *, pages: bool = True) -> LaidOut:
    """Copy the notebooks and their tables into a folder, overwriting nothing that was changed there.

    A file is replaced only when it is still as an earlier version of the workbook laid it out, or when it is the
    beginning of the new one: a copy that was broken off. What is about to be written is recorded first,
    so that the next run goes on where this one was ended.

    Args:
        source: where they are.
        folder: where they go.
        pages: the notebooks and their pictures too, not only designs, tables and logs.

    Raises:
        InputError: the folder is a file, or cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError("this is a file; a folder is needed.", str(folder))
    record = folder / RECORD
    with locked(record):
        known = _laid_out_before(record)
        new, kept = {}, []
        for path in sorted(source.rglob("*")):
            place = path.relative_to(source)
            if path.is_dir() or of_its_owner(place) or not (pages or path.suffix in DATA_ENDINGS):
                continue
            name, data = place.as_posix(), read_bytes(path, LARGEST_BYTES)
            if _is_the_workbooks(folder / name, data, known.get(name, [])):
                new[name] = data
            else:
                kept.append(name)
        digests = {name: digest(data) for name, data in new.items()}
        _write_record(record, known | {name: [*known.get(name, []), digests[name]] for name in new})
        written = [name for name, data in new.items() if _write_if_changed(folder / name, data)]
        _write_record(record, known | {name: [found] for name, found in digests.items()})
    return LaidOut(tuple(written), tuple(kept))


def _laid_out_before(record: Path) -> dict[str, list[object]]:
    """Of each file what the workbook laid out: of one version, or of two where it was ended between them."""
    try:
        found = parse_json(read_text(record, LARGEST_RECORD_BYTES), record.name)
    except InputError:  # none is there, or it is damaged: then nothing is known
        return {}
    stated = found.items() if isinstance(found, dict) else ()
    return {name: known if isinstance(known, list) else [known] for name, known in stated}


def _write_record(record: Path, known: dict[str, list[object]]) -> None:
    write_text(record, json.dumps(known, indent=1, sort_keys=True), overwrite=True)


def _is_the_workbooks(target: Path, new: bytes, known: list[object]) -> bool:
    """Whether a file may be laid out: nothing of the learner's is in its place."""
    if not os.path.lexists(target):
        return True
    try:
        present = read_bytes(target, LARGEST_BYTES)
    except InputError:
        return False
    return digest(present) in known or new.startswith(present)


def _write_if_changed(target: Path, data: bytes) -> bool:
    """Write a file that is not yet there as it should be; whether it was written."""
    if target.exists() and read_bytes(target, LARGEST_BYTES) == data:
        return False
    write_bytes(target, data, overwrite=True)
    return True


def laid_out(folder: Path | None) -> Path:
    """The folder of the notebooks, laid out where needed.

    Args:
        folder: where to lay the notebooks out; without it the checkout's own are taken, or
            `pack-workbook` in this folder when the workbook was installed.
    """
    source = notebooks_source()
    if folder is None:
        folder = source if source == CHECKOUT_NOTEBOOKS else DEFAULT_FOLDER
    if folder.resolve() != source.resolve():
        done = lay_out(source, folder)
        print_line(f"{len(done.written)} files laid out in {folder}.")
        for name in done.kept:
            print_line(f"Left as you changed it: {folder / name}")
    return folder.resolve()


def open_workbook(folder: Path | None, *, browser: bool = True, code: bool = False) -> int:
    """Open the pages, or the same notebooks in JupyterLab, in a checkout's folder or in a laid-out one.

    Args:
        folder: as `laid_out` takes it.
        browser: open a browser; without it the address is printed.
        code: begin in JupyterLab; both are there, and each page leads to the other.
    """
    first = f"{LAB if code else PAGES}/{START_PAGE}"
    command = [
        f"--ServerApp.root_dir={laid_out(folder)}",
        f"--LabApp.default_url={first}",
        f"--config={SETTINGS}",
        "--ServerApp.answer_yes=True",
        "--LanguageServerManager.autodetect=False",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    if not browser:
        command.append("--no-browser")

    def launch() -> None:
        from jupyterlab.labapp import LabApp

        server = LabApp.initialize_server(command)
        print_line(
            f"The workbook is open{' in your browser' if browser else ''}; its address here:"
        )
        print_line(
            f"  http://127.0.0.1:{server.port}{first}?token={server.identity_provider.token}"
        )
        print_line("Ctrl+C ends it.")
        server.start()

    serve(launch)
    return 0


@contextmanager
def writable_home() -> Iterator[None]:
    """A folder for what Jupyter keeps for itself, where the person has none to write in; gone afterwards."""
    own = os.path.expanduser("~")
    if os.environ.get("HOME", own) and os.access(own, os.W_OK):
        yield
        return
    with tempfile.TemporaryDirectory(prefix="workbook-home-") as folder:
        os.environ["HOME"] = folder
        yield


def serve(launch: Callable[[], None]) -> None:
    """Run a Jupyter server until a signal ends it and its kernels.

    Args:
        launch: starts it, and comes back when it has ended.

    What lies in a shared folder is data: neither the server nor a kernel imports a module from there.
    """

    def end(_number: int, _frame: object) -> None:
        signal.raise_signal(signal.SIGTERM)

    signal.signal(signal.SIGINT, end)
    hangup = getattr(signal, "SIGHUP", None)
    if hangup and signal.getsignal(hangup) != signal.SIG_IGN:
        signal.signal(hangup, end)
    os.environ["PYTHONSAFEPATH"] = "1"
    os.environ["JUPYTER_PATH"] = os.pathsep.join(
        filter(None, (str(TEMPLATES), os.environ.get("JUPYTER_PATH")))
    )
    os.chdir(sys.prefix)
    with writable_home():
        launch()
