"""`python3 -m workbook COMMAND`: the one entry that also works before anything is installed.

In a fresh checkout the first run makes `.venv` beside this project, installs the workbook into it
and goes on there; from then on it only goes on there. Standard library only.
"""

import os
import sys

PROJECT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
if sys.path and os.path.abspath(sys.path[0]) not in (PROJECT, os.path.dirname(sys.executable)):
    del sys.path[0]  # `-m` puts the current folder there: a shared folder's files are not to be run

import importlib.util  # noqa: E402
import subprocess  # noqa: E402
from pathlib import Path  # noqa: E402

ENVIRONMENT = Path(PROJECT, ".venv")
LIBRARIES = ("numpy", "pandas", "scipy", "pydantic", "tomlkit", "jupyterlab", "bqplot")
FOR_TESTS = ("pytest", "nbval", "pybamm", "playwright", "hypothesis", "mypy", "ruff", "pypdfium2")


def _in_place(testing: bool) -> bool:
    needed = LIBRARIES + FOR_TESTS * testing
    return all(importlib.util.find_spec(name) for name in needed)


def _interpreter() -> Path:
    folder, name = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
    return ENVIRONMENT / folder / name


def _works(*arguments: str) -> bool:
    """Whether the environment's own Python runs that; a set-up killed half way leaves one that does not."""
    command = [str(_interpreter()), "-P", *arguments]
    try:
        return not subprocess.run(command, check=False, capture_output=True).returncode
    except OSError:
        return False


def _make_environment() -> None:
    import venv

    try:
        venv.create(ENVIRONMENT, with_pip=True, clear=ENVIRONMENT.exists())
    except (subprocess.CalledProcessError, OSError) as fault:
        sys.exit(
            f"A virtual environment could not be made in {ENVIRONMENT} ({fault}). The folder must be "
            "one that you may write to; on Debian or Ubuntu: apt-get install python3-venv."
        )


def _find_by_relative_path() -> None:
    """The environment finds the project from where it lies itself, so that both can be moved together."""
    for path in ENVIRONMENT.glob("**/site-packages/*_workbook.pth"):
        path.write_text(os.path.relpath(PROJECT, path.parent) + "\n", "utf-8")


def _prepare(testing: bool) -> None:
    extra = "[test]" if testing else ""
    mark = ENVIRONMENT / f"workbook-installed{extra or '-plain'}"
    wanted = Path(PROJECT, "pyproject.toml").read_bytes()
    if mark.exists() and mark.read_bytes() == wanted:
        if _works("-c", "import workbook.errors, numpy"):
            return
        _find_by_relative_path()
        if _works("-c", "import workbook.errors, numpy"):
            return
    print(
        "Setting up the workbook in .venv: once, a few minutes, needs the network.",
        file=sys.stderr,
        flush=True,
    )
    if not _works("-m", "pip", "--version"):
        _make_environment()
    install = [str(_interpreter()), "-P", "-m", "pip", "install", "--quiet", "-e", PROJECT + extra]
    if subprocess.run(install, check=False, stdout=sys.stderr).returncode:
        sys.exit("pip could not install what the workbook needs; its own message stands above.")
    _find_by_relative_path()
    mark.write_bytes(wanted)


def _go_on(command: list[str]) -> None:
    """Become that command, so that a signal meant for this one reaches it."""
    if os.name == "posix":
        os.execv(command[0], command)
    sys.exit(subprocess.run(command, check=False).returncode)


def main() -> None:
    """Run the command here, or in the project's own environment, made first where needed."""
    if sys.version_info < (3, 11):  # noqa: UP036 - pip has not checked it yet
        sys.exit(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}.")
    testing = sys.argv[1:2] == ["test"]
    if _in_place(testing):
        from workbook.cli import main as command

        sys.exit(command())
    if not Path(PROJECT, "pyproject.toml").exists():
        sys.exit("Parts of the workbook's installation are missing; install the workbook again.")
    try:
        _prepare(testing)
    except KeyboardInterrupt:
        sys.exit("Stopped; the next run goes on from here.")
    _go_on([str(_interpreter()), "-P", "-m", "workbook", *sys.argv[1:]])


if __name__ == "__main__":
    main()
