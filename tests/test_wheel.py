"""The built wheel works on its own: a fresh environment outside the checkout sizes a design with it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent


@pytest.mark.long
def test_wheel_sizes_a_design_outside_the_checkout(tmp_path: Path) -> None:
    def run(*command: object, code: int = 0) -> str:
        environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
        done = subprocess.run(
            [str(part) for part in command],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == code, done.stderr
        return done.stdout

    run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", tmp_path / "dist", PROJECT)
    (wheel,) = (tmp_path / "dist").glob("workbook-*.whl")
    venv.create(tmp_path / "fresh", with_pip=True)
    scripts = tmp_path / "fresh" / ("Scripts" if os.name == "nt" else "bin")
    run(scripts / "python", "-m", "pip", "install", "-q", wheel)
    layout = (
        "from pathlib import Path; from workbook.data.notebooks import notebooks_source; from workbook.opening import lay_out;"
        "print(len(lay_out(notebooks_source(), Path('club')).written))"
    )
    assert int(run(scripts / "python", "-c", layout)) >= 5
    assert (tmp_path / "club" / "start.ipynb").exists()
    answer = json.loads(run(scripts / "workbook", "size", "--json", "club/designs/survey_six.toml"))
    assert answer["holds"] is True
    assert answer["endurance_min"] > 0
