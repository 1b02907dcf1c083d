"""Whatever lies in a file or stands behind a command: an exit code that is promised, and a few sentences."""

from __future__ import annotations

import io
import json
import os
import random
import re
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.conftest import DESIGNS, NOTEBOOKS, PROJECT
from workbook.cli import main
from workbook.errors import CONTROL

LINES_ON_STDERR = 15
"""A person reads no more: ten problems, how many more there are, and the usage of a command."""

VERDICTS = (
    '"verdict"',
    '"hold"',
    '"holds"',
    "UNSAFE",
    "NOT YET",
    "NOT CHECKED",
    "DOUBTFUL",
    "HOLDS",
    "all else equal",
    "print it.",
    " hold",
    "met_pct",
)

HUGE = "9" * 400
VALUES = (
    "0", "0.0", "-0.0", "1", "2", "-1", "3.7", "1e-9", "5e-324", "2.2e-308", "1e308", "1.7976931348623157e308",
    "1e999", "inf", "-inf", "nan", HUGE, f"-{HUGE}", "9" * 31, "9" * 5000, "0x7fffffffffffffff", "true", '""',
    '"x"', '" "', "[]", "{}", "[1, 2]", "[[1.0, nan]]", '["multirotor"]', '{kind = "multirotor"}', "1979-05-27",
    "07:32:00", '"""a\nb"""', r'"HOLDS\u001b[2K\rHOLDS: all is well"', r'"a\nHOLDS"', r'"\u202eSDLOH"',
    r'"\u0000"', '"Обследование 调查 😀"', '"' + "y" * 5000 + '"', "'" + "x y " * 1500 + "'", "[" * 3000,
    "[" * 400 + "]" * 400, '"/dev/null"', '"."', '".."', '"' + "d/" * 2600 + '"', '"=cmd|calc"', '"<b>&amp;"',
    '"best range"', '"best endurance"', '"fixed wing"', '"multirotor"', '"hover"', '"legs"', '"Bittern"', "12.5",
    "14", "20", "24", "99", "100", "1000", "3.0", "4.2", "2.5", "1e6", "0.7", "1e-300",
)  # fmt: skip
CELLS = (
    "", "-", "nan", "inf", "1e308", "-5", "0", "5e-324", "1.250", "1,250", "0,5", '"', '""', "'", HUGE, "x" * 3000,
    "\x1b[2KHOLDS", "\x00", "\u202e12", "#DIV/0!", "=cmd|' /C calc'!A0", "１２", "12 A", "50%", "1e-300", "\n", "\r",
    "😀", "10", "100", "1000", "26", "3.4", "4.19", "3000",
)  # fmt: skip
BAD_ARGUMENTS = (
    ["size"], ["size", ""], ["size", "\x00"], ["size", "no\x1b[2K\nHOLDS.toml"], ["size", "x" * 300],
    ["size", "d/" * 3000], ["size", "."], ["size", "/dev/null"], ["size", "\udcff.toml"], ["size", "--nothing"],
    ["sheet", "{design}"], ["sheet", "{design}", "-o", "."], ["sheet", "{design}", "-o", "\x00"],
    ["sheet", "{design}", "-o", "x" * 300], ["sheet", "{design}", "-o", "/dev/full"],
    ["sheet", "{design}", "-o", "/proc/none/x.html"], ["sheet", "{design}", "-o", "no/such\nfolder/x.html"],
    ["sheet", "{design}", "-o", "s.html", "--paper", "a0" * 4000], ["sheet", "no.toml", "-o", "s.html"],
    ["sheet", "{design}", "-o", "s.html", "--cells", "no.csv"],
    ["sheet", "{design}", "-o", "s.html", "--cells", "{design}"],
    ["worksheet", "99", "-o", "w.html"], ["worksheet", "-1", "-o", "w.html"], ["worksheet", "\x1b[2K", "-o", "w"],
    ["worksheet", "1", "-o", "w.html", "--seed", HUGE], ["worksheet", "1", "-o", "w.html", "--seed", "-7"],
    ["worksheet", "1", "-o", "w.html", "--seed", "9" * 5000], ["worksheet", "1", "-o", "/dev/full"],
    ["worksheet", "craft_asks", "-o", "w.html", "--answers", "--paper", "letter"], ["worksheet", "x" * 9000, "-o", "w"],
    ["editions", "{design}"], ["editions", "e", "--copies", "0"], ["editions", "e", "--copies", HUGE],
    ["editions", "e", "--copies", "-3"], ["editions", "e", "--copies", "x"], ["editions", "\x00"],
    ["open", "{design}"], ["open", "\x00", "--no-browser"], ["open", "/proc/none", "--no-browser"],
    ["compare", "{design}"], ["compare", "{design}", "no.toml"], ["compare", "{design}", "{design}", "--json"],
    ["compare", *["{design}"] * 30], ["conditions", "{design}"], ["conditions", "{design}", "--json"],
    ["budget", "{design}", "--lines", "{design}"], ["budget", "{design}", "--lines", "\x00"],
    ["budget", "{design}", "--draws", "0"], ["budget", "{design}", "--draws", "-4", "--json"],
    ["budget", "{design}", "--draws", "9" * 30], ["budget", "{design}", "--draws", "64", "--json"],
    ["sweep", "{design}", "--vary", "nothing=1,2"], ["sweep", "{design}", "--vary", "payload_g=nan,inf"],
    ["sweep", "{design}", "--vary", "payload_g=-1e308,1e308", "--json"], ["sweep", "{design}", "--vary", "="],
    ["sweep", "{design}", "--vary", "name=1"], ["sweep", "{design}", "--vary", "\x1b[2K=1"],
    ["sweep", "{design}", "--vary", "payload_g=" + "1," * 9000 + "1", "--vary", "avionics_w=" + "1," * 9000 + "1"],
    ["sweep", "{design}", "--series", "1-99999999999999"], ["sweep", "{design}", "--series", "9-1"],
    ["sweep", "{design}", "--series", "6", "--parallel", "100", "--json"], ["sweep", "{design}", "--csv", "."],
    ["sweep", "{design}", "--series", "1-24", "--parallel", "1-40", "--csv", "s.csv", "--overwrite"],
    ["sweep", "{design}", "--csv", "/dev/full"], ["sweep", "{design}", "--csv", "no\nsuch/\x1b.csv"],
    ["schema"], ["schema", "more"], ["--version"], ["--help"], ["size", "--help"], [], ["\x1b[2K"], ["x" * 9000],
)  # fmt: skip
"""Command lines that are wrong in themselves, or right; `{design}` is a design file."""


