"""The shared widgets in a real JupyterLab: the chart follows drag, keys and typed numbers."""

from __future__ import annotations

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

CELLS = [
    """
import ipywidgets as W
import numpy as np
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.bars import Bar, BarChart
from workbook.widgets.controls import ChoiceControl, NumberControl, RowsGrid
from workbook.sizing.limits import Limit
from workbook.widgets.live import Live
from workbook.widgets.table import GridCell, GridMap
from workbook.widgets.style import Panel
from workbook.widgets.verdict import Figure, KeyFigures, LimitsTable, Notices, Verdict, WorkingPanel
from workbook.working import Step
""",
    """
mass = NumberControl("mass of everything but the pack", "g", 1450, 500, 3000, 10, most=6000)
season = ChoiceControl("season", {"summer": 1.0, "winter": 0.8})
chart = LineChart("Voltage over the flight", "time, min", "pack voltage, V")
verdict, figures, limits, working = Verdict(), KeyFigures(), LimitsTable(), WorkingPanel()

def compute(mass_g, season):
    t = np.linspace(0, 30, 301)
    return t, 16.8 - 3.4 * t / 30 * mass_g / 1450 / season

def render(result):
    t, v = result
    chart.update(
        [Line("this pack", t, v), Line("one string more", t, v + 0.4, "alternative"), Line("today", t[:200], v[:200] - 0.5, "today")],
        levels=[Level("landing, 12.8 V", 12.8), Level("alarm, 13.2 V", 13.2, "caution")], verticals=[Vertical("reserve from here", 21.0, "faint")],
        points=[Point("operating point", 15.0, float(v[150]))], x_range=(0, 30), y_range=(11, 17),
        finding=f"At 15 min the pack is at {v[150]:.2f} V.",
    )
    state = "holds" if v[-1] > 13 else "broken"
    verdict.update(state, f"The pack ends at {v[-1]:.2f} V.", lead=f"{v[-1]:.1f} V")
    figures.update([Figure("endurance", "21.4", "min", "15.0"), Figure("hover current", "12.1", "A")])
    limits.show([Limit("end_v", "cell voltage under load at landing", 13.0, float(v[-1]), "V", "It would sag <b>too</b> low.", "end of flight")])
    working.update(lambda: [Step("end_v", "voltage at the end", "full - sag", f"16.8 - {16.8 - v[-1]:.3g}", float(v[-1]), "V", "invented")])

live = Live({"mass_g": mass, "season": season}, compute, render)
W.VBox([mass, season, live.status, chart, verdict, figures, limits, working])
""",
]
MORE = [
    CELLS[0],
    """
bars = BarChart("Where the spread comes from", "share of the spread, %")
bars.update([Bar("mass of the frame", 12), Bar("power from the thrust table", 61.5), Bar("capacity", 20, role="caution"), Bar("wind", 6.5)], finding="Power from the thrust table matters most.")
grid = GridMap("Endurance, min")
grid.update([4, 5, 6], [1, 2, 3], [[GridCell("12.1", "broken"), GridCell("19.8", "close"), GridCell("24.0", "holds")]] * 3, chosen=(1, 1), finding="5S2P is close.")
flat = LineChart("A flat line", "time, min", "voltage, V", height_px=220)
flat.update([Line("always 3.4 V", [0, 10, 20], [3.4, 3.4, 3.4])])
rows = RowsGrid(["throttle, %", "thrust, g", "current, A", "voltage, V"], rows=3, label="Thrust table")
W.VBox([bars, grid, flat, rows])
""",
]

