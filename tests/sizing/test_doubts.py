"""Doubts about a design's inputs."""

import itertools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tests.sizing.multirotors import six
from tests.sizing.slips import SLIPS, holding, remarked, sound_designs
from workbook.errors import Problem
from workbook.files.cell_file import find_cell
from workbook.sizing.craft_types import operate
from workbook.sizing.design import MissionPhase, ReferencePack
from workbook.sizing.doubts import (
    BENCH_RULES,
    DOUBT_RULES,
    PHASE_RULES,
    Doubt,
    DoubtRule,
    answered,
    bench_doubts,
    doubts,
)
from workbook.sizing.plausibility import Inputs, PhaseInputs
from workbook.sizing.size import size


def test_a_doubt_is_answered_by_its_subject_and_by_nothing_else():
    mass, table = Doubt("craft_mass", "mass", "2.1 g."), Doubt("merit", "table", "1.2.")
    marked = answered((mass, table), ("mass", "cell"))
    assert [doubt.answered for doubt in marked] == [True, False]
    assert '"table"' in table.answer


def test_a_reader_that_only_remarks_raises_no_doubt():
    remark = Problem("row 3 is filled in.", "table.csv")
    assert doubts(six(), operate(six()), [remark]) == doubts(six(), operate(six()))


def test_a_readers_doubt_says_its_subject_and_is_answered_in_the_design():
    notice = Problem("30 A from 2 Ah.", "heron.toml", about="cell")
    doubt = doubts(six(), operate(six()), [notice])[0]
    assert (doubt.about, doubt.answered) == ("cell", False)
    assert doubt.line.startswith("doubt about cell: heron.toml: 30 A from 2 Ah.")
    settled = doubts(replace(six(), sure=("cell",)), operate(six()), [notice])[0]
    assert settled.answered


def sound_rate(count: int) -> float:
    """How many in a hundred sound designs that break no limit raise a doubt."""
    sized = (size(design) for design in sound_designs(seed=1))
    kept = (result for result in sized if not result.broken and not result.stops)
    return 100.0 * float(np.mean([bool(result.doubts) for result in itertools.islice(kept, count)]))


def unremarked(count: int) -> list[str]:
    """Slips, one in each of some designs that hold, that leave the design holding."""
    order, found, tried = np.random.default_rng(2).permutation(len(SLIPS)), [], 0
    slips = itertools.cycle(SLIPS[k] for k in order)
    for design, _ in holding(seed=3):
        for slip in itertools.islice(slips, 8):
            slipped = slip.of(design)
            if slipped is not None:
                tried += 1
                found += [] if remarked(design, slipped) else [slip.name]
        if tried >= count:
            return found
    return found


def test_no_slip_of_a_unit_holds_unremarked():
    assert unremarked(150) == []


@pytest.mark.long
def test_no_slip_of_a_unit_holds_unremarked_in_many_designs():
    assert unremarked(1000) == []


def test_sound_designs_raise_no_doubt():
    assert sound_rate(40) <= 2.5  # one in forty


@pytest.mark.long
def test_hardly_any_of_many_sound_designs_raises_a_doubt():
    """At most 2 in 100."""
    assert sound_rate(300) <= 2.0