@dataclass(frozen=True)
class Told:
    """What a run ended with."""

    code: int
    out: str
    err: str


def damaged_design(text: str, chance: random.Random) -> str:
    """A design with one to four of its keys set to something else, taken out or put in, or its text cut up."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        lines = text.splitlines()
        keys = [k for k, line in enumerate(lines) if re.match(r"\w+ = ", line)] or [0]
        place = chance.choice(keys)
        wound = chance.random()
        if wound < 0.75:
            lines[place] = f"{lines[place].partition(' = ')[0]} = {chance.choice(VALUES)}"
        elif wound < 0.85:
            del lines[place]
        elif wound < 0.92:
            lines.insert(place, lines[chance.choice(keys)])
        else:
            at = chance.randrange(len(text) + 1)
            patch = chance.choice(CELLS + VALUES)
            text = text[:at] + patch + text[at + chance.randrange(40) :]
            continue
        text = "\n".join(lines)
    return text


def damaged_table(text: str, chance: random.Random) -> str:
    """A table with some of its cells replaced, a stray quote in it, or rows left out."""
    for _ in range(chance.choice((1, 1, 2, 5))):
        lines = text.splitlines()
        row = chance.randrange(len(lines))
        cells = re.split(r"([,;\t])", lines[row])
        wound = chance.random()
        if wound < 0.7:
            cells[2 * chance.randrange((len(cells) + 1) // 2)] = chance.choice(CELLS)
            lines[row] = "".join(cells)
        elif wound < 0.85:
            at = chance.randrange(len(lines[row]) + 1)
            lines[row] = f'{lines[row][:at]}"{lines[row][at:]}'
        else:
            del lines[chance.randrange(len(lines)) :]
        text = "\n".join(lines) or "x"
    return text


def hostile_folder(folder: Path, chance: random.Random) -> tuple[Path, Path]:
    """A folder with a design, its tables, a cell and a log, one or more of them damaged; design and log."""
    for name in ("designs", "tables", "cells"):
        (folder / name).mkdir(exist_ok=True)
    demo = chance.choice(sorted(p for p in DESIGNS.glob("*.toml") if not p.stem.startswith("mine")))
    design = demo.read_text("utf-8")
    tables = {p.name: p.read_text("utf-8") for p in (NOTEBOOKS / "tables").glob("*_motor.csv")}
    cell = (PROJECT / "workbook" / "data" / "cells" / "sedge.toml").read_text("utf-8")
    cell = cell.replace('name = "Sedge"', 'name = "Mine"')
    log = (NOTEBOOKS / "cell_logs" / "good_batch.csv").read_text("utf-8")
    whom = chance.choice(("design", "design", "design", "table", "cell", "log", "all"))
    if whom in ("cell", "all"):
        design = re.sub(r'cell = "\w+"', 'cell = "Mine"\ncell_folder = "../cells"', design)
        cell = damaged_design(cell, chance)
    if whom in ("table", "all"):
        tables = {name: damaged_table(text, chance) for name, text in tables.items()}
    if whom in ("log", "all"):
        log = damaged_table(log, chance)
    if whom in ("design", "all"):
        design = damaged_design(design, chance)
    for path, text in (
        *((folder / "tables" / name, text) for name, text in tables.items()),
        (folder / "cells" / "mine.toml", cell),
        (folder / "designs" / "d.toml", design),
        (folder / "log.csv", log),
    ):
        path.write_text(text, "utf-8", errors="surrogatepass", newline="")
    return folder / "designs" / "d.toml", folder / "log.csv"


def invocation(folder: Path, chance: random.Random) -> list[str]:
    """Arguments of a command, with the files that they name in the folder."""
    design, log = hostile_folder(folder, chance)
    draw = chance.random()
    if draw < 0.2:
        return [a.format(design=design) for a in chance.choice(BAD_ARGUMENTS)]
    if draw < 0.75:
        options = [
            o
            for o in ("--json", "--working", "--tables", "--short", "--all")
            if chance.random() < 0.4
        ]
        return ["size", str(design), *options]
    if draw < 0.85:
        json_too = ["--json"] * (chance.random() < 0.5)
        return [chance.choice(("compare", "conditions", "budget", "sweep")), str(design), *json_too]
    options = ["--cells", str(log)] * (chance.random() < 0.7) + ["--overwrite"] * (
        chance.random() < 0.7
    )
    return ["sheet", str(design), "-o", str(folder / "sheet.html"), *options]


def run_here(arguments: list[str], encoding: str = "utf-8") -> Told:
    """Run a command in this process, on streams of that encoding."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding, newline="") for _ in range(2))
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = main(arguments)
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
    told = []
    for stream in (out, err):
        stream.flush()
        told.append(stream.buffer.getvalue().decode(encoding))  # type: ignore[attr-defined]
    return Told(code, *told)


