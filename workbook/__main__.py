"""`python3 -m workbook COMMAND`: the one entry that also works before anything is installed.

In a fresh checkout the first run makes `.venv` beside this project, installs the workbook into it
and goes on there; from then on it only goes on there. Standard library only.
"""

from __future__ import annotations

import contextlib
import csv
import importlib.metadata
import importlib.util
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NoReturn

PROJECT = Path(__file__).resolve().parent.parent
ENVIRONMENT = PROJECT / ".venv"
PINS = PROJECT / ".ci" / "constraints" / f"py3{sys.version_info[1]}.txt"
EXIT_UNUSABLE = 2
DISK_BYTES = 2e9
"""What is needed with the tests' libraries (1.4 GB when it was measured), and their downloads."""
LAUNCHER = """\
#!/bin/sh
'''exec' "$(dirname -- "$0")/python" -P "$0" "$@"
' '''
import sys
from workbook.__main__ import command
sys.exit(command())
"""
"""Text for the shell and for Python: it looks for its Python beside itself, and so can be moved."""


def _stop(message: str) -> NoReturn:
    print(message, file=sys.stderr)
    sys.exit(EXIT_UNUSABLE)


def _in_place(testing: bool) -> bool:
    """Whether the workbook and what it needs are installed for the Python that runs this."""
    needed = (
        ("extra == 'test'", 'extra == "test"') if testing else ()
    )  # others hold on some machines only
    try:
        for line in importlib.metadata.requires("workbook") or ():
            name, _, condition = line.partition(";")
            if condition.strip() in ("", *needed):
                importlib.metadata.version(re.split(r"[^\w.-]", name)[0])
    except importlib.metadata.PackageNotFoundError:
        return False
    return True


def _interpreter() -> str:
    folder, name = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
    return str(ENVIRONMENT / folder / name)


def _run(command: Sequence[str], *, keep_open: Sequence[int] = ()) -> int:
    """Run that in the project's folder; when this one is ended, so is what it started.

    Args:
        command: what to run; its words go to standard error.
        keep_open: descriptors that it inherits.
    """
    own_group = os.name == "posix"
    with subprocess.Popen(
        command,
        cwd=PROJECT,
        stdin=subprocess.DEVNULL,
        stdout=sys.stderr,
        start_new_session=own_group,
        pass_fds=keep_open,
    ) as child:
        try:
            return child.wait()
        except BaseException:
            if own_group:
                os.killpg(child.pid, signal.SIGINT)
            else:
                child.terminate()
            raise


def _works(*arguments: str) -> bool:
    """Whether the environment's own Python runs that without a complaint."""
    try:
        done = subprocess.run([_interpreter(), "-P", *arguments], check=False, capture_output=True)
    except OSError:
        return False
    return not done.returncode


def _complete(testing: bool) -> bool:
    """Whether the environment runs, finds this project and holds all that it needs."""
    return _works(
        "-c",
        "import sys, numpy, workbook.__main__ as entry;"
        f"sys.exit(not (entry._in_place({testing}) and str(entry.PROJECT) == {str(PROJECT)!r}))",
    )


