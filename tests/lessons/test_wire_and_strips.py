"""Lesson 11: picture, tables, chart and working follow every control, and agree."""

from __future__ import annotations

import re

import pytest

from tests.bench.arranged import example_pack
from tests.lessons.conftest import plain, point_at, shown_step, step
from workbook.bench.current_path import current_path
from workbook.files.design_file import read_design
from workbook.lessons.wire_and_strips import StripPicture
from workbook.numbers import rounded

CASES = [
    {"current_a": 20.0},
    {"burst_a": 70.0},
    {"lead_mm": 300.0},
    {"awg": 8},
    {"material": "copper"},
    {"width_mm": 10.0},
    {"thickness_mm": 0.2},
    {"series_layers": 3},
    {"end_layers": 3},
    {"tabs": "each"},
    {"weak_cell_pct": 80.0},
]


def everything(view) -> str:
    parts = (view.figures, view.strips, view.gauges)
    text = " ".join(plain(p.html.value) for p in parts)
    return f"{text} {view.picture.svg.value} {view.chart.finding_text}"


@pytest.mark.parametrize("changes", CASES, ids=lambda c: next(iter(c)))
def test_text_picture_and_working_agree_when_an_input_changes(opened, changes) -> None:
    view = opened("wire_and_strips")
    before = everything(view)
    for name, value in changes.items():
        view.inputs[name].value = value
    assert view.live.problems == ()
    result = view.result
    assert everything(view) != before
    # picture: the drawn currents are the network's; every series step adds up to the pack current
    drawn = [float(a) for a in re.findall(r'data-current-a="([\d.e+-]+)"', view.picture.svg.value)]
    assert sorted(drawn) == pytest.approx(
        sorted(abs(float(a)) for a in result.strips.network.current_a), rel=1e-3, abs=1e-6
    )
    series = [
        float(a)
        for a in re.findall(r'"series" data-current-a="([\d.e+-]+)"', view.picture.svg.value)
    ]
    assert sum(series) == pytest.approx(5 * result.current_a, rel=1e-3)  # 6 groups: 5 steps
    # chart and text: the lead's temperature, drop and heat
    assert point_at(view.chart)[0] == pytest.approx(result.current_a)
    assert point_at(view.chart)[1] == pytest.approx(min(result.wire.chosen.temperature_c, 160.0))
    assert f"{rounded(result.wire.chosen.drop_mv, 0, 'up'):.0f} mV" in view.chart.finding_text
    assert step(view, "lead_drop_mv").result == pytest.approx(result.wire.chosen.drop_mv)
    # key figures and working
    assert f"lost on the way {rounded(result.drop_v, 2, 'up'):.2f} V" in plain(
        view.figures.html.value
    )
    assert shown_step(view, "path_drop_v") == f"= {result.drop_v:.4g} V"
    assert shown_step(view, "joint_mohm") == f"= {result.joint_mohm:.4g} mΩ"


def test_the_strips_table_says_which_kind_is_too_thin(opened) -> None:
    view = opened("wire_and_strips")
    rows = plain(view.strips.html.value)
    assert "series step" in rows
    assert "✕ too thin" in rows
    with view.live.held():
        for name, value in {
            "current_a": 20.0,
            "burst_a": 30.0,
            "thickness_mm": 0.2,
            "series_layers": 2,
            "end_layers": 4,
        }.items():
            view.inputs[name].value = value
    assert "✕" not in plain(view.strips.html.value)


def test_a_current_too_high_for_every_lead_stays_on_the_chart(opened) -> None:
    view = opened("wire_and_strips")
    view.inputs["burst_a"].value = 240.0
    view.inputs["current_a"].value = 120.0
    assert view.live.problems == ()
    assert point_at(view.chart)[1] == 160.0
    assert "above 200 °C" in view.chart.finding_text
    assert "none listed" in plain(view.figures.html.value)


def test_a_burst_below_the_steady_current_is_refused(opened) -> None:
    view = opened("wire_and_strips")
    view.inputs["burst_a"].value = 10.0
    assert "burst current: 10 is not possible" in view.live.problems[0]


def test_joints_and_lead_carry_on(opened, folder) -> None:
    view = opened("wire_and_strips")
    view.inputs["lead_mm"].value = 200.0
    view.keep_now()
    kept = read_design(folder / "designs" / "mine.toml")
    assert kept.design.pack.joint_mohm == pytest.approx(view.result.joint_mohm, abs=0.05)
    assert kept.part.bench.lead_mm == 200.0
    assert opened("wire_and_strips").opened.own


def test_every_piece_is_drawn_once_and_the_thickest_carries_most():
    path = current_path(example_pack(3, 2), 20.0, 30.0, 100.0, 12)
    picture = StripPicture()
    picture.update(path.layout, path.strips.network, "Three groups of two.")
    drawn = re.findall(
        r'stroke-width="([\d.]+)"[^>]*data-current-a="([\d.e-]+)"', picture.svg.value
    )
    assert len(drawn) == len(path.strips.network.links)
    amps = sorted(abs(float(a)) for a in path.strips.network.current_a)
    assert sorted(float(a) for _, a in drawn) == pytest.approx(amps, rel=1e-3, abs=1e-3)
    by_current = sorted((float(a), float(width)) for width, a in drawn)
    assert by_current[-1][1] == max(width for _, width in by_current) == pytest.approx(13.5)
    assert picture.svg.value.count("<circle") == 2 * 2 * 6  # a can and a joint, on either face


def test_a_strip_that_melts_is_reported_as_melting(opened):
    view = opened("wire_and_strips")
    with view.live.held():
        view.inputs["burst_a"].value = view.inputs["current_a"].value = 400.0
        view.inputs["width_mm"].value = view.inputs["width_mm"].least
    assert "melts" in plain(view.strips.html.value)


def test_in_little_room_the_picture_is_drawn_narrow_at_once(opened) -> None:
    picture = opened("wire_and_strips").picture
    picture.fit(370)
    assert 'viewBox="0 0 500 ' in picture.svg.value
