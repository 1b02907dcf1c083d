"""Whatever lies in a file or stands behind a command: an exit code that is promised, and a few sentences."""

from __future__ import annotations

import io
import json
import os
import random
import re
import subprocess
import sys
from collections.abc import Collection
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.conftest import DESIGNS, NOTEBOOKS, PROJECT
from workbook.cli import HAPPENED, main
from workbook.errors import CONTROL
from workbook.files.budget_file import budget_text
from workbook.files.design_file import read_design
from workbook.files.packed import packed_text
from workbook.sizing.budget_lines import STANDARD_LINES

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
    "Do not weld",
    "not be built in",
    "must be tested",
    "FAILS",
    "left room for",
    "left out: ",
    "conflict: ",
)

CELL_LOGS = ("good_batch.csv", "doubtful_batch.csv")
FLIGHT_LOGS = {4: ("wing.csv",), 6: ("six_cold.csv", "six_proof.csv", "six_warm.csv")}
"""By the cells in series of the pack that was flown."""
FILES = {
    "design": ("d.toml", "designs"),
    "packed": ("packed.toml", "."),
    "cell": ("mine.toml", "cells"),
    **{
        kind: (f"{kind}.{ending}", ".")
        for kind, ending in (("cells", "csv"), ("log", "csv"), ("book", "txt"))
    },
    "lines": ("lines.toml", "."),
}
"""Name and folder of each kind of file that a command is given."""

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
    ["page", "{design}", "-o", "."], ["page", "{design}", "-o", "\x00"], ["page", "no.html"], ["page", "{book}"],
    ["page", "{design}", "-o", "{design}", "--overwrite"],
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


TYPED = (
    "", "-", "0", "-3", "nan", "inf min", "5e-324 V", "1e308",
    HUGE, f"{HUGE} Ah", "1,250", "12 furlongs", "2026-02-30", "0001-01-01", "9999-12-31", "demo0003", "x" * 3000,
    "\x1b[2KHOLDS", "\u202e12 V", "a\nb", "=cmd|calc", "[demo0001]", "２１ min", "😀", "\udcff", ".", "no/such.csv",
    "; ;", "21 min; 21 min; 3 V; 3 V", "1 min; 1e9 Ah",
)  # fmt: skip
USUAL = (
    "14min", "6100mAh", "22.2V", "47 mOhm", "1.3 kg", "38 C", "21 min; 7200 mAh; after 22.6 V; felt 38 C",
    "18 min; 5.9 Ah",
)  # fmt: skip
"""What somebody types behind an option, and what is right behind one."""

WORDS = {
    "typed": (*TYPED, *3 * USUAL),
    "mapped": ("Bus=voltage_v in mV", "=", "x=", "=time_s", "time (s)=current_a", "\x1b=voltage_v", "a=b=c" * 900),
    "varied": ("payload_g=0,200", "joint_mohm=nan", "cell=1", "landing_v=" + "3," * 50 + "3", "wanted_min=-1e308"),
    "count": ("0", "1", "-1", "18", "24", "x", "3.5", "9" * 30, HUGE),
    "written": ("out.html", "out.html", "out.html", "{design}", "{log}", "{book}", ".", "no/new/out", "/dev/full", "x" * 300),
    "happened": tuple(HAPPENED),
    "design_of": ("tested", "built", "merge"),
    "folder": ("cells", "designs", "no", "{cell}", "."),
    "other": ("cells", "{cell}", "{packed}", "{design}", "{log}", "no", "."),
    "units": ("", "SI", "oz, in", "g, mm", "x" * 500),
}  # fmt: skip
USES = {
    "size": ("size {design}", "--json --working --tables --short --all --anywhere --units={units}"),
    "compare": ("compare {design} {design}", "--json --units={units}"),
    "conditions": ("conditions {design}", "--json"),
    "budget": ("budget {design}", "--json --draws={count} --lines={lines} --units={units}"),
    "sweep": ("sweep {design}", "--json --series={count} --parallel={count} --vary={varied} --csv={written} --overwrite"),
    "sheet": ("sheet {design} -o {written}", "--cells={cells} --paper=letter --overwrite --units={units}"),
    "cells": ("cells {design} {cells}", "--json --batch={count} --anywhere --units={units}"),
    "arrival": ("arrival {design} -o {written}", "--batch={count} --paper=letter --overwrite --anywhere"),
    "flight": (
        "flight {design}",
        "{log} {log} --slip={typed} --slip={typed} --column={mapped} --mass={typed} --pack-temp={typed} --save --undo "
        "--report={written} --book={book} --json --overwrite --units={units}",
    ),
    "book": ("book {book}", "--json"),
    "line": (
        "book {book} --{happened}={typed}",
        "--charge={typed} --resistance={typed} --time={typed} --temperature={typed} --mass={typed} --log={log} "
        "--note={typed} --on={typed} --price={typed} --json",
    ),
    "pair": ("book {book} --{design_of}={design}", "--log={log} --charge={typed} --note={typed}"),
    "pack": ("pack {design} -o {written}", "--overwrite --anywhere"),
    "catalogue": ("catalogue {folder} {other}", "--take"),
    "new": ("new {typed}", "--kind=fixed\0wing"),
    "worksheet": ("worksheet {count} -o {written}", "--seed={count} --answers"),
}  # fmt: skip
"""What is asked of a command, and what may be asked beside it; NUL stands for a space in a word."""


