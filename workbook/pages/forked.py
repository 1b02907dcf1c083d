"""Kernels that are split off a process which has loaded the libraries: ready at once, and sharing what they loaded.

On Linux only; elsewhere, and whenever this cannot be done, a kernel is started like any other. A kernel that was split
off is a process of its own: what confines it, bounds it and ends it is the same.
"""

from __future__ import annotations

import asyncio
import gc
import json
import os
import signal
import subprocess
import sys
import threading
from contextlib import suppress
from importlib import import_module
from typing import Any

import psutil
from jupyter_client.provisioning.local_provisioner import LocalProvisioner
from jupyter_server.services.kernels.kernelmanager import ServerKernelManager

from workbook.data.notebooks import PACKAGE, here_or_shipped

LAUNCHER = "ipykernel_launcher"
"""Module that starts a kernel; what follows it in a command are the kernel's arguments."""
PAGES_NEED = ("workbook.lessons.sizing_bench", "workbook.lessons.lesson_view")
"""Modules that load what every page needs."""
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
"""A process with threads is not to be split."""


class Nursery:
    """The process that kernels are split off; a new one where it has ended, or the workbook's files changed since.

    The one before lives on with its kernels.
    """

    def __init__(self) -> None:
        self._processes: list[subprocess.Popen[bytes]] = []
        self._loaded_s, self._gave = 0.0, True
        self._lock = threading.Lock()

    def _process(self) -> subprocess.Popen[bytes]:
        files = (path for path in PACKAGE.rglob("*.*") if path.suffix != ".pyc")
        changed_s = max(path.stat().st_mtime for path in files)
        ended = bool(self._processes) and self._processes[-1].poll() is not None
        if ended and not self._gave:
            raise OSError("no process that has loaded the libraries can be split here.")
        if ended or changed_s > self._loaded_s:
            self._loaded_s, self._gave = changed_s, False
            made = subprocess.Popen(
                [sys.executable, "-P", "-m", __name__],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                start_new_session=True,
                env={**os.environ, **ONE_THREAD},
            )
            self._processes.append(made)
        return self._processes[-1]

    def split_off(self, arguments: list[str], folder: str, env: dict[str, str]) -> Forked:
        """A new kernel.

        Args:
            arguments: the kernel's.
            folder: in which it works.
            env: its environment.

        Raises:
            OSError, ValueError, psutil.Error: it cannot be done.
        """
        with self._lock:
            process = self._process()
            requests, replies = process.stdin, process.stdout
            if requests is None or replies is None:
                raise OSError("the process has ended.")
            line = json.dumps({"arguments": arguments, "folder": folder, "env": env})
            requests.write(line.encode() + b"\n")
            requests.flush()
            number = replies.readline()
            if not number:
                process.kill()
                process.wait()
                raise OSError("the process that kernels are split off has ended.")
            made = Forked(int(number))
            self._gave = True
            return made

    def end(self) -> None:
        """End it; a kernel that it still has ends by itself."""
        with self._lock:
            while self._processes:
                self._processes.pop().communicate()


class Forked(psutil.Process):  # type: ignore[misc]  # psutil has no types
    """A kernel that was split off, with the interface of a process that Jupyter expects."""

    stdin = stdout = stderr = None

    def poll(self) -> int | None:
        """None while it runs."""
        return None if self.is_running() else 0

    def send_signal(self, sig: int) -> None:
        """Send a signal; one that has ended already hears nothing."""
        with suppress(psutil.NoSuchProcess):
            super().send_signal(sig)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)


class ForkedProvisioner(LocalProvisioner):
    """Starts a kernel by splitting it off, where that can be done."""

    async def launch_kernel(self, cmd: list[str], **settings: Any) -> Any:
        """Start it; as any other kernel where it cannot be split off."""
        kernels: Any = self.parent
        nursery: Nursery | None = getattr(kernels.parent, "nursery", None)
        if nursery is None or cmd[0] != sys.executable or LAUNCHER not in cmd:
            return await super().launch_kernel(cmd, **settings)
        arguments = cmd[cmd.index(LAUNCHER) + 1 :]
        folder, env = str(settings.get("cwd") or os.getcwd()), settings.get("env") or os.environ
        try:
            made = await asyncio.get_running_loop().run_in_executor(
                None, nursery.split_off, arguments, folder, dict(env)
            )
        except (OSError, ValueError, psutil.Error) as problem:
            self.log.warning("A kernel is started anew; it could not be split off: %s", problem)
            return await super().launch_kernel(cmd, **settings)
        self.process: Any = made
        self.pid = self.pgid = made.pid  # it leads a group of its own
        return self.connection_info


class ForkedKernelManager(ServerKernelManager):
    """One kernel of the server."""

    async def _async_pre_start_kernel(self, **settings: Any) -> Any:
        spec: Any = self.kernel_spec
        if self.provisioner is None and "kernel_provisioner" not in spec.metadata:
            self.provisioner = ForkedProvisioner(
                kernel_id=self.kernel_id, kernel_spec=spec, parent=self
            )
        return await super()._async_pre_start_kernel(**settings)

    pre_start_kernel = _async_pre_start_kernel  # type: ignore[assignment]


def _become_kernel(request: dict[str, Any], parent: int) -> None:
    """What was split off becomes a kernel, until it is ended."""
    from ipykernel.kernelapp import IPKernelApp

    os.setsid()
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # as a kernel does once it has begun
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.dup2(2, 1)
    os.chdir(request["folder"])
    os.environ.clear()
    os.environ.update(request["env"])
    sys.argv = [LAUNCHER, *request["arguments"]]
    # widgets were loaded before there was a kernel, and have not registered with it
    IPKernelApp.launch_instance(
        request["arguments"], parent_handle=parent, extensions=["ipywidgets"]
    )


def main() -> None:
    """Load what every page needs, then split off a kernel for each line that is read, and print its process number."""
    for module in ("ipykernel.kernelapp", *PAGES_NEED):
        import_module(module)
    from workbook.files.design_file import read_design
    from workbook.lessons.sizing_bench import DEMO_DESIGN
    from workbook.sizing.size import size

    size(read_design(here_or_shipped(DEMO_DESIGN)).design)  # what the first answer reads and keeps
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for those that have ended
    gc.collect()
    gc.freeze()  # so that looking for garbage does not copy what is shared
    while line := sys.stdin.buffer.readline():
        if threading.active_count() > 1:
            raise RuntimeError("a process with threads is not split.")
        me = os.getpid()
        made = os.fork()
        if made == 0:
            return _become_kernel(json.loads(line), me)
        sys.stdout.write(f"{made}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
