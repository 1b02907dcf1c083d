"""Reading and writing text files without surprises: size and encoding checked, writes atomic."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from workbook.errors import InputError, Problem


def read_text(path: Path, limit_bytes: int) -> str:
    """The text of a file, refused before reading when it is too large.

    Args:
        path: the file.
        limit_bytes: largest size that makes sense for this kind of file.

    Raises:
        InputError: missing, a folder, too large, empty, or not text.

    Example:
        >>> read_text(Path("no such file.toml"), 1000)
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: no such file.toml: there is no file here; check the path.
    """
    where = str(path)
    if path.is_dir():
        raise InputError(Problem("this is a folder; the path of a file is needed.", where))
    if not path.exists():
        raise InputError(Problem("there is no file here; check the path.", where))
    try:
        size = path.stat().st_size
        if size > limit_bytes:
            raise InputError(
                Problem(
                    f"the file has {size / 1e6:.1f} MB; at most {limit_bytes / 1e6:g} MB is expected "
                    "of such a file, so it was not read.",
                    where,
                )
            )
        raw = path.read_bytes()
    except OSError as fault:
        raise InputError(Problem(f"the file cannot be read ({fault.strerror}).", where)) from None
    if not raw.strip():
        raise InputError(Problem("the file is empty.", where))
    if b"\0" in raw:
        raise InputError(Problem("the file is binary; a text file is needed.", where))
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise InputError(
            Problem(f"byte {fault.start} is not UTF-8 text; save the file as UTF-8.", where)
        ) from None


def write_text(path: Path, text: str, *, overwrite: bool = False) -> None:
    """Write a file whole or not at all, over an existing one only when asked to.

    Raises:
        InputError: the file exists and `overwrite` is False, or it cannot be written.
    """
    if path.exists() and not overwrite:
        raise InputError(
            Problem("a file is already here and was left as it is; choose another name.", str(path))
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
            os.chmod(temporary, mode)
            os.replace(temporary, path)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise InputError(
            Problem(f"the file cannot be written ({fault.strerror}).", str(path))
        ) from None
