"""A visitor's kernel keeps to its folder and to bounds.

A visitor cannot send code, only move controls and fill in fields; but a field may be a path. So the kernel
itself opens nothing but the workbook's own files and the visitor's folder, writes only there, starts no program
and calls no other machine. This is a second wall: the first is that no code is taken from a page.
"""

from __future__ import annotations

import errno
import os
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from workbook.data.notebooks import PACKAGE, notebooks_source, of_its_owner
from workbook.exercises.answers import BOARD

MOST_FILES, MOST_BYTES = 400, 30_000_000
"""That a visitor's folder may hold."""
MOST_MEMORY_BYTES = 1_500_000_000
"""That a visitor's kernel may take for its data; the bench takes a tenth."""
LARGEST_FILE_BYTES = 20_000_000

PROCESSES = re.compile(r"/proc(/stat|/\d+/stat)?")
"""Where a kernel that ends looks for what it has started."""
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
MOVE_EVENTS = ("os.rename", "os.link", "os.symlink")
CHANGE_EVENTS = (
    "os.mkdir",
    "os.rmdir",
    "os.remove",
    "os.truncate",
    "os.chmod",
    "os.chown",
    "os.utime",
)
LOOK_EVENTS = ("os.listdir", "os.scandir", "os.chdir", "sqlite3.connect")
REFUSED_EVENTS = (
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "os.spawn",
    "os.fork",
    "os.forkpty",
    "os.startfile",
    "os.startfile/2",
)


class Fence:
    """Which paths a kernel may open.

    Args:
        folder: the visitor's.

    Example:
        >>> import tempfile
        >>> fence = Fence(Path(tempfile.mkdtemp()))
        >>> fence.read("designs/../../../etc/passwd")
        Traceback (most recent call last):
        ...
        PermissionError: [Errno 13] it is outside your own folder here
    """

    def __init__(self, folder: Path) -> None:
        self.folder = Path(os.path.realpath(folder))
        self._others = self.folder.parents[1]
        self._notebooks = Path(os.path.realpath(notebooks_source()))
        locks = Path(os.path.realpath(tempfile.gettempdir()))
        self._written = (self.folder, locks / f"workbook-locks-{getattr(os, 'getuid', int)()}")
        roots = (sys.prefix, sys.base_prefix, os.fspath(PACKAGE), "/usr/share", *self._written)
        self._read = tuple(Path(os.path.realpath(root)) for root in roots)
        self._same = frozenset((os.devnull, "/dev/urandom", "/etc/localtime", "/etc/mime.types"))

    def _real(self, path: Any) -> Path | None:
        """Where a path leads; None for what is no path, such as a handle that is open already."""
        if not isinstance(path, str | bytes | os.PathLike):
            return None
        return Path(os.path.realpath(os.path.join(self.folder, os.fsdecode(path))))

    def read(self, path: Any) -> None:
        """Refuse to open a path to read.

        Raises:
            PermissionError: it is neither the workbook's nor the visitor's.
        """
        real = self._real(path)
        if real is None or real.is_relative_to(self.folder) or str(path) in self._same:
            return
        if PROCESSES.fullmatch(str(real)):
            return
        inside = any(real.is_relative_to(root) for root in self._read)
        if real.is_relative_to(self._notebooks):
            inside = not of_its_owner(real.relative_to(self._notebooks))
        if not inside or real.is_relative_to(self._others):
            raise PermissionError(errno.EACCES, "it is outside your own folder here")

    def write(self, path: Any, *, more: bool = True) -> None:
        """Refuse to make or change a path.

        Args:
            path: of a file or folder.
            more: whether there may be more in the folder afterwards.

        Raises:
            PermissionError: it is not the visitor's, or their folder is full.
        """
        real = self._real(path)
        if real is None or str(path) == os.devnull:
            return
        if not any(real.is_relative_to(root) for root in self._written):
            raise PermissionError(errno.EACCES, "it is outside your own folder here")
        if more and real.is_relative_to(self.folder):
            sizes = [p.lstat().st_size for p in self.folder.rglob("*")]
            if len(sizes) >= MOST_FILES or sum(sizes) >= MOST_BYTES:
                raise PermissionError(errno.EACCES, "your folder here is full")

    def moved(self, old: Any, new: Any) -> None:
        """Refuse to give a file another name where either is not the visitor's."""
        self.write(old, more=False)
        self.write(new, more=False)

    def opened(self, path: Any, mode: Any, flags: int) -> None:
        """Refuse what `open` may not open."""
        if flags & WRITES:
            self.write(path)
        else:
            self.read(path)


def _never(*_: Any) -> None:
    raise PermissionError(errno.EACCES, "a shared page does not do this")


def _calls(board: str) -> Callable[..., None]:
    allowed = (urlsplit(board).hostname, urlsplit(board).port) if board else None

    def call(_socket: Any, address: Any) -> None:
        if tuple(address)[:2] != allowed:
            _never()

    return call


def confine(folder: str) -> None:
    """Keep this process to a visitor's folder from now on; it cannot be undone.

    Args:
        folder: the visitor's; the process works in it.
    """
    fence = Fence(Path(folder))
    os.chdir(folder)
    _bound()
    import workbook.lessons.sizing_bench  # noqa: F401  what loads other libraries is loaded before

    guards: dict[str, Callable[..., None]] = {
        "open": fence.opened,
        "socket.connect": _calls(os.environ.get(BOARD, "")),
        **dict.fromkeys(REFUSED_EVENTS, _never),
        **dict.fromkeys(LOOK_EVENTS, lambda path, *_: fence.read(path)),
        **dict.fromkeys(CHANGE_EVENTS, lambda path, *_: fence.write(path, more=False)),
        **dict.fromkeys(MOVE_EVENTS, lambda old, new, *_: fence.moved(old, new)),
    }

    def heard(event: str, details: tuple[Any, ...]) -> None:
        if (guard := guards.get(event)) is not None:
            guard(*details)

    sys.addaudithook(heard)


def _bound() -> None:
    """Bound what this process may take; the server comes first."""
    if sys.platform == "win32":
        return
    import resource

    os.nice(5)
    for kind, most in (
        (resource.RLIMIT_FSIZE, LARGEST_FILE_BYTES),
        (resource.RLIMIT_DATA, MOST_MEMORY_BYTES),
        (resource.RLIMIT_CORE, 0),
    ):
        hard = resource.getrlimit(kind)[1]
        bound = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(kind, (bound, bound))
