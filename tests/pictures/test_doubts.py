"""Doubts about cells: what the reading, the decimals, the order, the neighbours and watts = volts x amperes say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.pictures.drawn import HEADINGS, invented_rows
from workbook.pictures.doubts import SURE_CONFIDENCE, with_doubts
from workbook.pictures.layout import PictureCell, PictureTable

BOX = (0.0, 0.0, 1.0, 1.0)
THROTTLE, THRUST, VOLTS, AMPS, WATTS, SPEED, LOADING = range(7)


def table(rows: list[list[str]], headings: tuple[str, ...] = HEADINGS) -> PictureTable:
    """A table as if read with full confidence of the model."""

    def cells(texts: list[str] | tuple[str, ...]) -> tuple[PictureCell, ...]:
        return tuple(
            PictureCell(text, 0.99 if text else 0.0, BOX if text else None) for text in texts
        )

    return PictureTable((), cells(headings), tuple(cells(row) for row in rows))


def changed(rows: list[list[str]], row: int, column: int, text: str) -> list[list[str]]:
    rows = [list(r) for r in rows]
    rows[row][column] = text
    return rows


def doubts(rows: list[list[str]]) -> dict[tuple[int, int], str]:
    found = with_doubts(table(rows))
    return {
        (r, k): c.doubt for r, row in enumerate(found.rows) for k, c in enumerate(row) if c.doubt
    }


@pytest.mark.parametrize("supply_v", [11.1, 14.8, 22.2, 44.4])
@pytest.mark.parametrize("rows", [6, 9, 16, 30])
def test_a_table_read_rightly_has_no_doubt(supply_v: float, rows: int) -> None:
    printed = invented_rows(supply_v, rows, 40 * supply_v)
    assert doubts(printed) == {}
    assert doubts(printed[::-1]) == {}
    assert doubts([[cell.replace(".", ",") for cell in row] for row in printed]) == {}


def test_two_propellers_one_below_the_other_raise_no_doubt() -> None:
    assert doubts([*invented_rows(22.2, 8, 2400.0), *invented_rows(22.2, 8, 1900.0)]) == {}


@pytest.mark.parametrize(
    ("row", "column", "text", "expected"),
    [
        (5, AMPS, "348", "a decimal point seems to be lost"),
        (5, AMPS, "34.8", "1 decimals, and 2 elsewhere"),
        (5, THRUST, "66O", "this is not a number"),
        (5, THRUST, "", "nothing was read here"),
        (5, WATTS, "177.1", "power is not volts times amperes: 177.1 against"),
        (5, THRUST, "1689", "thrust is not power times g/W"),
        (7, THROTTLE, "10", "out of order"),
        (7, SPEED, "4746", "it lies far from the line"),
        (7, VOLTS, "22.77", "power is not volts times amperes"),
    ],
)
def test_what_is_wrong_with_a_cell_is_reported(
    row: int, column: int, text: str, expected: str
) -> None:
    assert expected in doubts(changed(invented_rows(), row, column, text))[row, column]


def test_low_confidence_is_doubted_and_a_persons_word_is_not() -> None:
    sure = table(invented_rows())
    hard = replace(sure.rows[3][1], confidence=SURE_CONFIDENCE - 0.2)
    rows = list(sure.rows)
    rows[3] = (rows[3][0], hard, *rows[3][2:])
    assert (
        with_doubts(replace(sure, rows=tuple(rows))).rows[3][1].doubt == "hard to read (68 % sure)"
    )
    rows[3] = (rows[3][0], replace(hard, confidence=1.0), *rows[3][2:])
    assert not any(
        c.doubt for row in with_doubts(replace(sure, rows=tuple(rows))).rows for c in row
    )


def test_headings_that_mean_nothing_or_the_same_are_doubted() -> None:
    names = (
        "Throttle (%)",
        "Thrust (g)",
        "Voltage (V)",
        "Current (A)",
        "Pcwer",
        "RPM",
        "Thrust (g)",
    )
    found = with_doubts(table(invented_rows(), names)).headings
    assert "not a heading that is known" in found[4].doubt
    assert "second column" in found[6].doubt
    assert not any(cell.doubt for cell in found[:4])


def _slips(text: str) -> list[str]:
    """What a reader makes of a figure: a digit read as another, a digit or the point lost."""
    swaps = {
        "1": "7",
        "7": "1",
        "3": "8",
        "8": "3",
        "5": "6",
        "6": "5",
        "0": "8",
        "9": "4",
        "4": "9",
        "2": "7",
    }
    out = [text[:n] + swaps[c] + text[n + 1 :] for n, c in enumerate(text) if c in swaps]
    out += [text[:n] + text[n + 1 :] for n in range(len(text)) if len(text) > 1]
    return [slip for slip in dict.fromkeys(out) if slip not in (text, "") and slip.strip(".")]


def test_no_slip_that_physics_can_tell_stays_unmarked() -> None:
    """Every single slip in every cell: told where watts, volts and amperes or thrust and g/W part by 2 %, or order breaks.

    2 % is what the instruments of a test stand agree to at best (common practice, no source).
    """
    rows = invented_rows(rows=8)
    figures = np.array(rows, dtype=float)
    unmarked = []
    for r, row in enumerate(rows):
        for k, text in enumerate(row):
            for slip in _slips(text):
                seen = figures.copy()
                seen[r, k] = float(slip)
                power = seen[r, VOLTS] * seen[r, AMPS] / seen[r, WATTS]
                loading = seen[r, LOADING] * seen[r, WATTS] / seen[r, THRUST]
                rising = np.diff(seen[:, [THROTTLE, THRUST, AMPS, WATTS, SPEED]], axis=0)
                tells = abs(power - 1) > 0.02 or abs(loading - 1) > 0.02 or (rising < 0).any()
                if tells and (r, k) not in doubts(changed(rows, r, k, slip)):
                    unmarked.append((r, k, text, slip))
    assert unmarked == []


def test_figures_of_three_digits_raise_no_doubt_as_they_grow() -> None:
    """Of six rows four have watts beyond 100: 45.2, 90.4, 136, 181, 226, 271, as three digits show them."""
    rows = invented_rows(rows=6)
    for row, thrust in zip(rows, range(400, 2800, 400), strict=True):
        watts = 45.2 * thrust / 400
        row[WATTS] = f"{watts:.1f}" if watts < 100 else f"{watts:.0f}"
        row[THRUST], row[VOLTS], row[AMPS] = f"{thrust}", "22.60", f"{watts / 22.6:.2f}"
        row[LOADING] = f"{thrust / watts:.2f}"
    assert not [
        place for place, text in doubts(rows).items() if "point" in text or place[1] == WATTS
    ]


def test_a_column_that_has_lost_half_its_points_is_doubted_where_they_are_lost() -> None:
    rows = invented_rows(rows=8)
    for row in (1, 2, 4, 6):
        rows[row][VOLTS] = rows[row][VOLTS].replace(".", "")
    rows[0][AMPS] = rows[0][AMPS].replace(".", "")  # 0.66 becomes 066
    found = doubts(rows)
    assert {r for r, k in found if k == VOLTS} >= {1, 2, 4, 6}
    assert "point" in found[0, AMPS]
