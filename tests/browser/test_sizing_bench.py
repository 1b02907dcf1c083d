"""The sizing bench in real JupyterLab: controls moved by hand, text and curves read from the page."""

from __future__ import annotations

import re

import numpy as np
import pytest

from tests.browser.desk import Desk
from tests.conftest import DESIGNS
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.quantities import RESULTS
from workbook.sizing.constant_power_flight import flight_trace
from workbook.sizing.design import Design
from workbook.sizing.size import size
from workbook.sizing.spiral import spiral
from workbook.sizing.wing_curve import wing_curve

pytestmark = [pytest.mark.browser, pytest.mark.long]

DESIGN = read_design(DESIGNS / "survey_six.toml").design
SPIRAL, CURRENT, THRUST, VOLTAGE = range(4)  # the third is power against airspeed for a wing


@pytest.fixture
def bench(desk: Desk) -> Desk:
    desk.open_notebook("sizing_bench.ipynb")
    desk.run_all_cells()
    desk.page.wait_for_selector(".wb-chart path.line", state="attached")
    desk.at_rest(lambda: str(drawn(desk, VOLTAGE)), unlike="[]")
    return desk


def drawn(bench: Desk, chart: int) -> np.ndarray:
    """The solid pack-coloured curve of a chart, in pixels, shape (K, 2); none yet, K is 0."""
    path = bench.page.locator(".wb-chart").nth(chart).locator("path.line").evaluate_all(
        "els => els.map(e => [e.getAttribute('d') || '', getComputedStyle(e)])"
        ".filter(([d, s]) => s.strokeWidth === '3.5px' && s.strokeDasharray === 'none'"
        " && s.display !== 'none' && d.includes('L')).map(([d]) => d)"
    )  # fmt: skip
    pairs = re.findall(r"[-\d.]+,[-\d.]+", path[-1]) if path else []
    return np.array([pair.split(",") for pair in pairs], float).reshape(-1, 2)


def follows(pixels: np.ndarray, x: np.ndarray, y: np.ndarray) -> None:
    """The curve on the page is (x, y) under one straight map per axis, within a pixel."""
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    assert len(pixels) == len(x)
    for seen, value, sign in ((pixels[:, 0], x, 1), (pixels[:, 1], y, -1)):
        slope, offset = np.polyfit(value, seen, 1)
        assert slope * sign > 0
        assert np.abs(slope * value + offset - seen).max() < 1.0


def minutes(design: Design) -> str:
    """Flight time as the bench prints it, rounded to the safe side."""
    return RESULTS["endurance_min"].text(size(design).point.endurance_min)


def until_lead(bench: Desk, text: str) -> None:
    """Wait until the one large figure says so."""
    bench.page.wait_for_function(
        "text => document.querySelector('.wb-lead')?.textContent === text", arg=text
    )


def agrees(bench: Desk, design: Design) -> None:
    """Text and curves on the page are those of the design."""
    until_lead(bench, minutes(design))
    answer = size(design)
    trace, curve = flight_trace(design, answer.point), spiral(design, 10)
    table = design.craft.table

    def as_computed() -> None:
        follows(drawn(bench, VOLTAGE), trace.time_min, trace.cell_v)
        follows(drawn(bench, CURRENT), trace.time_min, trace.cell_a)
        follows(drawn(bench, SPIRAL), curve.parallel, curve.endurance_min)
        follows(drawn(bench, THRUST), table.current_a, table.thrust_gf)
        shown = bench.page.locator(".wb-figures").first.inner_text()
        assert RESULTS["all_up_mass_g"].text(answer.point.all_up_mass_g) in shown

    bench.eventually(as_computed)


