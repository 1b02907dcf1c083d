"""A page to send: what it holds is what sizing says, and nothing in it is run or fetched but its own script."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.conftest import DESIGNS
from tests.sheet.page import Page
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.design_file import DesignFile, read_design
from workbook.files.packed import packed_text
from workbook.files.sent_page import LARGEST_BYTES
from workbook.quantities import RESULTS
from workbook.sheet import live_page
from workbook.sheet.live_page import (
    MOST_CELLS,
    Slider,
    figure_keys,
    live_page_html,
    sliders_of,
    table_of,
    write_live_page,
)
from workbook.sizing.size import size
from workbook.units import units
from workbook.widgets.style import CAUTION, LIMIT, PACK

SIX = DESIGNS / "survey_six.toml"
PACKAGE = Path(live_page.__file__).parents[1]
HOSTILE = '<script>alert("1")</script> "quoted" &'


def few(file: DesignFile) -> tuple[Slider, ...]:
    """The sliders of a page with two values each, the design's own among them."""
    return tuple(fewer(slider) for slider in sliders_of(file))


def fewer(slider: Slider) -> Slider:
    other = slider.own - 1 if slider.own else 1
    kept = sorted({slider.own, other})
    values, texts = (tuple(some[k] for k in kept) for some in (slider.values, slider.texts))
    return replace(slider, values=values, texts=texts, own=kept.index(slider.own))


