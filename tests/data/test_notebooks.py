"""Where the notebooks are."""

from __future__ import annotations

import pytest

from workbook.data import notebooks
from workbook.errors import InputError


def test_the_packed_notebooks_come_first_and_none_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(notebooks, "PACKED_NOTEBOOKS", tmp_path / "packed")
    monkeypatch.setattr(notebooks, "CHECKOUT_NOTEBOOKS", tmp_path / "checkout")
    with pytest.raises(InputError, match="holds no notebooks"):
        notebooks.notebooks_source()
    for name in ("checkout", "packed"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "start.ipynb").write_text("{}", "utf-8")
        assert notebooks.notebooks_source() == tmp_path / name
