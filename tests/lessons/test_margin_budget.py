"""Lesson 8: table of lines, picture, charts, tables and working follow every change, and agree."""

from __future__ import annotations

import asyncio
import re
from dataclasses import replace

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.files.budget_file import read_budget
from workbook.lessons.margin_budget import BarPiece, BudgetPicture
from workbook.numbers import rounded
from workbook.sizing.budget import budget
from workbook.sizing.budget_lines import STANDARD_LINES


@pytest.mark.parametrize(
    "changes",
    [{"wanted_min": 22.0}, {"parallel": 4.0}, {"draws": 16_384}],
    ids=lambda c: next(iter(c)),
)
def test_text_chart_and_working_change_to_the_same_value(opened, changes):
    view = opened("margin_budget")
    view.working_panel.fold.value = True
    before = plain(view.key.html.value), view.chance.finding_text, view.working_panel.html.value
    for name, value in changes.items():
        view.inputs[name].value = value
    values = view.live.values()
    # the computation called by itself, with the same lines
    design = view.design.changed(wanted_min=values["wanted_min"], parallel=int(values["parallel"]))
    time = budget(design, STANDARD_LINES, draws=values["draws"]).reading("endurance_min")
    assert shown_step(view, "endurance_expected_min") == f"= {time.expected:.4g} min"
    assert f"{rounded(time.expected, 1, 'down'):.1f} min" in view.picture.finding_text
    assert f"as expected {rounded(time.expected, 1, 'down'):.1f} min" in plain(view.key.html.value)
    assert f"95 of 100 last {rounded(time.p05, 1, 'down'):.1f} min" in view.chance.finding_text
    assert point_at(view.chance)[0] == pytest.approx(time.p05)
    row = plain(view.readings.html.value).split("endurance, min ")[1].split(" ")[:6]
    wanted = (time.plan, time.expected, time.worst, time.p05, time.p50, time.p95)
    assert row == [f"{rounded(v, 1, 'down'):.1f}" for v in wanted]
    assert f"asked {values['wanted_min']:g}" in view.picture.svg.value
    after = plain(view.key.html.value), view.chance.finding_text, view.working_panel.html.value
    assert after != before


@pytest.mark.parametrize(
    ("width", "named", "narrow"),
    [
        (1190, False, False),
        (930, False, True),
        (880, True, False),
        (0, True, False),  # a worksheet
    ],
)
def test_the_bars_stand_beside_the_table_or_have_names_of_their_own(opened, width, named, narrow):
    view = opened("margin_budget")
    view.page_width.width = width
    assert view.picture.named == named
    assert view.lines.narrow == narrow


@pytest.mark.parametrize("width", [1190, 930])
def test_beside_the_table_the_bars_have_the_room_that_it_leaves(opened, width):
    view = opened("margin_budget")
    view.page_width.width = width
    table = sum(int(part.layout.width[:-2]) for part in view.lines.rows[1].children)
    assert table + view.picture.width_px <= width


def test_the_chance_on_the_curve_is_the_chance_in_words(opened):
    view = opened("margin_budget")
    view.inputs["wanted_min"].value = 26.0
    time_min, share_pct = line_of(view.chance)
    met_pct = view.result.budget.met_pct
    # read the curve at the time asked for; it falls from left to right
    assert np.interp(26.0, time_min, share_pct) == pytest.approx(met_pct, abs=1.5)
    assert f"{rounded(met_pct, 0, 'down'):.0f} % of the flights" in view.chance.finding_text
    assert shown_step(view, "met_pct") == f"= {met_pct:.4g} %"


def test_a_typed_line_changes_the_budget_and_a_wrong_one_is_refused(opened):
    view = opened("margin_budget")
    before = view.result.budget.reading("endurance_min").expected
    view.lines.boxes["wind", "expected"].value = "10,0"
    after = view.result.budget.reading("endurance_min").expected
    assert after < before
    view.lines.boxes["wind", "low"].value = "12"
    assert "they must not fall" in view.lines.reply.text
    view.lines.boxes["cold", "high"].value = "a lot"
    assert "cells colder than planned, high: 'a lot' is not one number" in view.lines.reply.text
    assert view.result.budget.reading("endurance_min").expected == after
    view.lines.boxes["capacity", "low"].value = "-150"
    assert "at its worst it takes all of" in view.live.problems[0], "the computation refuses"
    assert view.live.current() is None


def test_a_line_of_ones_own_comes_and_goes(opened):
    view = opened("margin_budget")
    rows = len(view.lines.value)
    view.add_button.click()
    assert "no name" in view.own_reply.text
    view.own_name.value, view.own_effect.value = "camera heats up", "avionics power"
    view.add_button.click()
    assert view.own_reply.text == ""
    assert len(view.lines.value) == rows + 1
    assert view.result.budget.lines[-1].name == "camera heats up"
    assert "camera heats up" in dict(view.inputs["settled"].options)
    view.own_name.value = "camera heats up"
    view.add_button.click()
    assert "already" in view.own_reply.text
    view.inputs["settled"].value = "camera_heats_up"
    view.lines.remove_buttons["camera_heats_up"].click()
    assert len(view.result.budget.lines) == rows
    assert view.inputs["settled"].value == ""
    assert "wind" not in view.lines.remove_buttons, "a standard line stays"


