"""Notebooks as the server reads and saves them: with still pictures where nothing is left to be live."""

from __future__ import annotations

from typing import Any

from ipykernel.ipkernel import IPythonKernel
from jupyter_server.services.contents.largefilemanager import AsyncLargeFileManager

LIVE_TYPE = "application/vnd.jupyter.widget-view+json"
STILL_TYPE = "text/html"


def without_live(model: dict[str, Any]) -> dict[str, Any]:
    """The server's model of a file, without the live figures that have a still one beside them.

    A live figure lives as long as its kernel; a file outlasts it, and would show an error in its place.

    Args:
        model: of the file; it is changed.

    Example:
        >>> output = {"output_type": "execute_result", "data": {LIVE_TYPE: {}, STILL_TYPE: "<img>"}}
        >>> file = {"type": "notebook", "content": {"cells": [{"outputs": [output]}]}}
        >>> without_live(file)["content"]["cells"][0]["outputs"][0]["data"]
        {'text/html': '<img>'}
    """
    content = model.get("content")
    cells = content.get("cells", ()) if model.get("type") == "notebook" and content else ()
    for output in (output for cell in cells for output in cell.get("outputs", ())):
        data = output.get("data", {})
        if STILL_TYPE in data:
            data.pop(LIVE_TYPE, None)
    return model


def with_language(model: dict[str, Any]) -> dict[str, Any]:
    """A notebook with the Python version that its kernel will report, so that opening it changes nothing.

    Args:
        model: of the file; it is changed.
    """
    content = model.get("content") if model.get("type") == "notebook" else None
    if content and content["metadata"].get("kernelspec", {}).get("name") == "python3":
        content["metadata"]["language_info"] = {**IPythonKernel.language_info}
    return model


class Notebooks(AsyncLargeFileManager):
    """The server's files, of which no notebook holds a figure that is gone."""

    async def get(self, *which: Any, **how: Any) -> dict[str, Any]:
        """A file as it is, or as it was saved elsewhere."""
        found = await super().get(*which, **how)  # type: ignore[no-untyped-call]
        return with_language(without_live(found))

    async def save(self, model: dict[str, Any], path: str = "") -> Any:
        """Save a file so that it can be opened anywhere."""
        return await super().save(without_live(model), path)  # type: ignore[no-untyped-call]
