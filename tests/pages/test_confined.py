"""A visitor's kernel opens nothing but the workbook's own files and the visitor's folder."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from workbook.data.notebooks import notebooks_source
from workbook.opening import lay_out
from workbook.pages.visitors import Visitor, Visitors

PROJECT = Path(__file__).resolve().parents[2]


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    (tmp_path / "club").mkdir()
    (tmp_path / "club" / "start.ipynb").write_text("{}", "utf-8")
    (tmp_path / "secret.toml").write_text("secret", "utf-8")
    return tmp_path / "club"


def run(visitor: Visitor, code: str, **variables: str) -> str:
    """What a confined process prints."""
    confined = (
        f"from workbook.pages.confined import confine\nconfine({str(visitor.folder)!r})\n{code}"
    )
    done = subprocess.run(
        [sys.executable, "-c", confined],
        env={**os.environ, "PYTHONPATH": str(PROJECT), **variables},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout + done.stderr


TRIES = """
import os, socket, sqlite3, subprocess
from pathlib import Path
tries = {
    "secret": lambda: open("../../../../secret.toml").read(),
    "absolute": lambda: Path(SECRET).read_text(),
    "others": lambda: os.listdir(".."),
    "other": lambda: open(OTHER + "/.workbook/word.txt").read(),
    "share": lambda: open("../../share.json").read(),
    "environ": lambda: open("/proc/self/environ").read(),
    "passwd": lambda: open("/etc/passwd").read(),
    "written": lambda: open("../new.txt", "w"),
    "package": lambda: open(PACKAGE, "a"),
    "renamed": lambda: os.rename("designs", "../designs"),
    "linked": lambda: os.symlink(SECRET, "in.toml"),
    "hard": lambda: os.link(SECRET, "in.toml"),
    "removed": lambda: os.remove(SECRET),
    "database": lambda: sqlite3.connect("../x.db"),
    "program": lambda: subprocess.run(["true"]),
    "shell": lambda: os.system("true"),
    "fork": lambda: os.fork(),
    "terminal": lambda: os.forkpty(),
    "call": lambda: socket.create_connection(("127.0.0.1", 9), 1),
}
for name, do in tries.items():
    try:
        do()
    except PermissionError as fault:
        print(name, "refused")
    except BaseException as fault:
        print(name, "FAILED", type(fault), fault)
    else:
        print(name, "DONE")
"""


def test_whatever_is_outside_is_refused(shared: Path) -> None:
    visitors = Visitors(shared)
    visitor, other = visitors.welcome(), visitors.welcome()
    visitors.furnish(visitor)
    (visitor.folder / "designs").mkdir(exist_ok=True)
    names = f"SECRET = {str(shared.parent / 'secret.toml')!r}\nOTHER = {str(other.folder)!r}\n"
    names += f"PACKAGE = {str(PROJECT / 'workbook' / 'cli.py')!r}\n"
    output = run(visitor, names + TRIES).splitlines()
    assert len(output) == 19
    assert [line for line in output if not line.endswith(" refused")] == []
    assert (shared.parent / "secret.toml").read_text("utf-8") == "secret"


def test_a_link_that_leads_out_is_refused_too(shared: Path) -> None:
    visitor = Visitors(shared).welcome()
    (visitor.folder / "out.toml").symlink_to(shared.parent / "secret.toml")
    assert "PermissionError" in run(visitor, "open('out.toml').read()")


def test_the_workbook_itself_works_and_says_what_is_refused_in_a_sentence(shared: Path) -> None:
    lay_out(notebooks_source(), shared)
    visitors = Visitors(shared)
    visitor = visitors.welcome()
    visitors.furnish(visitor)
    code = f"""
import workbook as wb
bench = wb.open_page("sizing_bench")
bench.files.save("designs/kept.toml")
print(bench.files.reply.value)
for path in ("../../../../secret.toml", {str(shared.parent / "secret.toml")!r}):
    bench.files.load(path)
    print(bench.files.reply.value)
bench.files.save({str(shared.parent / "out.toml")!r})
print(bench.files.reply.value)
"""
    output = run(visitor, code)
    assert "Saved as designs/kept.toml" in output
    assert output.count("it is outside your own folder here") == 3
    assert "Traceback" not in output
    assert not (shared.parent / "out.toml").exists()


def test_a_folder_is_bounded(shared: Path) -> None:
    visitor = Visitors(shared).welcome()
    code = """
for number in range(500):
    try:
        open(f"{number}.txt", "w").close()
    except PermissionError as fault:
        print(number, fault.strerror)
        break
"""
    number, _, why = run(visitor, code).partition(" ")
    assert 390 <= int(number) <= 400
    assert why.strip() == "your folder here is full"
    other = Visitors(shared).welcome()
    large = "for name in 'abc': open(name, 'wb').write(bytes(16_000_000))"
    assert "your folder here is full" in run(other, large)  # the third: 32 MB are there
    assert not (other.folder / "c").exists()


@pytest.mark.skipif(sys.platform != "linux", reason="bounds of Linux")
def test_memory_and_files_are_bounded(shared: Path) -> None:
    visitor = Visitors(shared).welcome()
    assert "MemoryError" in run(visitor, "bytearray(3_000_000_000)")
    assert "File too large" in run(visitor, "open('large', 'wb').write(bytes(30_000_000))")


def test_the_board_alone_may_be_called(shared: Path) -> None:
    visitor = Visitors(shared).welcome()
    code = """
import socket
for port in (9, 10):
    try:
        socket.create_connection(("127.0.0.1", port), 1)
    except OSError as fault:
        print(type(fault).__name__)
"""
    output = run(visitor, code, WORKBOOK_BOARD="http://127.0.0.1:9/told?key=k")
    assert output.split() == ["ConnectionRefusedError", "PermissionError"]
