"""A fresh person's ten minutes: from a screenshot, a graph's picture, a scale and a known hover to a verdict.

By mouse and keyboard only, with no file edited by hand. How long it took is reported, by the clock and as a person
would need by the keystroke-level model; nothing is asserted of either.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.browser.desk import IDLE, Desk
from tests.pictures.drawn import GraphPicture, TablePicture, invented_rows
from tests.pictures.test_curves import CURRENTS_A, truth
from workbook.files.cell_file import read_cell
from workbook.files.design_file import read_design
from workbook.pictures.recognise import can_read
from workbook.pictures.trace import can_follow

pytestmark = [
    pytest.mark.browser,
    pytest.mark.long,
    pytest.mark.skipif(not (can_read() and can_follow()), reason="the extra 'picture' is lacking"),
]
CLICK_S, KEY_S, THINK_S = 1.1 + 0.2 + 0.4, 0.28, 1.35
"""To point, click and move the hand there; a key of an average typist; to make up one's mind before each.
Source: Card, Moran and Newell, Comm. ACM 23, 396, 1980, table I."""
TRACER = ".wb-tracer"
GRAPH = GraphPicture(truth(), [f"{amps:g} A" for amps in CURRENTS_A], jpeg=75)
TABLE = TablePicture(
    rows=invented_rows(22.2, 10, 1900.0), size_px=18, jpeg=70, noise=4, lost=[(4, 3)],
    title="Heron motor 1300 rpm/V, propeller 9x4.5, 6S",
)  # fmt: skip
LOST_A = "5.43"  # 120.2 W / 22.14 V: the cell that the screenshot has lost, as its own row gives it


@dataclass
class Person:
    """Somebody at the desk who has only a mouse and a keyboard; what they do is counted."""

    desk: Desk
    clicks: int = 0
    keys: int = 0

    def click(self, what: Any) -> None:
        what.scroll_into_view_if_needed()
        what.click()
        self.rest(1)

    def type(self, box: Any, text: str) -> None:
        box.scroll_into_view_if_needed()
        box.click(click_count=3)
        self.desk.page.keyboard.type(text)
        self.desk.page.keyboard.press("Enter")
        self.rest(1, len(text) + 1)

    def choose(self, box: Any, option: str) -> None:
        self.desk.choose(box, option)
        self.rest(2)

    def upload(self, button: Any, path: Path) -> None:
        button.scroll_into_view_if_needed()
        with self.desk.page.expect_file_chooser() as chooser:
            button.click()
        chooser.value.set_files(path)
        self.rest(3)

    def open_link(self, name: str, notebook: str) -> None:
        """Follow a link to a notebook and run its cells, as the page says."""
        page = self.desk.page
        page.get_by_role("link", name=name).first.click()
        page.wait_for_function(
            f"() => window.jupyterapp?.shell?.currentWidget?.context?.path === '{notebook}'"
        )
        page.wait_for_function(IDLE, timeout=60_000)
        self.desk.focus_on_output()
        self.desk.run_all_cells()
        self.rest(3)

    def rest(self, clicks: int, keys: int = 0) -> None:
        """Count what was done, and wait until the page has answered."""
        self.clicks, self.keys = self.clicks + clicks, self.keys + keys
        self.desk.wait_until_idle()
        self.desk.page.wait_for_timeout(250)

    @property
    def by_hand_s(self) -> float:
        return self.clicks * (CLICK_S + THINK_S) + self.keys * KEY_S


def take_table(person: Person, picture: Path) -> None:
    page = person.desk.page
    person.upload(page.locator(".wb-table-from-picture .widget-upload").first, picture)
    person.click(page.get_by_role("button", name="read the text"))
    page.wait_for_selector("text=10 rows of 7 columns are read", timeout=90_000)
    person.type(page.locator('.wb-doubt input[title*="nothing was read here"]'), LOST_A)
    marked = page.locator(".wb-doubt input")
    for _ in range(6):
        if not marked.count():
            break
        person.click(page.get_by_role("button", name="it is right"))
    person.type(page.get_by_label("saved as"), "heron 9x4.5")
    person.click(page.get_by_role("button", name="use this table in my design"))
    page.wait_for_selector("text=Saved as tables/mine_heron_9x4_5.csv", timeout=20_000)
    person.desk.screenshot("ten-table")


def take_cell(person: Person, picture: Path) -> None:
    page = person.desk.page
    person.upload(page.locator(".wb-cell-from-picture .widget-upload").first, picture)
    page.wait_for_function(f"() => document.querySelectorAll('{TRACER} .bqplot image').length")
    for value, at in (
        (0.0, (0.0, 2.4)),
        (5000.0, (5.0, 2.4)),
        (2.5, (0.0, 2.5)),
        (4.0, (0.0, 4.0)),
    ):
        in_tracer(person, "its printed value", value)
        on_graph(person, *at)
    for n, (amps, (charge, volts)) in enumerate(zip(CURRENTS_A, truth(), strict=True)):
        if n:
            person.click(page.get_by_role("button", name="another curve"))
        in_tracer(person, "its current", amps)
        for k in (0, 15, 60, 90, 112, 119):
            if not GRAPH.beside_legend(charge[k], volts[k], 8.0):
                on_graph(person, charge[k], volts[k])
    person.desk.screenshot("ten-graph")
    figures = {"mass of one cell": "68", "rated capacity": "5 Ah", "continuous": "10", "burst": "15",
               "standard charge": "1.5", "highest charge": "4", "resistance of a cell": "30"}  # fmt: skip
    for title, text in figures.items():
        person.type(page.locator(f'.wb-fitter input[title^="{title}"]').first, text)
    person.type(page.locator(".wb-fitter").get_by_label("name"), "Reed 50")
    save = page.get_by_role("button", name="save as a cell of my own")
    person.click(save)  # asked whether format, kind and cutoff are the practice cell's too
    person.click(save)
    page.wait_for_selector('.wb-fitter .wb-finding:has-text("Saved as cells/reed-50.toml")')
    person.desk.screenshot("ten-cell")


def in_tracer(person: Person, title: str, value: float) -> None:
    person.type(person.desk.page.locator(f'{TRACER} input[title^="{title}"]').first, f"{value:g}")


def on_graph(person: Person, ah: float, volts: float) -> None:
    """Click on the picture where a charge and a voltage stand."""
    image = person.desk.page.locator(f"{TRACER} .bqplot image").first
    x, y = GRAPH.at(ah, volts)
    image.scroll_into_view_if_needed()
    box = image.bounding_box()
    person.desk.page.mouse.click(
        box["x"] + (x + 0.5) * box["width"] / GRAPH.size[0],
        box["y"] + (y + 0.5) * box["height"] / GRAPH.size[1],
    )
    person.rest(1)


def fill_craft(person: Person) -> None:
    page = person.desk.page
    craft = page.locator(".wb-my-craft")

    def box(title: str) -> Any:
        return craft.locator(f'[title="{title}"] input, input[title="{title}"]').first

    def origin(title: str, word: str) -> None:
        person.choose(craft.locator(f'select[title="where it comes from: {title}"]').first, word)

    person.type(box("craft without pack, g"), "2.4 lb")
    origin("craft without pack, g", "measured")
    person.type(box("payload, g"), "120 g")
    person.click(craft.get_by_text("4. The pack").first)
    person.choose(craft.locator('select[title="choose for cell"]'), "Reed 50")
    person.type(box("series, S"), "6")
    person.type(box("parallel, P"), "3")
    person.desk.screenshot("ten-craft")


def tell_hover(person: Person) -> None:
    """Amperes and volts as a meter told them in hover, and the mass on the scale that day."""
    page = person.desk.page
    person.click(page.locator(".wb-my-craft").get_by_text("A flight that you have timed").first)
    for label, text in (("or: amperes", "14"), ("and volts", "22"), ("mass then, g", "1900 g")):
        person.type(page.locator(".wb-my-craft").get_by_label(label), text)
    person.click(page.get_by_role("button", name="hold against the plan"))
    person.desk.screenshot("ten-hover")
    person.click(page.get_by_role("button", name="use it"))


def on_the_bench(person: Person) -> None:
    page = person.desk.page
    bench = page.locator(".wb-bench")
    person.choose(bench.locator('select[title="choose a design"]'), "designs/mine.toml")
    person.click(bench.get_by_role("button", name="load", exact=True))
    page.wait_for_selector("text=Loaded mine.toml")
    person.desk.screenshot("ten-bench")


def test_from_a_screenshot_a_graph_a_scale_and_a_hover_to_a_verdict(
    desk: Desk, tmp_path: Path, record_property: Any
) -> None:
    table, graph = tmp_path / "screenshot.jpg", tmp_path / "graph.jpg"
    table.write_bytes(TABLE.draw())
    graph.write_bytes(GRAPH.draw())
    desk.open_notebook("start.ipynb")
    person, began = Person(desk), time.monotonic()
    person.open_link("From pictures", "from_pictures.ipynb")
    take_table(person, table)
    take_cell(person, graph)
    person.open_link("enter your craft", "my_craft.ipynb")
    fill_craft(person)
    tell_hover(person)
    person.click(desk.page.get_by_role("button", name="save", exact=True))
    desk.page.wait_for_selector("text=Saved as designs/mine.toml")
    verdict = desk.at_rest(desk.page.locator(".wb-my-craft .wb-verdict").inner_text)
    took_s = time.monotonic() - began
    person.open_link("the sizing bench", "sizing_bench.ipynb")
    on_the_bench(person)
    taken = (
        f"{took_s:.0f} s by the clock to the verdict, {person.clicks} clicks and {person.keys} keys: "
        f"{person.by_hand_s / 60:.1f} min by hand."
    )
    record_property("ten_minutes", taken)
    print(taken)
    assert desk.at_rest(desk.page.locator(".wb-bench .wb-verdict").inner_text) == verdict
    folder = desk.lab.folder
    design = read_design(folder / "designs" / "mine.toml").design
    assert design.craft.table.top_thrust_gf == 1900.0
    assert design.craft.mass_without_pack_g == pytest.approx(
        2.4 * 453.59237
    )  # 1 lb, by agreement of 1959
    assert (design.pack.cell.name, design.pack.series, design.pack.parallel) == ("Reed 50", 6, 3)
    origins = {origin.key: origin.origin for origin in design.origins}
    assert origins["flight_factor"] == origins["mass_without_pack_g"] == "measured"
    assert origins["thrust_table"] == "maker's"
    cell = read_cell(folder / "cells" / "reed-50.toml")
    assert [curve.current_a for curve in cell.curves] == list(CURRENTS_A)
    # bqplot says the first when a point is added to a mark that can be dragged, and draws it right at once after;
    # JupyterLab the second of a notebook that it saved in a test before
    known = ("translate(undefined", "widget model not found")
    assert [line for line in desk.errors if not any(part in line for part in known)] == []
