"""The hub's settings are read by the hub's own loader."""

from __future__ import annotations

from pathlib import Path

from traitlets.config import PyFileConfigLoader

from workbook.opening import PAGES
from workbook.pages import hub_config

OURS = Path(hub_config.__file__)


def test_the_hub_reads_it() -> None:
    found = PyFileConfigLoader(OURS.name, str(OURS.parent)).load_config()
    assert found.Spawner.default_url.startswith(PAGES)
    assert found.Spawner.cmd[-1] == "workbook.pages.hub_server"
