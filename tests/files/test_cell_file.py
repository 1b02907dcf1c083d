"""Cell files: what is read, refused, doubted, listed and written."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.files import invented_cells
from workbook.battery.cell import Cell
from workbook.errors import InputError
from workbook.files.cell_check import check_cell, curve_resistance_mohm
from workbook.files.cell_file import (
    catalogue,
    cell_text,
    find_cell,
    read_catalogue,
    read_cell,
    write_cell,
)

NAMES = [row[0] for row in invented_cells.ROWS]


@pytest.fixture
def bittern() -> Cell:
    return find_cell("Bittern")


def problems_of(call, *args, **kwargs) -> str:
    with pytest.raises(InputError) as caught:
        call(*args, **kwargs)
    return str(caught.value)


def edited(tmp_path: Path, cell: Cell, *changes: tuple[str, str]) -> Path:
    text = cell_text(cell)
    for old, new in changes:
        assert text.count(old) >= 1
        text = text.replace(old, new, 1)
    path = tmp_path / "my.toml"
    path.write_text(text, encoding="utf-8")
    return path


# --- the workbook's own cells -------------------------------------------------------------------


def test_the_catalogue_holds_every_invented_cell():
    assert sorted(catalogue()) == sorted(NAMES)
    assert len(NAMES) >= 10
    assert {c.cell_format for c in catalogue().values()} == {"18650", "21700"}
    assert {c.kind for c in catalogue().values()} == {"energy", "power"}


@pytest.mark.parametrize("name", NAMES)
def test_own_cells_carry_no_doubt_and_say_that_they_are_invented(name):
    cell = find_cell(name)
    assert check_cell(cell).refusals == ()
    assert check_cell(cell).cautions == ()
    assert "nvented" in cell.note
    assert len(cell.curves) == 4
    assert all(14 <= len(c.voltage_v) <= 20 for c in cell.curves)
    assert cell.curves[-1].current_a == cell.continuous_a
    ends = [c.capacity_ah[-1] for c in cell.curves]
    assert ends == sorted(ends, reverse=True)  # more current reaches the cutoff earlier
    assert {c.voltage_v[-1] for c in cell.curves} == {cell.cutoff_v}


@pytest.mark.parametrize("name", NAMES)
def test_stated_resistance_and_curves_agree(name):
    """The curves were drawn from the stated resistance, so both readings lie within 15 %."""
    cell = find_cell(name)
    slope = curve_resistance_mohm(cell.curves)
    assert slope == pytest.approx(cell.resistance_mohm, rel=0.15)
    middle = (cell.model.depth_of_discharge > 0.2) & (cell.model.depth_of_discharge < 0.8)
    found = cell.model.resistance_mohm[middle]
    assert found.mean() == pytest.approx(cell.resistance_mohm, rel=0.15)


@pytest.mark.parametrize("row", invented_cells.ROWS, ids=NAMES)
def test_files_are_what_the_drawing_gives(row):
    assert find_cell(row[0]) == invented_cells.cell_of(row)


# Usual figures of the trade (common practice, no source): g, mohm, A of each kind.
@pytest.mark.parametrize(
    ("name", "ah", "g", "mohm", "a"),
    [
        ("Bittern", 5.17, 69.4, 30.0, 8.5),
        ("Avocet", 3.61, 67.4, 13.6, 28.0),
        ("Curlew", 3.22, 47.3, 38.0, 7.0),
    ],
)
def test_cells_that_the_lessons_lean_on(name, ah, g, mohm, a):
    cell = find_cell(name)
    assert (cell.typical_capacity_ah, cell.mass_g) == (ah, g)
    assert (cell.resistance_mohm, cell.continuous_a) == (mohm, a)


# --- writing and reading ------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_a_written_cell_reads_back_the_same(tmp_path, name):
    write_cell(find_cell(name), tmp_path / "one.toml")
    assert read_cell(tmp_path / "one.toml") == find_cell(name)


def test_an_existing_file_is_left_alone_unless_asked(tmp_path, bittern):
    path = tmp_path / "one.toml"
    path.write_text("mine", encoding="utf-8")
    assert "left as it is" in problems_of(write_cell, bittern, path)
    assert path.read_text(encoding="utf-8") == "mine"
    write_cell(bittern, path, overwrite=True)
    assert read_cell(path) == bittern
    assert [p.name for p in tmp_path.iterdir()] == ["one.toml"]  # no part files stay behind


def test_a_cell_that_cannot_be_is_not_written(tmp_path, bittern):
    assert "burst_a" in problems_of(write_cell, replace(bittern, burst_a=1.0), tmp_path / "a.toml")
    assert list(tmp_path.iterdir()) == []


def test_names_hold_any_letters(tmp_path, bittern):
    cell = replace(bittern, name='Rohrdommel "grün" \\ 50', note="zwei\nZeilen")
    write_cell(cell, tmp_path / "a.toml")
    assert read_cell(tmp_path / "a.toml") == cell


def test_every_fault_is_named_at_once(tmp_path, bittern):
    path = edited(
        tmp_path,
        bittern,
        ("mass_g = 69.4", 'mass_g = "70 V"'),
        ("burst_a = 12.5", "burst_a = 5.0"),
        ("cutoff_v = 2.5", "cutof_v = 2.5"),
        ("resistance_mohm = 30.0", "resistance_mohm = 0.028"),
        ("diameter_mm = 21.2", "diameter_mm = nan"),
        ("charge_v = 4.2", "charge_v = 4.35"),
    )
    problems = problems_of(read_cell, path)
    for line in (
        "my.toml: mass_g: '70 V' has the unit V; the unit here is g.",
        "my.toml, burst_a: 5 A is below continuous_a, 8.5 A; a burst current is at least that.",
        "my.toml: cutoff_v is missing; a number in V is needed.",
        "my.toml: cutof_v is not a key of this file; did you mean cutoff_v?",
        "my.toml, resistance_mohm: 0.028 mΩ is not possible for one cell",
        "my.toml: diameter_mm is nan; a number in mm is needed.",
        "my.toml, charge_v: 4.35 V is above 4.25 V",
    ):
        assert line in problems
    assert len(problems.splitlines()) == 7


def test_a_figure_may_stand_with_its_unit(tmp_path, bittern):
    path = edited(
        tmp_path,
        bittern,
        ("mass_g = 69.4", 'mass_g = "69.4 g"'),
        ("current_a = 1.0", 'current_a = "1.0 A"'),
    )
    read = read_cell(path)
    assert (read.mass_g, read.room_curves[0].current_a) == (69.4, 1.0)


def test_a_figure_that_is_unlikely_is_read_and_cautioned_of(tmp_path, bittern):
    path = edited(tmp_path, bittern, ("mass_g = 69.4", "mass_g = 75"))
    read = read_cell(path)
    assert read.mass_g == 75.0
    assert [str(n) for n in check_cell(read, path.name).cautions] == [
        "my.toml, mass_g: 75 g is unusual for 21700; 62 to 74 g is usual."
    ]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("format = ", "not TOML"),
        ("name = 'x'", "format is missing"),
        ("format = 'workbook cell 9'", "'workbook cell 9' is not"),
    ],
)
def test_files_that_are_no_cell_files(tmp_path, text, word):
    path = tmp_path / "x.toml"
    path.write_text(text, encoding="utf-8")
    assert word in problems_of(read_cell, path)


def test_files_that_cannot_be_opened(tmp_path):
    assert "no file here" in problems_of(read_cell, tmp_path / "x.toml")
    (tmp_path / "y.toml").write_bytes(b"name = '\xff\xfe'")
    assert "UTF-8" in problems_of(read_cell, tmp_path / "y.toml")
    assert "a folder" in problems_of(read_cell, tmp_path)


# --- the catalogue ------------------------------------------------------------------------------


def test_own_folders_join_the_catalogue(tmp_path, bittern):
    write_cell(replace(bittern, name="Mine"), tmp_path / "mine.toml")
    assert set(catalogue(tmp_path)) == {*NAMES, "Mine"}
    assert set(catalogue()) == set(NAMES)


def test_a_name_is_used_once(tmp_path, bittern):
    write_cell(bittern, tmp_path / "mine.toml")
    problems = problems_of(catalogue, tmp_path, tmp_path / "none")
    assert "mine.toml, name: 'Bittern' is also in the workbook's own cells" in problems
    assert "no such folder" in problems


def test_a_file_that_cannot_be_used_leaves_the_others_in_use(tmp_path, bittern):
    write_cell(replace(bittern, name="Mine"), tmp_path / "mine.toml")
    (tmp_path / "bad.toml").write_text("name = ", "utf-8")
    assert "bad.toml" in problems_of(catalogue, tmp_path)
    known = read_catalogue(tmp_path)
    assert set(known.cells) == {*NAMES, "Mine"}
    assert known.find("mine").name == "Mine"
    first, reason = map(str, known.notices)
    assert "left out of the cells to choose from: bad.toml" in first
    assert reason.startswith("bad.toml")
    assert "bad.toml" in problems_of(known.find, "Yours")
    assert read_catalogue().notices == ()


@pytest.mark.parametrize("text", ['name = "Bittern"', "name = 'bittern'\nmass_g = ", None])
def test_a_file_that_is_left_out_may_hold_the_cell_that_is_meant(tmp_path, bittern, text):
    """The workbook's Bittern does not stand in for the builder's own of that name."""
    if text is None:
        write_cell(bittern, tmp_path / "mine.toml")
    else:
        (tmp_path / "mine.toml").write_text(text, "utf-8")
    assert "mine.toml" in problems_of(read_catalogue(tmp_path).find, "Bittern")
    assert read_catalogue(tmp_path).find("Sedge").name == "Sedge"


def test_an_unknown_name_brings_the_closest_ones():
    assert "did you mean 'Bittern'?" in problems_of(find_cell, "Bitern")
    assert "did you mean 'Sedge'?" in problems_of(find_cell, "Sedge 48E")
    assert "Avocet" in problems_of(find_cell, "zzzz")
    assert find_cell(" BITTERN ").name == "Bittern"
    assert "empty" in problems_of(find_cell, "x", {})


def test_a_cell_file_takes_its_curves_from_a_file_beside_it(tmp_path, bittern):
    rows = ["A;mAh;V"] + [
        f"{c.current_a};{1000 * q};{v}"
        for c in bittern.curves
        for q, v in zip(c.capacity_ah, c.voltage_v, strict=True)
    ]
    (tmp_path / "points.csv").write_text("\n".join(rows), encoding="utf-8")
    bare = replace(bittern, curves=())
    path = edited(tmp_path, bare, ("price =", 'curves_file = "points.csv"\nprice ='))
    assert read_cell(path).curves[3].voltage_v == bittern.curves[3].voltage_v
    for wrong in ("none.csv", "../points.csv"):
        path = edited(tmp_path, bare, ("price =", f'curves_file = "{wrong}"\nprice ='))
        assert "points.csv' is not the plain name" in problems_of(read_cell, path) or (
            "no file here" in problems_of(read_cell, path)
        )
    both = edited(tmp_path, bittern, ("price =", 'curves_file = "points.csv"\nprice ='))
    assert "curves are given as well" in problems_of(read_cell, both)


def test_a_curve_keeps_its_temperature_in_the_file(tmp_path):
    """`temperature_c` under [[curves]]; at 25 C it is not written."""
    bittern = find_cell("Bittern")
    volts = tuple(v - 0.15 for v in bittern.curves[1].voltage_v)
    cold = replace(bittern.curves[1], voltage_v=volts, temperature_c=-10.0)
    cell = replace(bittern, curves=(*bittern.curves, cold))
    write_cell(cell, tmp_path / "cold.toml")
    text = (tmp_path / "cold.toml").read_text("utf-8")
    assert text.count("temperature_c = -10") == 1
    assert "\ntemperature_c = 25" not in text
    read = read_cell(tmp_path / "cold.toml")
    assert [c.temperature_c for c in read.curves].count(-10.0) == 1
    assert read.model.temperature is not None
    assert read.room_curves == bittern.curves
    assert read.model.resistance_mohm == pytest.approx(bittern.model.resistance_mohm)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("continuous_a = 8.5", "continuous_a = 9999999999999999999999999999999", "burst_a"),
        ("current_a = 1.0", "current_a = 1e308", "1000 A"),
        ("current_a = 1.0", "current_a = 9999999999999999999999999999999", "1000 A"),
    ],
)
def test_figures_with_more_digits_than_a_figure_has(
    tmp_path: Path, old: str, new: str, expected: str
) -> None:
    text = cell_text(find_cell("Bittern"))
    assert old in text
    (tmp_path / "odd.toml").write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(InputError, match=expected):
        read_cell(tmp_path / "odd.toml")
