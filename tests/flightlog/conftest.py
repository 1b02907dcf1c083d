"""The demo six-rotor, as every test of flights has it."""

from __future__ import annotations

import pytest

from tests.conftest import DESIGNS
from workbook.files.design_file import read_design
from workbook.sizing.design import Design


@pytest.fixture(scope="session")
def census_six() -> Design:
    return read_design(DESIGNS / "survey_six.toml").design
