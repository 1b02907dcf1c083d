"""Lesson 13: chart, choice, comparison, map, tables and working follow every control, and agree."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.lessons.conftest import plain, shown_step
from workbook.files.cell_file import catalogue
from workbook.quantities import RESULTS
from workbook.sizing.size import size
from workbook.sizing.sweep import sweep


def points_of(chart):
    """Every survivor on the chart: place and group."""
    return {
        (round(float(x), 6), round(float(y), 6), group)
        for group, mark in chart.marks.items()
        for x, y in zip(mark.x, mark.y, strict=True)
    }


@pytest.mark.parametrize(
    "changes",
    [
        {"series_from": 6.0, "series_to": 6.0, "parallel_to": 5.0},
        {"family": "18650 power", "payload_g": 200.0},
        pytest.param({"wanted_min": 25.0}, marks=pytest.mark.long),
        pytest.param({"payload_g": 200.0}, marks=pytest.mark.long),
        pytest.param({"max_all_up_mass_g": 4000.0}, marks=pytest.mark.long),
        pytest.param({"thrust_reserve": 1.5}, marks=pytest.mark.long),
        pytest.param({"parallel_to": 5.0}, marks=pytest.mark.long),
        {"transport": 1, "wanted_min": 10.0, "parallel_to": 4.0},
    ],
    ids=lambda c: next(iter(c)),
)
def test_text_chart_and_working_change_to_the_same_value(opened, changes):
    view = opened("choosing")
    before = view.chart.finding_text, plain(view.key.html.value), points_of(view.chart)
    with view.live.held():
        for name, value in changes.items():
            view.inputs[name].value = value
    assert view.live.problems == ()
    v = view.live.values()
    # each candidate sized by itself, by the sizing of one design
    design = view.design.changed(
        **{k: v[k] for k in ("payload_g", "max_all_up_mass_g", "thrust_reserve", "wanted_min")}
    )
    expected = set()
    for cell in catalogue().values():
        if v["family"] not in ("all", f"{cell.cell_format} {cell.kind}"):
            continue
        for s in range(int(v["series_from"]), int(v["series_to"]) + 1):
            if s > 6:  # over the controllers' 26 V
                continue
            for p in range(1, int(v["parallel_to"]) + 1):
                answer = size(design.changed(cell=cell, series=s, parallel=p))
                wh = float(answer.design.pack.energy_wh)
                if answer.holds and (v["transport"] != 1 or wh <= 160.0):
                    point = answer.point
                    expected.add(
                        (
                            round(float(point.all_up_mass_g), 6),
                            round(float(point.endurance_min), 6),
                            f"{cell.cell_format} {cell.kind}",
                        )
                    )
    assert expected
    found = points_of(view.chart)
    assert {(round(x, 3), round(y, 3), g) for x, y, g in found} == {
        (round(x, 3), round(y, 3), g) for x, y, g in expected
    }
    assert f"hold every limit {len(expected)}" in plain(view.key.html.value)
    lightest = min(expected)
    minutes = RESULTS["endurance_min"].text(lightest[1])  # rounded to the safe side
    assert f"{minutes} with a pack of" in view.chart.finding_text
    assert shown_step(view, "endurance_min") == f"= {lightest[1]:.4g} min"
    assert shown_step(view, "all_up_mass_g") == f"= {lightest[0]:.4g} g"
    assert view.chart.ring.x.tolist() == pytest.approx([lightest[0]])
    assert (view.chart.finding_text, plain(view.key.html.value), points_of(view.chart)) != before


def test_the_front_is_drawn_through_what_none_beats(opened):
    view = opened("choosing")
    survivors = points_of(view.chart)
    # by the definition, one against all
    kept = sorted(
        (x, y)
        for x, y, _ in survivors
        if not any((u <= x and w >= y) and (u < x or w > y) for u, w, _ in survivors)
    )
    drawn = list(zip(view.chart.front.x.tolist(), view.chart.front.y.tolist(), strict=True))
    assert drawn == pytest.approx(np.array(kept))
    assert len(view.on_front.options) == len(kept) + 1
    assert set(view.chart.names) >= {o.split(":")[0] for o, k in view.on_front.options if k}


def test_a_click_and_the_list_choose_the_same(opened):
    view = opened("choosing")
    key = view.chart.keys_of["21700 energy"][0]
    view.chart.click("21700 energy", 0)
    assert view.result.chosen.key == key == ("Sedge", 6, 3)
    assert view.on_front.value == key
    assert "Sedge 6S3P" in plain(view.verdict.html.value)
    assert view.chart.ring.x.tolist() == pytest.approx([view.result.chosen.all_up_mass_g])
    assert 'wb-chosen" title="close, chosen"' in view.map.table.value
    other = next(k for _, k in view.on_front.options if k and k != key)
    view.on_front.value = other
    assert view.result.chosen.key == other
    assert shown_step(view, "endurance_min") == f"= {view.result.chosen.endurance_min:.4g} min"
    view.on_front.value = ()
    assert view.result.chosen.key == view.result.found.lightest.key


def test_only_the_choice_changes_and_nothing_is_swept_again(opened):
    view = opened("choosing")
    before = view.result.found
    view.pick(("Sedge", 6, 3))
    assert view.result.found is before
    view.inputs["wanted_min"].value = 31.0
    assert view.result.found is not before
    assert view.result.chosen.key == ("Sedge", 6, 3), "the choice stays while it is there"
    view.inputs["series_to"].value = 5.0
    assert "Sedge 6S3P is not among these" in plain(view.verdict.html.value)


def test_side_by_side_with_today_the_opened_design_and_the_lightest(opened):
    view = opened("choosing")
    view.pick(("Sedge", 6, 3))
    today = view.result.today
    text = plain(view.changes.html.value)
    now = view.result.answer.figures()
    then = today.figures()
    row = f"endurance, min {then['endurance_min']:.1f} {now['endurance_min']:.1f}"
    assert row in text
    assert "better" in text
    assert "cell from 6S lithium-polymer pack, 7.3 Ah to Sedge" in text
    assert "flight time asked for" in plain(view.limits.html.value)
    view.inputs["beside"].value = "the design as opened"
    assert "nothing" in plain(view.changes.html.value), "it is the same pack"
    view.inputs["beside"].value = "the lightest"
    view.pick(("Sedge", 6, 4))
    assert "parallel, P from 3 to 4" in plain(view.changes.html.value)


def test_the_map_agrees_with_sizing_each_field(opened):
    view = opened("choosing")
    view.pick(("Sedge", 6, 3))
    shown = view.result.map
    assert set(shown["series"]) == set(range(1, 13))
    design = view.result.answer.design
    for s, p in ((6, 3), (6, 4), (5, 3), (7, 5)):
        answer = size(design.changed(series=s, parallel=p))
        field = shown.find("Sedge", s, p)
        assert field.holds == answer.holds
    field, answer = shown.find("Sedge", 6, 3), size(design.changed(series=6, parallel=3))
    tightest = min(answer.limits, key=lambda limit: limit.margin_pct)
    assert field.holds
    assert field.binds == tightest.name
    assert field.margin_pct == pytest.approx(tightest.margin_pct, rel=1e-3)
    assert "2 of 96 hold" in view.map.finding_text


def test_the_table_is_sorted_and_sieved(opened):
    view = opened("choosing")

    def column(number):
        rows = view.listed.html.value.split("<tbody>")[1].split("<tr>")[1:]
        return [plain(r.split("<td")[number].split(">", 1)[1]) for r in rows]

    masses = [float(m) for m in column(1)]
    assert masses == sorted(masses)
    assert len(masses) == min(view.result.holding, 15)  # the table's length
    view.sort.value = "flight time, longest first"
    times = [float(t) for t in column(3)]
    assert times == sorted(times, reverse=True)
    view.show_only.value = ("front", "")
    assert len(column(1)) == len(view.result.front)
    reason = view.result.found.rejections[0]
    view.show_only.value = ("by", reason.key)
    assert f"of {reason.breaks:,} shown" in plain(view.listed.html.value)
    view.show_only.value = ("all", "")
    assert f"of {len(view.result.found):,} shown" in plain(view.listed.html.value)


def test_every_rejected_one_is_counted_once(opened):
    view = opened("choosing")
    found = view.result.found
    assert sum(r.binds for r in found.rejections) == found.worked - view.result.holding
    text = plain(view.reasons.html.value)
    for r in found.rejections:
        assert f"{r.name} {r.binds} {r.breaks} {r.text}" in text
    again = sweep(view.design, list(catalogue().values()), range(1, 13), range(1, 9))
    assert [r.binds for r in again.rejections] == [r.binds for r in found.rejections]


def test_nothing_holds_and_ranges_that_cannot_be(opened):
    view = opened("choosing")
    view.inputs["wanted_min"].value = 60.0
    assert view.result.chosen is None
    assert "No candidate flies 60 min" in plain(view.verdict.html.value)
    assert view.map.finding_text.startswith("Sedge: 0 of")
    view.keep_now()
    assert "nothing is kept" in view.kept.value
    view.inputs["series_from"].value = 13.0
    assert "from 13 to 12 there is nothing" in view.live.problems[0]
    view.keep_now()
    assert "no result" in view.kept.value


def test_what_is_chosen_is_carried_and_opens_the_next_lesson(opened, folder):
    view = opened("choosing")
    view.pick(("Teal", 6, 4))
    view.keep_now()
    assert "next lesson" in view.kept.value
    again = opened("margin_budget")
    pack = again.design.pack
    assert (pack.cell.name, pack.series, pack.parallel) == ("Teal", 6, 4)
    assert math.isclose(float(again.design.flight.wanted_min), 23.0)


def test_cancelled_work_shows_what_was_looked_at(opened, monkeypatch):
    from contextlib import contextmanager

    view = opened("choosing")

    @contextmanager
    def cancelled(_):
        yield lambda done, total: False

    monkeypatch.setattr(view.progress_bar, "running", cancelled)
    view.inputs["payload_g"].value = 300.0
    found = view.result.found
    assert not found.complete
    assert 0 < found.worked < found.asked
    assert f"Stopped after {found.worked:,} of {found.asked:,}" in view.chart.finding_text
