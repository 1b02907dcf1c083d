"""Procedures: the numbers in them, the limits, and the words that must be there."""

import numpy as np
import pytest

from workbook.battery.cell import Cell
from workbook.battery.pack import Pack
from workbook.bench import procedure as p
from workbook.errors import InputError

PREDICTED = {"predicted_mohm": 60.0, "predicted_mass_g": 620.0, "predicted_ah": 8.0}
GOOD = {
    "full_group_v": [4.19, 4.20, 4.195, 4.20],
    "empty_group_v": [3.20, 3.25, 3.22, 3.21],
    "resistance_mohm": 63.0,
    "mass_g": 628.0,
    "capacity_ah": 7.9,
    "hottest_c": 46.0,
}


def test_a_good_pack_is_accepted():
    report = p.accept(**PREDICTED, **GOOD)
    assert report.accepted is True
    assert all(report.passed)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("full_group_v", [4.16, 4.20, 4.2, 4.2], "full, is 40 mV; at most 30 mV"),
        ("empty_group_v", [3.1, 3.2, 3.2, 3.2], "nearly empty, is 100 mV; at most 80 mV"),
        ("resistance_mohm", 73.0, "at most 72 mohm"),  # 60 + 20 %
        ("mass_g", 640.0, "601.4 to 638.6 g"),  # 620 +- 3 %
        ("mass_g", 600.0, "601.4 to 638.6 g"),
        ("capacity_ah", 7.6, "at least 7.68 Ah"),  # 8 - 4 %
        ("hottest_c", 58.0, "at most 55 C"),
    ],
)
def test_each_fault_alone_refuses_the_pack(key, value, words):
    report = p.accept(**PREDICTED, **(GOOD | {key: value}))
    assert report.accepted is False
    assert words in report.verdict
    assert report.passed.count(False) == 1


def test_exactly_on_the_limit_passes():
    assert p.accept(**PREDICTED, **(GOOD | {"full_group_v": [4.17, 4.20]})).accepted is True


def test_unmeasured_is_neither_accepted_nor_refused():
    report = p.accept(**PREDICTED, mass_g=620.0)
    assert report.accepted is None
    assert "still to measure" in report.verdict
    assert report.passed.count(None) == 5


def test_other_limits():
    strict = p.AcceptanceLimits(spread_full_mv=5.0)
    assert p.accept(**PREDICTED, **GOOD, limits=strict).accepted is False


def test_running_total_by_group():
    items = [i for i in p.insulation_checks(3, [3.50, 3.52, 3.48]) if "series step" in i.text]
    np.testing.assert_allclose([i.expected for i in items], [3.50, 7.02, 10.50])
    assert items[2].passes(10.5)
    assert not items[2].passes(10.5 - 3.5)  # a group missed
    assert not items[1].passes(0.02)  # a group turned


def test_first_charge_numbers_and_cautions():
    items = p.first_charge(6, 2.0, 0.5, minutes=300)
    assert items[1].expected == pytest.approx(25.2)
    text = " ".join(i.text + i.caution for i in items)
    for word in ("4.35 V", "Below 0 C", "balanc", "fire", "4.25 V", "300 min"):
        assert word in text
    with pytest.raises(InputError, match=r"at most 4\.20 V"):
        p.first_charge(6, 2.0, 0.5, cell_v=4.35)
    with pytest.raises(InputError) as error:
        p.first_charge(6, 0.0, -1.0)
    assert len(error.value.problems) == 2


def test_proof_discharge_limits():
    items = p.proof_discharge(
        6, 25.0, 3.2, predicted_ah=8.0, predicted_minutes=19.2, max_temperature_c=60.0
    )
    assert items[1].expected == pytest.approx(19.2)  # 6 x 3.2 V
    assert items[3].expected == 55.0
    delivered = next(i for i in items if i.unit == "Ah")
    assert delivered.passes(7.7)
    assert not delivered.passes(7.6)


