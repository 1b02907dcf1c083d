"""Settings of the server that shows the pages."""

from __future__ import annotations

import json
from pathlib import Path

import nbformat
from traitlets.config import PyFileConfigLoader
from voila.execute import VoilaExecutor

from workbook.opening import SETTINGS, TEMPLATES
from workbook.pages.kernels import WarmKernels


def test_jupyter_reads_them_and_finds_the_template() -> None:
    found = PyFileConfigLoader(SETTINGS.name, str(SETTINGS.parent)).load_config()
    assert found.ServerApp.kernel_manager_class is WarmKernels
    name = found.VoilaConfiguration.template
    assert found.VoilaConfiguration.allow_template_override == "NO"
    assert (TEMPLATES / "voila" / "templates" / name / "index.html.j2").exists()


def test_an_output_that_comes_late_is_waited_for() -> None:
    found = PyFileConfigLoader(SETTINGS.name, str(SETTINGS.parent)).load_config()
    executor = VoilaExecutor(nbformat.v4.new_notebook(), config=found)
    # of 4 s, what nbclient waits by itself, one page on a loaded machine was shown without its figure
    assert executor.iopub_timeout >= 30


def test_the_first_start_asks_nothing_and_asks_no_other_machine() -> None:
    found = PyFileConfigLoader(SETTINGS.name, str(SETTINGS.parent)).load_config()
    overrides = json.loads(Path(found.LabApp.app_settings_dir, "overrides.json").read_text("utf-8"))
    notices = overrides["@jupyterlab/apputils-extension:notification"]
    assert notices == {"fetchNews": "false", "checkForUpdates": False}


def test_a_page_fetches_no_formulas_from_another_machine() -> None:
    found = PyFileConfigLoader(SETTINGS.name, str(SETTINGS.parent)).load_config()
    asked = found.VoilaConfiguration.page_config_hook({"fullMathjaxUrl": "https://elsewhere"})
    assert asked["fullMathjaxUrl"] is None
