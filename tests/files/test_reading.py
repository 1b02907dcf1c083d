"""What is read: regular files, and no more of them than makes sense."""

from __future__ import annotations

import os
import socket
import tracemalloc
from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.files.reading import read_bytes, read_text

POSIX = pytest.mark.skipif(os.name != "posix", reason="devices, pipes and links of POSIX")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for name, data, word in (
        ("empty", b" \n", "is empty"),
        ("binary", b"a\0b", "is binary"),
        ("western", b"\xe4", "not UTF-8"),
        ("large", b"x" * 200, "at most"),
    ):
        (tmp_path / name).write_bytes(data)
        with pytest.raises(InputError, match=word):
            read_text(tmp_path / name, 100)
    with pytest.raises(InputError, match="a folder"):
        read_text(tmp_path, 100)
    with pytest.raises(InputError, match="cannot be read"):
        read_text(tmp_path / ("x" * 5000), 100)
    with pytest.raises(InputError, match="no file here"):
        read_text(tmp_path / "western" / "below", 100)
    with pytest.raises(InputError, match="no file name can have"):
        read_text(tmp_path / "a\0b", 100)


def test_a_file_of_just_the_limit_is_read(tmp_path: Path) -> None:
    path = tmp_path / "full"
    path.write_bytes(b"x" * 100)
    assert read_bytes(path, 100) == b"x" * 100


@POSIX
def test_a_pipe_and_a_socket_are_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(os.path.relpath(tmp_path / "socket"))
        for name in ("pipe", "socket"):
            with pytest.raises(InputError, match="not a file"):
                read_text(tmp_path / name, 100)


@POSIX
@pytest.mark.parametrize("name", ["null", "zero", "urandom", "tty"])
def test_a_device_is_refused_whatever_link_leads_to_it(tmp_path: Path, name: str) -> None:
    link = tmp_path / "design.toml"
    link.symlink_to(f"/dev/{name}")
    with pytest.raises(InputError, match="not a file"):
        read_text(link, 100)


@POSIX
def test_links_in_a_ring_or_to_nothing_are_refused(tmp_path: Path) -> None:
    for name, other in (("a", "b"), ("b", "a"), ("lost", "nowhere")):
        (tmp_path / name).symlink_to(tmp_path / other)
    with pytest.raises(InputError, match="cannot be read"):
        read_text(tmp_path / "a", 100)
    with pytest.raises(InputError, match="no file here"):
        read_text(tmp_path / "lost", 100)


@pytest.mark.skipif(not os.path.exists("/proc/kallsyms"), reason="no such file here")
def test_a_file_that_hides_its_size_is_read_to_the_limit_only() -> None:
    """Files of /proc say 0 bytes and give what they like; this one several megabytes."""
    assert os.stat("/proc/kallsyms").st_size == 0
    tracemalloc.start()
    with pytest.raises(InputError, match="more in it than 1 kB"):
        read_bytes(Path("/proc/kallsyms"), 1000)
    assert tracemalloc.get_traced_memory()[1] < 1_000_000
    tracemalloc.stop()