EXERCISES = [
    """
import tempfile
from workbook.exercises.exercise import ChoiceExercise, NumberExercise, SettingExercise
from workbook.exercises.progress import Progress
from workbook.exercises.slips import per_cell, thousand
from workbook.widgets.controls import NumberControl
from workbook.lessons.lesson_view import ExerciseView
from workbook.sizing.limits import Limit
from workbook.widgets.live import Live
from workbook.widgets.table import GridCell, GridMap
from workbook.working import Step
progress = Progress(tempfile.mkdtemp())
""",
    """
number = NumberExercise(
    "capacity", "Four strings of cells of 5 Ah each are wired in parallel. What does the pack hold?", "Ah",
    answer=lambda d: 20, slips=lambda d: {**thousand(20, "Ah", "mAh"), **per_cell(20, 4)},
    steps=lambda d: [Step("capacity_ah", "capacity", "P x cell", "4 x 5 Ah", 20, "Ah", "arithmetic")],
    hints=("Parallel adds charge.", "4 times 5 Ah."),
)
ExerciseView(number, progress)
""",
    """
ExerciseView(ChoiceExercise("b", "For how long may a cell give its burst current?", {"for the whole flight": "It would overheat.", "for the seconds that its datasheet states": "Then it must cool."}, right=2), progress)
""",
    """
parallel = NumberControl("parallel, P", "", 2, 1, 8, 1, whole=True)
live = Live({"p": parallel}, lambda p: 5 * p, lambda ah: None)
setting = ExerciseView(SettingExercise("s", "Set P so that the pack holds 20 Ah or more.", {"It holds less than 20 Ah.": lambda ah: ah >= 20}, {"p": 4}), progress, live.current)
W = __import__("ipywidgets")
W.VBox([parallel, setting])
""",
]
BIG = [
    *CELLS,
    """
chart.set_big(True); verdict.set_big(True); figures.set_big(True); limits.set_big(True)
Panel(verdict, figures, chart)
""",
]


def curve(desk, number: int = 0) -> str:
    """The path of a visible curve; limits and upright lines come before the curves in the page."""
    paths = desk.page.locator(".wb-chart path.line").evaluate_all(
        "els => els.filter(e => e.getAttribute('d') && getComputedStyle(e).strokeWidth === '3.5px'"
        " && getComputedStyle(e).strokeDasharray === 'none').map(e => e.getAttribute('d'))"
    )
    return paths[number] if len(paths) > number else ""


def changed(desk, before: str) -> str:
    now = desk.at_rest(lambda: curve(desk), unlike=before)
    assert now != before
    assert "NaN" not in now
    return now


@pytest.fixture
def bench(desk):
    desk.write_notebook("widgets.ipynb", CELLS)
    desk.open_notebook("widgets.ipynb")
    desk.focus_on_output()
    desk.run_all_cells()
    desk.at_rest(lambda: curve(desk), unlike="")
    return desk


