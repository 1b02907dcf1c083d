"""The one way in which a person's file is read: a regular file, and no more of it than makes sense.

Whatever else bears a file's name (device, pipe, socket, folder, a ring of links) is refused with a sentence,
and so is a file that holds more than its kind ever does, whatever size the system reports.
"""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

from workbook.errors import InputError

LARGEST_BYTES = 20_000_000
"""Largest file of any kind that the workbook reads: a notebook with its pictures."""
_READ = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
"""Never to wait for what may come: a pipe, a terminal."""


def read_text(path: Path, limit_bytes: int) -> str:
    """The text of a file; of one that is too large no more than the limit is read.

    Args:
        path: the file.
        limit_bytes: largest size that makes sense for this kind of file.

    Raises:
        InputError: missing, not a regular file, too large, empty, or not text.

    Example:
        >>> read_text(Path("no such file.toml"), 1000)
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: no such file.toml: there is no file here; check the path.
    """
    return decoded(read_bytes(path, limit_bytes), str(path))


def decoded(raw: bytes, where: str) -> str:
    """The text that the bytes of a file hold.

    Args:
        raw: the bytes.
        where: what to call the file in a message.

    Raises:
        InputError: empty, or not text.

    Example:
        >>> decoded(b"name = 1", "six.toml")
        'name = 1'
    """
    if not raw.strip():
        raise InputError("the file is empty.", where)
    if b"\0" in raw:
        raise InputError("the file is binary; a text file is needed.", where)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise InputError(
            f"byte {fault.start} is not UTF-8 text; save the file as UTF-8.", where
        ) from None


def read_bytes(path: Path, limit_bytes: int) -> bytes:
    """The bytes of a file; see `read_text`."""
    where = str(path)
    try:
        # to open some devices does something already, so the kind is looked at before and after
        refuse_kind(os.stat(path).st_mode, where)
        with open(path, "rb", opener=lambda name, _: os.open(name, _READ)) as file:
            status = os.fstat(file.fileno())
            refuse_kind(status.st_mode, where)
            refuse_size(status.st_size, where, limit_bytes)
            raw: bytes = file.read(limit_bytes + 1) or b""
    except (FileNotFoundError, NotADirectoryError):
        raise InputError("there is no file here; check the path.", where) from None
    except OSError as fault:
        reason = fault.strerror or "no reason given"
        raise InputError(f"the file cannot be read ({reason}).", where[:200]) from None
    except InputError:
        raise
    except ValueError:
        raise InputError("the file name holds a character that no file name can have.") from None
    if len(raw) > limit_bytes:
        message = f"there is more in it than {_size(limit_bytes)}, the most that is expected here; it was not used."
        raise InputError(message, where)
    return raw


def refuse_kind(mode: int, where: str) -> None:
    """Refuse whatever is not a regular file.

    Args:
        mode: as `os.stat` reports it.
        where: what to call it in a message.

    Raises:
        InputError: a folder, a device, a pipe or a socket.
    """
    if stat.S_ISDIR(mode):
        raise InputError("this is a folder; the path of a file is needed.", where)
    if not stat.S_ISREG(mode):
        raise InputError("this is a device, not a file; a file is needed.", where)


def refuse_size(size: int, where: str, limit_bytes: int) -> None:
    """Refuse what is larger than its kind ever is.

    Raises:
        InputError: the size is over the limit.
    """
    if size > limit_bytes:
        message = (
            f"{_size(size)}; at most {_size(limit_bytes)} is expected here, so it was not read."
        )
        raise InputError(message, where)


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{size / 1e3:g} kB"


def digest(raw: bytes) -> str:
    """A fingerprint of a file's contents."""
    return hashlib.sha256(raw).hexdigest()