def damaged_lines(text: str, chance: random.Random) -> str:
    """Lines of a book: words cut up, or lines left out."""
    for _ in range(chance.choice((1, 1, 3))):
        at = chance.randrange(len(text) + 1)
        text = text[:at] + chance.choice(CELLS + VALUES + TYPED) + text[at + chance.randrange(60) :]
    return text


def thinned(text: str, rows: int = 150) -> str:
    """A log with fewer rows, its first ones kept."""
    lines = text.splitlines()
    return "\n".join(lines[:6] + lines[6 :: max(1, len(lines) // rows)])


def hostile_folder(folder: Path, chance: random.Random) -> dict[str, Path]:
    """A folder with a file of each kind, one or all of them damaged; the files by their kind."""
    book_folder = NOTEBOOKS / "logs"
    demo = chance.choice(sorted(p for p in DESIGNS.glob("*.toml") if not p.stem.startswith("mine")))
    cell = (PROJECT / "workbook" / "data" / "cells" / "sedge.toml").read_text("utf-8")
    packed = packed_text(read_design(DESIGNS / "survey_six.toml"))
    flown = FLIGHT_LOGS[4 if "series = 4" in demo.read_text("utf-8") else 6]
    texts = {
        "packed": packed,
        "design": demo.read_text("utf-8"),
        "cell": cell.replace('name = "Sedge"', 'name = "Mine"'),
        "cells": (NOTEBOOKS / "cell_logs" / chance.choice(CELL_LOGS)).read_text("utf-8"),
        "log": thinned((book_folder / chance.choice(flown)).read_text("utf-8")),
        "book": (book_folder / "six_book.txt").read_text("utf-8"),
        "lines": budget_text(STANDARD_LINES),
        **{p.name: p.read_text("utf-8") for p in (NOTEBOOKS / "tables").glob("*_motor.csv")},
    }
    whom = chance.choice((*texts, "design", "design", "log", "log", "book", "all"))
    if whom in ("cell", "all"):
        texts["design"] = re.sub(
            r'cell = "\w+"', 'cell = "Mine"\ncell_folder = "../cells"', texts["design"]
        )
    damage = dict.fromkeys(("design", "packed", "cell", "lines"), damaged_design)
    damage["book"] = damaged_lines
    files = {}
    for kind, text in texts.items():
        name, place = FILES.get(kind, (kind, "tables"))
        files[kind] = folder / place / name
        files[kind].parent.mkdir(parents=True, exist_ok=True)
        if whom in (kind, "all"):
            text = damage.get(kind, damaged_table)(text, chance)
        files[kind].write_text(text, "utf-8", errors="surrogatepass", newline="")
    return files


def invocation(folder: Path, chance: random.Random) -> list[str]:
    """Arguments of a command, with the files that they name in the folder."""
    files = {kind: str(path) for kind, path in hostile_folder(folder, chance).items()}
    if chance.random() < 0.15:
        return [a.format(**files) for a in chance.choice(BAD_ARGUMENTS)]
    asked, more = USES[chance.choice(sorted(USES))]
    words = asked.split() + [word for word in more.split() if chance.random() < 0.3]

    def filled(hole: re.Match[str]) -> str:
        if hole[1] == "design" and chance.random() < 0.15:
            return files["packed"]
        if hole[1] in files:
            return files[hole[1]]
        return str(chance.choice(WORDS[hole[1]])).format(**files)

    return [re.sub(r"{(\w+)}", filled, word).replace("\0", " ") for word in words]


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
    assert told.code != 2 or told.err.strip()
    assert told.code != 1 or any(word in told.out + told.err for word in VERDICTS), told
    assert told.code != 1 or told.err.strip(), (arguments, told)
    if "--json" in arguments and told.code < 2:
        json.loads(told.out, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))


def loses_nothing(before: dict[Path, bytes], told: Told, arguments: list[str]) -> None:
    """What is worked from stays; lines are added to a book, [measured] goes into a design and out again."""
    for path, held in before.items():
        now = path.read_bytes()
        booked = arguments[:1] == ["book"] or "--book=" + str(path) in arguments
        added = booked and now.startswith(held) and (told.code < 2 or path.suffix == ".txt")
        asked = {"--overwrite", *(("--save", "--undo") if path.suffix == ".toml" else ())}
        # a file that is worked from is named once more, and never written over
        named = sum(str(path) in argument for argument in arguments)
        over = not booked and told.code < 2 and bool(asked & set(arguments)) and named == 1
        assert now == held or added or over, (path, arguments, told)


def held_in(folder: Path) -> dict[Path, bytes]:
    """What the files of a folder hold."""
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def _seeds(short: Collection[int], long: int) -> list[object]:
    """Seeds of the short lane, and the further ones of the long."""
    return [
        pytest.param(seed, marks=[] if seed in short else pytest.mark.long) for seed in range(long)
    ]


@pytest.mark.parametrize("seed", _seeds({0}, 48))
def test_twenty_five_invocations(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    monkeypatch.chdir(tmp_path)
    chance = random.Random(seed)
    for number in range(25):
        (tmp_path / str(number)).mkdir()
        arguments = invocation(tmp_path / str(number), chance)
        before = held_in(tmp_path / str(number))
        told = run_here(arguments, chance.choice(("utf-8", "ascii", "cp1252")))
        keeps_its_promise(told, arguments)
        loses_nothing(before, told, arguments)


PROCESSES = (
    ({}, ""), ({"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}, ""),
    ({"PYTHONIOENCODING": "ascii"}, ""), ({"PYTHONIOENCODING": "cp1252"}, ""), ({}, ">/dev/full"), ({}, ">&-"),
    ({}, "2>/dev/full"), ({}, "2>&-"), ({}, "| head -c 1"),
)  # fmt: skip
"""Environment of a process, and where its output goes."""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
@pytest.mark.parametrize("number", _seeds({1, 4, 7, 8}, 100))
def test_a_process(tmp_path: Path, number: int) -> None:
    arguments = [a.replace("\0", "") for a in invocation(tmp_path, random.Random(1000 + number))]
    if arguments[:2] == ["open", ""]:
        pytest.skip("without the NUL it is a folder that is opened, and stays so")
    environment, where = PROCESSES[number % len(PROCESSES)]
    before = held_in(tmp_path)
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", f'"$@" {where}', "-", sys.executable, "-m", "workbook",
         *(a.encode("utf-8", "surrogateescape") for a in arguments)],
        capture_output=True, check=False, cwd=tmp_path, timeout=120,
        env={**os.environ, "PYTHONPATH": str(PROJECT), **environment},
    )  # fmt: skip
    told = Told(
        done.returncode, *(t.decode("utf-8", "replace") for t in (done.stdout, done.stderr))
    )
    assert told.code in (0, 1, 2), (arguments, where, told)
    assert "Traceback" not in told.err, (arguments, where, told)
    assert "fault of the workbook" not in told.err, (arguments, where, told)
    assert len(told.err.splitlines()) < LINES_ON_STDERR, told.err
    nowhere = where in (">/dev/full", ">&-")
    assert not nowhere or told.code == 2, (arguments, told)
    if not nowhere:
        loses_nothing(before, told, arguments)
