"""Procedures: the numbers in them, the limits, and the words that must be there."""

import numpy as np
import pytest

from tests.bench.arranged import example_pack
from workbook.bench import procedure as p
from workbook.bench.layout import layouts
from workbook.bench.procedure import weld_order

FLIGHT = {
    "series": 6,
    "current_a": 25.0,
    "landing_v": 3.2,
    "charge_ah": 8.0,
    "minutes": 19.2,
    "max_c": 60.0,
    "pack_mohm": 60.0,
    "mass_g": 620.0,
}


@pytest.mark.parametrize(
    ("text", "good", "bad"),
    [
        ("spread between groups, full", 30.0, 40.0),
        ("spread between groups, nearly empty", 80.0, 100.0),
        ("resistance of the pack", 72.0, 73.0),  # 60 + 20 %
        ("mass", 601.4, 600.0),  # 620 +- 3 %
        ("mass", 638.6, 640.0),
        ("charge delivered", 7.68, 7.6),  # 8 - 4 %
        ("hottest cell", 55.0, 58.0),
    ],
)
def test_each_figure_of_the_acceptance_has_its_limit(text, good, bad):
    (item,) = (item for item in p.checks("acceptance", **FLIGHT) if item.text == text)
    assert item.passes(good)
    assert not item.passes(bad)


def test_running_total_by_group():
    items = [p.checks("running_voltage", step=step, cell_v=3.5)[0] for step in (1, 2, 3)]
    np.testing.assert_allclose([i.expected for i in items], [3.50, 7.00, 10.50])
    assert items[2].passes(10.5)
    assert not items[2].passes(10.5 - 3.5)  # a group missed
    assert not items[1].passes(0.02)  # a group turned
    assert "turned or missed" in items[0].caution
    assert items[1].caution == ""


def test_first_charge_numbers_and_cautions():
    figures = {"cell_v": 4.2, "first_a": 2.0, "end_a": 0.5, "min_c": 0.0, "max_c": 45.0}
    items = p.checks("first", series=6, **figures)
    assert items[1].expected == pytest.approx(25.2)
    assert not items[6].passes(4.26)
    text = " ".join(i.text + i.caution for i in items)
    for word in ("4.35 V", "Below 0 °C", "balanc", "fire", "4.25 V"):
        assert word in text


def test_proof_discharge_limits():
    items = p.checks("proof", **FLIGHT)
    by_text = {item.text: item.expected for item in items}
    assert by_text["End the test when the pack under load reaches"] == pytest.approx(
        19.2
    )  # 6 x 3.2 V
    assert by_text["or when the hottest cell reaches"] == 55.0
    delivered = next(i for i in items if i.unit == "Ah")
    assert delivered.passes(7.7)
    assert not delivered.passes(7.6)


def test_storage():
    figures = {"storage_v": 3.7, "cycles": 400.0, "cutoff_v": 2.5, "pack_mohm": 50.0}
    items = p.checks("storage", series=4, alone=True, **figures)
    assert items[0].expected == pytest.approx(14.8)
    assert items[0].passes(14.6)
    assert not items[0].passes(16.8)
    # 4 x 0.5 V over twice 50 mohm: 20 A
    assert any("about 20 A flow" in item.caution for item in items)
    assert any("after about 400 full cycles" in item.text for item in items)


def test_weld_count():
    figures = {"strip": "nickel 0.15 x 8 mm", "spots": 6, "welds": 288}
    items = p.checks("welds", **figures, cans_v=8.4)
    assert next(i for i in items if i.unit == "spots").expected == 288
    assert any("nickel 0.15 x 8 mm" in i.text for i in items)
    assert any("up to 8.4 V" in i.caution for i in items)
    # one cell alone has no neighbour
    assert len(p.checks("welds", **figures, cans_v=0.0)) == len(items) - 1


def test_what_one_cell_does_not_have_is_not_asked():
    one, six = (p.checks("proof", **(FLIGHT | {"series": s})) for s in (1, 6))
    assert not any("group" in item.text and "spread" in item.text for item in one)
    assert len(six) == len(one) + 2
    assert len(p.checks("acceptance", **(FLIGHT | {"series": 1}))) == 4


@pytest.mark.parametrize(
    ("size", "want"),
    # IEC 61960-3, from memory: sizes rounded up to whole mm
    [((18.4, 65.2), "INR19/66"), ((21.55, 70.15), "INR22/71"), ((21.0, 70.0), "INR21/70")],
)
def test_designation(size, want):
    assert p.designation(*size) == want
    assert p.designation(*size, 6, 3) == f"6{want}-3"


def test_label_of_a_pack():
    pack = example_pack(6, 2)
    label = p.PackLabel(pack, "K-3", 3.2, 20.0, 30.0, builder="club")
    text = "\n".join(label.lines())
    # by hand: 2 x 4.9 Ah, 6 x 3.6 V x 9.8 Ah, 6 x 4.2, 6 x 3.2, 2 x 3.5 A
    for part in (
        "K-3", "6S2P", "6INR22/71-2", "9.8 Ah", "211.7 Wh", "full 25.2 V", "land at 19.2 V",
        "continuous 20 A", "burst 30 A for 10 s", "at most 7 A", "by club", "UN 38.3",
    ):  # fmt: skip
        assert part in text


@pytest.mark.parametrize(("series", "parallel", "layers"), [(1, 1, 1), (4, 2, 1), (6, 4, 2)])
def test_every_strip_is_in_one_step(series: int, parallel: int, layers: int) -> None:
    layout = layouts(example_pack(series, parallel), max_layers=layers)[0]
    steps = weld_order(layout, 3.5)
    assert sorted(one.junction for one in steps) == list(range(series + 1))
    pieces = [part.split() for one in steps for part in one.pieces.split(", ") if part]
    assert sum(int(count) for count, _ in pieces) == len(layout.links)
    assert all(one.where for one in steps if one.pieces)


def test_one_group_more_is_live_after_each() -> None:
    """Group voltages in series add: 3.5 V each."""
    steps = weld_order(layouts(example_pack(4, 2))[0], 3.5)
    assert [one.measure_v for one in steps] == [0.0, 3.5, 7.0, 10.5, 14.0]
    assert [one.measure for one in steps[:2]] == ["", "B0 to B1"]


def test_stacks_are_welded_inside_first() -> None:
    """6S4P in two layers, stacks of groups 1 2, 3 4 and 5 6: their insides are B1, B3 and B5."""
    layout = layouts(example_pack(6, 4), (95.0, 70.0, 150.0))[0]
    assert layout.grid.order == "stacks"
    steps = weld_order(layout, 3.5)
    assert [one.junction for one in steps] == [1, 3, 5, 0, 2, 4, 6]
    # two groups in each stack, then four and six in series; 3.5 V each
    assert [one.measure_v for one in steps] == [7.0, 7.0, 7.0, 0.0, 14.0, 21.0, 21.0]
    assert steps[1].measure == "minus of group 3 to plus of 4"
    assert steps[4].measure == "minus of group 1 to plus of 4"
    assert steps[-1].measure == "B0 to B6"
