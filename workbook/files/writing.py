"""The one way in which a file is written: whole or not at all, and nobody's work lost by it.

An existing file is replaced only when asked, never when it is what is being worked from, and only after a warning
where it was changed by another hand. A link is followed; a file of two names is left, and a device is never written.
One save of a file waits for another, so that what two notebooks do at once is both kept.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Collection, Iterator
from contextlib import ExitStack, contextmanager, suppress
from contextvars import ContextVar
from pathlib import Path
from typing import TypedDict, Unpack

from workbook.errors import InputError, Problem
from workbook.files.reading import LARGEST_BYTES, digest, read_bytes, refuse_kind

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

LONGEST_WAIT_S = 10.0
"""For another save of the same file; a save takes a hundredth of that."""
LOOK_EVERY_S = 0.005
NOT_EVERYWHERE = re.compile(
    r"""[<>:"|?*\\\x00-\x1f]|[. ]$|^(con|prn|aux|nul|(com|lpt)[0-9¹²³]|conin\$|conout\$) *(\.|$)""",
    re.IGNORECASE,
)
"""Of file names. Source: Microsoft, "Naming Files, Paths, and Namespaces" (Windows App Development), from memory."""
TEMPORARY = ".workbook-{}.new"
"""Name beside a file, of what will take its place."""


class Saving(TypedDict, total=False):
    """How a file may be written.

    Attributes:
        overwrite: whether one that is there may be replaced; its permissions are kept.
        inputs: files that are being worked from; none of them is ever replaced.
        seen: what the page that saves knows of its files.
    """

    overwrite: bool
    inputs: Collection[Path]
    seen: SeenFiles | None


class FileChangedError(InputError):
    """A file is not as it was when it was read; the next save goes through."""


class SeenFiles:
    """What a page knows of the files that it read or wrote, so that it asks before a change by another hand is lost.

    Example:
        >>> seen = SeenFiles()
        >>> seen.note(Path("no such file.toml"))
        >>> seen.ask(Path("no such file.toml"))
    """

    def __init__(self) -> None:
        self._known: dict[Path, str] = {}

    def note(self, path: Path) -> None:
        """Take a file as it is now for known; to be called before it is read, or after it is written."""
        with _os_errors_explained(path):
            self._known[_resolved(path)] = _digest(path)

    def ask(self, path: Path) -> None:
        """Refuse once to write over a file that is not as it was seen; one never seen is not this page's to ask about.

        Raises:
            FileChangedError: it was changed by another hand.
        """
        real, now = _resolved(path), _digest(path)
        if now and now != self._known.get(real, now):
            self._known[real] = now
            message = (
                "this file was changed elsewhere since it was read here, and was left as it is; load it to see "
                "the change, or save once more to write over it."
            )
            raise FileChangedError(Problem(message, str(path)))


def _digest(path: Path) -> str:
    """What a file holds; empty where there is none that can be read."""
    try:
        return digest(read_bytes(path, LARGEST_BYTES))
    except InputError:
        return ""


def write_text(path: Path, text: str, **saving: Unpack[Saving]) -> None:
    """Write a file whole or not at all, over an existing one only when asked to.

    Args:
        path: the file; its folder is made where it is not there, and a link to a file is followed.
        text: what it is to hold.
        saving: see `Saving`.

    Raises:
        InputError: the file exists and may not be replaced, or it cannot be written.
        FileChangedError: it was changed by another hand since it was seen.
    """
    write_bytes(path, text.encode(errors="backslashreplace"), **saving)


def write_bytes(
    path: Path,
    data: bytes,
    *,
    overwrite: bool = False,
    inputs: Collection[Path] = (),
    seen: SeenFiles | None = None,
) -> None:
    """Write bytes as `write_text` writes text."""
    with locked(path):
        check_writable(path, overwrite=overwrite, inputs=inputs)
        if seen is not None:
            seen.ask(path)
        with _os_errors_explained(path):
            target = _resolved(path)
            target.parent.mkdir(parents=True, exist_ok=True)
            _clear_away(target.parent)
            _replace_file(target, data)
        if seen is not None:
            seen.note(path)


