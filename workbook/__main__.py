"""`python3 -m workbook COMMAND`: the one entry that also works before anything is installed.

In a fresh checkout the first run makes `.venv` beside this project, installs the workbook into it
and goes on there; from then on it only goes on there. Standard library only.
"""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent
ENVIRONMENT = PROJECT / ".venv"


def _in_place() -> bool:
    needed = ["numpy", "pandas", "scipy", "pydantic", "tomlkit", "jupyterlab", "bqplot"]
    if sys.argv[1:2] == ["test"]:
        needed += [
            "pytest",
            "nbval",
            "pybamm",
            "playwright",
            "hypothesis",
            "mypy",
            "ruff",
            "pypdfium2",
        ]
    return all(importlib.util.find_spec(name) for name in needed)


def _interpreter() -> Path:
    folder, name = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
    return ENVIRONMENT / folder / name


def _prepare() -> None:
    extra = "[test]" if sys.argv[1:2] == ["test"] else ""
    mark = ENVIRONMENT / f"workbook-installed{extra or '-plain'}"
    wanted = (PROJECT / "pyproject.toml").read_bytes()
    if mark.exists() and mark.read_bytes() == wanted:
        return
    print("Setting up the workbook in .venv: once, a few minutes, needs the network.", flush=True)
    if not _interpreter().exists():
        import venv

        try:
            venv.create(ENVIRONMENT, with_pip=True)
        except (subprocess.CalledProcessError, OSError) as fault:
            sys.exit(
                "A virtual environment could not be made here "
                f"({fault}). On Debian or Ubuntu: apt-get install python3-venv, then try again."
            )
    install = [str(_interpreter()), "-m", "pip", "install", "--quiet", "-e", f"{PROJECT}{extra}"]
    if subprocess.run(install, check=False).returncode:
        sys.exit("pip could not install what the workbook needs; its own message stands above.")
    mark.write_bytes(wanted)


def main() -> None:
    """Run the command here, or in the project's own environment, made first where needed."""
    if sys.version_info < (3, 11):  # noqa: UP036 - pip has not checked it yet
        sys.exit(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}.")
    if _in_place():
        from workbook.cli import main as command

        sys.exit(command())
    if not (PROJECT / "pyproject.toml").exists():
        sys.exit("Parts of the workbook's installation are missing; install the workbook again.")
    _prepare()
    command_line = [str(_interpreter()), "-m", "workbook", *sys.argv[1:]]
    sys.exit(subprocess.run(command_line, check=False).returncode)


if __name__ == "__main__":
    main()
