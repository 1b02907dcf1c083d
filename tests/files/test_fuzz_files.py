"""Whatever a file of the workbook's holds, only `InputError` comes out of it, in little time and memory; and what was
read is what is read again after it was written."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.conftest import NOTEBOOKS
from workbook.errors import InputError
from workbook.exercises.progress import Progress
from workbook.files.budget_file import budget_text, parse_budget
from workbook.files.cell_file import catalogue, cell_text, read_cell
from workbook.files.cell_log import parse_cell_log
from workbook.files.club_file import read_club
from workbook.files.curve_file import read_curves
from workbook.files.design_file import design_text, parse_design
from workbook.sizing.budget_lines import STANDARD_LINES

CALM = settings(deadline=None, suppress_health_check=list(HealthCheck))
DESIGNS = sorted((NOTEBOOKS / "designs").glob("survey*.toml"))

VALUES = st.sampled_from(
    [
        "0", "-1", "-0.0", "1e308", "5e-324", "1e-9", "nan", "inf", "true", '""', '"x"', "[]", "{}", "[[]]",
        "1" + "0" * 400, "-1" + "0" * 400, "0x10", "1979-05-27", '"\\u0000"', '"\\u001b[2J"', "'''a\nb'''",
        "[1, 2]", "{a = 1}", '"../../x"', '"/dev/zero"', "2.4", "4.0", "24", "40", "0.01", "99999",
    ]
)  # fmt: skip
PATCHES = st.sampled_from(
    [
        "", "\0", "\x1b[31m", "\u202e", "\ufeff", '"', "'", '"""', "[", "]", "[[", "=", "#", "\n", "\r", "\t", ",",
        ";", ".", "-", "e", "\\", "\u2028", "9", "é", "🦆", "[mission]\n", "[[mission]]\n", "[craft.a]\n", "1,250",
        "A" * 300, "° ", " mAh",
    ]
)  # fmt: skip
WOUNDS = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 12), PATCHES, st.none() | VALUES),
    min_size=1,
    max_size=4,
)
Wounds = list[tuple[float, int, str, str | None]]


def wounded(text: str, wounds: Wounds) -> str:
    """A text with values put in place of a key's, or pieces cut out and others put in."""
    for share, length, patch, value in wounds:
        keys = list(re.finditer(r"(?m)^(\w+ *= *).*$", text))
        if value is not None and keys:
            found = keys[min(int(share * len(keys)), len(keys) - 1)]
            text = text[: found.start()] + found[1] + value + text[found.end() :]
        else:
            place = int(share * len(text))
            text = text[:place] + patch + text[place + length :]
    return text


def only_sentences(read: Callable[[], object]) -> Iterator[object]:
    """What is read, where it can be; else sentences of one line, not long and not many."""
    began = time.process_time()
    lines: tuple[str, ...] = ("read",)
    try:
        yield read()
    except InputError as fault:
        lines = tuple(fault.lines)
    assert time.process_time() - began < 2.0
    assert 1 <= len(lines) <= 11
    for line in lines:
        assert line.strip()
        assert line.isprintable()
        assert len(line) < 800


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz")


@settings(CALM, max_examples=120)
@given(st.sampled_from(DESIGNS), WOUNDS)
def test_damaged_designs(path: Path, wounds: Wounds) -> None:
    text = wounded(path.read_text("utf-8"), wounds)
    for file in only_sentences(lambda: parse_design(text, path)):
        again = parse_design(design_text(file.part, file.document), path)  # type: ignore[attr-defined]
        assert again.part == file.part  # type: ignore[attr-defined]


@settings(CALM, max_examples=120)
@given(st.sampled_from(["Sedge", "Bittern"]), WOUNDS)
def test_damaged_cells(place: Path, name: str, wounds: Wounds) -> None:
    path = place / "cell.toml"
    path.write_text(wounded(cell_text(catalogue()[name]), wounds), "utf-8")
    for cell in only_sentences(lambda: read_cell(path)):
        path.write_text(cell_text(cell), "utf-8")  # type: ignore[arg-type]
        assert read_cell(path).name == cell.name  # type: ignore[attr-defined]


@settings(CALM, max_examples=120)
@given(WOUNDS)
def test_damaged_budgets(wounds: Wounds) -> None:
    text = wounded(budget_text(STANDARD_LINES), wounds)
    for lines in only_sentences(lambda: parse_budget(text)):
        assert parse_budget(budget_text(lines)) == lines  # type: ignore[arg-type]


@settings(CALM, max_examples=120)
@given(WOUNDS)
def test_damaged_club_rules(place: Path, wounds: Wounds) -> None:
    path = place / "club.toml"
    path.write_text(wounded((NOTEBOOKS / "club.toml").read_text("utf-8"), wounds), "utf-8")
    for rules in only_sentences(lambda: read_club(path)):
        assert rules


@settings(CALM, max_examples=120)
@given(st.sampled_from(["good_batch.csv", "doubtful_batch.csv"]), WOUNDS)
def test_damaged_logs(name: str, wounds: Wounds) -> None:
    text = wounded((NOTEBOOKS / "cell_logs" / name).read_text("utf-8"), wounds)
    for log in only_sentences(lambda: parse_cell_log(text)):
        assert len(log.cells.name) > 0  # type: ignore[attr-defined]


@settings(CALM, max_examples=120)
@given(WOUNDS)
def test_damaged_points_of_curves(wounds: Wounds) -> None:
    text = wounded((NOTEBOOKS / "tables" / "own_cell_points.csv").read_text("utf-8"), wounds)
    for curves in only_sentences(lambda: read_curves(text + "\n", rated_capacity_ah=4.4)):
        assert curves


@settings(CALM, max_examples=60)
@given(WOUNDS)
def test_damaged_progress_is_never_lost(place: Path, wounds: Wounds) -> None:
    folder = place / f"{time.monotonic_ns()}"
    path = folder / ".workbook" / "progress.json"
    path.parent.mkdir(parents=True)
    whole = '{"kind": "workbook progress", "version": 1, "seed": 3, "exercises": {"a": {"right": true}}}'
    path.write_text(wounded(whole, wounds), "utf-8")
    before = path.read_bytes()
    progress = Progress(folder)
    kept = path.with_name("progress-unreadable-1.json")
    assert kept.read_bytes() == before if progress.notices else not kept.exists()