@pytest.mark.parametrize(
    ("change", "about"),
    [
        # each as a builder may type it: kg, lb, oz, and so on
        (lambda d: d.changed(mass_without_pack_g=2.1), "mass"),
        (lambda d: d.changed(mass_without_pack_g=4.63), "mass"),
        (lambda d: d.changed(mass_without_pack_g=74.0), "mass"),
        (lambda d: d.changed(payload_g=0.35), "payload"),
        (lambda d: d.changed(avionics_w=0.63), "avionics"),
        (lambda d: d.changed(avionics_w=1.9), "avionics"),  # 0.5 % of its hover power
        (lambda d: d.changed(overhead_pct=0.1), "overhead"),
        (lambda d: d.changed(extra_mass_g=0.075), "leads"),
        (lambda d: d.changed(joint_mohm=0.008), "joints"),
        (lambda d: d.changed(joint_mohm=0.0), "joints"),
        (lambda d: d.changed(reserve_pct=0.15), "reserve"),
        (lambda d: d.changed(reserve_pct=90.0), "reserve"),
        (lambda d: d.changed(continuous_share_pct=0.8), "share"),
        (lambda d: d.changed(throttle_cap_pct=0.7), "cap"),
        (lambda d: d.changed(wanted_min=0.5), "time"),
        (lambda d: d.changed(field_height_m=3281.0), "height"),
        (lambda d: d.changed(air_temperature_c=40.0), "air"),
        (lambda d: d.changed(connector_max_a=900.0), "connector"),
        (lambda d: d.changed(power_module_max_a=900.0), "power module"),
        (lambda d: d.changed(motor_max_a=1200.0), "motor"),
        (lambda d: d.changed(controller_max_v=252.0), "controllers"),
        (
            lambda d: d.changed(controller_max_v=116.0),
            "controllers",
        ),  # digits of a figure changed about
        (lambda d: d.changed(power_module_off_pct=0.04), "power module"),
        (lambda d: d.changed(power_module_max_v=300.0), "power module"),
        (lambda d: d.changed(regulator_max_v=360.0), "regulator"),
        (lambda d: d.changed(payload_max_v=300.0), "payload"),
        (lambda d: d.changed(drag_area_m2=0.003), "drag"),  # a tenth of the usual 0.03
        (lambda d: d.changed(drag_area_m2=0.4), "drag"),
        (lambda d: d.changed(regulator_min_v=0.9), "regulator"),
        (lambda d: d.changed(payload_min_v=1.4), "payload"),
        (lambda d: d.changed(apart_resistance_pct=0.15), "two packs"),
        (lambda d: d.changed(apart_capacity_pct=0.04), "two packs"),
        (lambda d: d.changed(overhead_pct=0.0, extra_mass_g=0.0), "overhead"),
        (lambda d: cell(d, burst_s=0.15), "cell"),
        (lambda d: cell(d, standard_charge_a=0.0025), "cell"),
        (lambda d: cell(d, min_charge_temperature_c=32.0), "cell"),
        (lambda d: cell(d, mass_g=0.07), "cell"),
        (lambda d: cell(d, mass_g=2.47), "cell"),
        (lambda d: cell(d, rated_capacity_ah=4800.0), "cell"),
        (lambda d: cell(d, diameter_mm=2.12, height_mm=7.02), "cell"),
        (lambda d: cell(d, continuous_a=150.0, burst_a=250.0), "cell"),
        (lambda d: cell(d, resistance_mohm=0.03), "cell"),
        (lambda d: cell(d, max_temperature_c=140.0), "cell"),
        (lambda d: cell(d, cell_format="pouch", mass_g=40.0), "cell"),
        (lambda d: table(d, power_w=d.craft.table.power_w / 20.0), "table"),
        (lambda d: table(d, current_a=d.craft.table.current_a * 1000.0), "table"),
        (lambda d: table(d, thrust_gf=d.craft.table.thrust_gf * 6.0), "table"),
    ],
)
def test_a_slip_is_doubted_by_its_subject(change, about):
    slipped = replace(change(six()), sure=())
    found = [doubt for doubt in size(slipped).doubts if doubt.about == about]
    assert found, about
    assert all(doubt.text.endswith((".", "?")) for doubt in found)


def cell(design, **figures):
    """The design with figures of its cell changed."""
    return design.changed(cell=replace(design.pack.cell, **figures))


def table(design, **columns):
    """The design with columns of its table changed."""
    return design.changed(table=replace(design.craft.table, **columns))