@pytest.fixture(autouse=True)
def _small_pages(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """Pages of 32 places, but where a test is about all of them."""
    if "long" not in request.keywords:
        monkeypatch.setattr(live_page, "sliders_of", few)


def held(page: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """What a page's script reads: its sliders and its table."""
    found = dict(re.findall(r'<script type="[^"]+" id="(page|table)">(.*?)</script>', page, re.S))
    table = zlib.decompress(base64.b64decode(found["table"]))
    return json.loads(found["page"]), json.loads(table)


def shown(value: int | None, decimals: int) -> str:
    """A figure as the script shows it, without its unit."""
    return "-" if value is None else f"{value / 10**decimals:.{decimals}f}"


def compare_with_size(file: DesignFile, sliders: tuple[Slider, ...], tried: int) -> None:
    """At places by chance: verdict, figures to the shown digit, words and flights are those of sizing it alone."""
    keys = figure_keys(size(file.design))
    table = table_of(file, sliders, keys, lambda done, of: None)
    shape = [len(slider.values) for slider in sliders]
    for place in np.random.default_rng(tried).choice(int(np.prod(shape)), tried, replace=False):
        setting = np.unravel_index(place, shape)
        changes = {s.key: s.values[k] for s, k in zip(sliders, setting, strict=True)}
        design = file.design.changed(**changes)
        alone = size(design, notices=file.notices_of(design))
        values = alone.as_dict()
        assert table["verdict"][place] == values["verdict"], changes
        for key in keys:
            quantity = RESULTS[key]
            text = "-" if values[key] is None else quantity.number(values[key])
            assert shown(table["figures"][key][place], quantity.decimals) == text, (key, changes)
        message = " ".join(table["sentences"][k] for k in table["sayings"][table["said"][place]])
        assert all(stop in message for stop in alone.stops)
        flights = table["flights"][place]
        assert flights < 0 or table["sentences"][flights] == alone.flights_text


@pytest.mark.parametrize("name", ["survey_six", "survey_wing"])
def test_places_are_what_size_json_says(name: str) -> None:
    file = read_design(DESIGNS / f"{name}.toml")
    compare_with_size(file, few(file), 10)


@pytest.mark.long
@pytest.mark.parametrize("name", ["survey_six", "survey_wing", "survey_pair", "survey_six_mission"])
def test_two_hundred_places_of_all_are_what_size_json_says(name: str) -> None:
    file = read_design(DESIGNS / f"{name}.toml")
    compare_with_size(file, sliders_of(file), 200)


def test_a_page_holds_the_design_and_opens_nothing(tmp_path: Path) -> None:
    path = tmp_path / "six.html"
    answer = write_live_page(read_design(SIX), path, date="2026-05-01")
    html = path.read_text("utf-8")
    assert answer.verdict == "close"
    assert packed_text(read_design(path)) == packed_text(read_design(SIX))
    assert not re.search(r"https?:(?!//www\.w3\.org/2000/svg)", html)
    page = Page(html)
    assert [given["src"] for _, given in page.tags if "src" in given] == []
    script = html.rsplit("<script>", 1)[1].split("</script>")[0]
    allowed = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = next(g["content"] for t, g in page.tags if g.get("http-equiv"))
    assert f"script-src 'sha256-{allowed}'" in policy
    assert policy.startswith("default-src 'none'")


def test_before_any_script_the_page_says_the_answer_as_sent() -> None:
    page, answer = live_page_html(read_design(SIX), "2026-05-01")
    data, table = held(page)
    assert answer.flights_text in Page(page).text
    shape = [len(slider["texts"]) for slider in data["sliders"]]
    own = int(np.ravel_multi_index([slider["own"] for slider in data["sliders"]], shape))
    assert table["verdict"][own] == answer.verdict
    assert table["sentences"][table["flights"][own]] == answer.flights_text


def test_an_unsafe_design_is_called_unsafe_on_its_page(tmp_path: Path) -> None:
    text = SIX.read_text("utf-8").replace("parallel = 3", "parallel = 1")
    text = text.replace("../tables", str(DESIGNS.parent / "tables"))
    path = tmp_path / "small.toml"
    path.write_text(text, "utf-8")
    page, answer = live_page_html(read_design(path, anywhere=True))
    assert answer.verdict == "unsafe"
    assert "✕ UNSAFE" in Page(page).text
    assert "Do not build or fly this design as it stands." in Page(page).text


def test_text_of_a_file_is_escaped_everywhere(tmp_path: Path) -> None:
    text = SIX.read_text("utf-8").replace("../tables", str(DESIGNS.parent / "tables"))
    name = json.dumps(HOSTILE)
    text = re.sub(r'(?m)^name = "Census.*$', lambda _: f"name = {name}", text)
    text = re.sub(r"(?m)^note = .*$", lambda _: f"note = {name}", text)
    path = tmp_path / "hostile.toml"
    path.write_text(text, "utf-8")
    file = read_design(path, anywhere=True)
    page, _ = live_page_html(file)
    scripts = [given for tag, given in Page(page).tags if tag == "script"]
    assert len(scripts) == 3  # its data, its table, its own
    assert HOSTILE in Page(page).text
    sent = tmp_path / "hostile.html"
    sent.write_text(page, "utf-8")
    assert read_design(sent).design.name == file.design.name == HOSTILE


def test_the_command_writes_beside_the_design_and_never_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    packed = tmp_path / "six.toml"
    assert main(["pack", str(SIX), "-o", str(packed)]) == 0
    assert main(["page", str(packed)]) == 0
    out = tmp_path / "six.html"
    assert "open it in a browser, or send it" in capsys.readouterr().out
    before = out.read_bytes()
    assert main(["page", str(packed)]) == 2
    assert "six.html" in capsys.readouterr().err
    assert main(["page", str(out), "--overwrite"]) == 2  # never over what it is made from
    assert out.read_bytes() == before
    assert main(["size", "--json", str(out)]) == 0
    values = json.loads(capsys.readouterr().out)
    assert main(["size", "--json", str(SIX)]) == 0
    assert {**json.loads(capsys.readouterr().out), "notes": []} == {**values, "notes": []}


def test_a_page_over_its_size_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_page, "LARGEST_BYTES", 50_000)
    with pytest.raises(InputError, match=r"the page of survey_six.toml: .* at most 50 kB"):
        write_live_page(read_design(SIX), tmp_path / "six.html")
    assert list(tmp_path.iterdir()) == []


def test_a_page_of_other_units_shows_them() -> None:
    with units("oz, in"):
        page, answer = live_page_html(read_design(SIX))
        text = RESULTS["pack_mass_g"].text(float(answer.figures()["pack_mass_g"] or 0))
    data, table = held(page)
    assert text.endswith("oz")
    assert text in Page(page).text
    figure = next(f for f in data["figures"] if f["key"] == "pack_mass_g")
    own = [slider["own"] for slider in data["sliders"]]
    place = int(np.ravel_multi_index(own, [len(s["texts"]) for s in data["sliders"]]))
    assert f"{shown(table['figures']['pack_mass_g'][place], figure['decimals'])} oz" == text


@pytest.mark.parametrize(
    ("changes", "key", "texts"),
    [
        # hand-reckoned: own value between steps, first at the least that a file may state
        ({"series": 1.0}, "series", ("1", "2", "3")),
        ({"parallel": 2.0}, "parallel", ("1", "2", "3", "4", "5")),
        ({"reserve_pct": 20.0}, "reserve_pct", ("10 %", "15 %", "20 %", "25 %", "30 %")),
        ({"reserve_pct": 0.5}, "reserve_pct", ("0.5 %", "5 %", "10 %", "15 %", "20 %", "25 %")),
    ],
)
def test_sliders_offer_what_a_design_may_have(
    changes: dict[str, float], key: str, texts: tuple[str, ...]
) -> None:
    file = read_design(SIX)
    changed = replace(file, design=file.design.changed(**changes))
    slider = next(slider for slider in sliders_of(changed) if slider.key == key)
    assert slider.texts == texts
    assert slider.values[slider.own] == changes[key]


@pytest.mark.parametrize(
    ("name", "most_g"), [("survey_six", 50.0), ("survey_wing", 50.0), ("survey_pair", 50.0)]
)
def test_payload_is_offered_in_a_builders_steps(name: str, most_g: float) -> None:
    payload_g = sliders_of(read_design(DESIGNS / f"{name}.toml"))[3].values
    assert max(np.diff(payload_g)) <= most_g  # what a camera, a lamp or a sensor weighs


def test_no_more_cells_are_offered_than_a_page_has_room_for() -> None:
    file = read_design(SIX)
    assert len(sliders_of(file)[0].values) == min(MOST_CELLS, len(file.cells))
    assert LARGEST_BYTES == 2_000_000  # issue: under 2 MB


def test_its_colours_are_those_of_pages_and_widgets() -> None:
    own = live_page.PALETTE.read_text("utf-8")
    pages = (PACKAGE / "pages/templates/voila/templates/page/page.css").read_text("utf-8")
    shared = re.findall(r"--(?:ink|ground|line|link): #\w+;", pages)
    assert len(shared) == 8  # four in the light, four in the dark
    assert [one for one in shared if one not in own] == []
    for role in (PACK, LIMIT, CAUTION):
        assert f"--{role.name}: {role.colour};" in own