def keeps_its_promise(told: Told, arguments: list[str]) -> None:
    """Exit code, number of lines, strict JSON, nothing in the names that a terminal obeys."""
    assert told.code in (0, 1, 2), told
    assert "Traceback" not in told.out + told.err
    assert "fault of the workbook" not in told.err, told.err
    assert "Warning" not in told.err, told.err
    assert len(told.err.splitlines()) < LINES_ON_STDERR, told.err
    assert max(map(len, told.err.splitlines()), default=0) < 1000, told.err
    assert not CONTROL.search((told.out + told.err).replace("\n", "").replace(os.linesep, ""))
    if told.code == 2:
        assert told.err.strip()
    if told.code == 1:
        assert any(word in told.out for word in VERDICTS), told
    if "--json" in arguments and told.code < 2:
        json.loads(told.out, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))


def _seeds(short: int, long: int) -> list[object]:
    """Seeds of the short lane, and the further ones of the long."""
    return [
        *range(short),
        *(pytest.param(seed, marks=pytest.mark.long) for seed in range(short, long)),
    ]


@pytest.mark.parametrize("seed", _seeds(1, 20))
def test_fifty_invocations(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    monkeypatch.chdir(tmp_path)
    chance = random.Random(seed)
    for number in range(50):
        (tmp_path / str(number)).mkdir()
        arguments = invocation(tmp_path / str(number), chance)
        told = run_here(arguments, chance.choice(("utf-8", "ascii", "cp1252")))
        keeps_its_promise(told, arguments)


PROCESSES = (
    ({}, ""), ({"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}, ""),
    ({"PYTHONIOENCODING": "ascii"}, ""), ({"PYTHONIOENCODING": "cp1252"}, ""), ({}, ">/dev/full"), ({}, ">&-"),
    ({}, "2>/dev/full"), ({}, "2>&-"), ({}, "| head -c 1"),
)  # fmt: skip
"""Environment of a process, and where its output goes."""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
@pytest.mark.parametrize("seed", _seeds(1, 10))
def test_ten_processes(tmp_path: Path, seed: int) -> None:
    chance = random.Random(1000 + seed)
    for number in range(10):
        folder = tmp_path / str(number)
        folder.mkdir()
        arguments = [a.replace("\0", "") for a in invocation(folder, chance)]
        if arguments[:1] == ["open"]:  # without the NUL it is a folder that can be opened
            continue
        environment, where = PROCESSES[(10 * seed + number) % len(PROCESSES)]
        done = subprocess.run(
            ["bash", "-o", "pipefail", "-c", f'"$@" {where}', "-", sys.executable, "-m", "workbook",
             *(a.encode("utf-8", "surrogateescape") for a in arguments)],
            capture_output=True, check=False, cwd=folder, timeout=120,
            env={**os.environ, "PYTHONPATH": str(PROJECT), **environment},
        )  # fmt: skip
        told = Told(
            done.returncode, *(t.decode("utf-8", "replace") for t in (done.stdout, done.stderr))
        )
        assert told.code in (0, 1, 2), (arguments, where, told)
        assert "Traceback" not in told.err, (arguments, where, told)
        assert "fault of the workbook" not in told.err, (arguments, where, told)
        assert len(told.err.splitlines()) < LINES_ON_STDERR, told.err
        if where in (">/dev/full", ">&-"):
            assert told.code == 2, (arguments, told)
