"""Where the words of a file may lead: a design that a stranger sent opens nothing beyond its own folders."""

from __future__ import annotations

import os
from pathlib import Path, PurePosixPath, PureWindowsPath

from workbook.data.notebooks import START_PAGE
from workbook.errors import InputError
from workbook.files.club_file import CLUB_FILE

DESIGNS = "designs"
"""The notebooks' folder for designs; `tables` and `cells` lie beside it."""


def own_folders(folder: Path) -> tuple[Path, ...]:
    """The folders that a design in a folder may take files from: that one, and the notebooks' around it.

    Args:
        folder: of the design.
    """
    here = Path(os.path.realpath(folder))
    around = here.parent
    marked = any((around / mark).exists() for mark in (START_PAGE, CLUB_FILE))
    is_notebooks = here.name == DESIGNS or marked
    return (here, around) if is_notebooks and around != here else (here,)


def named_path(named: str, folder: Path) -> Path:
    """The path that a design names, whichever machine it was written on.

    Args:
        named: as the design has it, relative to its folder.
        folder: of the design.

    Example:
        >>> named_path("..\\\\tables\\\\motor.csv", Path("designs")).as_posix()
        'designs/../tables/motor.csv'
    """
    return Path(folder, PureWindowsPath(named).as_posix())


def checked_path(named: str, folder: Path, where: str, *, anywhere: bool = False) -> Path:
    """The path that a design names, looked at before it is opened.

    Args:
        named: as the design has it, relative to its folder.
        folder: of the design.
        where: file and key, for a message.
        anywhere: whether the person who opens the design allows every folder.

    Raises:
        InputError: it leads out of the design's own folders.

    Example:
        >>> checked_path(
        ...     "../../stranger.csv", Path("notebooks/designs"), "a.toml, craft.thrust_table"
        ... )
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: a.toml, craft.thrust_table: '../../stranger.csv' is outside ...
    """
    if "\0" in named:
        raise InputError("no file name can hold the character 0.", where)
    place, windows = named_path(named, folder), PureWindowsPath(named)
    real = Path(os.path.realpath(place))
    rooted = PurePosixPath(named).is_absolute() or windows.drive or windows.root
    inside = any(real.is_relative_to(own) for own in own_folders(folder))
    if not anywhere and (rooted or not inside):
        message = (
            f"{named!r} is outside the design's own folders; put the file beside the design and name it "
            "from there, or allow files from anywhere (--anywhere, or the box on the sizing bench)."
        )
        raise InputError(message, where)
    return place


def refuse_leading_out(path: Path) -> None:
    """Refuse a link from a shared folder to a file elsewhere.

    Raises:
        InputError: it is one.
    """
    if Path(os.path.realpath(path)).parent != Path(os.path.realpath(path.parent)):
        message = "this is a link that leads out of its folder; copy the file here."
        raise InputError(message, path.name)


def relative_path(path: Path, folder: Path) -> str:
    """A path as a design in a folder names it.

    Args:
        path: of the file or folder named.
        folder: of the design.

    Raises:
        InputError: they lie on different drives.

    Example:
        >>> relative_path(Path("tables/motor.csv"), Path("designs"))
        '../tables/motor.csv'
    """
    try:
        named = os.path.relpath(os.path.realpath(path), os.path.realpath(folder))
    except ValueError:
        message = "this is on another drive than the design; copy it beside the design."
        raise InputError(message, str(path)) from None
    return Path(named).as_posix()