def test_settings_numbers():
    sheet = p.settings_sheet(4, 10.0, current_limit_a=40.0)
    figures = {item.text.split(",")[0].split(":")[0]: item.expected for item in sheet.autopilot}
    assert figures["Cell count"] == 4
    assert figures["Low voltage"] == pytest.approx(13.2)
    assert figures["Critical voltage"] == pytest.approx(12.4)
    assert figures["Charge left at which it returns or lands (20 %)"] == pytest.approx(2000.0)
    assert sheet.autopilot[-1].expected == 40.0
    assert "3.22 V" in sheet.autopilot[0].caution or "3.23 V" in sheet.autopilot[0].caution
    assert sheet.speed_controller[0].expected == "off"
    assert sheet.cautions == ()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"critical_cell_v": 2.7}, "below 2.8 V"),
        ({"lowest_loaded_cell_v": 3.1}, "would come early"),
        ({"arming_cell_v": 3.4}, "nearly empty pack"),
        ({"reserve_pct": 0.0}, "No reserve"),
    ],
)
def test_settings_cautions(changes, words):
    (caution,) = p.settings_sheet(6, 10.0, **changes).cautions
    assert words in caution


def test_settings_refusals():
    with pytest.raises(InputError, match="rise in this order"):
        p.settings_sheet(6, 10.0, low_cell_v=3.0, critical_cell_v=3.2)


def test_storage():
    items = p.storage_steps(4)
    assert items[0].expected == pytest.approx(14.8)
    assert items[0].passes(14.6)
    assert not items[0].passes(16.8)


def test_weld_count():
    spots = next(i for i in p.weld_checks(24, "nickel", 6) if i.unit == "spots")
    assert spots.expected == 288  # 24 cells x 2 ends x 6


@pytest.mark.parametrize(
    ("size", "want"),
    # IEC 61960-3, from memory: sizes rounded up to whole mm
    [((18.4, 65.2), "INR19/66"), ((21.55, 70.15), "INR22/71"), ((21.0, 70.0), "INR21/70")],
)
def test_designation(size, want):
    assert p.designation(*size) == want
    assert p.designation(*size, 6, 3) == f"6{want}-3"


def test_every_item_has_text_and_source():
    everything = [
        *p.weld_checks(8, "nickel"),
        *p.insulation_checks(4, 3.6),
        *p.first_charge(4, 2.0, 0.2),
        *p.proof_discharge(4, 20, 3.2, predicted_ah=8, predicted_minutes=24),
        *p.storage_steps(4),
        *p.settings_sheet(4, 10).autopilot,
    ]
    assert all(item.text and item.source for item in everything)


def test_label_of_a_pack():
    cell = Cell(
        name="invented",
        cell_format="21700",
        kind="energy",
        mass_g=70.0,
        diameter_mm=21.55,
        height_mm=70.15,
        rated_capacity_ah=5.0,
        typical_capacity_ah=5.1,
        nominal_v=3.6,
        charge_v=4.2,
        cutoff_v=2.5,
        continuous_a=10.0,
        burst_a=15.0,
        burst_s=10.0,
        standard_charge_a=1.5,
        max_charge_a=3.5,
        resistance_mohm=28.0,
    )
    label = p.pack_label(Pack(cell, 6, 2), "K-3", 3.2, built="2031-02-03", builder="club")
    # by hand: 2 x 5 Ah, 6 x 3.6 V x 10 Ah, 6 x 4.2, 6 x 3.2, 2 x each current
    assert (label.capacity_ah, label.energy_wh) == (10.0, pytest.approx(216.0))
    assert label.full_v == pytest.approx(25.2)
    assert label.landing_v == pytest.approx(19.2)
    assert (label.continuous_a, label.burst_a, label.charge_a) == (20.0, 30.0, 7.0)
    text = "\n".join(label.lines())
    for part in ("K-3", "6S2P", "6INR22/71-2", "216 Wh", "25.2 V", "19.2 V", "2031-02-03", "38.3"):
        assert part in text