def append_text(path: Path, text: str) -> None:
    """Add lines to the end of a file that is there: all of them or none, and nothing before them is touched.

    A line that an earlier writer could not finish is left to itself: what is added begins on a line of its own.

    Args:
        path: the file; a link to a file is followed.
        text: whole lines, the last one ended.

    Raises:
        InputError: there is no such file, or it cannot be written.
    """
    with locked(path):
        check_writable(path, overwrite=True)
        with _os_errors_explained(path):
            _append(_resolved(path), text.encode(errors="backslashreplace"))


def _append(target: Path, data: bytes) -> None:
    """Add bytes, on the disk when this returns; where that fails the file is as long as it was."""
    handle = os.open(target, os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0))
    try:
        size = os.lseek(handle, 0, os.SEEK_END)
        if size:
            os.lseek(handle, size - 1, os.SEEK_SET)
            data = data if os.read(handle, 1) == b"\n" else b"\n" + data
        try:
            while data:
                data = data[os.write(handle, data) :]
            os.fsync(handle)
        except BaseException:
            os.ftruncate(handle, size)
            raise
    finally:
        os.close(handle)


def check_writable(path: Path, *, overwrite: bool = False, inputs: Collection[Path] = ()) -> None:
    """Refuse a path that must not be written; see `write_text`.

    Raises:
        InputError: something is there that may not be replaced.
    """
    where = str(path)
    with _os_errors_explained(path):
        if not os.path.lexists(path):
            _refuse_names_to_be_made(path)
            return
        if not path.exists():
            raise InputError("a link is here that leads to no file; nothing was written.", where)
        refuse_kind(os.stat(path).st_mode, where)
        if any(other.exists() and other.samefile(path) for other in inputs):
            message = "this file is what is being worked from, and was left as it is; choose another name."
            raise InputError(message, where)
        if not overwrite:
            message = "a file is already here and was left as it is; choose another name."
            raise InputError(message, where)
        if os.stat(path).st_nlink > 1:
            message = (
                "this file has another name too (a hard link), which a save would part from it, and was left as "
                "it is; save under a new name."
            )
            raise InputError(message, where)
        if not os.access(path, os.W_OK):
            message = "this file is protected against writing, and was left as it is."
            raise InputError(message, where)


def free_name(path: Path) -> Path:
    """The path, or with a number behind its name the first at which there is nothing yet.

    Example:
        >>> free_name(Path("nothing_of_this_name.html")).name
        'nothing_of_this_name.html'
    """
    numbered = (path.with_stem(f"{path.stem}_{number}") for number in itertools.count(2))
    return next(one for one in (path, *itertools.islice(numbered, 998)) if not os.path.lexists(one))


def _refuse_names_to_be_made(path: Path) -> None:
    """Refuse a new name that not every machine can hold: what a folder holds is to be carried anywhere."""
    for made in (path, *path.parents):
        if made.name == ".." or os.path.lexists(made):
            return
        if NOT_EVERYWHERE.search(made.name):
            message = (
                f'{made.name!r} is no name on every machine: not < > : " | ? * or a backslash in it, no full stop or '
                "space at its end, and not a name kept for devices, such as con, nul or com1; choose another."
            )
            raise InputError(message, str(path)[:200])


@contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A folder to be filled, which takes its place when it is whole; one that was broken off is begun anew.

    Args:
        folder: not there yet, or empty.

    Raises:
        InputError: it holds something, or cannot be made.
    """
    with locked(folder):
        with _os_errors_explained(folder):
            if os.path.lexists(folder) and (not folder.is_dir() or any(folder.iterdir())):
                message = "something is already here and was left as it is; name a new folder."
                raise InputError(message, str(folder))
            _refuse_names_to_be_made(folder)
            place = _temporary(_resolved(folder))
            shutil.rmtree(place, ignore_errors=True)
            place.mkdir(parents=True)
        try:
            yield place
            with _os_errors_explained(folder):
                if not folder.exists():
                    os.replace(place, folder)
                else:
                    for made in list(place.iterdir()):
                        os.replace(made, folder / made.name)
        finally:
            shutil.rmtree(place, ignore_errors=True)


@contextmanager
def _os_errors_explained(path: Path) -> Iterator[None]:
    """Turn errors of the system into a sentence: why a file cannot be written."""
    try:
        yield
    except OSError as fault:
        reason = fault.strerror or "no reason given"
        message = f"the file cannot be written ({reason}); what was there is as it was."
        raise InputError(message, str(path)[:200]) from None
    except InputError:
        raise
    except ValueError:
        raise InputError("the file name holds a character that no file name can have.") from None


def _resolved(path: Path) -> Path:
    """Where a path leads, links followed."""
    return Path(os.path.realpath(path))


def _temporary(target: Path) -> Path:
    return target.with_name(TEMPORARY.format(digest(os.fsencode(target.name))[:16]))


def _replace_file(target: Path, data: bytes) -> None:
    """Put a new file in the place of what is there, with the owner and the permissions of that."""
    temporary, exists = _temporary(target), target.exists()
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(temporary, flags, 0o600 if exists else 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            if exists:
                _copy_owner_and_mode(temporary, target)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _copy_owner_and_mode(temporary: Path, target: Path) -> None:
    """Give a file the owner and the permissions of another, as far as the file system knows of such."""
    with suppress(OSError):
        if hasattr(os, "chown"):
            old = target.stat()
            os.chown(temporary, old.st_uid, old.st_gid)
    with suppress(OSError):
        shutil.copystat(target, temporary)
    with suppress(OSError):
        os.chmod(temporary, stat.S_IMODE(target.stat().st_mode))


def _clear_away(folder: Path) -> None:
    """Remove what saves that were killed have left in a folder; what is being written now stays."""
    for temporary in folder.glob(TEMPORARY.format("*")):
        with suppress(OSError), _lock(temporary, 0.0) as free:
            if free:
                temporary.unlink(missing_ok=True)


# one save at a time -------------------------------------------------------------------------------

_held: ContextVar[frozenset[Path]] = ContextVar("held", default=frozenset())
"""What this thread has locked already."""


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Keep every other save of a file waiting, in this process and in others of the same person, for a while.

    Raises:
        InputError: another save does not end.
    """
    with ExitStack() as stack:
        with _os_errors_explained(path):
            free = stack.enter_context(_lock(_temporary(_resolved(path)), LONGEST_WAIT_S))
        if not free:
            message = "another program is writing this file; try again when it is done."
            raise InputError(message, str(path))
        yield


@contextmanager
def _lock(key: Path, wait_s: float) -> Iterator[bool]:
    """Hold the lock of a file; whether it could be had. The machine lets it go when a process is killed."""
    held = _held.get()
    if key in held:
        yield True
        return
    file, last = _lock_file(key), time.monotonic() + wait_s
    handle = _try_lock(file)
    while handle is None and time.monotonic() < last:
        time.sleep(LOOK_EVERY_S)
        handle = _try_lock(file)
    if handle is None:
        yield False
        return
    _held.set(held | {key})
    try:
        yield True
    finally:
        _held.set(held)
        with suppress(OSError):  # some machines keep it while it is open
            file.unlink()
        os.close(handle)


def _try_lock(file: Path) -> int | None:
    """The lock's handle where it is free, and its file still that which others would open."""
    handle = os.open(file, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o600)
    try:
        if sys.platform == "win32":
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if os.path.samestat(os.fstat(handle), os.stat(file)):
            return handle
    except (BlockingIOError, PermissionError, FileNotFoundError):
        pass
    except BaseException:
        os.close(handle)
        raise
    os.close(handle)
    return None


def _lock_file(key: Path) -> Path:
    """A file to hold the lock on, out of the person's sight."""
    user = getattr(os, "getuid", int)()
    folder = Path(tempfile.gettempdir(), f"workbook-locks-{user}")
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder / digest(os.fsencode(key))