def test_every_rule_says_what_it_means_and_where_its_range_is_from():
    for rule in (*DOUBT_RULES, *PHASE_RULES, *BENCH_RULES):
        assert rule.source, rule.key
        assert bool(rule.low) == np.isfinite(rule.least), rule.key
        assert bool(rule.high) == np.isfinite(rule.most), rule.key
    keys = [rule.key for rule in (*DOUBT_RULES, *PHASE_RULES, *BENCH_RULES)]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize(
    ("part", "whole", "doubted"),
    [
        (4.0, 100.0, True),
        (6.0, 100.0, False),
        (0.0, 100.0, False),  # none stated
        (4.0, 0.0, False),
        (None, 100.0, False),
        (4.0, None, False),
        (np.array([1.0, 4.0, 2.0]), 70.0, False),  # the highest of a column is 5.7 %
    ],
)
def test_a_figure_is_looked_at_in_percent_of_another(part, whole, doubted):
    rule = DoubtRule(
        "share",
        "mass",
        "",
        "part",
        "by hand",
        over="whole",
        percent=True,
        zero_is_none=True,
        least=5.0,
        low="{x:g} %",
    )
    text = rule.text(SimpleNamespace(part=part, whole=whole), None)
    assert text == ("4 %" if doubted else "")


@pytest.mark.parametrize("kg", [0.25, 1.0, 3.9, 10.0, 25.0])
def test_a_sound_drag_area_of_any_multirotor_is_not_doubted_and_a_tenth_is(kg):
    """0.015 m2 at 1 kg, times mass to the power of 2/3, as of bodies of one shape; 0.03 is what is taken where none
    is stated. Common practice, no source."""
    usual_m2 = 0.015 * kg ** (2.0 / 3.0)

    def doubted(drag_area_m2):
        point = SimpleNamespace(all_up_mass_g=1000.0 * kg)
        asked = Inputs(six().changed(drag_area_m2=drag_area_m2), point)
        return bool(rule_of("drag_area").text(asked, asked.design))

    assert not any(map(doubted, (0.03, usual_m2, 0.5 * usual_m2, 2.0 * usual_m2)))
    assert doubted(0.1 * usual_m2)
    assert doubted(11.0 * usual_m2)  # in ft2: 10.76


def rule_of(key):
    """The rule of a doubt by its name."""
    return next(rule for rule in (*DOUBT_RULES, *PHASE_RULES) if rule.key == key)


def test_a_burst_rating_of_another_decade_than_the_continuous_one_is_doubted():
    label = six().pack.cell
    for burst, doubted in ((2.0, False), (19.0, True)):  # 34 C as 340 beside 18 C
        pack = replace(six().pack, cell=replace(label, burst_a=burst * label.continuous_a))
        design = replace(six(), today=ReferencePack("today", pack, 3.3, 20.0))
        assert bool(rule_of("reference_burst").text(Inputs(design, None), design)) is doubted


def test_legs_further_apart_than_the_field_is_wide_are_doubted():
    for spacing_m, doubted in ((35.0, False), (889.0, True)):  # 35 x 25.4
        phase = MissionPhase("field", "count", length_m=800.0, width_m=600.0, spacing_m=spacing_m)
        asked = PhaseInputs(phase, 2000.0)
        assert bool(rule_of("phase_spacing_of_width").text(asked, asked)) is doubted


def test_a_phase_in_hours_is_doubted_by_its_name():
    design = replace(six(), mission=(MissionPhase("hover", "look", duration_s=0.5),))
    doubt = next(d for d in size(design).doubts if d.key == "phase_time")
    assert doubt.text.startswith("mission phase 1 (look): duration_s is 0.5 s;")


@pytest.mark.parametrize(
    ("wind_m_s", "airspeed_m_s", "doubted"),
    [
        (4.0, 8.0, None),
        (-4.0, 8.0, None),
        (-9.8, 9.0, "phase_wind_and_airspeed"),  # 3 m/s in ft/s
        (-40.0, None, "phase_wind_behind"),
    ],
)
def test_a_wind_from_behind_that_nobody_flies_home_against_is_doubted(
    wind_m_s, airspeed_m_s, doubted
):
    phase = MissionPhase(
        "cruise", "home", distance_m=600.0, headwind_m_s=wind_m_s, airspeed_m_s=airspeed_m_s
    )
    asked = PhaseInputs(phase, 2000.0)
    found = {rule.key for rule in PHASE_RULES if rule.text(asked, asked)}
    assert found == ({doubted} if doubted else set())


