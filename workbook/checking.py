"""The checks of a checkout: what every change needs, or with `everything` the long ones too."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

from workbook.data.notebooks import copy_notebooks
from workbook.opening import writable_home

PROJECT = Path(__file__).resolve().parent.parent
PYTEST = ("pytest", "-q", "-rs", "--dist", "loadfile", "--durations", "5")
NBVAL = (
    "-c",
    "pyproject.toml",
    "--nbval",
    "--nbval-current-env",
    "-p",
    "tests.ipc_kernels",
    "-p",
    "no:cacheprovider",
)


class Check(NamedTuple):
    """One command, run as `python -m ...`."""

    name: str
    command: tuple[str, ...]


def lanes(notebooks: Path, *, everything: bool) -> tuple[tuple[Check, ...], ...]:
    """The checks in lanes that run side by side, each lane in order.

    Browser tests have a run of their own: their driver leaves an event loop running in its process.
    They wait for a page half of the time, and the other lanes fill their gaps.

    Args:
        notebooks: the folder whose notebooks are run, each in a kernel of its own.
        everything: the long checks too.
    """
    kept, drawn = ("", "all") if everything else (" and not long", "change")
    tests = (*PYTEST, "-n", "2", "--hypothesis-profile", drawn, "-m", f"not browser{kept}")
    browser = f"browser{kept}"
    return (
        (Check("tests and worked examples", tests),),
        (
            Check("style", ("ruff", "check", "workbook", "tests")),
            Check("layout of the code", ("ruff", "format", "--check", "workbook", "tests")),
            Check("types", ("mypy",)),
            Check("notebooks", (*PYTEST, "-n", "1", *NBVAL, str(notebooks))),
        ),
        (Check("pages in a browser", (*PYTEST, "-n", "1", "-m", browser, "tests/browser")),),
    )


def _run(check: Check) -> str | None:
    """Run a check and print its output in one piece; return its name where it failed."""
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", *check.command],
        cwd=PROJECT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        env={**os.environ, "PYTHONUTF8": "1"},
        check=False,
    )
    took = time.monotonic() - began
    print(f"\n== {check.name}: {' '.join(check.command)}\n{done.stdout}-- {took:.0f} s", flush=True)
    return check.name if done.returncode else None


def run_checks(*, everything: bool = False) -> int:
    """Run the checks, all of them; 0 when every one passed, 1 when not, 2 without a checkout.

    Args:
        everything: the long checks too: every browser test, printing, other libraries, fuzzing.
    """
    if not (PROJECT / "tests").is_dir():
        print("There are no tests here; run this in a checkout of the project.", file=sys.stderr)
        return 2
    with writable_home(), tempfile.TemporaryDirectory() as base:
        notebooks = Path(base) / "notebooks"
        copy_notebooks(PROJECT / "notebooks", notebooks)
        return _run_all(lanes(notebooks, everything=everything))


def _run_all(plan: Sequence[Sequence[Check]]) -> int:
    with ThreadPoolExecutor(len(plan)) as pool:
        outcomes = pool.map(lambda lane: [_run(check) for check in lane], plan)
        failed = [name for lane in outcomes for name in lane if name]
    print(f"\nFailed: {', '.join(failed)}" if failed else "\nAll checks passed.", flush=True)
    return 1 if failed else 0
