"""A running JupyterLab and a Chromium for the tests that look at real pages.

Without a browser these tests are skipped; with WORKBOOK_REQUIRE_BROWSER=1 they fail instead.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.desk import Desk, Lab, Missing, running_browser, running_lab, sitting


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One Chromium for the whole run."""
    try:
        with running_browser() as started:
            yield started
    except Missing as missing:
        if os.environ.get("WORKBOOK_REQUIRE_BROWSER") == "1":
            pytest.fail(str(missing), pytrace=False)
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def lab(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """One JupyterLab on a copy of the notebooks, with settings of its own, for the whole run."""
    with running_lab(tmp_path_factory.mktemp("lab")) as running:
        yield running


@pytest.fixture
def desk(lab: Lab, browser: Any, tmp_path: Path) -> Iterator[Desk]:
    """A fresh page at laptop size; what a learner keeps is gone before the next one sits down."""
    with sitting(lab, browser, tmp_path / "shots") as desk:
        yield desk
    for kept in (*lab.folder.glob("*/mine*"), *lab.folder.glob("cells/*.toml")):
        kept.unlink()
