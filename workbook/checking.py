"""Every check of a checkout in one run: style, types, tests with worked examples, notebooks."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent

PYTEST = ("pytest", "-q", "-n", "2", "--dist", "loadfile")

CHECKS = (
    ("style", ("ruff", "check", "workbook", "tests")),
    ("layout of the code", ("ruff", "format", "--check", "workbook", "tests")),
    ("types", ("mypy",)),
    ("tests and worked examples", (*PYTEST, "-m", "not browser")),
    (
        "notebooks",
        (*PYTEST, "--nbval", "--nbval-current-env", "-p", "no:cacheprovider", "notebooks"),
    ),
    # in a run of their own: the browser's driver leaves an event loop running in its process
    ("tests in a browser", (*PYTEST, "-m", "browser", "tests/browser")),
)


def run_checks() -> int:
    """Run the checks in order, all of them; 0 when every one passed, else 1.

    Only a checkout can be checked: an installed copy holds no tests.
    """
    if not (PROJECT / "tests").is_dir():
        print("There are no tests here; run this in a checkout of the project.", file=sys.stderr)
        return 2
    failed = []
    for name, command in CHECKS:
        print(f"\n== {name}: {' '.join(command)}", flush=True)
        if subprocess.run([sys.executable, "-m", *command], cwd=PROJECT, check=False).returncode:
            failed.append(name)
    print(f"\nFailed: {', '.join(failed)}" if failed else "\nAll checks passed.", flush=True)
    return 1 if failed else 0