def test_shares_are_sorted_and_what_is_known_narrows_the_spread(opened):
    view = opened("margin_budget")
    shares = view.result.shares.shares
    names = [s.line.name for s in shares[: len(view.shares.bars)]]
    assert [bar.name for bar in view.shares.bars] == names
    assert [bar.value for bar in view.shares.bars] == pytest.approx(
        [100 * max(s.total, 0) for s in shares[: len(names)]]
    )
    view.inputs["settled"].value = shares[0].line.key
    narrower = view.result.narrower
    assert narrower < 0.95
    assert f"the spread is {100 * narrower:.0f} % of what it was" in view.chance.finding_text
    assert len(view.chance.lines) == 2
    view.inputs["settled_by"].value = "taken out"
    then = view.result.settled_budget.reading("endurance_min")
    lines = [
        line if line.key != shares[0].line.key else replace(line, low=0, expected=0, high=0)
        for line in STANDARD_LINES
    ]
    assert then == budget(view.result.budget.design, lines, draws=1024).reading("endurance_min")
    view.inputs["settled"].value = ""
    assert len(view.chance.lines) == 1


def test_cancelled_work_is_reported_and_the_last_figures_stay(opened, monkeypatch):
    view = opened("margin_budget")
    before = view.key.html.value
    running = view.progress_bar.running

    def cancelled(what):
        held = running(what)
        enter = held.__enter__

        class Held:
            def __enter__(self):
                report = enter()
                view.progress_bar.cancel_button.click()
                return report

            def __exit__(self, *fault):
                return held.__exit__(*fault)

        return Held()

    monkeypatch.setattr(view.progress_bar, "running", cancelled)
    view.inputs["draws"].value = 262_144
    assert "stopped before its end" in view.live.problems[0]
    assert view.key.html.value == before


def test_in_a_notebook_the_newest_input_wins(opened):
    async def drag():
        view = opened("margin_budget")
        runs = []
        compute = view.live.compute
        view.live.compute = lambda **v: runs.append(v["wanted_min"]) or compute(**v)
        for asked in range(20, 30):
            view.inputs["wanted_min"].value = float(asked)
            await asyncio.sleep(0.01)
        await view.live.settled()
        return view, runs

    view, runs = asyncio.run(drag())
    assert len(runs) < 10, "not a queue of every step"
    assert runs[-1] == 29.0
    assert "asked 29 min" in plain(view.key.html.value)


def test_what_is_kept_opens_again(opened, folder):
    view = opened("margin_budget")
    view.inputs["wanted_min"].value = 23.0
    view.lines.boxes["wind", "high"].value = "18"
    view.own_name.value = "tall mast"
    view.add_button.click()
    view.keep_now()
    assert "next lesson" in view.kept.value
    again = opened("margin_budget")
    assert again.inputs["wanted_min"].value == 23.0
    assert again.lines.value == view.lines.value
    assert "tall_mast" in again.lines.remove_buttons
    assert read_budget(folder / "designs" / "mine_budget.toml") == view.lines.value
    (folder / "designs" / "mine_budget.toml").write_text("format = 3")
    assert "Your own lines cannot be used" in opened("margin_budget").own_reply.text


def test_a_budget_changed_elsewhere_is_asked_about_and_its_remarks_stay(opened, folder):
    view = opened("margin_budget")
    view.keep_now()
    path = folder / "designs" / "mine_budget.toml"
    path.write_text("# of last autumn\n" + path.read_text("utf-8"), "utf-8")
    view.keep_now()
    assert "changed elsewhere" in view.kept.value
    view.keep_now()
    assert "Kept in" in view.kept.value
    assert path.read_text("utf-8").startswith("# of last autumn\n")
    path.write_text("format = 3", "utf-8")
    view.keep_now()
    assert "mine_budget.toml" in view.kept.value
    assert path.read_text("utf-8") == "format = 3"


def test_a_craft_that_may_not_fly_has_no_shares_and_says_so(opened):
    view = opened("margin_budget")
    view.lines.boxes["scale", "high"].value = "300"
    assert view.result.shares is None
    assert "it is undefined for" in view.shares.finding_text
    assert view.shares.bars == ()


def test_bars_of_the_picture_are_to_scale():
    picture = BudgetPicture()
    picture.update(40.0, 30.0, [BarPiece(36.0, 30.0), BarPiece(32.0, 20.0)], "finding")
    boxes = [
        (float(x), float(w), fill)
        for x, w, fill in re.findall(
            r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="10" rx="0" fill="(#\w+)"',
            picture.svg.value,
        )
    ]
    solid = [b for b in boxes if b[2] == "#2b37af"][:2]
    worst = [b for b in boxes if b[2] == "#7e1f0a"][:2]
    # 40 min of axis over 570 - 10 - 110 px: 11.25 px a minute
    assert [w for _, w, _ in solid] == pytest.approx([4 * 11.25] * 2, abs=0.2)
    assert [w for _, w, _ in worst] == pytest.approx([112.5] * 2, abs=0.2)
    assert solid[1][0] == pytest.approx(10 + 32 * 11.25, abs=0.2)
    assert "asked 30" in picture.svg.value
    assert ">4.0 and 10.0<" in picture.svg.value
