"""The kernel that waits: warmed, handed out once, followed by another."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest

from workbook.pages import kernels
from workbook.pages.kernels import WarmKernels


async def output_of(manager: WarmKernels, kernel_id: str, code: str) -> str:
    """What a line of code prints in a kernel."""
    client: Any = manager.get_kernel(kernel_id).client()
    client.start_channels()
    try:
        await client.wait_for_ready(timeout=60)
        texts: list[str] = []
        await client.execute_interactive(
            code, timeout=60, output_hook=lambda m: texts.append(m["content"].get("text", ""))
        )
        return "".join(texts).strip()
    finally:
        client.stop_channels()


def test_a_page_is_given_the_kernel_that_waited_in_its_own_folder(
    tmp_path: Path, monkeypatch: Any
) -> None:
    (tmp_path / "designs").mkdir()
    monkeypatch.setattr(kernels, "REFILL_AFTER_S", 0.0)

    async def tried() -> None:
        manager = WarmKernels(root_dir=str(tmp_path))
        try:
            manager.prepare()
            assert manager.spare is not None
            waited = await manager.spare
            given = await manager.start_kernel(path="designs", kernel_name="python3")
            assert given == waited
            code = (
                "import os, sys; print(os.getcwd(), 'workbook.lessons.lesson_view' in sys.modules)"
            )
            assert (
                await output_of(manager, given, code) == f"{(tmp_path / 'designs').resolve()} True"
            )
            assert manager.spare is not None
            assert await manager.spare != given
        finally:
            await manager.shutdown_all(now=True)

    asyncio.run(tried())


def test_where_the_one_that_waited_has_died_a_new_one_is_started(tmp_path: Path) -> None:
    async def tried() -> None:
        manager = WarmKernels(root_dir=str(tmp_path))
        try:
            manager.prepare()
            assert manager.spare is not None
            waited = await manager.spare
            await manager.shutdown_kernel(waited, now=True)
            given = await manager.start_kernel(path="")
            assert given != waited
            assert await output_of(manager, given, "print(1)") == "1"
            assert manager.spare is not None
            manager.spare.cancel()
        finally:
            await manager.shutdown_all(now=True)

    asyncio.run(tried())


@pytest.mark.parametrize("begun_s", [0.0, 0.2])
def test_ended_while_one_is_being_started_nothing_is_left_and_nothing_goes_wrong(
    tmp_path: Path, begun_s: float
) -> None:
    async def tried() -> None:
        manager = WarmKernels(root_dir=str(tmp_path))
        manager.prepare()
        spare = manager.spare
        await asyncio.sleep(begun_s)
        await manager.shutdown_all()
        assert manager.list_kernel_ids() == []
        assert spare is not None
        assert spare.cancelled()

    asyncio.run(tried())
