"""Notebooks as the server reads and saves them: no figure that is gone, nothing else changed."""

from __future__ import annotations

import asyncio
import copy
from pathlib import Path
from typing import Any

import nbformat

from workbook.pages.contents import LIVE_TYPE, STILL_TYPE, Notebooks, with_language, without_live


def notebook(*outputs: dict[str, Any]) -> dict[str, Any]:
    cell = nbformat.v4.new_code_cell("1", outputs=[nbformat.from_dict(o) for o in outputs])
    return {"type": "notebook", "format": "json", "content": nbformat.v4.new_notebook(cells=[cell])}


def shown(data: dict[str, Any]) -> dict[str, Any]:
    return {"output_type": "display_data", "data": data, "metadata": {}}


def test_a_live_figure_goes_only_where_a_still_one_takes_its_place() -> None:
    both, alone = (
        {LIVE_TYPE: {"model_id": "1"}, STILL_TYPE: "<img>"},
        {LIVE_TYPE: {"model_id": "2"}},
    )
    found = without_live(notebook(shown(both), shown(alone)))["content"]["cells"][0]["outputs"]
    assert dict(found[0]["data"]) == {STILL_TYPE: "<img>"}
    assert LIVE_TYPE in found[1]["data"]


def test_what_is_no_notebook_is_left_as_it_is() -> None:
    for model in ({"type": "file", "content": "text"}, {"type": "notebook", "content": None}):
        before = copy.deepcopy(model)
        assert with_language(without_live(model)) == before


def test_a_notebook_is_saved_and_opened_again_without_what_is_gone(tmp_path: Path) -> None:
    files = Notebooks(root_dir=str(tmp_path))
    model = notebook(shown({LIVE_TYPE: {"model_id": "1"}, STILL_TYPE: "<img>"}))
    model["content"]["metadata"]["kernelspec"] = {"name": "python3", "display_name": "Python 3"}

    async def saved_and_read() -> dict[str, Any]:
        await files.save(model, "lesson.ipynb")
        return await files.get("lesson.ipynb", content=True)

    found = asyncio.run(saved_and_read())
    assert LIVE_TYPE not in (tmp_path / "lesson.ipynb").read_text("utf-8")
    assert dict(found["content"]["cells"][0]["outputs"][0]["data"]) == {STILL_TYPE: "<img>"}
    assert found["content"]["metadata"]["language_info"]["name"] == "python"
