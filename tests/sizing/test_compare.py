"""Two designs side by side."""

from __future__ import annotations

import dataclasses

import pytest

from tests.conftest import DESIGNS, power_law_table
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sizing.compare import changes, compare, compare_with_today
from workbook.sizing.design import Design
from workbook.sizing.size import size


def test_only_what_was_changed_is_listed(six_rotor: Design) -> None:
    other = six_rotor.changed(parallel=4, payload_g=200.0, wanted_min=20.0)
    assert [c.text for c in changes(six_rotor, other)] == [
        "craft.payload_g from 350 to 200",
        "pack.parallel from 3 to 4",
        "flight.wanted_min from nothing to 20",
    ]
    assert changes(six_rotor, six_rotor) == ()


def test_cells_and_tables_are_told_by_name_or_by_what_differs(six_rotor: Design) -> None:
    cell = six_rotor.pack.cell
    lighter = six_rotor.changed(cell=dataclasses.replace(cell, mass_g=66.0))
    assert [c.text for c in changes(six_rotor, lighter)] == ["cell.mass_g from 70 to 66"]
    named = six_rotor.changed(cell=dataclasses.replace(cell, name="Other", mass_g=66.0))
    assert [c.text for c in changes(six_rotor, named)] == ["pack.cell from Straight to Other"]
    table = dataclasses.replace(power_law_table(), propeller="16x5")
    propeller = six_rotor.changed(table=table)
    (change,) = changes(six_rotor, propeller)
    assert change.key == "craft.table"
    assert "16x5" in str(change.after)


def test_figures_say_how_much_and_which_way(six_rotor: Design) -> None:
    found = compare(six_rotor, six_rotor.changed(parallel=4))
    mass = found.figure("pack_mass_g")
    # six more cells of 70 g with 10 % for wrap and strips
    assert mass.difference == pytest.approx(6 * 70 * 1.1)
    assert mass.percent == pytest.approx(100 * 462 / (18 * 70 * 1.1 + 75))
    assert mass.verdict == "worse"
    assert mass.text.startswith("pack mass up 462 g to ")
    time = found.figure("endurance_min")
    assert time.verdict == "better"
    assert time.difference == pytest.approx(
        float(found.after.point.endurance_min - found.before.point.endurance_min)
    )
    assert found.figure("pack_nominal_v").verdict == "same"


def test_nothing_changed_changes_nothing(six_rotor: Design) -> None:
    found = compare(six_rotor, six_rotor)
    assert {f.verdict for f in found.figures} == {"same"}
    assert found.matters == ()
    assert "No limit changes its verdict." in found.text


def test_what_matters_is_a_verdict_that_changed(six_rotor: Design) -> None:
    minutes = float(size(six_rotor).point.endurance_min)
    asked = six_rotor.changed(wanted_min=minutes * 0.99)
    heavier = asked.changed(payload_g=600.0)
    found = compare(asked, heavier)
    assert "endurance" in {limit.key for limit in found.matters}
    first = next(limit for limit in found.limits if limit.key == "endurance")
    assert (first.before, first.after) == ("close", "broken")
    assert first.before_pct == pytest.approx(1.0, abs=1e-6)
    assert "does not last" in first.text
    assert found.limits[: len(found.matters)] == found.matters
    back = compare(heavier, asked)
    assert {limit.key for limit in back.matters} == {limit.key for limit in found.matters}


def test_a_limit_that_is_newly_asked_is_said(six_rotor: Design) -> None:
    found = compare(six_rotor, six_rotor.changed(wanted_min=1.0))
    limit = next(x for x in found.matters if x.key == "endurance")
    assert limit.before is None
    assert limit.after == "holds"


def test_the_pack_of_today_is_the_one_before() -> None:
    answer = size(read_design(DESIGNS / "survey_six.toml").design)
    found = compare_with_today(answer)
    assert found.today
    assert answer.today is not None
    assert found.before is answer.today
    time = found.figure("endurance_min")
    assert time.before == pytest.approx(float(answer.today.point.endurance_min))
    assert "pack.cell" in {change.key for change in found.changes}
    assert "flight.landing_v" in {change.key for change in found.changes}
    assert found.text.startswith("Endurance ")


def test_what_cannot_be_compared_is_said(six_rotor: Design) -> None:
    with pytest.raises(InputError, match="no pack flown today"):
        compare_with_today(size(six_rotor))
    wing = read_design(DESIGNS / "survey_wing.toml").design
    with pytest.raises(InputError, match="different figures"):
        compare(six_rotor, wing)
    assert compare(wing, wing.changed(payload_g=0.0)).figure("range_km").verdict == "better"
