"""Whatever is fed in, only `InputError` comes out; and order and units do not change the answer."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError
from workbook.files.thrust_table_file import (
    ThrustTableFile,
    read_thrust_tables,
    thrust_table_from_rows,
)

MANY = settings(
    max_examples=3 * settings.default.max_examples, suppress_health_check=list(HealthCheck)
)
TABLES = sorted((Path(__file__).parents[2] / "notebooks" / "tables").glob("*_motor.csv"))

WORDS = st.sampled_from(
    [
        "Thrust (g)", "Thrust", "Current (A)", "Voltage (V)", "Power", "RPM", "Throttle",
        "Propeller", "Efficiency (g/W)", "g", "A", "12x4.5", "4S", "14.8", "1.250", "1,250",
        "1 250", "-5", "nan", "1e99", "1e-99", "50%", "#DIV/0!", "N/A", '"', "'", "Prop: 10x4",
        "Voltage: 11.1 V", "(", "０",
    ]
)  # fmt: skip
SEPARATORS = st.sampled_from([",", ";", "\t", "  ", " ", "|", "\n", "\r\n", "\r", '"'])


def outcome(source: object) -> None:
    """Read, and check what comes out: a sound table or sentences."""
    try:
        file = read_thrust_tables(source)  # type: ignore[arg-type]
    except InputError as refusal:
        says_why(refusal)
    else:
        sound(file)


def says_why(refusal: InputError) -> None:
    assert refusal.problems
    assert all(problem.what.strip() for problem in refusal.problems)


def sound(file: ThrustTableFile) -> None:
    assert file.tables
    for table in file.tables:
        assert len(table.thrust_gf) >= 2
        assert (np.diff(table.thrust_gf) > 0).all()
        for column in (table.thrust_gf, table.current_a, table.voltage_v, table.power_w):
            assert np.isfinite(column).all()
            assert (column > 0).all()


@MANY
@given(st.binary(max_size=400))
def test_any_bytes(data: bytes) -> None:
    outcome(data)


@MANY
@given(st.text(max_size=400))
def test_any_text(text: str) -> None:
    outcome(text)


@MANY
@given(st.lists(st.tuples(WORDS, SEPARATORS), max_size=60))
def test_words_of_a_table_in_disorder(pairs: list[tuple[str, str]]) -> None:
    outcome("".join(word + separator for word, separator in pairs))


@MANY
@given(st.lists(st.lists(WORDS, min_size=3, max_size=3), max_size=8), SEPARATORS)
def test_cells_of_any_kind_under_good_headings(rows: list[list[str]], separator: str) -> None:
    lines = [["Thrust (g)", "Current (A)", "Voltage (V)"], *rows]
    outcome("\n".join(separator.join(line) for line in lines))


@MANY
@given(
    st.sampled_from(TABLES),
    st.lists(st.tuples(st.integers(0, 3000), st.integers(0, 5), st.text(max_size=4)), max_size=6),
)
def test_damaged_demo_tables(path: Path, wounds: list[tuple[int, int, str]]) -> None:
    text = path.read_text("utf-8")
    for place, length, patch in wounds:
        text = text[:place] + patch + text[place + length :]
    outcome(text)
    outcome(text.encode("utf-8", "replace")[:2000])


CELLS = st.one_of(st.none(), st.text(max_size=8), st.floats(), st.integers(), st.booleans())


@MANY
@given(
    st.lists(
        st.dictionaries(st.sampled_from(["thrust_gf", "current_a", "voltage_v", "rpm"]), CELLS)
    )
)
def test_any_typed_cells(rows: list[dict[str, object]]) -> None:
    try:
        table = thrust_table_from_rows(rows)
    except InputError as refusal:
        says_why(refusal)
    else:
        sound(ThrustTableFile((table,)))


ROWS = [
    (40, 420, 2.5, 37.0, 4100),
    (60, 880, 6.4, 94.7, 5900),
    (80, 1250, 11.5, 170.2, 7200),
    (100, 1620, 17.5, 259.0, 8300),
]


def same(one: ThrustTable, other: ThrustTable, rtol: float = 1e-9) -> None:
    for name in ("thrust_gf", "current_a", "voltage_v", "power_w", "throttle_pct", "speed_rpm"):
        np.testing.assert_allclose(
            getattr(one, name), getattr(other, name), rtol=rtol, err_msg=name
        )
    assert (one.motor, one.propeller, one.supply_v) == (
        other.motor,
        other.propeller,
        other.supply_v,
    )


def printed(rows: list[tuple[float, ...]], thrust: str = "g", current: str = "A") -> str:
    gf = {"g": 1.0, "kgf": 1000.0, "N": 1000 / 9.80665, "lbf": 453.59237, "oz": 453.59237 / 16}
    amps = {"A": 1.0, "mA": 0.001}
    lines = [
        f"Propeller,Throttle (%),Thrust ({thrust}),Current ({current}),Voltage (V),Power (W),RPM"
    ]
    lines += [
        f"12x4.5,{t},{g / gf[thrust]:.9g},{a / amps[current]:g},14.8,{w},{n}"
        for t, g, a, w, n in rows
    ]
    return "\n".join(lines)


@given(st.permutations(ROWS))
def test_row_order_does_not_matter(rows: list[tuple[float, ...]]) -> None:
    same(read_thrust_tables(printed(rows)).tables[0], read_thrust_tables(printed(ROWS)).tables[0])


@given(
    st.permutations(ROWS),
    st.sampled_from(["g", "kgf", "N", "lbf", "oz"]),
    st.sampled_from(["A", "mA"]),
)
def test_units_do_not_matter(rows: list[tuple[float, ...]], thrust: str, current: str) -> None:
    table = read_thrust_tables(printed(rows, thrust, current)).tables[0]
    same(table, read_thrust_tables(printed(ROWS)).tables[0], rtol=1e-8)


@given(
    st.lists(st.floats(150.0, 1900.0), min_size=3, max_size=12, unique=True),
    st.sampled_from([".", ","]),
    st.booleans(),
    st.randoms(use_true_random=False),
)
def test_thousands_marks_read_back(
    thrusts: list[float], mark: str, with_power: bool, random: object
) -> None:
    """Any table printed with thousands marks reads as it was before they were put in."""
    thrusts = sorted({float(round(t)) for t in thrusts})
    if len(thrusts) < 2:
        return
    lines = ["Thrust (g);Current (A);Voltage (V)" + (";Power (W)" if with_power else "")]
    for t in thrusts:
        power = (t / 1000) ** 1.5 * 120
        shown = f"{t:,.0f}".replace(",", mark)
        decimal = "." if mark == "," else ","
        cells = [shown, f"{power / 22.2:.2f}", "22.2", *([f"{power:.1f}"] if with_power else [])]
        lines.append(";".join([cells[0], *(c.replace(".", decimal) for c in cells[1:])]))
    table = read_thrust_tables("\n".join(lines)).tables[0]
    np.testing.assert_allclose(table.thrust_gf, thrusts)


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_demo_rows_in_reverse_are_the_same(path: Path) -> None:
    """Reversing the rows of each block changes nothing (labels repeated in each row)."""
    tables = read_thrust_tables(path).tables
    for table in tables:
        rows = [
            {
                "thrust_gf": t,
                "current_a": a,
                "voltage_v": v,
                "power_w": w,
                "propeller": table.propeller,
            }
            for t, a, v, w in zip(
                table.thrust_gf, table.current_a, table.voltage_v, table.power_w, strict=True
            )
        ]
        again = thrust_table_from_rows(rows[::-1])
        np.testing.assert_allclose(again.thrust_gf, table.thrust_gf)
        np.testing.assert_allclose(again.power_w, table.power_w)