def test_controls_move_text_and_curves_to_what_the_computation_gives(bench: Desk) -> None:
    page = bench.page
    agrees(bench, DESIGN)
    bench.screenshot("bench-first")

    box = page.get_by_title("parallel, P: type a number")
    box.fill("4")
    box.press("Enter")
    design = DESIGN.changed(parallel=4)
    agrees(bench, design)

    handle = page.locator(".wb .noUi-handle").nth(1)
    handle.focus()
    page.keyboard.press("ArrowRight")
    design = design.changed(parallel=5)
    agrees(bench, design)

    cell = catalogue()["Avocet"]
    bench.choose(page.locator(".wb select").first, "Avocet")
    design = design.changed(cell=cell)
    agrees(bench, design)

    box = page.get_by_title("payload, g: type a number")
    row = page.locator(".wb .widget-hbox").filter(has=box).filter(has=page.locator(".noUi-handle"))
    payload = row.last.locator(".noUi-handle")
    payload.scroll_into_view_if_needed()
    at = payload.bounding_box()
    page.mouse.move(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    page.mouse.down()
    page.mouse.move(at["x"] + 25, at["y"] + at["height"] / 2, steps=5)
    page.mouse.up()
    grams = float(bench.at_rest(box.input_value, unlike="350"))
    assert grams > 350
    agrees(bench, design.changed(payload_g=grams))
    bench.screenshot("bench-after")
    assert bench.errors == []


def test_working_limits_and_a_refused_value(bench: Desk) -> None:
    page = bench.page
    page.get_by_role("button", name="show the working").click()
    page.wait_for_selector("text=source: IEC 61960-3")
    assert page.locator("text=Limits, each at its worst moment").count() == 1
    box = page.get_by_title("reserve, %: type a number")
    box.fill("lots")
    box.press("Enter")
    page.wait_for_selector("text='lots' is not one number")
    assert bench.errors == []


def test_save_refuses_to_replace_and_load_brings_back(bench: Desk) -> None:
    page = bench.page
    box = page.get_by_label("design", exact=True)
    box.fill("designs/of_mine.toml")
    box.press("Enter")
    save = page.get_by_role("button", name="save", exact=True)
    save.click()
    page.wait_for_selector("text=Saved as designs/of_mine.toml")
    save.click()
    page.wait_for_selector("text=a file is already here and was left as it is")
    saved = bench.lab.folder / "designs" / "of_mine.toml"
    assert (
        read_design(saved).part
        == read_design(bench.lab.folder / "designs" / "survey_six.toml").part
    )
    parallel = page.get_by_title("parallel, P: type a number")
    parallel.fill("6")
    parallel.press("Enter")
    agrees(bench, DESIGN.changed(parallel=6))
    page.get_by_role("button", name="load", exact=True).click()
    page.wait_for_selector("text=Loaded of_mine.toml")
    agrees(bench, DESIGN)
    saved.unlink()


def test_rows_typed_from_a_photograph_become_the_table(bench: Desk) -> None:
    page = bench.page
    rows = [
        ("30", "250", "0,9", "22,2", ""), ("45", "600", "2,9", "22,2", ""),
        ("60", "1050", "6,1", "22,2", ""), ("75", "1600", "11,2", "22,2", ""),
        ("90", "2250", "18,3", "22,2", ""), ("100", "2700", "24,1", "22,2", ""),
    ]  # fmt: skip
    names = ("throttle (%)", "thrust (g)", "current (A)", "voltage (V)", "power (W)")
    for number, row in enumerate(rows, 1):
        for name, text in zip(names, row, strict=True):
            page.get_by_title(f"row {number}, {name}").fill(text)
            page.get_by_title(f"row {number}, {name}").press("Tab")
    page.get_by_role("button", name="use these rows").click()
    page.wait_for_selector("text=Tables read: 1")
    amperes = np.array([0.9, 2.9, 6.1, 11.2, 18.3, 24.1])
    grams = np.array([250.0, 600, 1050, 1600, 2250, 2700])
    bench.eventually(lambda: follows(drawn(bench, THRUST), amperes, grams))
    bench.screenshot("bench-typed-rows")
    assert bench.errors == []


def test_a_fixed_wing_gets_its_own_view(bench: Desk) -> None:
    page = bench.page
    box = page.get_by_label("design", exact=True)
    box.fill("designs/survey_wing.toml")
    box.press("Enter")
    page.get_by_role("button", name="load", exact=True).click()
    page.wait_for_selector("text=Power against airspeed")
    design = read_design(DESIGNS / "survey_wing.toml").design
    until_lead(bench, minutes(design))
    answer = size(design)
    speeds = answer.point.speeds
    fastest = max(2.0 * speeds.range_m_s, 1.2 * float(answer.point.cruise_m_s))
    curve = wing_curve(design, float(answer.point.all_up_mass_g), to_m_s=fastest)
    bench.eventually(lambda: follows(drawn(bench, THRUST), curve.airspeed_m_s, curve.power_w))
    assert page.locator("text=Thrust against current").count() == 0
    speed = page.get_by_title("cruise speed, m/s: type a number")
    speed.fill("16")
    speed.press("Enter")
    until_lead(bench, minutes(design.changed(cruise_m_s=16.0)))
    bench.screenshot("bench-wing")
    assert bench.errors == []
