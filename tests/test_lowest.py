"""The versions that pyproject.toml allows: each has a lowest, and the pinned ones are among them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from packaging.utils import canonicalize_name

from tests.lowest import PROJECT, lowest, requirements

PINS = sorted((PROJECT / ".ci" / "constraints").glob("py3*.txt"))


def test_every_requirement_has_a_lowest_version() -> None:
    asked = requirements("picture", "test")
    assert len(asked) > 20
    assert all(lowest(each).startswith(f"{each.name}==") for each in asked)


def test_there_are_pins_for_every_python_that_the_readme_names() -> None:
    named = re.search(
        r"Python (3\.\d+), (3\.\d+) or (3\.\d+)", (PROJECT / "README.md").read_text("utf-8")
    )
    assert named
    assert [f"py{name.replace('.', '')}" for name in named.groups()] == [path.stem for path in PINS]


@pytest.mark.parametrize("path", PINS, ids=lambda path: path.stem)
def test_what_is_pinned_is_allowed_and_nothing_is_missing(path: Path) -> None:
    pinned = {}
    for line in path.read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            name, version = line.split("==")
            pinned[canonicalize_name(name)] = version
    here = {"python_version": f"3.{path.stem.removeprefix('py3')}"}
    for asked in requirements("picture", "test", **here):
        assert pinned[canonicalize_name(asked.name)] in asked.specifier, asked
