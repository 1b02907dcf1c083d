"""`python -m tests.lowest`: the tests of computation, with the lowest versions that pyproject.toml allows."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import tomllib
import venv
from pathlib import Path

from packaging.requirements import Requirement

PROJECT = Path(__file__).resolve().parent.parent
ROOMS = ("battery", "bench", "craft", "data", "exercises", "files", "sheet", "sizing")
FOR_TESTS = ("hypothesis", "jsonschema", "pytest", "pytest-xdist")
TESTS = (
    "-m",
    "pytest",
    "-q",
    "-n",
    "2",
    "-p",
    "no:cacheprovider",
    "-m",
    "not long and not browser",
)


def requirements(*extras: str, **machine: str) -> list[Requirement]:
    """What pyproject.toml asks for with those extras, on this machine but for what is told of it."""
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text("utf-8"))["project"]
    lines = [*project["dependencies"]]
    for extra in extras:
        lines += project["optional-dependencies"][extra]
    asked = [Requirement(line) for line in lines if not line.startswith("workbook[")]
    return [each for each in asked if each.marker is None or each.marker.evaluate(dict(machine))]


def lowest(asked: Requirement) -> str:
    """A requirement at the lowest version that it allows.

    Example:
        >>> lowest(Requirement("pandas>=2.2.3,<4"))
        'pandas==2.2.3'
    """
    (bound,) = (part.version for part in asked.specifier if part.operator == ">=")
    return f"{asked.name}=={bound}"


def main() -> int:
    """Make an environment of the lowest versions in a temporary folder and run the tests in it."""
    own = {key: value for key, value in os.environ.items() if not key.startswith("PY")}
    with tempfile.TemporaryDirectory(prefix="workbook-lowest-") as base:
        constraints = Path(base, "lowest.txt")
        pinned = "\n".join(lowest(each) for each in requirements("picture", "test"))
        constraints.write_text(pinned + "\n", "utf-8")
        venv.create(Path(base, "env"), with_pip=True, symlinks=os.name == "posix")
        scripts = Path(base, "env", "Scripts" if os.name == "nt" else "bin")
        install = ("-m", "pip", "install", "-q", "-c", constraints, "-e", ".", *FOR_TESTS)
        for command in (install, (*TESTS, *(Path("tests", room) for room in ROOMS))):
            run = subprocess.run([scripts / "python", *command], cwd=PROJECT, env=own, check=False)
            if run.returncode:
                return run.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
