"""A plugin of pytest: kernels that nbval starts are reached by sockets in a folder, not by ports.

A free port is looked up before the kernel binds it, and another process may take it in between: the kernel then dies
before it answers.
"""

from __future__ import annotations

import os
import tempfile
from functools import partial
from pathlib import Path

from nbval import kernel

SOCKETS = tempfile.TemporaryDirectory(prefix="kernel")

if os.name == "posix":  # elsewhere kernels have ports only
    sockets = str(Path(SOCKETS.name, "socket"))
    kernel.KernelManager = partial(kernel.KernelManager, transport="ipc", ip=sockets)
