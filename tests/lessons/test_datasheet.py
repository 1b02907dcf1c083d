"""Lesson 3: the family, the slope, the figures and the working follow the dials, and agree."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.battery.model import DischargeCurve
from workbook.files.cell_file import find_cell, read_cell
from workbook.lessons.datasheet import CellFitter
from workbook.numbers import rounded
from workbook.widgets.controls import ChosenFile


@pytest.mark.parametrize(
    "changes",
    [{"current_a": 9.3}, {"landing_v": 3.4}, {"charge_ah": 3.3}, {"cell": "Lapwing"}],
    ids=lambda c: next(iter(c)),
)
def test_text_charts_and_working_change_to_the_same_values(opened, changes):
    view = opened("datasheet")
    before = plain(view.figures.html.value)
    for name, value in changes.items():
        view.inputs[name].value = find_cell(value) if name == "cell" else value
    values = view.live.values()
    cell, amps, charge_ah = values["cell"], values["current_a"], values["charge_ah"]
    assert plain(view.figures.html.value) != before
    # the end of the drawn curve, the figures and the working tell one charge
    x, y = line_of(view.family)
    assert y[-1] == pytest.approx(values["landing_v"], abs=1e-6)
    assert shown_step(view, "charge_ah") == f"= {x[-1]:.4g} Ah"
    assert f"charge {rounded(x[-1], 2, 'down'):.2f} Ah" in plain(view.figures.html.value)
    assert f"{rounded(x[-1], 2, 'down'):.2f} Ah and" in view.family.finding_text
    # energy is the area under the drawn curve: 120 points, straight between them
    area = np.trapezoid(y, x)
    assert shown_step(view, "energy_wh").startswith("= ")
    assert float(view.result.curve.run.energy_wh) == pytest.approx(area, rel=2e-4)
    # the point on the slope is the voltage that the family's curve has at that charge
    assert point_at(view.slope) == pytest.approx((amps, np.interp(charge_ah, x, y)), abs=2e-3)
    first, last = cell.curves[0], cell.curves[-1]
    drop = np.interp(charge_ah, first.capacity_ah, first.voltage_v) - np.interp(
        charge_ah, last.capacity_ah, last.voltage_v
    )
    by_hand = 1000 * drop / (last.current_a - first.current_a)
    # straight between points here, a monotone cubic there: the tables' own rounding apart
    assert view.result.reading.resistance_mohm == pytest.approx(by_hand, rel=0.06)
    assert f"resistance {rounded(view.result.reading.resistance_mohm, 1, 'up'):.1f} mΩ" in plain(
        view.figures.html.value
    )
    assert (
        list(view.family.dots.y) == list(view.slope.dots.y) == list(view.result.reading.voltage_v)
    )
    named = [line.name for line in view.family.lines[1:]]
    assert named == [f"{c.current_a:g} A" for c in cell.room_curves]


def test_beyond_the_curves_it_says_so(opened):
    view = opened("datasheet")
    view.inputs["cell"].value = find_cell("Bittern")
    view.inputs["current_a"].value = 14.0
    message = plain(view.notices.html.value)
    assert "beyond the datasheet curves" in message
    assert "above the cell's continuous current, 8.5 A" in message


def test_the_form_for_a_cell_of_ones_own_grows_with_the_lesson(opened):
    view = opened("datasheet")
    assert view.fitter is view.fitter
    view.big.value = True
    assert "wb-big" in view.fitter._dom_classes


def points_text(moved_v: float = 0.0) -> str:
    """Points of a known cell: U = 4.2 - 1.2 z, 30 mohm, 5 Ah; one point of the middle curve moved."""
    rows = ["A;Ah;V"]
    for amps in (1.0, 5.0, 10.0):
        for z in np.linspace(0.0, 1.0, 9):
            volts = 4.2 - 1.2 * z - 0.03 * amps + (moved_v if amps == 5.0 and z == 0.5 else 0.0)
            rows.append(f"{amps:g};{5 * z:g};{volts:.4f}")
    return "\n".join(rows)


@pytest.fixture
def fitter(folder):
    return CellFitter()


def test_points_of_a_known_cell_give_its_resistance_and_no_residual(fitter):
    fitter.points.value = points_text()
    made = fitter.live.current()
    assert made.report.model.resistance_mohm == pytest.approx(np.full(201, 30.0), rel=1e-3)
    assert max(c.worst_mv for c in made.report.curves) < 0.2
    assert list(fitter.chart.dots.x) == [p for c in made.cell.curves for p in c.capacity_ah]
    assert "1 to 10 A" in fitter.chart.finding_text


def test_points_at_a_second_temperature_tell_what_cold_does(fitter):
    """The same cell behind 1.6 times its resistance and with 0.9 of its charge at 0 °C."""
    rows = [f"{row};" for row in points_text().splitlines()[1:]]
    for z in np.linspace(0.0, 1.0, 9):
        rows.append(f"5;{4.5 * z:g};{4.2 - 1.2 * z - 0.048 * 5:.4f};0")
    fitter.points.value = "\n".join(["A;Ah;V;°C", *rows])
    law = fitter.live.current().report.model.temperature
    assert law.resistance_factor[0] == pytest.approx(1.6, rel=0.01)
    assert law.capacity_factor[0, 0] == pytest.approx(0.9, abs=0.01)
    assert "It knows the cell at 0, 25 °C." in fitter.chart.finding_text
    assert "5 A, 0 °C 9 " in plain(fitter.table.html.value)


def test_a_point_read_wrongly_stands_out_in_the_residuals_and_the_table(fitter):
    fitter.points.value = points_text(moved_v=0.08)
    y = fitter.residuals.dots.y
    worst = int(np.argmax(np.abs(y)))
    assert fitter.residuals.dots.x[worst] == 2.5
    # whatever line is laid through three dots, the middle one stands 80 mV above the chord of the
    # outer two (5 A is 4/9 of the way from 1 to 10 A); dots at other charges stay on the line
    same_charge = fitter.residuals.dots.x == 2.5
    first, middle, last = y[same_charge]
    assert middle - (5 * first + 4 * last) / 9 == pytest.approx(80, abs=0.2)
    assert np.abs(y[~same_charge]).max() < 1
    curve = fitter.live.current().report.curves[1]
    assert f"5 A 9 {curve.rms_mv:.0f} mV {curve.worst_mv:.0f} mV" in plain(fitter.table.html.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "no points yet"),
        ("A;Ah;V\n1;0;four\n", "'four' is not a number"),
        (
            "A;Ah;V\n1;0;4.1\n1;1;3.6\n1;2;3.0\n5;0;4.15\n5;1;3.7\n5;2;3.1\n",
            "more current must give less voltage",
        ),
    ],
)
def test_impossible_points_are_reported_and_the_last_fit_stays(fitter, text, message):
    before = fitter.table.html.value
    fitter.points.value = text
    assert message in " ".join(fitter.live.problems)
    assert fitter.table.html.value == before
    fitter.save()
    assert "no cell to save" in fitter.reply.text


def test_a_file_takes_the_place_of_the_points(fitter):
    fitter.file.value = ChosenFile("mine.csv", points_text().encode())
    assert fitter.points.value == points_text()
    fitter.file.value = ChosenFile("mine.bin", b"\xff\xfe\x00")
    assert "not UTF-8" in fitter.file.reply.text
    assert fitter.points.value == points_text()


def test_saved_cell_is_read_back_and_offered_and_never_overwritten_unasked(fitter, folder, opened):
    fitter.points.value = points_text()
    fitter.inputs["name"].value = "Bench no. 1"
    fitter.save()
    assert "still stand as in the invented practice cell" in fitter.reply.text
    assert not (folder / "cells").exists()
    fitter.save()
    path = folder / "cells" / "bench-no-1.toml"
    cell = read_cell(path)
    assert cell.curves[0] == DischargeCurve(
        1.0,
        tuple(5 * z for z in np.linspace(0, 1, 9)),
        tuple(round(4.17 - 1.2 * z, 4) for z in np.linspace(0, 1, 9)),
    )
    assert cell.continuous_a == 20.0
    good = path.read_bytes()
    fitter.inputs["continuous_a"].value = 15.0
    fitter.save()
    assert "left as it is" in fitter.reply.text
    assert path.read_bytes() == good
    fitter.overwrite.value = True
    fitter.save()
    assert read_cell(path).continuous_a == 15.0
    view = opened("datasheet")
    offered = dict(view.inputs["cell"].options)
    view.inputs["cell"].value = next(c for c in offered.values() if c.name == "Bench no. 1")
    view.keep_now()
    assert opened("datasheet").inputs["cell"].value.name == "Bench no. 1"


def test_unlikely_figures_are_doubted(fitter):
    fitter.points.value = points_text()
    fitter.inputs["mass_g"].value = 50.0
    assert "mass_g" in plain(fitter.notices.html.value)