def test_a_curve_that_stops_early_and_a_flight_beyond_the_curves_are_doubted():
    whole = six().pack.cell.curves
    early = tuple(
        replace(c, capacity_ah=c.capacity_ah[:45], voltage_v=c.voltage_v[:45]) for c in whole
    )
    found = size(cell(six(), curves=early)).doubts
    assert "stops" in next(d.text for d in found if d.key == "cell_curves_stop")
    # the first curve is of 1 A, and hover asks for several
    found = size(cell(six(), curves=whole[:1])).doubts
    assert "1 A" in next(d.text for d in found if d.key == "cell_beyond_curves")


def test_a_curve_is_doubted_from_a_third_of_a_volt_above_the_cutoff_on():
    """Up to 0.3 V early times are 2 % short at most: every curve of the catalogue cut there."""
    whole = find_cell("Sedge")

    def cut(volts):
        def short(curve):
            end_ah = np.interp(-volts, -np.array(curve.voltage_v), curve.capacity_ah)
            kept = [v > volts + 0.001 for v in curve.voltage_v]
            return replace(
                curve,
                capacity_ah=(*itertools.compress(curve.capacity_ah, kept), float(end_ah)),
                voltage_v=(*itertools.compress(curve.voltage_v, kept), volts),
            )

        found = size(
            six().changed(cell=replace(whole, curves=tuple(map(short, whole.curves))))
        ).doubts
        return any(d.key == "cell_curves_stop" for d in found)

    assert cut(whole.cutoff_v + 0.35)
    assert not cut(whole.cutoff_v + 0.25)


def test_a_speed_of_another_propeller_or_unit_is_doubted():
    # 8000 gf of 15 in at 0.1: n = sqrt(78.45 / (0.1 x 1.225 x 0.381^4)) = 174.3 1/s
    thrust = six().craft.table.thrust_gf
    rpm = 60.0 * 174.3 * np.sqrt(thrust / thrust[-1])
    for factor, doubted in ((1.0, False), (0.5, True), (1.0 / 60.0, True), (60.0, True)):
        found = size(table(six(), propeller="15x5", speed_rpm=rpm * factor)).doubts
        assert any(d.key == "table_speed" for d in found) is doubted, factor


def test_a_mission_of_seconds_is_doubted():
    short = replace(six(), mission=(MissionPhase("hover", "look", duration_s=12.0),))
    assert any(d.key == "mission_time" for d in size(short).doubts)
    usual = replace(six(), mission=(MissionPhase("hover", "look", duration_s=600.0),))
    assert not [d for d in size(usual).doubts if d.about == "mission"]


BENCH = {
    "bay_length_mm": 190.0, "bay_width_mm": 85.0, "bay_height_mm": 80.0, "lead_mm": 120.0,
    "balance_lead_mm": 150.0, "holder_gap_mm": 1.0, "holder_g": 2.0, "padding_mm": 5.0, "strip_width_mm": 8.0,
    "strip_thickness_mm": 0.15, "charger_max_a": 10.0, "charger_max_w": 250.0,
}  # fmt: skip
"""A bench that raises no doubt."""


@pytest.mark.parametrize("key", [key for key in BENCH if key.endswith("_mm")])
@pytest.mark.parametrize("factor", [0.1, 1.0 / 25.4, 1e-3])
def test_a_length_in_cm_inches_or_m_is_doubted(key, factor):
    assert not bench_doubts(SimpleNamespace(**BENCH), six().pack)
    slipped = SimpleNamespace(**{**BENCH, key: BENCH[key] * factor})
    found = bench_doubts(slipped, six().pack)
    assert found, key
    assert f"bench.{key} is" in str(found[0])
    assert found[0].about


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("bay_length_mm", 1900.0),
        ("lead_mm", 1200.0),
        ("holder_g", 0.002),
        ("charger_max_a", 0.1),
        ("charger_max_a", 300.0),
        ("charger_max_w", 0.25),
    ],
)
def test_other_slips_at_the_bench_are_doubted(key, value):
    assert bench_doubts(SimpleNamespace(**{**BENCH, key: value}), six().pack)