def test_chart_follows_drag_keys_and_typed_numbers(bench):
    page = bench.page
    bench.screenshot("widgets-first")
    path = curve(bench)
    assert path.count("L") > 200

    handle = page.locator(".wb .noUi-handle").first
    handle.scroll_into_view_if_needed()
    at = handle.bounding_box()
    page.mouse.move(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    page.mouse.down()
    page.mouse.move(at["x"] + 60, at["y"] + at["height"] / 2, steps=8)
    page.mouse.up()
    path = changed(bench, path)

    handle.focus()
    page.keyboard.press("ArrowLeft")
    path = changed(bench, path)

    box = page.get_by_title("mass of everything but the pack, g: type a number")
    box.fill("1333,5")
    box.press("Enter")
    path = changed(bench, path)
    assert box.input_value() == "1333.5"
    assert "At 15 min the pack is at 15.24 V." in page.locator(".wb-finding").first.inner_text()

    box.fill("heavy")
    box.press("Enter")
    page.wait_for_selector("text='heavy' is not one number")
    assert box.input_value() == "heavy"
    assert curve(bench) == path

    page.locator(".wb select").first.select_option("winter")
    changed(bench, path)
    bench.screenshot("widgets-after")

    page.get_by_role("button", name="show the working").click()
    page.wait_for_selector("text=source: invented")
    page.locator("text=source: invented").scroll_into_view_if_needed()
    bench.screenshot("widgets-working")
    assert page.locator("text=<b>too</b>").count() == 1, "user text is shown, not run"
    assert bench.errors == []


def test_bars_grid_and_flat_line_are_drawn(desk):
    desk.write_notebook("more.ipynb", MORE)
    desk.open_notebook("more.ipynb")
    desk.focus_on_output()
    desk.run_all_cells()
    page = desk.page
    page.wait_for_selector(".wb-chart rect.bar", state="attached")
    page.locator(".wb-chart").first.scroll_into_view_if_needed()
    desk.screenshot("more-bars")
    page.locator("text=Thrust table").last.scroll_into_view_if_needed()

    def are_drawn() -> None:
        widths = page.locator(".wb-chart rect.bar").evaluate_all(
            "els => els.map(e => e.width.baseVal.value)"
        )
        assert len(widths) == 4
        assert max(widths) > 5 * min(widths)
        flat = page.locator(".wb-chart path.line").evaluate_all(
            "els => els.map(e => e.getAttribute('d') || '')"
        )
        assert any("L" in d and "NaN" not in d for d in flat)

    desk.eventually(are_drawn)
    desk.screenshot("more-flat")
    assert desk.errors == []


def test_exercises_say_what_is_off_and_give_hints(desk):
    desk.write_notebook("exercises.ipynb", EXERCISES)
    desk.open_notebook("exercises.ipynb")
    desk.focus_on_output()
    desk.run_all_cells()
    page = desk.page
    page.wait_for_selector(".wb-exercise >> nth=2")
    box = page.get_by_label("answer")
    checks = page.get_by_role("button", name="check")
    box.fill("20000")
    checks.nth(0).click()
    page.wait_for_selector("text=Off by 1000")
    page.get_by_role("button", name="hint 1 of 2").click()
    page.wait_for_selector("text=Parallel adds charge.")
    box.fill("20,0")
    checks.nth(0).click()
    page.wait_for_selector("text=Right: 20 Ah.")
    page.get_by_role("button", name="show the working").click()
    page.get_by_label("for the seconds that its datasheet states").check()
    checks.nth(1).click()
    page.wait_for_selector("text=Then it must cool.")
    checks.nth(2).click()
    page.wait_for_selector("text=Not there yet.")
    desk.screenshot("exercises")
    handle = page.locator(".noUi-handle").first
    handle.focus()
    for _ in range(2):
        page.keyboard.press("ArrowRight")
    parallel = page.get_by_title("parallel, P: type a number")

    def is_four() -> None:
        assert parallel.input_value() == "4"

    desk.eventually(is_four)
    checks.nth(2).click()
    page.wait_for_function("() => !document.body.textContent.includes('Not there yet.')")
    assert desk.errors == []


def test_projector_size_has_text_of_18_points(desk):
    desk.write_notebook("big.ipynb", BIG)
    desk.open_notebook("big.ipynb")
    desk.focus_on_output()
    desk.run_all_cells()
    page = desk.page
    page.wait_for_selector(".wb-big .wb-verdict")
    page.locator(".jp-Cell").last.scroll_into_view_if_needed()
    page.locator(".jp-OutputArea").last.evaluate("e => e.scrollIntoView(true)")

    def text_sizes() -> list:
        return page.locator(
            ".wb-chart .axis text, .wb-chart .object_grp text, .wb-big .wb-verdict, .wb-big dt"
        ).evaluate_all(
            "els => els.filter(e => e.textContent && getComputedStyle(e).display !== 'none').map(e => [e.textContent, parseFloat(getComputedStyle(e).fontSize)])"
        )

    desk.at_rest(lambda: str(text_sizes()))
    desk.screenshot("projector")
    sizes = text_sizes()
    assert len(sizes) > 15
    small = [(text, size) for text, size in sizes if size < 22]
    assert small == [], "18 pt is 24 px; a side label may be a touch smaller"
    assert desk.errors == []