@contextlib.contextmanager
def _alone() -> Iterator[tuple[int, ...]]:
    """Wait until no other set-up of this checkout runs; what inherits the descriptor is waited for too."""
    try:
        import fcntl
    except ImportError:  # Windows has no such lock
        yield ()
        return
    descriptor = os.open(PROJECT, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            print("Another set-up of this checkout runs; waiting for it.", file=sys.stderr)
            fcntl.flock(descriptor, fcntl.LOCK_EX)
        except OSError:  # a file system without locks
            pass
        yield (descriptor,)
    finally:
        os.close(descriptor)


def _forget_the_half_installed() -> None:
    """Take away the record of every package that lacks a file, so that pip installs it anew.

    An installation that was killed leaves such records, and pip believes them.
    """
    for place in ENVIRONMENT.glob("**/site-packages/*.dist-info"):
        record = place / "RECORD"
        lines = record.read_text("utf-8").splitlines() if record.exists() else []
        files = [place.parent / row[0] for row in csv.reader(lines) if row]
        if not files or not all(file.suffix == ".pyc" or file.exists() for file in files):
            shutil.rmtree(place)


def _make_environment(keep_open: Sequence[int]) -> None:
    if not (importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip")):
        _stop(
            "This Python cannot make a virtual environment; on Debian or Ubuntu install it with "
            "'apt-get install python3-venv', and run the same command again."
        )
    if _run([sys.executable, "-P", "-m", "venv", "--clear", str(ENVIRONMENT)], keep_open=keep_open):
        _stop(
            f"No virtual environment could be made in {ENVIRONMENT}; the reason is printed above. Free "
            f"{DISK_BYTES / 1e9:g} GB of disk, or take away what lies there, and run the same command again."
        )


@contextlib.contextmanager
def _in_place_of_the_old_one() -> Iterator[None]:
    """Keep an environment that was whole until the new one is, and put it back where that cannot be had.

    A folder on a stick meets machines whose Python is another, and not always a network.
    """
    aside = ENVIRONMENT.with_name(f"{ENVIRONMENT.name}-before")
    whole = any(ENVIRONMENT.glob("workbook-installed*")) and not ENVIRONMENT.is_symlink()
    if whole and not aside.exists() and not _works("-m", "pip", "show", "--quiet", "pip"):
        ENVIRONMENT.rename(aside)
    try:
        yield
    except SystemExit:
        if aside.exists():
            shutil.rmtree(ENVIRONMENT, ignore_errors=True)
            aside.rename(ENVIRONMENT)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _let_it_be_moved() -> None:
    """The environment finds the project from where it lies itself, so that both can be moved together."""
    for path in ENVIRONMENT.glob("**/site-packages/*_workbook.pth"):
        relative = os.path.relpath(PROJECT, path.parent)
        path.write_text(Path(relative).as_posix() + "\n", "utf-8")
    launcher = ENVIRONMENT / "bin" / "workbook"
    if launcher.exists():
        launcher.write_text(LAUNCHER, "utf-8", newline="\n")


def _install(testing: bool, keep_open: Sequence[int]) -> None:
    """Install the newest versions; where those do not work, the ones that were last seen to."""
    wanted = ".[test]" if testing else "."
    install = [_interpreter(), "-P", "-m", "pip", "install", "--quiet", "-e", wanted]
    look = [_interpreter(), "-P", "-c", "import workbook.lessons.sizing_bench"]
    pins = ["--constraint", str(PINS)] if PINS.exists() else []
    for command in (install, install + pins):
        failed = _run(command, keep_open=keep_open)
        _let_it_be_moved()
        if not failed and not _run(look) and _complete(testing):
            return
        if shutil.disk_usage(PROJECT).free < DISK_BYTES / 2:
            break
        if command == install and pins:
            print("Once more, with the versions last seen to work.", file=sys.stderr, flush=True)
    _stop(
        "What the workbook needs could not be installed; the reason is printed above. Connect to the "
        f"network, free {DISK_BYTES / 1e9:g} GB of disk, and run the same command again: it goes on from there."
    )


def _set_up(testing: bool) -> None:
    """Set the environment up where that is not done yet, or was not done whole."""
    for_tests, plain = (ENVIRONMENT / f"workbook-installed{kind}" for kind in ("[test]", "-plain"))
    wanted = (PROJECT / "pyproject.toml").read_bytes()

    def done() -> bool:
        marks = (for_tests,) if testing else (plain, for_tests)
        return any(m.exists() and m.read_bytes() == wanted for m in marks) and _complete(testing)

    if done():
        return
    if not os.access(ENVIRONMENT if ENVIRONMENT.exists() else PROJECT, os.W_OK):
        _stop(
            f"{PROJECT} is read-only, and the workbook is not set up in it yet; copy the folder to a "
            "place where you may write, and run the command there."
        )
    with _alone() as keep_open:
        if done():
            return
        print(
            "Setting up the workbook in .venv: once, a few minutes, needs the network.",
            file=sys.stderr,
            flush=True,
        )
        _forget_the_half_installed()
        with _in_place_of_the_old_one():
            if not _works("-m", "pip", "show", "--quiet", "pip"):
                _make_environment(keep_open)
            _install(testing, keep_open)
            (for_tests if testing else plain).write_bytes(wanted)


def _go_on(command: list[str]) -> NoReturn:
    """Become that command, so that a signal meant for this one reaches it."""
    if os.name == "posix":
        os.execv(command[0], command)
    try:
        sys.exit(subprocess.run(command, check=False).returncode)
    except KeyboardInterrupt:
        sys.exit(EXIT_UNUSABLE)


def _prepare(testing: bool) -> None:
    """Set up; whatever interrupts it is reported in a sentence."""

    def ended(number: int, _frame: object) -> NoReturn:
        raise KeyboardInterrupt(number)

    stops = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    heard = [number for number in stops if signal.getsignal(number) != signal.SIG_IGN]
    before = {number: signal.signal(number, ended) for number in heard}
    try:
        _set_up(testing)
    except KeyboardInterrupt:
        _stop("Stopped; the next run goes on from here.")
    except OSError as fault:
        _stop(f"The workbook could not be set up in {ENVIRONMENT}: {fault}.")
    for number, handler in before.items():
        signal.signal(number, handler)


def command() -> int:
    """Run the command here; a failure to load it is reported in a sentence too, and exits 2."""
    from workbook.console import guarded

    def loaded() -> int:
        from workbook.cli import main

        return main()

    return guarded(loaded)


def main() -> None:
    """Run the command here, or in the project's own environment, made first where needed."""
    if sys.version_info < (3, 11):  # noqa: UP036 - pip has not checked it yet
        _stop(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}.")
    testing = sys.argv[1:2] == ["test"]
    if _in_place(testing):
        sys.exit(command())
    if not (PROJECT / "pyproject.toml").exists():
        _stop("Parts of the workbook's installation are missing; install the workbook again.")
    _prepare(testing)
    _go_on([_interpreter(), "-P", "-m", "workbook", *sys.argv[1:]])


if __name__ == "__main__":
    main()
