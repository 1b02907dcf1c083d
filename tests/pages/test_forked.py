"""Kernels that are split off: each a process of its own, and one like any other where that cannot be done."""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path
from typing import Any

import psutil
import pytest

from tests.pages.test_kernels import output_of
from workbook.pages import forked
from workbook.pages.forked import Forked, Nursery
from workbook.pages.kernels import WarmKernels

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="kernels are split off on Linux")

STANDS = (
    "import os, sys; print(os.getppid(), os.getsid(0) == os.getpid(), os.environ['MARK'], "
    "os.getcwd(), 'workbook.lessons.sizing_bench' in sys.modules)"
)


WAITS = """
import pathlib, time
try:
    pathlib.Path("there").touch()
    time.sleep(60)
except KeyboardInterrupt:
    print("stopped")
"""


def test_two_kernels_of_one_nursery_are_processes_of_their_own(tmp_path: Path) -> None:
    async def tried() -> None:
        manager: Any = WarmKernels(root_dir=str(tmp_path))
        try:
            made = [
                await manager.start_kernel(
                    kernel_id=mark, path="", env={**os.environ, "MARK": mark}
                )
                for mark in ("a", "b")
            ]
            processes = [manager.get_kernel(kernel).provisioner.process for kernel in made]
            assert all(isinstance(process, Forked) for process in processes)
            parents = {process.ppid() for process in processes}
            assert len(parents) == 1
            for kernel, mark in zip(made, ("a", "b"), strict=True):
                text = await output_of(manager, kernel, STANDS)
                assert text == f"{min(parents)} True {mark} {tmp_path} True"
            drawn = (
                "import random, numpy; print(random.random(), numpy.random.default_rng().random())"
            )
            assert await output_of(manager, made[0], drawn) != await output_of(
                manager, made[1], drawn
            )
            await manager.shutdown_kernel(made[0], now=True)
            assert not psutil.pid_exists(processes[0].pid)
            assert await output_of(manager, made[1], "print(1)") == "1"
        finally:
            await manager.shutdown_all(now=True)
        assert not any(psutil.pid_exists(pid) for pid in parents)

    asyncio.run(tried())


def test_without_a_nursery_a_kernel_is_started_like_any_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any) -> None:
        raise OSError("no more processes.")

    monkeypatch.setattr(Nursery, "split_off", broken)

    async def tried() -> None:
        manager: Any = WarmKernels(root_dir=str(tmp_path))
        try:
            given = await manager.start_kernel(kernel_name="python3")
            process = manager.get_kernel(given).provisioner.process
            assert not isinstance(process, Forked)
            assert await output_of(manager, given, "print(1)") == "1"
        finally:
            await manager.shutdown_all(now=True)

    asyncio.run(tried())


def test_kernels_end_with_the_process_that_they_were_split_off(tmp_path: Path) -> None:
    nursery = Nursery()
    kernel = _split_off(nursery, tmp_path / "kernel.json")
    assert kernel.poll() is None
    psutil.Process(kernel.ppid()).kill()  # as where it was ended with the server
    kernel.wait(timeout=30)
    assert kernel.poll() == 0
    kernel.terminate()  # of what has ended already nothing is said
    again = _split_off(nursery, tmp_path / "again.json")
    assert again.poll() is None
    nursery.end()
    again.wait(timeout=30)


def test_what_changed_on_disk_is_loaded_anew_and_no_kernel_ends_for_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "limits.toml").write_text("")
    monkeypatch.setattr("workbook.pages.forked.PACKAGE", tmp_path)
    nursery = Nursery()
    kernels = [_split_off(nursery, tmp_path / "1.json"), _split_off(nursery, tmp_path / "2.json")]
    os.utime(tmp_path / "limits.toml", (2e9, 2e9))
    kernels.append(_split_off(nursery, tmp_path / "3.json"))
    first, second, third = (kernel.ppid() for kernel in kernels)
    assert first == second != third
    assert all(kernel.poll() is None for kernel in kernels)
    nursery.end()
    for kernel in kernels:
        kernel.wait(timeout=30)


def _split_off(nursery: Nursery, connection: Path) -> Forked:
    return nursery.split_off(["-f", str(connection)], str(connection.parent), dict(os.environ))


def test_what_cannot_be_split_is_not_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(forked, "__name__", "no.such.module")
    nursery = Nursery()
    with pytest.raises(OSError, match="has ended"):
        _split_off(nursery, tmp_path / "1.json")
    with pytest.raises(OSError, match="be split here"):
        _split_off(nursery, tmp_path / "2.json")
    nursery.end()


def test_it_is_interrupted_and_restarted_like_any_other(tmp_path: Path) -> None:
    async def tried() -> None:
        manager: Any = WarmKernels(root_dir=str(tmp_path))
        try:
            kernel = await manager.start_kernel(path="")
            first = manager.get_kernel(kernel).provisioner.process
            waits = asyncio.create_task(output_of(manager, kernel, WAITS))
            while not (tmp_path / "there").exists():
                await asyncio.sleep(0.1)
            await manager.interrupt_kernel(kernel)
            assert await asyncio.wait_for(waits, 20) == "stopped"
            await manager.restart_kernel(kernel)
            second = manager.get_kernel(kernel).provisioner.process
            assert isinstance(second, Forked)
            assert second.pid != first.pid
            assert not psutil.pid_exists(first.pid)
            assert await output_of(manager, kernel, "print(1)") == "1"
        finally:
            await manager.shutdown_all(now=True)

    asyncio.run(tried())
